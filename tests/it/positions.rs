//! Positions on the car against a made-up body: a coach in one scan, with named places of known truth.

use std::sync::{Arc, OnceLock};

use demo::Coach;
use geom::{Improper, Point, Rigid, Vector};
use rand::SeedableRng;
use rand::distr::Distribution;
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use record::{
    Centreline, CentrelineWay, Code, Finding, Job, Laid, LengthUnit, Measured, PairPosition, Place,
    PlaceName, PositionKind, Positions, Quiet, RivalName, Scans, Severity, Side, Source,
};

/// The left lamp of the body sits further back by this, mm.
const BACK: f64 = 6.0;
/// And faces further outward, degrees.
const TOE: f64 = 0.8;

/// A coach whose left side is the mirror image of its right but for [`BACK`] and [`TOE`]; one scan, one set of axes.
struct Body {
    job: Job,
    measured: Measured,
    scan_from_car: Rigid,
}

fn body() -> &'static Body {
    static BODY: OnceLock<Body> = OnceLock::new();
    BODY.get_or_init(|| {
        let coach = Coach::perfect(23);
        let common = Rigid::new(
            Vector::new(420.0, -310.0, 95.0),
            Vector::new(0.3, -0.2, 1.1),
        );
        let middle = coach
            .truth()
            .opening(&"lamp-left".into())
            .unwrap()
            .edge(400);
        let middle =
            Point::from(middle.iter().map(|e| e.at.coords).sum::<Vector>() / middle.len() as f64);
        // Outward on the left: from ahead (-X) towards -Y, about the upright axis.
        let turn = Rigid::rotation(Vector::z() * TOE.to_radians());
        let about = Rigid::translation(middle.x + BACK, middle.y, middle.z)
            * turn
            * Rigid::translation(-middle.x, -middle.y, -middle.z);
        let (raw, job) = coach.in_one_scan(500_000, &common, &about, &Quiet).unwrap();
        let scans: Scans = [(
            "body".into(),
            Arc::new(study::prepare(raw, LengthUnit::Millimetre, &Quiet).unwrap()),
        )]
        .into();
        let measured = study::measure(&job, &scans, &mut study::Kept::default(), &Quiet).unwrap();
        Body {
            job,
            measured,
            scan_from_car: common,
        }
    })
}

/// Names and car coordinates of the right places of a coach 3.6 m long.
const PAIRS: [(&str, [f64; 3]); 8] = [
    ("nose corner", [-250.0, 610.0, 160.0]),
    ("wing seam", [260.0, 690.0, -180.0]),
    ("door front", [780.0, 705.0, -220.0]),
    ("belt front", [800.0, 640.0, 420.0]),
    ("belt rear", [1850.0, 650.0, 430.0]),
    ("door rear", [1900.0, 710.0, -200.0]),
    ("tail seam", [2900.0, 660.0, -220.0]),
    ("roof corner", [3250.0, 560.0, 480.0]),
];

/// The first `n` pairs, each coordinate read with a scatter of `sigma`, scan axes.
fn pairs(n: usize, sigma: f64, seed: u64) -> Vec<Place> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let which: &[usize] = match n {
        4 => &[0, 2, 4, 6],
        6 => &[0, 1, 2, 4, 6, 7],
        _ => &[0, 1, 2, 3, 4, 5, 6, 7],
    };
    let mut out = Vec::new();
    for (name, at) in which.iter().map(|k| PAIRS[*k]) {
        for (side, y) in [(Side::Left, -1.0), (Side::Right, 1.0)] {
            let e = Vector::from_fn(|_, _| {
                let e: f64 = StandardNormal.sample(&mut rng);
                e * sigma
            });
            out.push(Place {
                name: name.to_owned(),
                side,
                scan: "body".into(),
                at: body().scan_from_car * (Point::new(at[0], y * at[1], at[2]) + e),
                sigma_mm: sigma.max(0.01),
                note: String::new(),
            });
        }
    }
    out
}

/// Moves a left or right place by `by` in car axes.
fn bend(places: &mut [Place], name: &str, side: Side, by: Vector) {
    let p = places
        .iter_mut()
        .find(|p| p.name == name && p.side == side)
        .unwrap();
    p.at += body().scan_from_car.rotation * by;
}

fn with(places: Vec<Place>) -> Job {
    Job {
        places,
        centreline: Centreline {
            front: Some("door front".to_owned()),
            rear: Some("tail seam".to_owned()),
            ..Centreline::default()
        },
        ..body().job.clone()
    }
}

fn said(job: &Job) -> Positions {
    study::positions(job, &body().measured).unwrap()
}

fn laid(job: &Job) -> Laid {
    let p = said(job);
    p.laid.unwrap_or_else(|| panic!("{:?}", p.findings))
}

fn lamp(laid: &Laid) -> &PairPosition {
    laid.pairs
        .iter()
        .find(|p| p.compare.0 == "lamp")
        .unwrap_or_else(|| panic!("{:?}", laid.pairs))
}

fn difference(laid: &Laid, kind: PositionKind) -> record::Figure {
    lamp(laid)
        .rows
        .iter()
        .find(|r| r.kind == kind)
        .unwrap()
        .difference
}

fn row(laid: &Laid, kind: PositionKind) -> &record::PositionRow {
    lamp(laid).rows.iter().find(|r| r.kind == kind).unwrap()
}

/// What the differences of the lamps are, as made.
fn truth(kind: PositionKind) -> f64 {
    match kind {
        PositionKind::SetBack => BACK,
        PositionKind::Toe => TOE,
        _ => 0.0,
    }
}

fn count(findings: &[Finding], code: Code) -> usize {
    findings.iter().filter(|f| f.code == code).count()
}

#[test]
fn with_exact_places_the_positions_are_those_of_the_body() {
    let l = laid(&with(pairs(8, 0.0, 1)));
    for r in &lamp(&l).rows {
        let want = truth(r.kind);
        // One edge, read once: twice the give-or-take, which is small, bounds six figures.
        let off = (r.difference.value - want).abs();
        assert!(
            off < 2.0 * r.difference.u95 && r.difference.u95 < 0.1,
            "{r:?}"
        );
        assert_eq!(r.difference.source, Source::EdgeSight);
        assert_eq!(r.proven, want != 0.0, "{r:?}");
    }
    let text = report::positions_text(&study_of(&with(pairs(8, 0.8, 1))), report::Look::default());
    let text = text.unwrap();
    let first = "Lamp opening: the left faces further outward than the right by 0.7";
    assert!(text.lines().any(|l| l.starts_with(first)), "{text}");
    assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    for c in &l.central {
        assert!(c.off.value.abs() < 0.3, "{c:?}");
    }
}

fn study_of(job: &Job) -> record::Study {
    record::Study {
        title: job.title.clone(),
        positions: Some(said(job)),
        measured: body().measured.clone(),
        ..record::Study::default()
    }
}

/// The truth lies within the give-or-take in about 95 of 100 bodies whose places scatter, whatever the number of pairs.
#[test]
fn give_or_takes_of_positions_cover() {
    cover(200);
}

#[test]
#[ignore = "2,000 bodies per row take minutes: cargo test -p it --release positions_cover_in_full -- --ignored --nocapture"]
fn positions_cover_in_full() {
    cover(2000);
}

fn cover(seeds: u64) {
    // The edges were read once; their own error is that of one draw and stays out of it.
    let exact = laid(&with(pairs(8, 0.0, 1)));
    for n in [4, 6, 8] {
        let mut hits = [0_u64; 6];
        let mut set_aside = 0;
        for seed in 0..seeds {
            let l = laid(&with(pairs(n, 2.0, seed)));
            set_aside += u64::from(l.places.iter().any(|p| !p.kept));
            for (k, kind) in PositionKind::ALL.into_iter().enumerate() {
                let d = difference(&l, kind);
                let want = difference(&exact, kind).value;
                hits[k] += u64::from((d.value - want).abs() <= d.u95);
            }
        }
        let share = hits.map(|h| 100.0 * h as f64 / seeds as f64);
        let alarms = 100.0 * set_aside as f64 / seeds as f64;
        println!("{n} pairs: {share:.1?}, one set aside without cause in {alarms:.1}");
        // Three standard errors of a simulation of so many bodies, beyond the 2,000 that settle it.
        let slack = if seeds < 2000 {
            300.0 * (0.93 * 0.07 / seeds as f64).sqrt()
        } else {
            0.0
        };
        for s in share {
            assert!(
                (93.0 - slack..=98.0 + slack).contains(&s),
                "{n} pairs {share:?}"
            );
        }
    }
}

/// One wing 8 mm forward, which carries two of eight pairs: named, and neither yaw nor shape nor position follows.
#[test]
fn a_wing_forward_is_no_yaw_and_no_shape_error() {
    let mut worst = [0.0_f64; 2];
    let mut hidden = 0;
    for seed in 0..40 {
        let sound = pairs(8, 0.5, seed);
        let mut places = sound.clone();
        for name in ["nose corner", "wing seam"] {
            bend(&mut places, name, Side::Left, -8.0 * Vector::x());
        }
        let (job, before) = (with(places), laid(&with(sound)));
        let p = said(&job);
        let l = p.laid.unwrap();
        let aside: Vec<&str> = l
            .places
            .iter()
            .filter(|p| !p.kept)
            .map(|p| p.name.as_str())
            .collect();
        if aside != ["nose corner", "wing seam"] {
            // Eight times the scatter of one place: now and then it hides.
            hidden += 1;
            continue;
        }
        assert_eq!(count(&p.findings, Code::OddPlace), 2);
        let says = &p
            .findings
            .iter()
            .find(|f| f.code == Code::OddPlace)
            .unwrap()
            .says;
        assert!(says.contains("further forward"), "{says}");
        // All eight together would be turned by 0.021 degrees more; that stands among the rivals.
        let rival = l.rivals.iter().find(|r| r.name == RivalName::All).unwrap();
        assert!(rival.yaw_deg.abs() > 0.005, "{rival:?}");
        let turn = (l.car_from_scan.rotation * before.car_from_scan.rotation.inverse()).angle();
        worst[0] = worst[0].max(turn.to_degrees());
        for kind in PositionKind::ALL {
            let d = difference(&l, kind);
            worst[1] = worst[1].max((d.value - truth(kind)).abs() / d.u95);
        }
        assert!(row(&l, PositionKind::Toe).proven);
    }
    println!(
        "not named {hidden} of 40; turn at most {:.4} degrees, figures at most {:.2} give-or-takes off",
        worst[0], worst[1]
    );
    assert!(hidden <= 2, "{hidden}");
    assert!(worst[0] < 0.03 && worst[1] < 3.0, "{worst:?}");
    // Nothing that needs no centreline knows of the places.
    let study = |job: &Job| study::decide(&body().measured, &job.choices, job.seed, 0);
    let (a, b) = (study(&body().job), study(&with(pairs(8, 0.5, 1))));
    assert_eq!(format!("{a:?}"), format!("{b:?}"));
}

#[test]
fn one_bent_nose_corner_is_named_and_set_aside() {
    let (mut named, mut wrong) = (0, 0);
    for seed in 0..200 {
        let mut places = pairs(8, 2.0, seed);
        bend(
            &mut places,
            "nose corner",
            Side::Left,
            Vector::new(15.0, 15.0, -13.0),
        );
        let p = said(&with(places));
        let aside: Vec<&str> = p
            .findings
            .iter()
            .filter(|f| f.code == Code::OddPlace)
            .map(|f| f.subject.as_str())
            .collect();
        named += usize::from(aside.contains(&"nose corner"));
        wrong += usize::from(!aside.is_empty() && !aside.contains(&"nose corner"));
    }
    println!("named in {named} of 200, another alone in {wrong}");
    assert!(named >= 180 && wrong <= 2);
    let calm =
        (0..200).filter(|s| count(&said(&with(pairs(8, 2.0, *s))).findings, Code::OddPlace) > 0);
    let alarms = calm.count();
    println!("false alarms {alarms} of 200");
    // 5.7 of 100 in 2,000 bodies; 22 of 200 is three standard errors above.
    assert!(alarms <= 22);
}

/// Another place of the scan in space changes nothing but its axes.
#[test]
fn moving_the_scan_changes_no_figure() {
    let job = with(pairs(8, 1.0, 5));
    let map = Rigid::new(
        Vector::new(-700.0, 1200.0, 40.0),
        Vector::new(-0.9, 0.4, 2.0),
    );
    let mut moved = job.clone();
    for p in &mut moved.places {
        p.at = map * p.at;
    }
    let mut measured = body().measured.clone();
    for o in &mut measured.openings {
        o.part_from_scan *= map.inverse();
    }
    for c in &mut measured.compares {
        c.b_on_a = c.b_on_a.map(|i| Improper {
            mirror: i.mirror.map(|m| m.moved(&map)),
            rigid: i.rigid * map.inverse(),
        });
    }
    let (a, b) = (
        laid(&job),
        study::positions(&moved, &measured).unwrap().laid.unwrap(),
    );
    for (p, q) in a.pairs.iter().zip(&b.pairs) {
        for (r, s) in p.rows.iter().zip(&q.rows) {
            for (x, y) in [
                (r.left, s.left),
                (r.right, s.right),
                (r.difference, s.difference),
            ] {
                assert!((x.value - y.value).abs() < 1e-6, "{x:?} {y:?}");
                assert!(
                    x.u95.is_nan() || (x.u95 - y.u95).abs() < 1e-6,
                    "{x:?} {y:?}"
                );
            }
            assert_eq!((r.proven, r.survives), (s.proven, s.survives));
        }
    }
    assert_eq!(a.rivals.len(), b.rivals.len());
}

/// With the centreline given by few places at the nose a wing decides; the rivals show it.
#[test]
fn conclusions_that_hang_on_the_centreline_are_named() {
    let sound = said(&with(pairs(8, 0.3, 2)));
    let lamps = |p: &Positions| {
        let of = |f: &&Finding| f.code == Code::HangsOnCentreline && f.subject == "lamp";
        p.findings.iter().filter(of).count()
    };
    assert_eq!(lamps(&sound), 0, "{:?}", sound.findings);
    let l = sound.laid.unwrap();
    assert!(row(&l, PositionKind::SetBack).survives && row(&l, PositionKind::SetBack).proven);
    // The front half leans to one side: the rear half does not say so.
    let mut places = pairs(8, 0.3, 2);
    for name in ["nose corner", "wing seam", "door front", "belt front"] {
        for side in [Side::Left, Side::Right] {
            bend(&mut places, name, side, Vector::new(0.0, 6.0, 0.0));
        }
    }
    let bent = said(&with(places));
    assert!(lamps(&bent) > 0, "{:?}", bent.findings);
    let l = bent.laid.unwrap();
    let out = row(&l, PositionKind::Out);
    assert!(
        !out.survives && out.over_rivals[1] - out.over_rivals[0] > 5.0,
        "{out:?}"
    );
}

#[test]
fn what_the_places_lack_is_said() {
    let quiet = said(&with(pairs(8, 0.3, 2))).findings;
    for code in [
        Code::FewPairs,
        Code::PlacesBunched,
        Code::PlaceWithoutPartner,
        Code::ScansNotJoined,
        Code::CentrelineNotLaid,
        Code::WholeBody,
        Code::OddPlace,
    ] {
        assert_eq!(count(&quiet, code), 0, "{code:?}: {quiet:?}");
    }
    let few = said(&with(pairs(4, 0.3, 2)));
    assert_eq!(count(&few.findings, Code::FewPairs), 1);
    // Three: figures without a give-or-take, and nothing proven.
    let mut three = with(pairs(4, 0.3, 2));
    three.places.retain(|p| p.name != "nose corner");
    let l = laid(&three);
    assert!(
        lamp(&l)
            .rows
            .iter()
            .all(|r| r.difference.u95.is_nan() && !r.proven)
    );
    let mut alone = with(pairs(8, 0.3, 2));
    alone.places.remove(0);
    assert_eq!(count(&said(&alone).findings, Code::PlaceWithoutPartner), 1);
    let mut nose = with(pairs(8, 0.3, 2));
    nose.places.retain(|p| {
        ["nose corner", "wing seam", "door front", "belt front"].contains(&p.name.as_str())
    });
    nose.places.retain(|p| p.name != "belt front");
    nose.centreline.front = Some("nose corner".to_owned());
    nose.centreline.rear = Some("door front".to_owned());
    assert_eq!(count(&said(&nose).findings, Code::PlacesBunched), 1);
    let mut other = with(pairs(8, 0.3, 2));
    other.places[3].scan = "another".into();
    let p = said(&other);
    assert!(p.laid.is_none() && count(&p.findings, Code::ScansNotJoined) == 1);
    let mut opening = with(pairs(8, 0.3, 2));
    opening
        .openings
        .iter_mut()
        .find(|o| o.id.0 == "lamp-left")
        .unwrap()
        .scan = "another".into();
    let p = said(&opening);
    assert_eq!(count(&p.findings, Code::ScansNotJoined), 1);
    assert!(p.laid.unwrap().pairs.iter().all(|p| p.compare.0 != "lamp"));
    // Both sides picked on one side.
    let mut wrong = with(pairs(8, 0.3, 2));
    for k in (0..wrong.places.len()).step_by(2) {
        wrong.places[k].at = wrong.places[k + 1].at;
    }
    let p = said(&wrong);
    assert!(
        p.laid.is_none() && p.findings[0].code == Code::CentrelineNotLaid,
        "{:?}",
        p.findings
    );
    assert_eq!(p.findings[0].severity, Severity::Stop);
    // The whole left side 5 mm back: said of the body.
    let mut back = with(pairs(8, 0.3, 2));
    for p in back.places.iter_mut().filter(|p| p.side == Side::Left) {
        p.at += body().scan_from_car.rotation * Vector::new(5.0, 0.0, 0.0);
    }
    let p = said(&back);
    let f = p
        .findings
        .iter()
        .find(|f| f.code == Code::WholeBody)
        .unwrap();
    assert!(f.says.contains("mm further back"), "{f:?}");
    assert!(study::positions(&body().job, &body().measured).is_none());
    let mut none = with(pairs(8, 0.3, 2));
    none.centreline.way = CentrelineWay::None;
    assert!(study::positions(&none, &body().measured).is_none());
}

#[test]
fn centre_places_alone_and_three_two_one() {
    let centre = |name: &str, at: [f64; 3]| Place {
        name: name.to_owned(),
        side: Side::Centre,
        scan: "body".into(),
        at: body().scan_from_car * Point::from(at),
        sigma_mm: 0.5,
        note: String::new(),
    };
    let mut job = with(pairs(8, 0.3, 2));
    job.places.extend([
        centre("badge", [-300.0, 0.2, 300.0]),
        centre("roof front", [900.0, -0.3, 1100.0]),
        centre("roof rear", [2600.0, 0.1, 1150.0]),
        centre("tail", [3300.0, -0.1, 100.0]),
        centre("floor", [1500.0, 0.2, -300.0]),
    ]);
    job.centreline = Centreline {
        way: CentrelineWay::CentrePlaces,
        front: Some("badge".to_owned()),
        rear: Some("tail".to_owned()),
        image_of: None,
    };
    let l = laid(&job);
    assert_eq!(l.places.len(), 5);
    let d = difference(&l, PositionKind::Toe);
    assert!((d.value - TOE).abs() < d.u95, "{d:?}");
    let name = |name: &str, side| PlaceName {
        name: name.to_owned(),
        side,
    };
    job.centreline = Centreline {
        way: CentrelineWay::ThreeTwoOne {
            level: [
                name("door front", Side::Left),
                name("door front", Side::Right),
                name("tail seam", Side::Left),
            ],
            line: [name("badge", Side::Centre), name("tail", Side::Centre)],
            start: name("badge", Side::Centre),
        },
        front: None,
        rear: None,
        image_of: None,
    };
    let l = laid(&job);
    for kind in [
        PositionKind::Toe,
        PositionKind::SetBack,
        PositionKind::Height,
    ] {
        let d = difference(&l, kind);
        assert!((d.value - truth(kind)).abs() < d.u95, "{kind:?} {d:?}");
        assert_eq!(d.source, Source::Centreline);
    }
}
