//! Laying one opening on the mirror image of another by its shape and its holes.

use geom::{Point, Vector};
use nalgebra::Matrix3;

use super::judge::Found;

/// Directions at which the edge is compared.
const DIRECTIONS: usize = 180;
/// Holes belong together within so many mm.
const SAME_HOLE_MM: f64 = 8.0;

/// An opening flattened about its middle, seen from outside: u to some side, v a quarter turn further.
#[derive(Clone, Debug)]
pub(super) struct Flat {
    centre: Point,
    pub u: Vector,
    pub v: Vector,
    /// Distance of the edge from the middle by direction.
    radius: Vec<f64>,
    holes: Vec<[f64; 2]>,
    pub mean_radius: f64,
}

/// How one opening lies on the mirror image of another.
#[derive(Clone, Debug)]
pub(super) struct Laid {
    /// Directions by which the second is turned.
    turn: usize,
    /// Root mean square distance of the edges, mm.
    pub rest_mm: f64,
    /// Pairs of holes (first, second).
    pub holes: Vec<(usize, usize)>,
    /// Whether a quite different turn does nearly as well.
    pub ambiguous: bool,
    /// Turns that do nearly as well, this one among them.
    rivals: Vec<usize>,
}

impl Flat {
    pub fn of(o: &Found) -> Self {
        let n = nalgebra::Unit::new_normalize(o.normal);
        let u = geom::any_perpendicular(&n).into_inner();
        let v = n.cross(&u);
        let flat = |p: &Point| [(p - o.centre).dot(&u), (p - o.centre).dot(&v)];
        let mut polar: Vec<(f64, f64)> = o
            .edge
            .iter()
            .map(|p| {
                let [x, y] = flat(p);
                (y.atan2(x), x.hypot(y))
            })
            .collect();
        polar.sort_by(|a, b| a.0.total_cmp(&b.0));
        let radius: Vec<f64> = (0..DIRECTIONS)
            .map(|k| radius_at(&polar, angle(k as f64)))
            .collect();
        Self {
            centre: o.centre,
            u,
            v,
            mean_radius: radius.iter().sum::<f64>() / DIRECTIONS as f64,
            radius,
            holes: o.holes.iter().map(|h| flat(&h.centre)).collect(),
        }
    }

    /// The place of the edge in a direction given in the picture, about.
    pub fn edge_towards(&self, direction: f64) -> Point {
        let k = (direction.rem_euclid(std::f64::consts::TAU) / std::f64::consts::TAU
            * DIRECTIONS as f64) as usize;
        let r = self.radius[(k + DIRECTIONS / 2) % DIRECTIONS];
        self.centre + (self.u * direction.cos() + self.v * direction.sin()) * r
    }

    /// The direction of a place in the picture.
    pub fn direction_of(&self, p: &Point) -> f64 {
        (p - self.centre)
            .dot(&self.v)
            .atan2((p - self.centre).dot(&self.u))
    }
}

/// The k-th direction, from -180 degrees up.
fn angle(k: f64) -> f64 {
    std::f64::consts::TAU * k / DIRECTIONS as f64 - std::f64::consts::PI
}

/// Between the neighbours in direction.
fn radius_at(polar: &[(f64, f64)], a: f64) -> f64 {
    let tau = std::f64::consts::TAU;
    let i = polar.partition_point(|p| p.0 < a);
    let (Some(first), Some(last)) = (polar.first(), polar.last()) else {
        return 0.0;
    };
    let (low, high) = match (i.checked_sub(1).map(|j| polar[j]), polar.get(i)) {
        (Some(l), Some(&h)) => (l, h),
        (Some(l), None) => (l, (first.0 + tau, first.1)),
        (None, _) => ((last.0 - tau, last.1), *first),
    };
    let span = high.0 - low.0;
    let t = if span > 0.0 { (a - low.0) / span } else { 0.0 };
    low.1 + (high.1 - low.1) * t
}

/// The direction in `b` that is the mirror image of a direction in `a`: pi - direction, turned.
fn image(direction: f64, turn: usize) -> f64 {
    std::f64::consts::PI - direction + std::f64::consts::TAU * turn as f64 / DIRECTIONS as f64
}

/// Lays `b` on the mirror image of `a` (picture flipped left to right, then turned).
pub(super) fn lay_mirrored(a: &Flat, b: &Flat) -> Laid {
    let rest: Vec<f64> = (0..DIRECTIONS)
        .map(|turn| {
            let sum: f64 = (0..DIRECTIONS)
                .map(|k| {
                    // Direction number k stands for -pi + k steps; its image is number -k + turn, again from -pi.
                    let j = (DIRECTIONS + DIRECTIONS / 2 + turn - k) % DIRECTIONS;
                    (a.radius[k] - b.radius[j]).powi(2)
                })
                .sum();
            (sum / DIRECTIONS as f64).sqrt()
        })
        .collect();
    let least = rest.iter().copied().fold(f64::INFINITY, f64::min);
    let mut best: Option<(f64, Laid)> = None;
    let mut costs = Vec::new();
    for turn in 0..DIRECTIONS {
        let lowest_near = (1..=4).all(|d| {
            rest[turn] <= rest[(turn + d) % DIRECTIONS]
                && rest[turn] <= rest[(turn + DIRECTIONS - d) % DIRECTIONS]
        });
        if !lowest_near || rest[turn] > 2.5 * least + 0.04 * a.mean_radius {
            continue;
        }
        let holes = same_holes(a, b, turn);
        let unmatched = a.holes.len() + b.holes.len() - 2 * holes.len();
        let cost = rest[turn] / a.mean_radius.max(1.0) + 0.05 * unmatched as f64;
        costs.push((cost, turn));
        if best.as_ref().is_none_or(|x| cost < x.0) {
            let laid = Laid {
                turn,
                rest_mm: rest[turn],
                holes,
                ambiguous: false,
                rivals: Vec::new(),
            };
            best = Some((cost, laid));
        }
    }
    let Some((cost, mut laid)) = best else {
        return Laid {
            turn: 0,
            rest_mm: f64::INFINITY,
            holes: Vec::new(),
            ambiguous: true,
            rivals: Vec::new(),
        };
    };
    laid.rivals = costs
        .iter()
        .filter(|c| c.0 < 1.5 * cost + 0.01)
        .map(|c| c.1)
        .collect();
    laid.ambiguous = laid.rivals.iter().any(|t| {
        let apart = (t + DIRECTIONS - laid.turn) % DIRECTIONS;
        apart.min(DIRECTIONS - apart) > DIRECTIONS / 18
    });
    laid
}

/// The place of `b`'s edge that is the mirror image of the direction of a place of `a`.
pub(super) fn carry(a: &Flat, b: &Flat, laid: &Laid, p: &Point) -> Point {
    b.edge_towards(image(a.direction_of(p), laid.turn))
}

/// The map of directions from the scan of `a` to that of `b` (a mirror in it) that a turn means.
pub(super) fn map_of(a: &Flat, b: &Flat, laid: &Laid) -> Matrix3<f64> {
    turn_map(a, b, laid.turn)
}

fn turn_map(a: &Flat, b: &Flat, turn: usize) -> Matrix3<f64> {
    let towards = |direction: f64| {
        let d = image(direction, turn);
        b.u * d.cos() + b.v * d.sin()
    };
    let up = std::f64::consts::FRAC_PI_2;
    towards(0.0) * a.u.transpose()
        + towards(up) * a.v.transpose()
        + b.u.cross(&b.v) * a.u.cross(&a.v).transpose()
}

/// Of the turns that do nearly as well takes the one that agrees best with how a sure pair of the same two scans lies,
/// if one agrees within 20 degrees: what is far from clear in one opening is clear from its neighbours.
pub(super) fn agree_with(a: &Flat, b: &Flat, laid: &mut Laid, sure: &Matrix3<f64>) {
    let off = |turn: usize| ((sure.transpose() * turn_map(a, b, turn)).trace() - 1.0) / 2.0;
    let best = laid
        .rivals
        .iter()
        .copied()
        .max_by(|x, y| off(*x).total_cmp(&off(*y)));
    if let Some(turn) = best
        && off(turn) > 20.0_f64.to_radians().cos()
    {
        laid.turn = turn;
        laid.holes = same_holes(a, b, turn);
        laid.ambiguous = false;
    }
}

fn same_holes(a: &Flat, b: &Flat, turn: usize) -> Vec<(usize, usize)> {
    let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
    for (i, h) in a.holes.iter().enumerate() {
        let direction = image(h[1].atan2(h[0]), turn);
        let r = h[0].hypot(h[1]);
        let (x, y) = (r * direction.cos(), r * direction.sin());
        for (j, g) in b.holes.iter().enumerate() {
            // A turn is known to a degree or so.
            let d = (x - g[0]).hypot(y - g[1]);
            if d < SAME_HOLE_MM + 0.02 * r {
                pairs.push((d, i, j));
            }
        }
    }
    pairs.sort_by(|x, y| x.0.total_cmp(&y.0).then((x.1, x.2).cmp(&(y.1, y.2))));
    let mut out: Vec<(usize, usize)> = Vec::new();
    for (_, i, j) in pairs {
        if out.iter().all(|o| o.0 != i && o.1 != j) {
            out.push((i, j));
        }
    }
    out.sort_unstable();
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::propose::judge::Round;

    /// An egg with a bump, edge and holes; mirrored in x if so wished, and moved about.
    fn egg(mirrored: bool, turn: f64, shift: Vector) -> Found {
        let place = |x: f64, y: f64| {
            let x = if mirrored { -x } else { x };
            let (s, c) = turn.sin_cos();
            Point::new(c * x - s * y, s * x + c * y, 5.0) + shift
        };
        let mut edge: Vec<Point> = (0..96)
            .map(|i| {
                let a = std::f64::consts::TAU * f64::from(i) / 96.0;
                let r = 60.0 + 9.0 * a.cos() + 4.0 * (2.0 * a + 0.7).sin();
                place(r * a.cos(), 0.8 * r * a.sin())
            })
            .collect();
        if mirrored {
            edge.reverse();
        }
        let round = |x: f64, y: f64| Round {
            centre: place(x, y),
            diameter: 6.0,
        };
        Found {
            scan: "s".into(),
            centre: Point::from(edge.iter().map(|p| p.coords).sum::<Vector>() / 96.0),
            edge,
            normal: Vector::z(),
            perimeter: 350.0,
            near: Point::origin(),
            panel_face: (Point::origin(), Vector::z()),
            flange_face: None,
            holes: vec![round(80.0, 10.0), round(-70.0, 30.0), round(5.0, -62.0)],
            sureness: 0.5,
            because: String::new(),
        }
    }

    #[test]
    fn mirrored_twin_is_laid_on_whatever_its_turn() {
        let a = egg(false, 0.3, Vector::zeros());
        for turn in [0.0, 1.1, 3.0, -2.0] {
            let b = egg(true, turn, Vector::new(300.0, -40.0, 9.0));
            let (fa, fb) = (Flat::of(&a), Flat::of(&b));
            let laid = lay_mirrored(&fa, &fb);
            assert!(laid.rest_mm < 1.2, "{}", laid.rest_mm);
            assert_eq!(laid.holes, [(0, 0), (1, 1), (2, 2)]);
            for i in [0, 20, 50] {
                let want = b.edge[95 - i];
                let got = carry(&fa, &fb, &laid, &a.edge[i]);
                assert!((got - want).norm() < 4.0, "{got} {want}");
            }
        }
    }

    #[test]
    fn the_same_hand_fits_worse_than_the_other() {
        let a = Flat::of(&egg(false, 0.3, Vector::zeros()));
        let same = lay_mirrored(&a, &Flat::of(&egg(false, 1.0, Vector::zeros())));
        let other = lay_mirrored(&a, &Flat::of(&egg(true, 1.0, Vector::zeros())));
        assert!(same.rest_mm > 1.5 * other.rest_mm || same.holes.len() < 3);
    }
}
