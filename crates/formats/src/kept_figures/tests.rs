use geom::{Kernel, NoiseModel, Plane, Point, Rigid, Unit, Vector};
use nalgebra::DMatrix;
use record::{
    Code, EdgeKind, EdgeSpread, EdgeStation, Figure, Finding, HoleKind, MeasuredEdge, MeasuredFace,
    MeasuredHole, MeasuredJunction, MeasuredOpening, Number, Quantity, Severity, Side, Source,
    StationAngle, Through, VisitNoise,
};

use super::*;
use crate::sample::{drawing, study};

const KEY: Key = [7; 32];

fn length(value: f64) -> Figure {
    Figure {
        value,
        u95: 0.1 + 0.2,
        nu: f64::INFINITY,
        source: Source::EdgeSight,
        quantity: Quantity::Length,
    }
}

fn finding() -> Finding {
    Finding {
        code: Code::ALL[Code::ALL.len() - 1],
        severity: Severity::Doubt,
        subject: "Türgriff".to_owned(),
        says: "says".to_owned(),
        advice: String::new(),
        numbers: vec![Number {
            name: "count".to_owned(),
            value: -0.0,
            quantity: None,
        }],
    }
}

fn opening() -> MeasuredOpening {
    let turn = Rigid::new(Vector::new(1e-3, 2.0, -3.0), Vector::new(0.1, 0.2, 0.3));
    let slanted = Unit::new_normalize(Vector::new(1.0, 1.0, 1.0));
    let drawn = drawing();
    MeasuredOpening {
        id: "lamp left".into(),
        name: "Lamp".to_owned(),
        side: Side::NotSaid,
        part_from_scan: turn,
        edge: Some(MeasuredEdge {
            kind: EdgeKind::Bend,
            closed: true,
            stations: vec![EdgeStation {
                along_mm: 0.0,
                at: Point::new(0.1, 0.2, 0.3),
                tangent: slanted,
                gap_dir: slanted,
                flush_dir: -slanted,
                gap_u_mm: f64::MIN_POSITIVE / 2.0,
                flush_u_mm: 0.02,
                seen: false,
            }],
            gaps: Vec::new(),
            pieces: drawn.mark.unwrap_or_default(),
            pieces_error_mm: f64::INFINITY,
            dimensions: Vec::new(),
            corners: Vec::new(),
            edge_bias_mm: 0.01,
            spread: EdgeSpread {
                gap: DMatrix::from_fn(3, 2, |i, k| (i * 2 + k) as f64 / 7.0),
                flush: DMatrix::zeros(3, 0),
                shared: 0,
                nu: 31.5,
            },
        }),
        faces: vec![MeasuredFace {
            id: "top".into(),
            plane: Plane::through(&Point::origin(), slanted),
            centre: Point::new(1.0, 2.0, 3.0),
            size_mm: [300.0, 60.0],
            points: 12_345,
            seen: 0.72,
            scatter_mm: 0.05,
            sag: length(0.2),
            radius_mm: Some(500.0),
            turn_deg_per_mm: 0.114,
            findings: vec![finding()],
        }],
        junctions: vec![MeasuredJunction {
            id: "upper".into(),
            through: Through::Air,
            start: Point::origin(),
            end: Point::new(400.0, 0.0, 0.0),
            length_mm: 400.0,
            stations: vec![StationAngle {
                place: "top".to_owned(),
                share: 0.0,
                from_start_mm: 0.0,
                angle: length(89.125),
                at: Point::origin(),
            }],
            twist: length(0.6),
            flat_error: length(0.3),
            ruled: true,
            ruled_p: 0.4,
            widths_mm: [60.0, 60.0],
            findings: Vec::new(),
        }],
        holes: vec![MeasuredHole {
            id: "one".into(),
            kind: HoleKind::Stud,
            centre: Point::origin(),
            axis: slanted,
            centre_u95: length(0.0),
            diameter: length(5.5),
            arc_deg: 360.0,
            findings: Vec::new(),
        }],
        findings: vec![finding()],
    }
}

fn figures() -> KeptFigures {
    let study = study();
    let mut measured = study.measured;
    measured.noise = vec![VisitNoise {
        visit: "first".into(),
        model: NoiseModel::known(Kernel::Matern, 0.05, 3.0, 0.02),
        faces: 16,
    }];
    measured.openings = vec![opening()];
    measured.findings = vec![finding()];
    let decided = study.decided.compares.into_iter();
    KeptFigures {
        measured,
        decided: decided.map(|d| ([9; 32], d)).collect(),
    }
}

fn same(a: &KeptFigures, b: &KeptFigures) -> bool {
    // As bytes: -0 is not 0 there.
    let bytes = |f: &KeptFigures| {
        let mut to = Vec::new();
        f.measured.put(&mut to);
        f.decided.put(&mut to);
        to
    };
    bytes(a) == bytes(b) && format!("{a:?}") == format!("{b:?}")
}

#[test]
fn figures_come_back_bit_for_bit() {
    let folder = tempfile::tempdir().unwrap();
    let path = kept_figures_path(folder.path());
    let figures = figures();
    assert!(!figures.decided.is_empty() && !figures.measured.compares.is_empty());
    keep_figures(&figures, "engine", &KEY, &path).unwrap();
    let back = read_kept_figures(&path, "engine", &KEY).unwrap();
    assert!(same(&figures, &back));
    // Nothing else lies there: what was being written has taken its name.
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn figures_of_another_engine_or_of_another_job_do_not_count() {
    let folder = tempfile::tempdir().unwrap();
    let path = kept_figures_path(folder.path());
    assert!(read_kept_figures(&path, "engine", &KEY).is_none());
    keep_figures(&figures(), "engine", &KEY, &path).unwrap();
    assert!(read_kept_figures(&path, "engine", &[8; 32]).is_none());
    for other in ["engin", "engine2", "Engine", ""] {
        assert!(read_kept_figures(&path, other, &KEY).is_none(), "{other}");
    }
    assert!(read_kept_figures(&path, "engine", &KEY).is_some());
}

#[test]
fn damaged_figures_do_not_count() {
    let folder = tempfile::tempdir().unwrap();
    let path = kept_figures_path(folder.path());
    keep_figures(&figures(), "engine", &KEY, &path).unwrap();
    let whole = std::fs::read(&path).unwrap();
    for at in (0..whole.len()).step_by(97) {
        let mut bytes = whole.clone();
        bytes[at] ^= 1 << (at % 8);
        std::fs::write(&path, &bytes).unwrap();
        assert!(read_kept_figures(&path, "engine", &KEY).is_none(), "{at}");
        std::fs::write(&path, &whole[..at]).unwrap();
        assert!(read_kept_figures(&path, "engine", &KEY).is_none(), "{at}");
    }
    std::fs::write(&path, [whole.as_slice(), b"more"].concat()).unwrap();
    assert!(read_kept_figures(&path, "engine", &KEY).is_none());
}

#[test]
fn lengths_that_lie_make_no_room() {
    let mut bytes = Vec::new();
    u64::MAX.put(&mut bytes);
    assert!(String::take(&mut bytes.as_slice()).is_none());
    assert!(Vec::<f64>::take(&mut bytes.as_slice()).is_none());
    u64::MAX.put(&mut bytes);
    assert!(DMatrix::<f64>::take(&mut bytes.as_slice()).is_none());
}
