use super::*;
use record::{CompareId, Finding, PositionKind, Quantity, Source};

fn figure(value: f64, u95: f64, quantity: Quantity) -> Figure {
    Figure {
        value,
        u95,
        nu: 20.0,
        source: Source::Centreline,
        quantity,
    }
}

fn row(kind: PositionKind, quantity: Quantity, difference: f64, u95: f64) -> PositionRow {
    PositionRow {
        kind,
        left: figure(100.0 + difference, u95 / 2.0, quantity),
        right: figure(100.0, u95 / 2.0, quantity),
        difference: figure(difference, u95, quantity),
        proven: difference.abs() > u95,
        over_rivals: [difference - 0.1, difference + 0.1],
        survives: true,
    }
}

fn study() -> Study {
    let laid = Laid {
        known: Vec::new(),
        scan: "body".into(),
        joined: Vec::new(),
        by: LaidBy::Pairs,
        car_from_scan: geom::Rigid::identity(),
        level_named: true,
        yaw: figure(0.0, 0.02, Quantity::Angle),
        lean: figure(0.0, 0.04, Quantity::Angle),
        shift: figure(0.0, 0.5, Quantity::Length),
        places: vec![PlaceRow {
            name: "nose corner".to_owned(),
            centre: false,
            middle: geom::Point::origin(),
            half_mm: 600.0,
            misfit_mm: [-8.0, 0.2, 0.0],
            kept: false,
            chance: Some(1e-4),
        }],
        body: Vec::new(),
        image: None,
        rivals: vec![record::RivalLine {
            name: RivalName::All,
            yaw_deg: 0.021,
            lean_deg: 0.0,
            shift_mm: -0.3,
        }],
        pairs: vec![PairPosition {
            compare: CompareId::from("lamp"),
            name: "lamp opening".to_owned(),
            rows: vec![
                row(PositionKind::Height, Quantity::Length, -0.3, 0.8),
                row(PositionKind::SetBack, Quantity::Length, 3.1, 0.5),
                row(PositionKind::Toe, Quantity::Angle, -0.4, 0.3),
            ],
        }],
        central: vec![CentralRow {
            opening: "grille".into(),
            name: "grille opening".to_owned(),
            off: figure(-2.0, 1.0, Quantity::Length),
            proven: true,
            over_rivals: [-2.4, -0.6],
            survives: false,
        }],
    };
    Study {
        title: "Touring coach".to_owned(),
        positions: Some(Positions {
            laid: Some(laid),
            findings: vec![Finding {
                code: Code::FewPairs,
                severity: Severity::Doubt,
                subject: "centreline".to_owned(),
                says: "5 places hold the centreline".to_owned(),
                advice: "pick at least six pairs".to_owned(),
                numbers: Vec::new(),
            }],
        }),
        ..Study::default()
    }
}

#[test]
fn verdict_first_then_figures_then_what_to_measure_next() {
    let text = positions_text(&study(), Look::default()).unwrap();
    let expected = "\
Touring coach: positions on the car

Lamp opening: the left sits further back than the right by 3.1 mm (give or take 0.5), under every
rival centreline. It also faces further inward by 0.4° (give or take 0.3).
Grille opening: not central, its middle lies 2.0 mm to the left of the centreline (give or take
1.0), but not under every rival centreline.
";
    assert!(text.starts_with(expected), "{text}");
    assert!(text.lines().all(|l| l.trim_end() == l), "{text}");
    for line in [
        "  nose corner                 −8.0 mm     +0.2 mm      0.0 mm  set aside: the odd one out",
        "  all places, the odd ones too      turned   +0.02°, leaning    0.00°, moved   −0.3 mm",
        "Measure next: pick at least six pairs.",
        CAUTION,
    ] {
        let words = |l: &str| l.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            text.lines().any(|l| words(l) == words(line)),
            "{line}\n{text}"
        );
    }
    assert_eq!(text.matches("start at the middle of the places").count(), 1);
    assert!(positions_text(&Study::default(), Look::default()).is_none());
    let ascii = Look {
        ascii: true,
        ..Look::default()
    };
    assert!(positions_text(&study(), ascii).unwrap().is_ascii());
}

#[test]
fn what_is_not_known_is_never_proven() {
    let mut study = study();
    let laid = study.positions.as_mut().unwrap().laid.as_mut().unwrap();
    for r in &mut laid.pairs[0].rows {
        r.difference.u95 = f64::NAN;
        r.proven = false;
    }
    let text = positions_text(&study, Look::default()).unwrap();
    assert!(text.contains("Lamp opening: nothing is proven"), "{text}");
    assert!(text.contains("give or take not known"), "{text}");
}

#[test]
fn long_figures_of_both_sides_stand_apart() {
    let mut study = study();
    let laid = study.positions.as_mut().unwrap().laid.as_mut().unwrap();
    let row = &mut laid.pairs[0].rows[1];
    row.survives = false;
    row.left = figure(-1431.84, 0.05, Quantity::Length);
    row.right = figure(-1437.86, 0.05, Quantity::Length);
    let text = positions_text(&study, Look::default()).unwrap();
    assert!(
        text.contains("−1431.84 ±0.05 mm −1437.86 ±0.05 mm "),
        "{text}"
    );
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
}
