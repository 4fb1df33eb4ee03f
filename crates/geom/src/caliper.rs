//! What a caliper reads: the least distance of two parallel jaws that hold a set of places between them.

use crate::minimum_zone::hull_2d;

/// The least width of `points` between parallel jaws whose normal lies within `turn` of `angle` (radians from +x), with
/// the angle of that normal. Exact: inside a range of angles the width of a convex polygon is least where a jaw lies flat
/// on one of its sides, or at an end of the range (M. I. Shamos, Computational Geometry, 1978, section 4.2). `None`
/// without points. Cost O(n log n + k h), with h corners of the hull and k of its sides within the range.
pub fn caliper(points: &[[f64; 2]], angle: f64, turn: f64) -> Option<(f64, f64)> {
    let hull: Vec<[f64; 2]> = hull_2d(points).into_iter().map(|i| points[i]).collect();
    if hull.is_empty() {
        return None;
    }
    let extent = |a: f64| {
        let (s, c) = a.sin_cos();
        let (low, high) = hull
            .iter()
            .map(|p| c * p[0] + s * p[1])
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
                (a.min(x), b.max(x))
            });
        high - low
    };
    // A jaw has no direction: normals that differ by half a turn are one.
    let half = std::f64::consts::PI;
    let near = |a: f64| (a - angle + half / 2.0).rem_euclid(half) - half / 2.0;
    let sides = (0..hull.len()).filter_map(|k| {
        let (a, b) = (hull[k], hull[(k + 1) % hull.len()]);
        let off = near((a[0] - b[0]).atan2(b[1] - a[1]));
        (off.abs() <= turn).then_some(off)
    });
    sides
        .chain([-turn, turn])
        .map(|off| (extent(angle + off), angle + off))
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use std::f64::consts::FRAC_PI_2;

    fn rectangle(width: f64, height: f64, turned: f64) -> Vec<[f64; 2]> {
        let (s, c) = f64::sin_cos(turned);
        [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .map(|(x, y)| (x * width / 2.0, y * height / 2.0))
            .map(|(x, y)| [c * x - s * y, s * x + c * y])
            .to_vec()
    }

    #[test]
    fn a_turned_rectangle_is_as_wide_as_it_was() {
        let r = rectangle(200.0, 120.0, 0.03);
        let (width, at) = caliper(&r, 0.0, 0.1).unwrap();
        assert_relative_eq!(width, 200.0, epsilon = 1e-10);
        assert_relative_eq!(at, 0.03, epsilon = 1e-12);
        let (height, at) = caliper(&r, FRAC_PI_2, 0.1).unwrap();
        assert_relative_eq!(height, 120.0, epsilon = 1e-10);
        assert_relative_eq!(at, FRAC_PI_2 + 0.03, epsilon = 1e-12);
    }

    #[test]
    fn the_end_of_the_range_counts_where_no_side_lies_in_it() {
        let (width, at) = caliper(&rectangle(200.0, 120.0, 0.3), 0.0, 0.1).unwrap();
        assert_relative_eq!(at, 0.1);
        let expected = 200.0 * f64::cos(0.2) + 120.0 * f64::sin(0.2);
        assert_relative_eq!(width, expected, epsilon = 1e-10);
    }

    #[test]
    fn no_finer_search_finds_less() {
        // An ellipse with dents: 500 places.
        let points: Vec<[f64; 2]> = (0..500)
            .map(|k| {
                let a = std::f64::consts::TAU * f64::from(k) / 500.0;
                let r = 1.0 + 0.01 * (7.0 * a).sin() + 0.004 * (31.0 * a).cos();
                [150.0 * r * a.cos(), 60.0 * r * a.sin()]
            })
            .collect();
        for angle in [0.0, 0.4, 1.2, FRAC_PI_2] {
            let (least, at) = caliper(&points, angle, 0.1).unwrap();
            assert!((at - angle).abs() <= 0.1 + 1e-12);
            let tried = (0..=20_000)
                .map(|k| angle - 0.1 + 0.2 * f64::from(k) / 20_000.0)
                .map(|a| {
                    let along = points.iter().map(|p| a.cos() * p[0] + a.sin() * p[1]);
                    let high = along.clone().fold(f64::NEG_INFINITY, f64::max);
                    high - along.fold(f64::INFINITY, f64::min)
                })
                .fold(f64::INFINITY, f64::min);
            assert!(least <= tried + 1e-12, "{least} {tried}");
            // A step of the search is 1e-5 rad, the jaws touch up to 300 mm apart.
            assert!(tried - least < 3e-3, "{least} {tried}");
        }
    }

    #[test]
    fn one_place_has_no_width_and_none_has_no_answer() {
        assert_eq!(caliper(&[[3.0, 4.0]], 0.0, 0.1).unwrap().0, 0.0);
        assert!(caliper(&[], 0.0, 0.1).is_none());
    }
}
