//! Preparing and cropping.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use geom::{Point, RawPoints, Vector};
use record::{LengthUnit, Quiet, RawScan, Region, RegionShape, ScanRef, Stage, UnitSource};

use super::*;
use crate::regions::{apply_regions, is_kept};

/// A sheet z = 0 of `w` x `h` cells of 1 (file unit), without the cells for which `gone` holds, far from the origin.
fn sheet(w: u32, h: u32, gone: impl Fn(u32, u32) -> bool) -> RawScan {
    let mut points = Vec::new();
    let mut triangles = Vec::new();
    let v = |x: u32, y: u32| y * (w + 1) + x;
    for y in 0..=h {
        for x in 0..=w {
            points.push([1e4 + f64::from(x), -3e4 + f64::from(y), 7.0]);
        }
    }
    for y in 0..h {
        for x in 0..w {
            if !gone(x, y) {
                triangles.push([v(x, y), v(x + 1, y), v(x + 1, y + 1)]);
                triangles.push([v(x, y), v(x + 1, y + 1), v(x, y + 1)]);
            }
        }
    }
    RawScan {
        name: "sheet.ply".to_owned(),
        format: "ASCII PLY".to_owned(),
        hash: "0".to_owned(),
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

fn scan_ref() -> ScanRef {
    ScanRef {
        id: "a".into(),
        visit: "v".into(),
        path: "a.ply".into(),
        hash: None,
        unit: LengthUnit::Millimetre,
        unit_source: UnitSource::Stated,
        side: record::Side::NotSaid,
        keep: Vec::new(),
        aside: Vec::new(),
        largest_piece_only: false,
        note: String::new(),
    }
}

fn loop_lengths(p: &Prepared) -> Vec<usize> {
    let mut all: Vec<usize> = p.loops.iter().map(|l| l.slots.len()).collect();
    all.sort_unstable();
    all
}

#[test]
fn mesh_is_scaled_and_has_normals_and_loops() {
    let p = prepare(
        sheet(60, 80, |x, y| {
            (20..30).contains(&x) && (30..50).contains(&y)
        }),
        LengthUnit::Centimetre,
        &Quiet,
    )
    .unwrap();
    assert_eq!(p.blocks.len(), 61 * 81);
    assert!((p.spacing_mm - 10.0).abs() < 1e-6);
    assert_eq!(loop_lengths(&p), [60, 280]);
    for l in &p.loops {
        // Metal on the left: the normal of the metal side, crossed with the way, points into the metal.
        let a = p.blocks.point(l.slots[0]);
        let b = p.blocks.point(l.slots[1]);
        let into = Vector::z().cross(&(b - a)).normalize();
        let inside = nalgebra::center(&a, &b) + into * 5.0;
        let (slot, d) = p.blocks.nearest(&inside, 8.0).unwrap();
        assert!(d < 8.0);
        assert!(l.closed && p.blocks.normal(slot).is_some_and(|n| n.z > 0.999));
    }
    let far = p.blocks.bounds();
    assert!((far.low - Point::new(1e5, -3e5, 70.0)).norm() < 1e-6);
}

#[test]
fn repeated_vertices_along_a_seam_are_welded() {
    let one = sheet(20, 10, |_, _| false);
    // Every triangle gets corners of its own.
    let mut points = Vec::new();
    for t in &one.triangles {
        for &v in t {
            let p = one.points.get(v as usize);
            points.push([p.x, p.y, p.z]);
        }
    }
    let triangles = (0..one.triangles.len() as u32)
        .map(|i| [3 * i, 3 * i + 1, 3 * i + 2])
        .collect();
    let p = prepare(
        RawScan {
            points: RawPoints::F64(points),
            triangles,
            ..one
        },
        LengthUnit::Millimetre,
        &Quiet,
    )
    .unwrap();
    assert_eq!(loop_lengths(&p), [60]);
    assert!((p.spacing_mm - 1.0).abs() < 1e-6);
}

#[test]
fn regions_and_largest_piece() {
    let p = Arc::new(
        prepare(
            sheet(60, 40, |x, _| x == 40),
            LengthUnit::Millimetre,
            &Quiet,
        )
        .unwrap(),
    );
    assert!(Arc::ptr_eq(
        &apply_regions(&scan_ref(), &p, &Quiet).unwrap(),
        &p
    ));
    let big = apply_regions(
        &ScanRef {
            largest_piece_only: true,
            ..scan_ref()
        },
        &p,
        &Quiet,
    )
    .unwrap();
    assert_eq!(big.blocks.len(), 41 * 41);
    assert_eq!(loop_lengths(&big), [160]);
    let keep = Region {
        shape: RegionShape::Box {
            low: Point::new(1e4 + 4.5, -3e4 + 4.5, 0.0),
            high: Point::new(1e4 + 24.5, -3e4 + 24.5, 10.0),
        },
        note: String::new(),
    };
    let aside = Region {
        shape: RegionShape::Lasso {
            origin: Point::new(1e4, -3e4, 0.0),
            right: Vector::x() * 3.0,
            up: Vector::y(),
            corners: vec![[-1.0, -1.0], [40.0, -1.0], [-1.0, 40.0]],
        },
        note: String::new(),
    };
    let some = ScanRef {
        keep: vec![keep],
        aside: vec![aside],
        ..scan_ref()
    };
    let cut = apply_regions(&some, &p, &Quiet).unwrap();
    let want = p
        .blocks
        .iter()
        .filter(|(_, q)| is_kept(&some.keep, &some.aside, q))
        .count();
    assert!(want > 20 && want < 200);
    assert_eq!(cut.blocks.len(), want);
    for (s, q) in cut.blocks.iter() {
        let i = cut.blocks.indices()[s as usize];
        let old = p.blocks.indices().iter().position(|&j| j == i).unwrap();
        assert!((q - p.blocks.point(old as u32)).norm() < 1e-6);
        assert!(q.x + q.y - (1e4 - 3e4) > 38.9);
    }
    assert!(!cut.loops.is_empty());
}

#[test]
fn largest_piece_of_a_cloud() {
    let raw = RawScan {
        triangles: Vec::new(),
        ..sheet(60, 40, |_, _| false)
    };
    let RawPoints::F64(mut points) = raw.points else {
        unreachable!()
    };
    points.retain(|p| !(1e4 + 40.5..1e4 + 52.5).contains(&p[0]));
    let p = prepare(
        RawScan {
            points: RawPoints::F64(points),
            ..raw
        },
        LengthUnit::Millimetre,
        &Quiet,
    )
    .unwrap();
    let wish = ScanRef {
        largest_piece_only: true,
        ..scan_ref()
    };
    let big = apply_regions(&wish, &Arc::new(p), &Quiet).unwrap();
    assert_eq!(big.blocks.len(), 41 * 41);
}

/// Says no after so many questions.
struct After(AtomicUsize);

impl Progress for After {
    fn at(&self, stage: Stage, done: usize, total: usize) -> Result<(), Cancelled> {
        assert!(stage == Stage::Prepare && done <= total);
        let left = self.0.load(Ordering::Relaxed);
        self.0.store(left.saturating_sub(1), Ordering::Relaxed);
        if left == 0 { Err(Cancelled) } else { Ok(()) }
    }
}

#[test]
fn can_be_called_off_anywhere() {
    let mut done = false;
    for after in 0..200 {
        let r = prepare(
            sheet(40, 40, |x, y| x == 5 && y == 5),
            LengthUnit::Inch,
            &After(AtomicUsize::new(after)),
        );
        done = r.is_ok();
        if done {
            assert!(after > 8);
            break;
        }
    }
    assert!(done);
}

#[test]
fn empty_and_broken_scans_are_legal() {
    let empty = RawScan {
        points: RawPoints::F32(Vec::new()),
        triangles: Vec::new(),
        ..sheet(1, 1, |_, _| false)
    };
    let p = prepare(empty, LengthUnit::Metre, &Quiet).unwrap();
    assert!(p.blocks.is_empty() && p.spacing_mm == 0.0);
    let broken = RawScan {
        points: RawPoints::F32(vec![
            [0.0; 3],
            [f32::NAN; 3],
            [1.0, 0.0, 0.0],
            [0.0, 1.0, 0.0],
        ]),
        triangles: vec![[0, 1, 2], [0, 2, 3], [0, 2, 99], [2, 2, 3]],
        ..sheet(1, 1, |_, _| false)
    };
    let p = prepare(broken, LengthUnit::Metre, &Quiet).unwrap();
    assert_eq!(p.blocks.len(), 3);
    assert_eq!(loop_lengths(&p), [3]);
    assert!(p.notes[0].says.starts_with("1 points"));
}

#[test]
fn same_whatever_the_threads() {
    let with = |t: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(t)
            .build()
            .unwrap()
            .install(|| {
                prepare(
                    sheet(300, 200, |x, y| (x * y) % 97 == 5),
                    LengthUnit::Millimetre,
                    &Quiet,
                )
                .unwrap()
            })
    };
    let (a, b) = (with(1), with(4));
    assert_eq!(a.triangles, b.triangles);
    assert_eq!(a.loops, b.loops);
    assert_eq!(a.spacing_mm.to_bits(), b.spacing_mm.to_bits());
    assert_eq!(a.blocks.indices(), b.blocks.indices());
    for s in 0..a.blocks.len() as u32 {
        assert_eq!(a.blocks.normal(s), b.blocks.normal(s));
    }
}
