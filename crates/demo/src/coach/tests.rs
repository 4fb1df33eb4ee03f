use std::collections::BTreeMap;

use geom::{Point, RawPoints, Vector};
use record::Quiet;

use super::*;

fn find(root: &mut [u32], mut i: u32) -> u32 {
    while root[i as usize] != i {
        root[i as usize] = root[root[i as usize] as usize];
        i = root[i as usize];
    }
    i
}

/// Boundary edges chained into loops, and the number of connected pieces; panics where an edge has three triangles or
/// two of the same direction.
fn loops_and_pieces(raw: &RawScan) -> (usize, usize) {
    let mut edges: BTreeMap<(u32, u32), u32> = BTreeMap::new();
    for t in &raw.triangles {
        for k in 0..3 {
            let n = edges.entry((t[k], t[(k + 1) % 3])).or_insert(0);
            *n += 1;
            assert_eq!(*n, 1, "an edge is run along twice the same way");
        }
    }
    let mut next: BTreeMap<u32, u32> = BTreeMap::new();
    for &(a, b) in edges.keys() {
        if !edges.contains_key(&(b, a)) {
            assert!(next.insert(b, a).is_none(), "a boundary meets itself");
        }
    }
    let mut loops = 0;
    while let Some((&start, _)) = next.iter().next() {
        let mut at = start;
        while let Some(to) = next.remove(&at) {
            at = to;
        }
        assert_eq!(at, start);
        loops += 1;
    }
    let mut root: Vec<u32> = (0..raw.points.len() as u32).collect();
    for t in &raw.triangles {
        for k in 1..3 {
            let (a, b) = (find(&mut root, t[0]), find(&mut root, t[k]));
            root[a as usize] = b;
        }
    }
    let pieces = (0..root.len() as u32)
        .filter(|&i| root[i as usize] == i)
        .count();
    (loops, pieces)
}

fn exact(seed: u64) -> Coach {
    Coach::new(seed).seen_by(Scanner::exact())
}

#[test]
fn meshes_are_closed_but_for_the_designed_edges() {
    for points in [60_000, 200_000] {
        let coach = exact(3);
        let step = coach.step_for(points);
        for place in [Place::Left, Place::Right] {
            let s = coach.scan_one(place, Form::Mesh, step, &Quiet).unwrap();
            // Outside, four free edges, twelve bolt holes, eight pieces of back; one piece of front.
            assert_eq!(loops_and_pieces(&s.raw), (1 + 4 + 12 + 8, 1 + 8));
        }
        let s = coach
            .scan_one(Place::Centre, Form::Mesh, step, &Quiet)
            .unwrap();
        assert_eq!(loops_and_pieces(&s.raw), (1 + 1 + 4 + 2, 1 + 2));
    }
}

#[test]
fn triangles_face_the_scanner() {
    let coach = exact(4);
    for place in PLACES {
        let body = coach.body(place);
        let stand = stand(place);
        let weave = Weave::new(&body, &stand, 2.5, 9);
        let mut bad = 0;
        let mut all = 0;
        let mut tiny = 0;
        for (patch, row) in weave.cell_rows() {
            let mut out = Vec::new();
            weave.triangles(patch, row, &mut out);
            for t in out {
                let s = t.map(|v| weave.spot_of(v));
                let n = (s[1].p - s[0].p).cross(&(s[2].p - s[0].p));
                all += 1;
                tiny += usize::from(n.norm() < 1e-3);
                bad += usize::from(n.dot(&(s[0].n + s[1].n + s[2].n)) <= 0.0);
            }
        }
        assert_eq!(bad, 0, "of {all} in {place:?}");
        assert_eq!(tiny, 0, "of {all} in {place:?}");
    }
}

#[test]
fn the_scans_do_not_depend_on_the_number_of_threads() {
    let scans = |threads| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| Coach::new(5).scans(40_000, &Quiet).unwrap())
    };
    let (a, b) = (scans(1), scans(3));
    for (a, b) in a.iter().zip(&b) {
        assert!(a.raw == b.raw, "{}", a.file_name);
    }
}

#[test]
fn the_number_of_points_is_about_as_asked() {
    for asked in [50_000, 200_000] {
        let n: usize = Coach::new(6)
            .scans(asked, &Quiet)
            .unwrap()
            .iter()
            .map(|s| s.raw.points.len())
            .sum();
        let share = n as f64 / asked as f64;
        assert!((0.93..1.05).contains(&share), "{n} of {asked}");
    }
}

/// Distances of the points of a scan from the same points seen without noise.
#[test]
fn noise_has_the_stated_size_and_is_shared_by_neighbours() {
    let scanner = Scanner {
        holes: 0,
        strays: 0,
        dropouts: 0.0,
        stand: false,
        ..Scanner::default()
    };
    let noisy = Coach::new(7)
        .seen_by(scanner)
        .scan_one(Place::Left, Form::Mesh, 1.0, &Quiet)
        .unwrap();
    let clean = Coach::new(7)
        .seen_by(Scanner::exact())
        .scan_one(Place::Left, Form::Mesh, 1.0, &Quiet)
        .unwrap();
    let off: Vec<Vector> = (0..noisy.raw.points.len())
        .map(|i| noisy.raw.points.get(i) - clean.raw.points.get(i))
        .collect();
    let n = off.len() as f64;
    let sd = (off.iter().map(Vector::norm_squared).sum::<f64>() / n).sqrt();
    assert!((sd - scanner.sd_mm).abs() < 0.002, "{sd}");
    let shared: f64 = clean
        .raw
        .triangles
        .iter()
        .map(|t| off[t[0] as usize].dot(&off[t[1] as usize]))
        .sum::<f64>()
        / clean.raw.triangles.len() as f64;
    // Neighbours are 0.3 to 1.5 mm apart: nearly all of the shared half.
    let share = shared / (scanner.sd_mm * scanner.sd_mm);
    assert!((0.42..0.52).contains(&share), "{share}");
}

#[test]
fn planted_holes_are_where_nothing_was_seen() {
    let coach = Coach::new(8);
    let s = coach
        .scan_one(Place::Right, Form::Mesh, 0.9, &Quiet)
        .unwrap();
    assert_eq!(s.planted_holes.len(), 20);
    for h in &s.planted_holes {
        let near = (0..s.raw.points.len())
            .map(|i| (s.raw.points.get(i) - h.centre).norm())
            .fold(f64::MAX, f64::min);
        assert!(
            near > 0.7 * h.radius_mm && near < h.radius_mm + 1.5,
            "{near} {}",
            h.radius_mm
        );
    }
}

#[test]
fn a_perfect_coach_is_its_own_mirror_image() {
    let truth = Coach::perfect(9).truth();
    for stem in ["lamp", "vent", "step", "marker"] {
        let l = truth
            .opening(&format!("{stem}-left").as_str().into())
            .unwrap();
        let r = truth
            .opening(&format!("{stem}-right").as_str().into())
            .unwrap();
        let m = geom::Mirror::y();
        for k in 0..500 {
            let (a, b) = (
                l.edge_at(f64::from(k) / 500.0),
                r.edge_at(f64::from(k) / 500.0),
            );
            assert!((m.point(&a.at) - b.at).norm() < 1e-12);
            assert!((m.point(&a.free) - b.free).norm() < 1e-12);
            assert!((m.vector(&a.normal) - b.normal.into_inner()).norm() < 1e-12);
        }
        for (a, b) in l.holes.iter().zip(&r.holes) {
            assert!((m.point(&a.centre) - b.centre).norm() < 1e-12);
        }
    }
    let g = truth.opening(&"grille".into()).unwrap();
    for k in 0..500 {
        let p = geom::Mirror::y().point(&g.edge_at(f64::from(k) / 500.0).at);
        assert!(g.edge_distance(&p) < 2e-4);
    }
}

#[test]
fn the_sides_differ_as_stated() {
    let truth = Coach::new(10).truth();
    let m = geom::Mirror::y();
    let pair = |stem: &str| {
        (
            truth
                .opening(&format!("{stem}-left").as_str().into())
                .unwrap(),
            truth
                .opening(&format!("{stem}-right").as_str().into())
                .unwrap(),
        )
    };
    let (l, r) = pair("lamp");
    let (a, b) = (l.edge_at(0.75), r.edge_at(0.75));
    let d = b.at - m.point(&a.at);
    let (inward, normal) = (m.vector(&a.inward), m.vector(&a.normal));
    assert!((d.dot(&inward) - 1.4).abs() < 0.1, "{}", d.dot(&inward));
    assert!((d.dot(&normal) - 1.65).abs() < 0.25, "{}", d.dot(&normal));
    let (l, r) = pair("step");
    for k in 0..100 {
        let (a, b) = (
            l.edge_at(f64::from(k) / 100.0),
            r.edge_at(f64::from(k) / 100.0),
        );
        assert!((m.point(&a.at) - b.at).norm() < 1e-12);
    }
    for (a, b) in l.holes.iter().zip(&r.holes) {
        assert!(((m.point(&a.centre) - b.centre).norm() - 1.2).abs() < 0.01);
    }
    let j = pair("lamp").1.junction.unwrap();
    assert!((j.angle_deg(0.0) - 89.1).abs() < 1e-9 && (j.angle_deg(1.0) - 90.9).abs() < 1e-9);
    assert!(((j.top - j.bottom).norm() - 300.0).abs() < 1e-9);
    assert!((j.twist_deg_per_100_mm() - 0.6).abs() < 1e-9);
}

/// Every point of an exact scan lies on a surface that the truth knows: here, near the lamp, on the sharp edge's two sides.
#[test]
fn the_flange_of_an_exact_scan_ends_on_the_true_free_edge() {
    let coach = exact(11);
    let s = coach
        .scan_one(Place::Left, Form::Mesh, 1.2, &Quiet)
        .unwrap();
    let truth = coach.truth();
    let car_from_scan = s.scan_from_car.inverse();
    let RawPoints::F32(points) = &s.raw.points else {
        unreachable!()
    };
    let in_car: Vec<Point> = points
        .iter()
        .map(|p| car_from_scan * Point::from(p.map(f64::from)))
        .collect();
    let lamp = truth.opening(&"lamp-left".into()).unwrap();
    for e in lamp.edge(60) {
        let near = in_car
            .iter()
            .map(|p| (p - e.free).norm())
            .fold(f64::MAX, f64::min);
        assert!(near < 0.9, "{near}");
        // Nothing was seen on the sharp line itself: the bend cuts it off by 2 (sqrt 2 - 1) mm.
        let sharp = in_car
            .iter()
            .map(|p| (p - e.at).norm())
            .fold(f64::MAX, f64::min);
        assert!(sharp > 0.82 && sharp < 1.3, "{sharp}");
    }
}

#[test]
fn picks_are_near_what_they_name() {
    let coach = Coach::new(12);
    let (job, truth) = (coach.job(), coach.truth());
    assert_eq!(job.openings.len(), 9);
    assert_eq!(job.compares.len(), 5);
    for o in &job.openings {
        let t = truth.opening(&o.id).unwrap();
        let car_from_scan = truth.scan_from_car(&o.scan).unwrap().inverse();
        let edge = o.edge.as_ref().unwrap();
        assert!(t.edge_distance(&(car_from_scan * edge.near)) < 12.0);
        for h in &o.holes {
            let true_hole = t.holes.iter().find(|x| x.id == h.id).unwrap();
            assert!((car_from_scan * h.near - true_hole.centre).norm() < 6.0);
        }
        if let Some(j) = &t.junction {
            assert!((car_from_scan * o.junctions[0].start - j.top).norm() < 16.0);
            assert!(
                car_from_scan
                    .rotation
                    .transform_vector(&o.faces[3].facing.unwrap())
                    .y
                    .signum()
                    == if o.id.0.ends_with("left") { 1.0 } else { -1.0 }
            );
        }
    }
}
