//! What a place of all points says of an observation, and how that changes with the points.

use super::model::Observed;
use crate::{Point, Vector};

/// Below this a length has no direction, mm.
const NOTHING: f64 = 1e-12;

fn unit(v: Vector) -> Vector {
    let n = v.norm();
    if n < NOTHING { Vector::zeros() } else { v / n }
}

/// The value an observation would have, and its derivatives by the points it names (each a vector of which only the
/// dimensions of the network count).
pub fn predict(what: &Observed, at: &[Point], dimensions: usize) -> (f64, Vec<(usize, Vector)>) {
    match *what {
        Observed::Distance { from, to } => {
            let d = at[to] - at[from];
            let u = unit(d);
            (d.norm(), vec![(from, -u), (to, u)])
        }
        Observed::Bar { from, to, drop } => {
            let d = at[to] - at[from];
            let reading = (d.norm_squared() - drop * drop).max(0.0).sqrt();
            let u = d / reading.max(NOTHING);
            (reading, vec![(from, -u), (to, u)])
        }
        Observed::Plan { from, to } => {
            let mut d = at[to] - at[from];
            d.z = 0.0;
            let u = unit(d);
            (d.norm(), vec![(from, -u), (to, u)])
        }
        Observed::FromLine { point, from, to } => from_line(at, point, [from, to], dimensions),
        Observed::FromPlane { point, a, b, c } => from_plane(at, point, [a, b, c]),
        Observed::Coordinate { point, axis } => (at[point][axis], vec![(point, axis_of(axis))]),
        Observed::Step { from, to, axis } => {
            let e = axis_of(axis);
            (at[to][axis] - at[from][axis], vec![(from, -e), (to, e)])
        }
        Observed::Angle {
            at: corner,
            from,
            to,
        } => {
            let (p, q) = (at[from] - at[corner], at[to] - at[corner]);
            let cross = p.cross(&q).norm();
            let angle = cross.atan2(p.dot(&q));
            // In the plane of both legs, at right angles to each, the way that opens the angle.
            let normal = unit(p.cross(&q));
            let by_p = -normal.cross(&p) / p.norm_squared().max(NOTHING);
            let by_q = normal.cross(&q) / q.norm_squared().max(NOTHING);
            (
                angle,
                vec![(corner, -by_p - by_q), (from, by_p), (to, by_q)],
            )
        }
    }
}

fn axis_of(axis: usize) -> Vector {
    let mut e = Vector::zeros();
    e[axis] = 1.0;
    e
}

fn from_line(
    at: &[Point],
    point: usize,
    line: [usize; 2],
    dimensions: usize,
) -> (f64, Vec<(usize, Vector)>) {
    let [from, to] = line;
    let e = unit(at[to] - at[from]);
    let length = (at[to] - at[from]).norm().max(NOTHING);
    let d = at[point] - at[from];
    let along = d.dot(&e);
    let (value, n) = if dimensions == 2 {
        let left = Vector::new(-e.y, e.x, 0.0);
        (d.dot(&left), left)
    } else {
        let across = d - e * along;
        (across.norm(), unit(across))
    };
    // The line turns about its one end when the other moves.
    let share = along / length;
    (
        value,
        vec![(point, n), (from, -n * (1.0 - share)), (to, -n * share)],
    )
}

fn from_plane(at: &[Point], point: usize, plane: [usize; 3]) -> (f64, Vec<(usize, Vector)>) {
    let [a, b, c] = plane.map(|i| at[i]);
    let cross = (b - a).cross(&(c - a));
    let n = unit(cross);
    let d = at[point] - a;
    let foot = at[point] - n * d.dot(&n);
    // Barycentric coordinates of the foot: moving a corner along n moves the plane there by its share.
    let area = cross.norm().max(NOTHING);
    let share = |p: Point, q: Point| (p - foot).cross(&(q - foot)).dot(&n) / area;
    let (sa, sb, sc) = (share(b, c), share(c, a), share(a, b));
    (
        d.dot(&n),
        vec![
            (point, n),
            (plane[0], -n * sa),
            (plane[1], -n * sb),
            (plane[2], -n * sc),
        ],
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derivatives against central differences.
    fn check(what: Observed, dimensions: usize) {
        let mut at = vec![
            Point::new(3.0, -2.0, 1.0),
            Point::new(90.0, 14.0, 7.0),
            Point::new(31.0, 80.0, -12.0),
            Point::new(40.0, 33.0, 25.0),
        ];
        if dimensions == 2 {
            for p in &mut at {
                p.z = 0.0;
            }
        }
        let (_, by) = predict(&what, &at, dimensions);
        for (i, d) in by {
            for axis in 0..dimensions {
                let mut moved = |by: f64| {
                    at[i][axis] += by;
                    let v = predict(&what, &at, dimensions).0;
                    at[i][axis] -= by;
                    v
                };
                let slope = (moved(1e-4) - moved(-1e-4)) / 2e-4;
                assert!((slope - d[axis]).abs() < 1e-8, "{what:?} {i} {axis}");
            }
        }
    }

    #[test]
    fn derivatives_are_those_of_the_values() {
        for dimensions in [2, 3] {
            check(Observed::Distance { from: 0, to: 3 }, dimensions);
            let bar = Observed::Bar {
                from: 0,
                to: 1,
                drop: 20.0,
            };
            check(bar, dimensions);
            let line = Observed::FromLine {
                point: 3,
                from: 0,
                to: 2,
            };
            check(line, dimensions);
            let angle = Observed::Angle {
                at: 1,
                from: 0,
                to: 2,
            };
            check(angle, dimensions);
            check(Observed::Coordinate { point: 2, axis: 1 }, dimensions);
            let step = Observed::Step {
                from: 2,
                to: 0,
                axis: 1,
            };
            check(step, dimensions);
        }
        check(Observed::Plan { from: 0, to: 2 }, 3);
        let plane = Observed::FromPlane {
            point: 3,
            a: 0,
            b: 1,
            c: 2,
        };
        check(plane, 3);
    }
}
