//! A kept job file of every schema is read to the same job for ever.

use std::path::Path;

use geom::Point;
use record::{
    EdgeKind, Fixing, HoleKind, LengthDisplay, LengthUnit, OptionKind, RegionShape, Side, Stations,
    Surface, Through, UnitSource,
};

#[test]
fn schema_1() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/jobs/schema_1.ron");
    let job = formats::read_job(&path).unwrap();
    assert_eq!(formats::check_job(&job), []);
    assert_eq!(
        (job.seed, job.units.length, job.units.decimal_comma),
        (42, LengthDisplay::Inch, true)
    );
    let body = &job.visits[0].state;
    assert_eq!(
        (body.left, body.left_film_um, body.doors_hung),
        (Surface::Primed, Some(150.0), Some(true))
    );
    let [left, right] = &job.scans[..] else {
        panic!("two scans")
    };
    assert_eq!(
        (left.unit, right.unit),
        (LengthUnit::Millimetre, LengthUnit::Metre)
    );
    assert!(
        matches!(&left.unit_source, UnitSource::Checked { taped_mm, .. } if *taped_mm == 300.5)
    );
    assert_eq!(
        (&right.unit_source, &*right.visit.0),
        (&UnitSource::Guessed, "monday")
    );
    assert!(
        matches!(&left.aside[0].shape, RegionShape::Lasso { corners, .. } if corners[2] == [10.0, 10.0])
    );
    let [a, b] = &job.openings[..] else {
        panic!("two openings")
    };
    assert_eq!(
        (a.side, b.side, &*b.name),
        (Side::Left, Side::Right, "lamp-right")
    );
    assert_eq!(a.edge.as_ref().unwrap().kind, EdgeKind::Bend);
    let by_hand = b.edge.as_ref().unwrap();
    assert_eq!(
        (by_hand.near, by_hand.closed, by_hand.by_hand.len()),
        (Point::origin(), false, 3)
    );
    let junction = &a.junctions[0];
    assert_eq!(
        (junction.through, junction.stations),
        (Through::Air, Stations::Every(25.0))
    );
    assert_eq!(
        (a.holes[0].kind, b.holes[0].kind),
        (HoleKind::Stud, HoleKind::Hole)
    );
    let part = &job.choices.parts[0];
    assert_eq!(
        (part.fasteners[0].fixing, part.fasteners[0].shim_mm),
        (Fixing::Fixed, (0.0, 3.0))
    );
    assert_eq!(
        (part.gasket.unwrap().most, part.seen_together),
        (0.45, false)
    );
    assert_eq!(job.choices.chosen[0].1, OptionKind::MidwayWithSlots);
    assert_eq!(
        formats::job_from_str(&formats::job_to_string(&job).unwrap()).unwrap(),
        job
    );
}
