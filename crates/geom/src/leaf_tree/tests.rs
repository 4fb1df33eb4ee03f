use rand::{RngExt, SeedableRng};

use super::*;

fn cloud(n: usize, seed: u64) -> Vec<Point> {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
    (0..n)
        .map(|i| {
            let (x, y): (f64, f64) = (rng.random(), rng.random());
            let lift = if i % 50 == 0 {
                30.0 * rng.random::<f64>()
            } else {
                0.1 * x
            };
            Point::new(2000.0 + 100.0 * x, 60.0 * y, lift)
        })
        .collect()
}

#[test]
fn nearest_as_by_trying_all() {
    for n in [1, 15, 16, 17, 129, 5000] {
        let points = cloud(n, 1);
        let mut queries = cloud(800, 2);
        queries.push(Point::new(-9e5, 0.0, 4e5));
        queries.push(Point::new(f64::NAN, 0.0, 0.0));
        let tree = LeafTree::new(&points);
        let found = tree.nearest_of(&queries, f64::INFINITY);
        for (q, f) in queries.iter().zip(&found) {
            if !q.x.is_finite() {
                assert_eq!(f.index, u32::MAX);
                continue;
            }
            let least = points
                .iter()
                .map(|p| (p - q).norm())
                .fold(f64::INFINITY, f64::min);
            let mine = (points[f.index as usize] - q).norm();
            assert!(mine - least <= 1e-6 * (1.0 + least), "{mine} {least}");
            // Offsets within a leaf and from the place are single numbers: some parts in ten million of tens of mm.
            assert!((f64::from(f.distance) - mine).abs() <= 1e-5 * (1.0 + mine));
        }
        let near = tree.nearest_of(&queries, 0.5);
        for ((q, f), all) in queries.iter().zip(&near).zip(&found) {
            if q.x.is_finite() && (f64::from(all.distance) - 0.5).abs() > 1e-6 {
                assert_eq!(f.index != u32::MAX, all.distance < 0.5);
            }
        }
    }
}

#[test]
fn k_nearest_as_by_trying_all() {
    for (n, k) in [(5, 8), (300, 1), (2000, 20), (2000, 128)] {
        let points = cloud(n, 7);
        let tree = LeafTree::new(&points);
        let mut search = KNearest::new(&tree, k);
        for slot in 0..tree.len() {
            let p = points[tree.order[slot] as usize];
            let mut d2: Vec<f64> = points.iter().map(|q| (p - q).norm_squared()).collect();
            d2.sort_by(f64::total_cmp);
            d2.truncate(k);
            let near = search.of_slot(slot);
            assert_eq!(near.count, k.min(n));
            let mut mine: Vec<f64> = near
                .d2
                .iter()
                .filter(|d| near.weight(**d) > 0.0)
                .map(|d| f64::from(*d))
                .collect();
            mine.sort_by(f64::total_cmp);
            assert_eq!(mine.len(), d2.len());
            for (a, b) in mine.iter().zip(&d2) {
                assert!((a - b).abs() <= 1e-5 * (1.0 + b), "{a} {b}");
            }
        }
    }
}

#[test]
fn equal_distances_share_the_last_places() {
    // A raster: 4 neighbours at 1, 4 at sqrt 2.
    let points: Vec<Point> = (0..2500)
        .map(|i| Point::new(f64::from(i % 50), f64::from(i / 50), 0.0))
        .collect();
    let tree = LeafTree::new(&points);
    let mut search = KNearest::new(&tree, 7);
    for slot in 0..tree.len() {
        let p = points[tree.order[slot] as usize];
        if p.x < 2.0 || p.y < 2.0 || p.x > 47.0 || p.y > 47.0 {
            continue;
        }
        let near = search.of_slot(slot);
        assert!((near.last2 - 2.0).abs() < 1e-5);
        assert_eq!(near.share, 0.5);
        let total: f32 = near.d2.iter().map(|d| near.weight(*d)).sum();
        assert_eq!(total, 7.0);
    }
    // More in one place than there is room for.
    let same = LeafTree::new(&vec![Point::new(5.0, 5.0, 5.0); 1000]);
    let mut search = KNearest::new(&same, 20);
    let near = search.of_slot(500);
    assert_eq!((near.count, near.last2), (20, 0.0));
    assert!((near.d2.iter().map(|d| near.weight(*d)).sum::<f32>() - 20.0).abs() < 1e-4);
}

#[test]
fn threads_change_nothing() {
    let (points, queries) = (cloud(40_000, 3), cloud(9000, 4));
    let run = |threads: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| {
                let tree = LeafTree::new(&points);
                (
                    tree.nearest_of(&queries, f64::INFINITY),
                    crate::normals_of_nearest(&tree, 20),
                    tree.have_near(5, 0.6),
                )
            })
    };
    assert!(run(1) == run(4));
}
