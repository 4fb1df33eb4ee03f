use record::{Need, NeedKind, Study};

use super::*;
use crate::Pair;
use crate::testing::{deg, lamp, lamp_with_edges, mm, study};

fn texts(sheet: &Sheet) -> Vec<&str> {
    sheet
        .items
        .iter()
        .filter_map(|i| {
            if let Item::Text { text, .. } = i {
                Some(text.as_str())
            } else {
                None
            }
        })
        .collect()
}

#[test]
fn the_sheet_carries_the_sentence_the_ladder_the_choices_and_the_caution() {
    let study = lamp_with_edges();
    let sheet = pair_sheet(&Pair::all(&study)[0]);
    let texts = texts(&sheet);
    for wanted in [
        "Lamp surround: mirroring the left one will NOT fit the right side.",
        "LEFT",
        "RIGHT",
        "89.1°",
        "90.4°",
        "−1.3°",
        "Two hands",
        "uses 33 ±4 %",
        "chance it fits 98 %",
        "mm, degrees",
        "seated facing forward",
        "×10",
        "+0.5",
        "−1.4",
        crate::terminal::CAUTION,
    ] {
        assert!(texts.contains(&wanted), "{wanted} is missing in {texts:?}");
    }
}

#[test]
fn everything_lies_on_the_sheet() {
    let study = lamp_with_edges();
    let sheet = pair_sheet(&Pair::all(&study)[0]);
    let inside =
        |p: &[f64; 2]| (0.0..=sheet.width).contains(&p[0]) && (0.0..=sheet.height).contains(&p[1]);
    for item in &sheet.items {
        match item {
            Item::Path { points, .. } => assert!(points.iter().all(inside), "{item:?}"),
            Item::Disc { at, .. } | Item::Text { at, .. } => assert!(inside(at), "{item:?}"),
        }
    }
}

#[test]
fn what_can_be_pointed_at_has_its_name() {
    let study = lamp_with_edges();
    let sheet = pair_sheet(&Pair::all(&study)[0]);
    let hits: Vec<&Hit> = sheet
        .items
        .iter()
        .filter_map(|i| match i {
            Item::Path { hit, .. } | Item::Disc { hit, .. } | Item::Text { hit, .. } => {
                hit.as_ref()
            }
        })
        .collect();
    assert!(hits.contains(&&Hit::Station("lamp".into(), 9)));
    assert!(hits.contains(&&Hit::Rung("lamp".into(), 4)));
    assert!(hits.contains(&&Hit::Choice("lamp".into(), OptionKind::TwoHands)));
}

#[test]
fn the_svg_is_well_formed_and_the_themes_differ_in_colour_only() {
    let study = lamp_with_edges();
    let sheet = pair_sheet(&Pair::all(&study)[0]);
    let svg = sheet.svg(Theme::Paper);
    assert!(
        svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\"") && svg.ends_with("</svg>\n")
    );
    assert!(svg.contains("Right &lt;lamp&gt;") && !svg.contains("<lamp>") && !svg.contains("NaN"));
    assert_eq!(
        svg.matches("<text ").count(),
        svg.matches("</text>").count()
    );
    let slate = sheet.svg(Theme::Slate);
    let without_colours = |text: &str| {
        text.split('#')
            .enumerate()
            .map(|(i, t)| if i == 0 { t } else { &t[6..] })
            .collect::<Vec<_>>()
            .join("")
    };
    assert_ne!(svg, slate);
    assert_eq!(without_colours(&svg), without_colours(&slate));
}

#[test]
fn a_pair_without_edges_and_one_side_only_still_make_a_sheet() {
    let plain = study(vec![lamp()]);
    let sheet = pair_sheet(&Pair::all(&plain)[0]);
    assert!(texts(&sheet).contains(&"no edge to lay on the other"));
    let mut alone = lamp();
    alone.measured.b = None;
    alone.decided.options.clear();
    let alone = study(vec![alone]);
    let sheet = pair_sheet(&Pair::all(&alone)[0]);
    assert!(texts(&sheet).contains(&"not measured"));
    assert!(sheet.svg(Theme::Paper).len() > 1000);
}

/// The study with another worst place of the mirrored left one, and what it asks for.
fn with_worst(station: Option<usize>, amount: record::Figure) -> Study {
    let mut study = lamp_with_edges();
    let mirror = &mut study.decided.compares[0].options[3];
    mirror.needs = vec![Need {
        kind: NeedKind::TakeOff,
        hole: None,
        amount_mm: 0.9,
        along: None,
    }];
    let worst = mirror.worst.as_mut().expect("it has one");
    (worst.station, worst.amount) = (station, amount);
    study
}

#[test]
fn the_worst_station_is_named_on_both_pages_and_filing_mends_no_angle() {
    let by_edge = with_worst(Some(9), mm(1.4, 0.3));
    let sheet = pair_sheet(&Pair::all(&by_edge)[0]);
    let said = texts(&sheet);
    assert_eq!(
        said.iter().filter(|t| **t == "worst").count(),
        2,
        "{said:?}"
    );
    assert!(said.contains(&"0.9 mm taken off its edge"), "{said:?}");
    assert!(said.contains(&"each side its own shape"), "{said:?}");
    let by_angle = with_worst(None, deg(1.3, 0.2));
    let sheet = pair_sheet(&Pair::all(&by_angle)[0]);
    let said = texts(&sheet);
    assert!(!said.contains(&"worst"), "{said:?}");
    assert!(!said.iter().any(|t| t.contains("taken off")), "{said:?}");
    assert!(said.contains(&"as it is"), "{said:?}");
}
