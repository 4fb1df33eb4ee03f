use super::*;

#[test]
fn every_role_stands_at_its_own_place() {
    for (i, (ink, _, _)) in COLOURS.iter().enumerate() {
        assert_eq!(*ink as usize, i, "{ink:?}");
    }
}

/// WCAG 2.1: text 4.5 (criterion 1.4.3), marks and edges of controls 3 (criterion 1.4.11).
#[test]
fn text_and_marks_can_be_told_from_their_ground() {
    let grounds = [Ink::Sheet, Ink::Field, Ink::Pick, Ink::Margin, Ink::Allowed];
    let texts = [
        Ink::Ink,
        Ink::Ink2,
        Ink::Ink3,
        Ink::Left,
        Ink::Right,
        Ink::Fits,
        Ink::NotProven,
        Ink::WillNotFit,
    ];
    let mut worst = Vec::new();
    for theme in [Theme::Paper, Theme::Slate] {
        let mut check = |ink: Ink, ground: Ink, least: f64| {
            let found = contrast(theme.rgb(ink), theme.rgb(ground));
            if found < least {
                worst.push(format!(
                    "{theme:?}: {ink:?} on {ground:?} {found:.2}, wanted {least}"
                ));
            }
        };
        for ground in grounds {
            for ink in texts {
                check(ink, ground, 4.5);
            }
            check(Ink::Rule, ground, 3.0);
        }
        check(Ink::OnInk, Ink::Ink, 4.5);
        check(Ink::Fits, Ink::FitsTint, 4.5);
        check(Ink::NotProven, Ink::NotProvenTint, 4.5);
        check(Ink::WillNotFit, Ink::WillNotFitTint, 4.5);
        for tint in [Ink::FitsTint, Ink::NotProvenTint, Ink::WillNotFitTint] {
            check(Ink::Ink, tint, 4.5);
            check(Ink::Ink2, tint, 4.5);
        }
        check(Ink::ProudLine, Ink::Sheet, 4.5);
        check(Ink::ShyLine, Ink::Sheet, 4.5);
    }
    assert!(worst.is_empty(), "{worst:#?}");
}

/// The ends of the scale: black on white is 21, a colour on itself 1 (WCAG 2.1, definition of contrast ratio).
#[test]
fn contrast_has_its_published_ends() {
    assert!((contrast([0; 3], [255; 3]) - 21.0).abs() < 1e-12);
    assert!((contrast([9; 3], [9; 3]) - 1.0).abs() < 1e-12);
}

#[test]
fn digits_and_signs_have_one_width_in_every_weight() {
    for weight in [weight::REGULAR, weight::MEDIUM, weight::SEMI_BOLD] {
        let zero = text_width("0", 100.0, weight);
        for c in "123456789+\u{2212}".chars() {
            let found = text_width(&c.to_string(), 100.0, weight);
            assert!(
                (found - zero).abs() < 1e-9,
                "{c} {found} {zero} at {weight}"
            );
        }
    }
}

#[test]
fn the_family_has_every_letter_that_figures_need() {
    for weight in [weight::REGULAR, weight::MEDIUM, weight::SEMI_BOLD] {
        let face = face(weight).expect("the embedded file is a font");
        for c in "±×−→≤≥·µØ°½¼…–“”’ éöüßñ".chars() {
            assert!(face.glyph_index(c).is_some(), "{c:?} at {weight}");
        }
    }
}
