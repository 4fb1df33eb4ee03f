//! Blocks against brute force.

use super::*;
use rand::{Rng, RngExt, SeedableRng};

/// A surface far from the origin, with clumps, equal points and a lone point far away.
fn cloud(n: usize, seed: u64) -> Vec<Point> {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
    let mut out: Vec<Point> = (0..n)
        .map(|i| {
            let mut u = || rng.random::<f64>();
            if i % 7 == 0 {
                Point::new(5000.0 + 3.0 * u(), -2000.0 + 3.0 * u(), 900.0)
            } else {
                let (x, y) = (400.0 * u(), 300.0 * u());
                Point::new(5000.0 + x, -2000.0 + y, 900.0 + 20.0 * (x / 50.0).sin())
            }
        })
        .collect();
    if n > 100 {
        out[17] = out[18];
        out[19] = out[18];
        out[50] = Point::new(90_000.0, 0.0, 0.0);
    }
    out
}

fn somewhere(rng: &mut impl Rng) -> Point {
    let mut u = || rng.random::<f64>();
    Point::new(
        4900.0 + 600.0 * u(),
        -2100.0 + 500.0 * u(),
        870.0 + 60.0 * u(),
    )
}

#[test]
fn holds_every_point_once_and_exactly() {
    for n in [0, 1, 2, 31, 64, 65, 4096, 4097, 30_000] {
        let pts = cloud(n, 1);
        let b = Blocks::from_points(&pts);
        assert_eq!(b.len(), n);
        let mut seen = vec![false; n];
        for (s, p) in b.iter() {
            let i = b.indices()[s as usize] as usize;
            assert!(!seen[i]);
            seen[i] = true;
            assert!(
                (p - pts[i]).norm() < if i == 50 { 0.01 } else { 3e-5 },
                "{p} {}",
                pts[i]
            );
            assert_eq!(p, b.point(s));
        }
        assert_eq!(b.blocks().iter().map(|x| x.len as usize).sum::<usize>(), n);
        let all: Vec<Point> = b.iter().map(|x| x.1).collect();
        assert_eq!(b.bounds(), Aabb::of(&all));
    }
}

#[test]
fn balls_and_boxes_equal_brute_force() {
    let b = Blocks::from_points(&cloud(30_000, 2));
    let all: Vec<(u32, Point)> = b.iter().collect();
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(3);
    for i in 0..200 {
        let c = if i % 2 == 0 {
            all[i * 131].1
        } else {
            somewhere(&mut rng)
        };
        let r = if i % 5 == 0 {
            0.0
        } else {
            80.0 * rng.random::<f64>()
        };
        let mut got = Vec::new();
        b.in_ball(&c, r, |s, p, d2| got.push((s, p, d2)));
        let want: Vec<_> = all
            .iter()
            .map(|&(s, p)| (s, p, (p - c).norm_squared()))
            .filter(|x| x.2 <= r * r)
            .collect();
        assert_eq!(got, want);
        let bounds = Aabb {
            low: c,
            high: c + crate::Vector::new(r, 30.0, 10.0),
        };
        let mut got = Vec::new();
        b.in_box(&bounds, |s, p| got.push((s, p)));
        let want: Vec<_> = all.iter().copied().filter(|x| bounds.holds(&x.1)).collect();
        assert_eq!(got, want);
    }
}

#[test]
fn nearest_equals_brute_force_also_on_ties() {
    let b = Blocks::from_points(&cloud(30_000, 4));
    let all: Vec<(u32, Point)> = b.iter().collect();
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
    let mut got = Vec::new();
    for i in 0..200 {
        let c = if i % 2 == 0 {
            all[i * 131].1
        } else {
            somewhere(&mut rng)
        };
        let k = [1, 2, 20, 300][i % 4];
        let within = if i % 3 == 0 { 5.0 } else { f64::INFINITY };
        let mut want: Vec<(f64, u32)> = all
            .iter()
            .map(|&(s, p)| ((p - c).norm_squared(), s))
            .collect();
        want.sort_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
        want.retain(|x| x.0 <= within * within);
        want.truncate(k);
        for w in &mut want {
            w.0 = w.0.sqrt();
        }
        b.k_nearest(&c, k, within, &mut got);
        assert_eq!(got, want);
        assert_eq!(b.nearest(&c, within), want.first().map(|w| (w.1, w.0)));
    }
}

#[test]
fn same_order_whatever_the_threads() {
    let pts = cloud(100_000, 6);
    let with = |t: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(t)
            .build()
            .unwrap()
            .install(|| Blocks::from_points(&pts))
    };
    let (a, b) = (with(1), with(5));
    assert_eq!(a.indices, b.indices);
    assert_eq!(a.offsets, b.offsets);
    assert_eq!(a.list, b.list);
}

#[test]
fn keeps_colours_normals_and_the_unit() {
    let n = 10_000_usize;
    let raw = RawPoints::F32(
        (0..n)
            .map(|i| [i as f32 * 1e-3, (i % 7) as f32, 2.0])
            .collect(),
    );
    let colours: Vec<[u8; 3]> = (0..n).map(|i| [i as u8, (i >> 8) as u8, 9]).collect();
    let normals: Vec<[f32; 3]> = (0..n)
        .map(|i| if i == 5 { [0.0; 3] } else { [0.0, 0.6, 0.8] })
        .collect();
    let b = Blocks::build(raw.clone(), 1000.0, colours, normals, &|| true).unwrap();
    for (s, p) in b.iter() {
        let i = b.indices()[s as usize] as usize;
        assert!((p.coords - raw.get(i).coords * 1000.0).norm() < 1e-3);
        assert_eq!(b.colour(s), Some([i as u8, (i >> 8) as u8, 9]));
        match b.normal(s) {
            None => assert_eq!(i, 5),
            Some(v) => assert!((v - Vector::new(0.0, 0.6, 0.8)).norm() < 1e-4),
        }
    }
    assert!(
        b.bytes() <= 26 * n + 4000,
        "{} bytes a point",
        b.bytes() as f64 / n as f64
    );
}

#[test]
fn single_precision_files_come_back_bit_for_bit() {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(8);
    let raw: Vec<[f32; 3]> = (0..5000)
        .map(|_| [1000.0, 700.0, 400.0].map(|o: f32| o + 60.0 * rng.random::<f32>()))
        .collect();
    let b = Blocks::build(
        RawPoints::F32(raw.clone()),
        1.0,
        Vec::new(),
        Vec::new(),
        &|| true,
    )
    .unwrap();
    for (s, p) in b.iter() {
        assert_eq!(
            p,
            Point::from(raw[b.indices()[s as usize] as usize].map(f64::from))
        );
    }
}

#[test]
fn leaves_out_what_is_not_finite_and_stops_when_told() {
    let raw = RawPoints::F64(vec![
        [0.0; 3],
        [f64::NAN, 0.0, 0.0],
        [1.0; 3],
        [f64::INFINITY; 3],
    ]);
    let b = Blocks::build(raw.clone(), 1.0, Vec::new(), Vec::new(), &|| true).unwrap();
    assert_eq!(b.indices(), &[0, 2]);
    assert!(Blocks::build(raw, 1.0, Vec::new(), Vec::new(), &|| false).is_none());
}

#[test]
fn coarse_level_covers_each_block() {
    let b = Blocks::from_points(&cloud(60_000, 9));
    for i in 0..b.blocks().len() {
        let coarse: Vec<Point> = b.coarse(i).map(|s| b.point(s)).collect();
        assert_eq!(coarse.len(), COARSE.min(b.blocks()[i].len as usize));
        let size = b.blocks()[i].bounds.size();
        if b.blocks()[i].len > 1000 && size.norm() < 1000.0 {
            let spread = Aabb::of(&coarse).size();
            assert!(spread.norm() > 0.7 * size.norm());
        }
    }
}

#[test]
fn filtered_keeps_places_in_the_file() {
    let pts = cloud(20_000, 10);
    let all = Blocks::from_points(&pts);
    let (some, new_of) = all
        .filtered(&|s| all.indices()[s as usize].is_multiple_of(3), &|| true)
        .unwrap();
    assert_eq!(some.len(), pts.len().div_ceil(3));
    for (s, p) in some.iter() {
        let i = some.indices()[s as usize];
        assert!(i.is_multiple_of(3));
        assert!((p - pts[i as usize]).norm() < 0.01);
    }
    for (old, &new) in new_of.iter().enumerate() {
        let i = all.indices()[old];
        assert_eq!(new != u32::MAX, i.is_multiple_of(3));
        if new != u32::MAX {
            assert_eq!(some.indices()[new as usize], i);
        }
    }
}

#[test]
fn put_together_from_parts_they_are_the_same() {
    for n in [0, 1, 64, 4097, 30_000] {
        let mut whole = Blocks::build(
            RawPoints::F64(cloud(n, 5).iter().map(|p| p.coords.into()).collect()),
            1.0,
            vec![[1, 2, 3]; n],
            Vec::new(),
            &|| true,
        )
        .unwrap();
        whole
            .set_normals(&vec![[0.0, 0.6, 0.8]; n], &|| true)
            .unwrap();
        let parts = || BlocksParts {
            blocks: whole.blocks().iter().map(|b| (b.origin, b.len)).collect(),
            offsets: whole.offsets().to_vec(),
            colours: whole.colours().to_vec(),
            normals: whole.packed_normals().to_vec(),
            indices: whole.indices().to_vec(),
        };
        assert!(Blocks::from_parts(parts()) == Some(whole.clone()), "{n}");
        if n > 0 {
            let mut short = parts();
            short.indices.pop();
            assert!(Blocks::from_parts(short).is_none());
            let mut odd = parts();
            odd.offsets[0][1] = f32::NAN;
            assert!(Blocks::from_parts(odd).is_none());
            let mut long = parts();
            long.blocks[0].1 += 1;
            assert!(Blocks::from_parts(long).is_none());
        }
    }
}
