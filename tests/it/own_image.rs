//! A scan of a whole made-up body on its own mirror image.

use std::sync::Arc;

use demo::Coach;
use geom::{Point, Rigid, Vector};
use record::{
    CentrelineWay, Code, Job, LaidBy, LengthUnit, Measured, PositionKind, PositionRow, Quantity,
    Quiet, Scans, Severity,
};

fn scan_from_car() -> Rigid {
    Rigid::new(
        Vector::new(420.0, -310.0, 95.0),
        Vector::new(0.3, -0.2, 1.1),
    )
}

fn measured(seed: u64) -> (Job, Measured) {
    let (raw, mut job) = Coach::perfect(seed)
        .in_one_scan(300_000, &scan_from_car(), &Rigid::identity(), &Quiet)
        .unwrap();
    job.centreline.way = CentrelineWay::OwnImage;
    job.centreline.image_of = Some("body".into());
    let scan = study::prepare(raw, LengthUnit::Millimetre, &Quiet).unwrap();
    let scans: Scans = [("body".into(), Arc::new(scan))].into();
    let measured = study::measure(&job, &scans, &mut study::Kept::default(), &Quiet).unwrap();
    (job, measured)
}

#[test]
fn of_a_true_body_the_middle_is_found_and_nothing_is_proven_out() {
    for seed in [31, 32, 33] {
        let (job, measured) = measured(seed);
        let positions = study::positions(&job, &measured).unwrap();
        let laid = positions
            .laid
            .unwrap_or_else(|| panic!("{:?}", positions.findings));
        assert_eq!(laid.by, LaidBy::OwnImage);
        // The car's own right-hand direction and a point of its middle plane, as the laid axes see them.
        let laid_from_car = laid.car_from_scan * scan_from_car();
        let right = laid_from_car.rotation * Vector::y();
        let off = right.dot(&(laid_from_car * Point::origin()).coords);
        let yaw = right.x.atan2(right.y).to_degrees();
        let lean = right.z.atan2(right.y).to_degrees();
        for (name, value, figure) in [
            ("yaw", yaw, laid.yaw),
            ("lean", lean, laid.lean),
            ("shift", off, laid.shift),
        ] {
            assert!(
                value.abs() <= 1.3 * figure.u95,
                "{seed} {name} {value} {figure:?}"
            );
        }
        assert_eq!(laid.body.len(), 2);
        assert!(
            laid.body.iter().all(|b| !b.proven),
            "{seed} {:?}",
            laid.body
        );
        assert_eq!(laid.pairs.len(), 4);
        // What lies across and along the car hangs on the plane; angles hang on the edges, which have tests of their own.
        let lengths = |r: &&PositionRow| r.difference.quantity == Quantity::Length;
        for row in laid.pairs.iter().flat_map(|p| &p.rows).filter(lengths) {
            let d = row.difference;
            assert!(d.value.abs() <= 1.3 * d.u95, "{seed} {row:?}");
            // A give-or-take that says nothing would pass too.
            assert!(
                row.kind != PositionKind::Out || d.u95 < 1.0,
                "{seed} {row:?}"
            );
        }
        let image = laid.image.unwrap();
        assert!(
            image.share > 0.5 && image.next_best_mm > 2.0 * image.left_mm,
            "{image:?}"
        );
    }
}

#[test]
fn a_scan_of_one_side_is_no_body_and_pairs_do_without_it() {
    let coach = Coach::perfect(31);
    let left = coach
        .scan_clouds(120_000, &Quiet)
        .unwrap()
        .into_iter()
        .find(|s| s.id.0 == "left")
        .unwrap();
    let scan = study::prepare(left.raw, LengthUnit::Millimetre, &Quiet).unwrap();
    let scans: Scans = [(left.id.clone(), Arc::new(scan))].into();
    let mut job = coach.job();
    job.centreline.way = CentrelineWay::OwnImage;
    job.centreline.image_of = Some(left.id);
    let measured = study::measure(&job, &scans, &mut study::Kept::default(), &Quiet).unwrap();
    let positions = study::positions(&job, &measured).unwrap();
    let stop = positions
        .findings
        .iter()
        .find(|f| f.code == Code::CentrelineNotLaid);
    assert!(positions.laid.is_none(), "{:?}", positions.laid);
    assert_eq!(stop.map(|f| f.severity), Some(Severity::Stop));
}
