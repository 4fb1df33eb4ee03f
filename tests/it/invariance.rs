//! What must not change the answer: the number of threads, results kept from earlier, which side is called a, where the
//! scanner stood, the mirror image of the whole car.

use std::collections::BTreeMap;
use std::sync::Arc;

use demo::Coach;
use geom::{Improper, Point, RawPoints, Rigid, Vector};
use record::{Figure, Job, LengthUnit, Measured, OptionKind, Quiet, RawScan, Scans, Side, Study};

use super::demo_truth::{measured, prepared};

const POINTS: usize = 150_000;

fn text(m: &Measured) -> String {
    format!("{m:?}")
}

#[test]
fn one_thread_and_two_give_the_same_bits() {
    let coach = Coach::new(11);
    let scans = prepared(&coach, POINTS);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.build().unwrap().install(|| {
            let mut kept = study::Kept::default();
            text(&study::measure(&coach.job(), &scans, &mut kept, &Quiet).unwrap())
        })
    };
    let one = with(1);
    assert!(one.contains("lamp-left"));
    assert!(one == with(2), "one thread and two differ");
}

#[test]
fn kept_results_change_nothing() {
    let coach = Coach::new(12);
    let scans = prepared(&coach, POINTS);
    let mut kept = study::Kept::default();
    let mut job = coach.job();
    for edit in 0..5 {
        match edit {
            0 => {}
            1 => job.openings[0].holes[1].near += Vector::new(0.4, -0.3, 0.2),
            2 => job.openings[3].faces.truncate(1),
            3 => job.openings[1].top = job.openings[1].edge.as_ref().map(|e| e.near),
            _ => job.openings[0].junctions.clear(),
        }
        let warm = text(&study::measure(&job, &scans, &mut kept, &Quiet).unwrap());
        let mut none = study::Kept::default();
        let cold = text(&study::measure(&job, &scans, &mut none, &Quiet).unwrap());
        assert!(warm == cold, "edit {edit}: kept results change the answer");
    }
}

/// Swapping a and b cuts the stations on the other edge. Angles only change their sign, exactly; the modes agree as far as
/// the other stations and the smoothing between them allow: within 0.6 of their give-or-take on unlike sides.
#[test]
fn swapped_sides_change_the_sign() {
    let coach = Coach::new(13);
    let scans = prepared(&coach, POINTS);
    let (mut job, m) = measured(&coach, POINTS);
    for c in &mut job.compares {
        if let Some(b) = c.b.as_mut() {
            std::mem::swap(&mut c.a, b);
        }
    }
    let mut kept = study::Kept::default();
    let s = study::measure(&job, &scans, &mut kept, &Quiet).unwrap();
    for (x, y) in m
        .compares
        .iter()
        .zip(&s.compares)
        .filter(|c| c.0.b.is_some())
    {
        // Angles never see the other edge: exact.
        for (p, q) in x.angles.iter().zip(&y.angles) {
            let (p, q) = (p.difference.unwrap(), q.difference.unwrap());
            assert_eq!((p.value, p.u95), (-q.value, q.u95), "{} {:?}", x.id, p);
        }
        for (p, q) in x.modes.iter().zip(&y.modes) {
            let off = (p.amount.value + q.amount.value).abs();
            println!(
                "{} {:?}: {:+.4} and {:+.4}, {:.4}",
                x.id, p.kind, p.amount.value, q.amount.value, p.amount.u95
            );
            assert_eq!(p.kind, q.kind);
            // Shear is + where the top lies along +X, which turns round with the mirror.
            if p.kind != record::ModeKind::Shear && p.kind != record::ModeKind::Twist {
                assert!(off < 0.6 * p.amount.u95, "{} {:?}", x.id, p.kind);
            }
        }
    }
}

/// A scan mapped in f64: moved, and with `mirrored` turned into its mirror image, triangles and normals with it.
fn mapped(raw: &RawScan, map: &Improper) -> RawScan {
    let RawPoints::F32(points) = &raw.points else {
        panic!("the demo's scans are in single precision");
    };
    let at = |p: &[f32; 3]| map.point(&Point::from(p.map(f64::from)));
    let turned = |n: &[f32; 3]| {
        let v = map.vector(&Vector::from(n.map(f64::from)));
        [v.x as f32, v.y as f32, v.z as f32]
    };
    let mut out = raw.clone();
    out.points = RawPoints::F64(points.iter().map(|p| at(p).coords.into()).collect());
    out.normals = raw.normals.iter().map(turned).collect();
    if map.flips() {
        for t in &mut out.triangles {
            t.swap(1, 2);
        }
    }
    out
}

/// The picks of a job in scans that were mapped; with a mirror left becomes right, and stays the first of its pair.
fn picks_mapped(job: &mut Job, map: &Improper) {
    for o in &mut job.openings {
        let point = |p: &mut Point| *p = map.point(p);
        let vector = |v: &mut Vector| *v = map.vector(v);
        if let Some(e) = o.edge.as_mut() {
            point(&mut e.near);
        }
        o.top.iter_mut().for_each(point);
        o.outward.iter_mut().for_each(vector);
        for f in &mut o.faces {
            point(&mut f.near);
            f.facing.iter_mut().for_each(vector);
        }
        o.junctions.iter_mut().for_each(|j| point(&mut j.start));
        o.holes.iter_mut().for_each(|h| point(&mut h.near));
        if map.flips() {
            o.side = match o.side {
                Side::Left => Side::Right,
                Side::Right => Side::Left,
                other => other,
            };
        }
    }
}

fn study_of(coach: &Coach, map: Option<&Improper>) -> Study {
    let mut job = coach.job();
    let mut scans = Scans::new();
    for s in coach.scans(POINTS, &Quiet).unwrap() {
        let raw = map.map_or_else(|| s.raw.clone(), |m| mapped(&s.raw, m));
        let p = study::prepare(raw, LengthUnit::Millimetre, &Quiet).unwrap();
        scans.insert(s.id, Arc::new(p));
    }
    if let Some(m) = map {
        picks_mapped(&mut job, m);
    }
    study::run(&job, &scans, &mut study::Kept::default(), 400, &Quiet).unwrap()
}

/// The largest change of a figure in units of its give-or-take, and of its give-or-take, by kind of figure.
#[derive(Default)]
struct Changes(BTreeMap<&'static str, (f64, f64)>);

impl Changes {
    fn add(&mut self, kind: &'static str, a: &Figure, b: &Figure, sign: f64) {
        let e = self.0.entry(kind).or_default();
        e.0 = e.0.max((a.value - sign * b.value).abs() / a.u95);
        e.1 = e.1.max((b.u95 / a.u95 - 1.0).abs());
    }

    /// `sign` is that of what has a hand: - where one is the mirror image of the other.
    fn of(x: &Study, y: &Study, sign: f64) -> Self {
        let mut out = Self::default();
        for (a, b) in x.measured.openings.iter().zip(&y.measured.openings) {
            let (ea, eb) = (a.edge.as_ref().unwrap(), b.edge.as_ref().unwrap());
            for (p, q) in ea.dimensions.iter().zip(&eb.dimensions) {
                // Twist changes its sign with the hand; the diagonals change places.
                let twist = p.name.starts_with("twist");
                if twist || sign > 0.0 || !p.name.starts_with("diagonal") {
                    let s = if twist { sign } else { 1.0 };
                    out.add("sizes", &p.figure, &q.figure, s);
                }
            }
            for (p, q) in a.holes.iter().zip(&b.holes) {
                out.add("diameters", &p.diameter, &q.diameter, 1.0);
            }
            for (p, q) in a.junctions.iter().zip(&b.junctions) {
                for (s, t) in p.stations.iter().zip(&q.stations) {
                    out.add("angles", &s.angle, &t.angle, 1.0);
                }
            }
        }
        for (a, b) in x.measured.compares.iter().zip(&y.measured.compares) {
            for (p, q) in a.modes.iter().zip(&b.modes) {
                assert_eq!(p.kind, q.kind);
                // These are + towards one hand of the part.
                let handed = matches!(p.kind, record::ModeKind::Shear | record::ModeKind::Twist);
                let s = if handed { sign } else { 1.0 };
                // A centre opening against its own mirror image changes all its signs with the hand.
                if sign > 0.0 || a.b.is_some() {
                    out.add("modes", &p.amount, &q.amount, s);
                }
            }
        }
        out
    }

    fn hold(&self, what: &str, value: f64, width: f64) {
        for (kind, (v, w)) in &self.0 {
            println!(
                "{what}: {kind} change by {v:.3} of their give-or-take, that by {:.1} %",
                100.0 * w
            );
        }
        for (kind, (v, w)) in &self.0 {
            assert!(*v <= value && *w <= width, "{what}: {kind} {v} {w}");
        }
    }
}

/// Whether the chance that it fits lies so near 5 % or 95 % that a draw more or less turns the verdict.
fn on_the_edge(o: &record::OptionResult) -> bool {
    let fits = o.chance.map_or(0.5, |c| c.fits);
    [0.05, 0.95].iter().any(|limit| (fits - limit).abs() < 0.04)
}

fn shares(s: &Study) -> Vec<(String, OptionKind, f64, record::Verdict)> {
    s.decided
        .compares
        .iter()
        .flat_map(|c| {
            c.options
                .iter()
                .filter_map(|o| Some((c.id.0.clone(), o.kind, o.uses?.value, o.verdict)))
        })
        .collect()
}

/// A scan that was taken from another place: single precision rounds otherwise, and the cells of tiles and faces fall elsewhere.
/// Differences of edges move by a hundredth of their give-or-take, angles and sizes by less than a quarter; the give-or-take
/// itself, which is read from tiles cut another way, by less than half. Verdicts stay, unless a draw more or less turns them.
#[test]
fn moved_and_turned_scans_give_the_same_answer() {
    let coach = Coach::new(14);
    let map = Improper::proper(Rigid::new(
        Vector::new(-2100.0, 830.0, 415.0),
        Vector::new(0.7, -1.1, 2.0),
    ));
    let (x, y) = (study_of(&coach, None), study_of(&coach, Some(&map)));
    // Angles change by 0.29 of their give-or-take: where a face is cut at a bend goes by whole slices.
    Changes::of(&x, &y, 1.0).hold("moved", 0.3, 0.45);
    let mut clear = 0;
    for (a, b) in x.decided.compares.iter().zip(&y.decided.compares) {
        assert_eq!((&a.id, a.options.len()), (&b.id, b.options.len()));
        for p in &a.options {
            // They stand in the order of what they use: two that use the same but for a hair may change places.
            let q = b.options.iter().find(|q| q.kind == p.kind);
            let q = q.unwrap_or_else(|| panic!("{} has no {:?}", b.id, p.kind));
            if !on_the_edge(p) && !on_the_edge(q) {
                assert_eq!(p.verdict, q.verdict, "{} {p:?} {q:?}", a.id);
                clear += 1;
            }
        }
    }
    assert!(clear > 12, "{clear}");
    let moved = shares(&y);
    for a in &shares(&x) {
        let b = moved.iter().find(|b| (&b.0, b.1) == (&a.0, a.1));
        assert!(b.is_some_and(|b| (a.2 - b.2).abs() < 6.0), "{a:?} {b:?}");
    }
}

/// The mirror image of the whole car has its left where the right was; compared in the same order nothing changes but what
/// has a hand.
#[test]
fn the_mirror_image_of_the_car_gives_the_mirrored_answer() {
    let coach = Coach::new(15);
    let mirror = geom::Mirror::through(&Point::new(30.0, -4.0, 9.0), Vector::y_axis());
    let map = Improper {
        mirror: Some(mirror),
        rigid: Rigid::identity(),
    };
    let (x, y) = (study_of(&coach, None), study_of(&coach, Some(&map)));
    Changes::of(&x, &y, -1.0).hold("mirrored", 0.45, 0.45);
    for (pair, kind, share, _) in shares(&x)
        .iter()
        .filter(|s| s.0 != "grille" && !with_needs(s.1))
    {
        let other = shares(&y);
        let twin = other.iter().find(|t| t.0 == *pair && t.1 == *kind).unwrap();
        assert!(
            (share - twin.2).abs() < 8.0,
            "{pair} {kind:?}: {share} {}",
            twin.2
        );
    }
}

/// Choices whose slots are rounded to a tenth.
fn with_needs(kind: OptionKind) -> bool {
    !matches!(
        kind,
        OptionKind::MirrorA | OptionKind::MirrorB | OptionKind::Midway | OptionKind::TwoHands
    )
}
