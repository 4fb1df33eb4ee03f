//! What is proposed from scans of known truth.

use std::collections::BTreeMap;
use std::sync::Arc;

use demo::{Coach, DemoScan, Truth};
use geom::{Point, RawPoints, Vector};
use record::{LengthUnit, Opening, OpeningId, Quiet, RawScan, ScanRef, Scans, Side, UnitSource};
use study::propose::Proposal;

fn seeds(few: u64) -> u64 {
    std::env::var("UNMIRROR_SEEDS")
        .ok()
        .and_then(|s| s.parse().ok())
        .unwrap_or(few)
}

fn scan_ref(s: &DemoScan) -> ScanRef {
    ScanRef {
        id: s.id.clone(),
        visit: "visit-1".into(),
        path: s.file_name.into(),
        hash: None,
        unit: LengthUnit::Millimetre,
        unit_source: UnitSource::Guessed,
        side: record::Side::NotSaid,
        keep: Vec::new(),
        aside: Vec::new(),
        largest_piece_only: false,
        note: String::new(),
    }
}

fn proposed(scans: Vec<DemoScan>) -> Proposal {
    let refs: Vec<ScanRef> = scans.iter().map(scan_ref).collect();
    let prepared: Scans = scans
        .into_iter()
        .map(|s| {
            let p = study::prepare(s.raw, LengthUnit::Millimetre, &Quiet).unwrap();
            (s.id, Arc::new(p))
        })
        .collect();
    study::propose(&refs, &prepared, &Quiet).unwrap()
}

/// The true opening a proposed one stands for: its pick lies within 6 mm of the edge.
fn meant(truth: &Truth, o: &Opening) -> Option<OpeningId> {
    let near = o.edge.as_ref()?.near;
    let car_from_scan = truth.scan_from_car(&o.scan)?.inverse();
    let p = car_from_scan * near;
    truth
        .openings
        .iter()
        .filter(|t| t.scan == o.scan)
        .find(|t| t.edge_distance(&p) < 6.0)
        .map(|t| t.id.clone())
}

fn to_car(truth: &Truth, o: &Opening, p: &Point) -> Point {
    truth.scan_from_car(&o.scan).unwrap().inverse() * p
}

#[derive(Default, Debug)]
struct Tally {
    openings: usize,
    lost: usize,
    offered: usize,
    planted: usize,
    planted_as_openings: usize,
    planted_as_holes: usize,
    false_openings: usize,
    holes: usize,
    holes_found: usize,
    pairs_wrong: usize,
    junctions: usize,
    junctions_found: usize,
    tops_apart: usize,
}

fn tally(truth: &Truth, planted: &BTreeMap<String, Vec<Point>>, p: &Proposal, t: &mut Tally) {
    let mut seen: Vec<OpeningId> = Vec::new();
    let mut meant_by = BTreeMap::new();
    for o in &p.job.openings {
        t.offered += 1;
        let near = o.edge.as_ref().unwrap().near;
        t.planted_as_holes += o
            .holes
            .iter()
            .filter(|h| planted[&o.scan.0].iter().any(|q| (q - h.near).norm() < 3.0))
            .count();
        let Some(id) = meant(truth, o) else {
            t.false_openings += 1;
            let at_one = planted[&o.scan.0].iter().any(|h| (h - near).norm() < 15.0);
            t.planted_as_openings += usize::from(at_one);
            continue;
        };
        assert!(!seen.contains(&id), "{id} twice");
        let of = truth.opening(&id).unwrap();
        assert_eq!(o.side, of.side, "{id}");
        for h in &of.holes {
            t.holes += 1;
            t.holes_found += usize::from(
                o.holes
                    .iter()
                    .any(|q| (to_car(truth, o, &q.near) - h.centre).norm() < 1.5),
            );
        }
        if let Some(j) = &of.junction {
            t.junctions += 1;
            t.junctions_found += usize::from(o.junctions.iter().any(|q| {
                let at = to_car(truth, o, &q.start);
                (at - j.top).norm().min((at - j.bottom).norm()) < 25.0
            }));
        }
        meant_by.insert(o.id.clone(), id.clone());
        seen.push(id);
    }
    t.openings += truth.openings.len();
    for of in &truth.openings {
        if !seen.contains(&of.id) {
            t.lost += 1;
            println!("lost {}", of.id);
        }
    }
    for c in &p.job.compares {
        let (Some(a), Some(b)) = (
            meant_by.get(&c.a),
            c.b.as_ref().and_then(|b| meant_by.get(b)),
        ) else {
            continue;
        };
        let stem = |id: &OpeningId| {
            id.0.trim_end_matches("-left")
                .trim_end_matches("-right")
                .to_owned()
        };
        if stem(a) != stem(b) {
            println!("{a} with {b}");
            t.pairs_wrong += 1;
        }
        // Tops of a pair are mirror images of each other.
        let top = |id: &OpeningId| {
            let o = p.job.openings.iter().find(|o| o.id == *id).unwrap();
            to_car(truth, o, &o.top.unwrap())
        };
        let (l, r) = (top(&c.a), top(c.b.as_ref().unwrap()));
        let apart = (Point::new(l.x, -l.y, l.z) - r).norm();
        if apart > 15.0 {
            println!("tops of {a} and {b} {apart:.0} mm apart");
            t.tops_apart += 1;
        }
    }
}

fn run(clouds: bool, points: usize, few: u64) -> Tally {
    let mut t = Tally::default();
    for seed in 1..=seeds(few) {
        let coach = Coach::new(seed);
        let scans = if clouds {
            coach.scan_clouds(points, &Quiet)
        } else {
            coach.scans(points, &Quiet)
        }
        .unwrap();
        let planted = scans
            .iter()
            .map(|s| {
                (
                    s.id.0.clone(),
                    s.planted_holes.iter().map(|h| h.centre).collect(),
                )
            })
            .collect::<BTreeMap<String, Vec<Point>>>();
        t.planted += planted.values().map(Vec::len).sum::<usize>();
        let p = proposed(scans);
        if seed == 1 {
            for c in &p.comments {
                println!("{}: {} ({:.2})", c.about, c.says, c.sureness);
            }
        }
        tally(&coach.truth(), &planted, &p, &mut t);
    }
    println!("{t:?}");
    t
}

#[test]
fn demo_meshes_lose_no_opening_and_offer_no_scanner_hole() {
    let t = run(false, 200_000, 6);
    assert_eq!(t.lost, 0);
    assert!(t.planted > 0 && t.planted_as_openings * 50 <= t.planted);
    assert_eq!(t.false_openings, 0);
    assert_eq!(t.pairs_wrong, 0);
    assert!(t.holes_found * 10 >= t.holes * 9);
    assert!(t.planted_as_holes * 50 <= t.planted);
    assert_eq!(t.junctions_found, t.junctions);
    assert_eq!(t.tops_apart, 0);
}

#[test]
fn demo_clouds_lose_no_opening() {
    let t = run(true, 200_000, 2);
    assert_eq!(t.lost, 0);
    assert!(t.planted_as_openings * 50 <= t.planted);
    assert_eq!(t.false_openings, 0);
    assert_eq!(t.pairs_wrong, 0);
}

#[test]
fn sides_are_known_as_named() {
    let t = Coach::new(3);
    let p = proposed(t.scans(120_000, &Quiet).unwrap());
    for o in &p.job.openings {
        let want = match o.scan.0.as_str() {
            "left" => Side::Left,
            "right" => Side::Right,
            _ => Side::Centre,
        };
        assert_eq!(o.side, want);
        assert!(o.sureness.is_some_and(|s| s > 0.0 && s < 1.0));
    }
}

/// The two sides as one scan in car axes, under a name that says nothing.
fn whole_front(coach: &Coach) -> RawScan {
    let mut points = Vec::new();
    let mut triangles = Vec::new();
    for s in coach.scans(200_000, &Quiet).unwrap() {
        if s.id.0 == "centre" {
            continue;
        }
        let first = points.len() as u32;
        for i in 0..s.raw.points.len() {
            let p = s.scan_from_car.inverse() * s.raw.points.get(i);
            points.push([p.x, p.y, p.z]);
        }
        triangles.extend(s.raw.triangles.iter().map(|t| t.map(|v| v + first)));
    }
    RawScan {
        name: "front.ply".to_owned(),
        format: "binary PLY".to_owned(),
        hash: String::new(),
        bytes: 0,
        points: RawPoints::F64(points),
        triangles,
        colours: Vec::new(),
        normals: Vec::new(),
        names: Vec::new(),
        unit: None,
        notes: Vec::new(),
    }
}

#[test]
fn mirror_twins_in_one_scan_are_paired_and_told_apart() {
    for seed in 1..=2 {
        let coach = Coach::new(seed);
        let truth = coach.truth();
        let p = study::prepare(whole_front(&coach), LengthUnit::Millimetre, &Quiet).unwrap();
        let one = ScanRef {
            id: "front".into(),
            path: "front.ply".into(),
            ..scan_ref(&coach.scans(20_000, &Quiet).unwrap()[0])
        };
        let scans: Scans = [(one.id.clone(), Arc::new(p))].into();
        let p = study::propose(&[one], &scans, &Quiet).unwrap();
        let meant = |id: &OpeningId| {
            let o = p.job.openings.iter().find(|o| o.id == *id).unwrap();
            let near = o.edge.as_ref().unwrap().near;
            let t = truth
                .openings
                .iter()
                .find(|t| t.edge_distance(&near) < 6.0)
                .unwrap();
            assert_eq!(o.side, t.side, "{}", t.id);
            // Up in the car is Z, and the scan is in car axes: the top lies up from the middle, as far as the panel lets.
            let edge = t.edge(360);
            let middle = edge.iter().map(|e| e.at.coords).sum::<Vector>() / 360.0;
            let normal = edge
                .iter()
                .map(|e| e.normal.into_inner())
                .sum::<Vector>()
                .normalize();
            let flat = |v: Vector| v - normal * normal.dot(&v);
            let off = flat(o.top.unwrap().coords - middle).angle(&flat(Vector::z()));
            assert!(off.to_degrees() < 12.0, "{}: {:.1}", t.id, off.to_degrees());
            t.id.clone()
        };
        assert_eq!(p.job.compares.len(), 4);
        for c in &p.job.compares {
            let (a, b) = (meant(&c.a).0, meant(c.b.as_ref().unwrap()).0);
            assert_eq!(a.trim_end_matches("-left"), b.trim_end_matches("-right"));
            assert_ne!(a, b);
        }
    }
}

/// A plain sheet of 400 x 300 mm without return flange, points 2 mm apart, with a hole of 80 mm and one of 12 mm.
fn plain_sheet(mesh: bool) -> RawScan {
    let (w, h) = (200_u32, 150_u32);
    let at = |x: u32, y: u32| [2.0 * f64::from(x), 2.0 * f64::from(y)];
    let gone = |p: [f64; 2]| {
        (p[0] - 150.0).hypot(p[1] - 140.0) < 40.0 || (p[0] - 300.0).hypot(p[1] - 200.0) < 6.0
    };
    let mut points = Vec::new();
    let mut index = BTreeMap::new();
    for y in 0..=h {
        for x in 0..=w {
            let p = at(x, y);
            if !gone(p) {
                index.insert((x, y), points.len() as u32);
                points.push([p[0], p[1], 1e-4 * (p[0] - 200.0).powi(2)]);
            }
        }
    }
    let mut triangles = Vec::new();
    for y in 0..h {
        for x in 0..w {
            let v = |x: u32, y: u32| index.get(&(x, y)).copied();
            for [a, b, c] in [
                [v(x, y), v(x + 1, y), v(x + 1, y + 1)],
                [v(x, y), v(x + 1, y + 1), v(x, y + 1)],
            ] {
                if let (Some(a), Some(b), Some(c)) = (a, b, c) {
                    triangles.push([a, b, c]);
                }
            }
        }
    }
    RawScan {
        name: "sheet.ply".to_owned(),
        format: "binary PLY".to_owned(),
        hash: String::new(),
        bytes: 0,
        points: RawPoints::F64(points),
        triangles: if mesh { triangles } else { Vec::new() },
        colours: Vec::new(),
        normals: Vec::new(),
        names: Vec::new(),
        unit: None,
        notes: Vec::new(),
    }
}

#[test]
fn an_opening_without_return_flange_is_found_in_mesh_and_cloud_without_normals() {
    for mesh in [true, false] {
        let p = study::prepare(plain_sheet(mesh), LengthUnit::Millimetre, &Quiet).unwrap();
        let look = study::look(&p, &Quiet).unwrap();
        assert_eq!(look.openings.len(), 1, "mesh {mesh}: {:?}", look.openings);
        let o = &look.openings[0];
        assert!((o.perimeter_mm - 251.0).abs() < 25.0, "{}", o.perimeter_mm);
        let off = (o.near.x - 150.0).hypot(o.near.y - 140.0) - 40.0;
        assert!(off > -1.0 && off < 8.0, "{off}");
        assert!(o.sureness < 0.7);
    }
}
