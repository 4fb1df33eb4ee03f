use record::{Code, OpeningNotMeasured, OptionKind, Provenance, Relation, ScanProvenance};

use super::*;
use crate::testing::{Made, finding, joint, lamp, next, option, slot, study};

fn coach() -> Study {
    let mut all = Vec::new();
    for (id, name) in [
        ("lamp", "Lamp surround"),
        ("vent", "Cowl vent"),
        ("light", "Quarter light"),
        ("step", "Step"),
    ] {
        let mut made = lamp();
        made.part.id = id.into();
        name.clone_into(&mut made.part.name);
        made.measured.id = id.into();
        made.measured.part = id.into();
        made.decided.id = id.into();
        made.measured.findings = vec![
            finding(
                Severity::Doubt,
                "right",
                "between stations 6 and 7 the edge is scanner fill; it is set aside and nothing is guessed there",
                "",
            ),
            finding(
                Severity::Doubt,
                "left",
                "the face is seen over 10 mm only",
                "scan it once more",
            ),
        ];
        made.decided.next = vec![next("scan the right opening once more, re-seated", None)];
        all.push(made);
    }
    let mut grille = Made::new("grille", "Grille", Relation::Itself, 0.8);
    let mut slots = option(OptionKind::MidwayWithSlots, Verdict::Fits, 15.0, 1.0);
    slots.needs = vec![slot(0.25)];
    grille.decided.options = vec![
        option(OptionKind::MirrorA, Verdict::Fits, 30.0, 1.0),
        option(OptionKind::Midway, Verdict::Fits, 15.0, 1.0),
        slots,
        option(OptionKind::TwoHands, Verdict::NotProven, 15.0, 0.5),
    ];
    grille.decided.joint = Some(joint(false, "width", 0.25));
    all.push(grille);
    let mut study = study(all);
    study.provenance = Provenance {
        scans: vec![ScanProvenance {
            id: "left".to_owned(),
            file: "left.ply".to_owned(),
            format: "PLY".to_owned(),
            hash: String::new(),
            points: 1,
            unit: "mm, not checked".to_owned(),
        }],
        ..Provenance::default()
    };
    study.measured.findings = vec![record::Finding {
        code: Code::SideAsNamed,
        ..finding(Severity::Note, "left.ply", "the side is as named", "")
    }];
    study
}

#[test]
fn four_pairs_and_a_centre_opening_keep_to_forty_lines_of_a_hundred() {
    for ascii in [false, true] {
        let text = terminal_text(
            &coach(),
            Look {
                ascii,
                ..Look::default()
            },
        );
        let lines: Vec<&str> = text.lines().collect();
        assert!(lines.len() <= 40, "{} lines:\n{text}", lines.len());
        for line in &lines {
            assert!(
                line.chars().count() <= 100,
                "{} letters: {line}",
                line.chars().count()
            );
        }
        for name in [
            "Lamp surround",
            "Cowl vent",
            "Quarter light",
            "Step",
            "Grille",
            "Measurement aid, not approval",
        ] {
            assert!(text.contains(name), "{name} is missing in\n{text}");
        }
        assert!(
            text.contains("Doubts: 8 in all, the worst: Lamp surround: between stations 6 and 7"),
            "{text}"
        );
        assert!(
            text.contains(
                "Measure this next: Lamp surround: scan the right opening once more, re-seated."
            ),
            "{text}"
        );
        if ascii {
            assert!(text.is_ascii(), "{text}");
        }
    }
}

#[test]
fn one_pair_reads_as_a_whole() {
    let mut made = lamp();
    made.measured.findings = vec![finding(
        Severity::Doubt,
        "right lamp",
        "12 mm of the edge were not seen",
        "scan it once more",
    )];
    made.decided.next = vec![next("scan the right opening once more, re-seated", None)];
    let mut study = study(vec![made]);
    study.not_measured = vec![OpeningNotMeasured {
        id: "vent right".into(),
        why: "its scan could not be read".to_owned(),
    }];
    let text = terminal_text(&study, Look::default());
    let expected = "\
Touring coach, front trim                      mm, degrees · left and right as seated facing forward
Not measured: vent right: its scan could not be read.

⊠ WILL NOT FIT  Lamp surround: mirroring the left one will NOT fit the right side. Worst place: top
  inner corner, the gap 1.4 mm too tight (give or take 0.3). You allow 0.8 mm. Slots do not cure it;
  two hands do. Angle at the top: left 89.1°, right 90.4° (give or take 0.2): set your bevel there
  to these.
";
    assert!(text.starts_with(expected), "{text}");
    for row in [
        "  right          90.4  90.1  89.8  89.6    89.3 ±0.2",
        "  ⊠ midway                       uses 133 ±13 %  worst 0.8 mm              chance it fits 2 %",
        "  Doubt: right lamp: 12 mm of the edge were not seen. Scan it once more.",
        "  Measure this next: scan the right opening once more, re-seated.",
    ] {
        assert!(text.contains(row), "{row}\nis missing in\n{text}");
    }
}

#[test]
fn a_narrow_terminal_is_kept_to_and_every_doubt_shown_is_shown_whole() {
    let mut made = lamp();
    let long =
        "the waves on this face are as long as the face: it cannot be told from this face alone";
    made.measured.findings = vec![finding(
        Severity::Doubt,
        "front cheek",
        long,
        "scan it once more",
    )];
    let study = study(vec![made]);
    for width in [72, 80, 100] {
        let text = terminal_text(
            &study,
            Look {
                width,
                ..Look::default()
            },
        );
        for line in text.lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
        }
        let running = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            running.contains(&format!("{long}. Scan it once more.")),
            "{text}"
        );
        assert!(width < 80 || !text.contains('…'), "{text}");
    }
}

#[test]
fn unchecked_units_and_named_sides_are_said_once_at_the_top() {
    let text = terminal_text(&coach(), Look::default());
    assert_eq!(text.matches("Unit not checked: left.ply (mm)").count(), 1);
    assert_eq!(text.matches("Side as you named it").count(), 1);
}

#[test]
fn colour_changes_nothing_but_colour() {
    let plain = terminal_text(&coach(), Look::default());
    let colour = terminal_text(
        &coach(),
        Look {
            colour: true,
            ..Look::default()
        },
    );
    assert!(colour.contains("\u{1b}["));
    let mut stripped = String::new();
    let mut inside = false;
    for c in colour.chars() {
        match c {
            '\u{1b}' => inside = true,
            'm' if inside => inside = false,
            _ if inside => {}
            _ => stripped.push(c),
        }
    }
    assert_eq!(stripped, plain);
}

#[test]
fn several_pairs_are_counted_at_the_top_the_bad_ones_first() {
    let text = terminal_text(&coach(), Look::default());
    let says =
        "Of 5: 4 will not fit mirrored (Lamp surround, Cowl vent, Quarter light, Step); 1 fits.";
    let at = |what: &str| text.find(what).unwrap_or_else(|| panic!("{what}: {text}"));
    assert!(at(says) < at("WILL NOT FIT"), "{text}");
    let one = terminal_text(&study(vec![lamp()]), Look::default());
    assert!(!one.contains("Of 1"), "{one}");
}

#[test]
fn the_gravest_verdict_is_known() {
    assert_eq!(gravest(&coach()), Some(Verdict::WillNotFit));
    assert_eq!(gravest(&study(Vec::new())), None);
}

#[test]
fn an_empty_study_still_says_what_it_is() {
    let text = terminal_text(&Study::default(), Look::default());
    assert!(text.starts_with("Untitled job"));
    assert!(text.ends_with(&format!("{CAUTION}\n")));
}
