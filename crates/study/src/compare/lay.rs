//! Lays one opening edge on another by the edges alone.
//!
//! At each station of a the value is the crossing of b's edge with the plane through the station normal to the mean
//! of both tangents, so that swapping a and b only changes the sign. Nothing is taken from along the edge.

use geom::{Plane, Point, Polyline, Rigid, Unit, Vector};
use nalgebra::{DMatrix, DVector, Matrix6, Translation3, UnitQuaternion, Vector6};

/// Edges that are left farther apart than this may have been started wrongly, mm.
const DOUBTFUL: f64 = 2.0;
/// Turns that are tried then.
const TURNS: i32 = 24;

/// A station of the edge that stays where it is.
#[derive(Clone, Copy, Debug)]
pub struct Station {
    /// Position, mm.
    pub p: Point,
    /// Along the edge.
    pub along: Unit,
    /// Towards the inside of the opening.
    pub inward: Unit,
    /// Out of the panel.
    pub out: Unit,
    /// 0: not used, 1: used.
    pub weight: f64,
}

/// Where b crosses the plane of a station.
#[derive(Clone, Copy, Debug)]
pub struct Crossing {
    /// Position after laying, mm.
    pub p: Point,
    /// Share of b's own length, 0 to 1.
    pub share: f64,
    /// a's gap less b's gap, mm: + where a's opening is wider.
    pub gap: f64,
    /// + where a stands proud of b, mm.
    pub flush: f64,
}

/// b laid on a.
#[derive(Clone, Debug)]
pub struct Laid {
    /// a's axes from the start placement of b.
    pub shift: Rigid,
    /// One per station; `None` where b does not cross or the station is not used.
    pub crossings: Vec<Option<Crossing>>,
    /// Design of the six placements at stations with a crossing: rows gap then flush, about the middle of a.
    pub design: DMatrix<f64>,
    /// Middle of a, about which the turns of the placement are taken, mm.
    pub centre: Point,
    /// Root mean square of what is left, mm.
    pub left_over: f64,
}

/// Lays `b` (already mirrored and roughly in place) on the stations.
///
/// Minimises the sum of gap^2 + flush^2 over the stations, re-cutting the curve after every step until the step is
/// below 1e-10 mm. `None` if fewer than 12 stations cross or the six placements are not determined.
pub fn lay(stations: &[Station], b: &Polyline, seen_on_b: impl Fn(f64) -> bool) -> Option<Laid> {
    let n = stations.iter().map(|s| s.weight).sum::<f64>();
    let centre = Point::from(
        stations
            .iter()
            .map(|s| s.p.coords * s.weight)
            .sum::<Vector>()
            / n,
    );
    let radius = (stations
        .iter()
        .map(|s| (s.p - centre).norm_squared() * s.weight)
        .sum::<f64>()
        / n)
        .sqrt();
    let mut shift = Rigid::identity();
    let mut last = f64::INFINITY;
    for round in 0..60 {
        let posed = b.mapped(|p| shift * p)?;
        let crossings = cut(stations, &posed, &seen_on_b);
        let used = crossings.iter().flatten().count();
        if used < 12 {
            return None;
        }
        let mut m = Matrix6::zeros();
        let mut v = Vector6::zeros();
        let mut left = 0.0;
        for (s, c) in stations.iter().zip(&crossings) {
            let Some(c) = c else { continue };
            for (row, value) in [
                (row(&s.inward, &c.p, &centre), c.gap),
                (row(&s.out, &c.p, &centre), -c.flush),
            ] {
                m += row * row.transpose();
                v += row * value;
                left += value * value;
            }
        }
        // Turns are scaled by the size of the opening so that all six unknowns are lengths.
        let scale = Vector6::new(1.0, 1.0, 1.0, radius, radius, radius);
        let d = Matrix6::from_diagonal(&scale.map(|x| 1.0 / x));
        let q = (d * m * d).cholesky()?.solve(&(d * -v));
        let step = q.norm();
        let q = d * q;
        if step < 1e-10 || (round > 20 && step > 0.5 * last) {
            let design = design(stations, &crossings, &centre);
            return Some(Laid {
                shift,
                crossings,
                design,
                centre,
                left_over: (left / (2.0 * used as f64)).sqrt(),
            });
        }
        last = step;
        // Large turns are taken in portions, so that the cut keeps up with the pose.
        let f = (0.35 / Vector::new(q[3], q[4], q[5]).norm()).min(1.0);
        let q = q * f;
        let turn = UnitQuaternion::from_scaled_axis(Vector::new(q[3], q[4], q[5]));
        let about = Translation3::from(centre.coords);
        let moved = Translation3::from(Vector::new(q[0], q[1], q[2]));
        shift = moved * about * turn * about.inverse() * shift;
    }
    None
}

/// [`lay`] from the start placement; where that leaves more than [`DOUBTFUL`] or fails, from turns all round in the
/// flat of the part as well (the tops may not have been clicked), the best of which is kept.
pub fn lay_from_any_turn(
    stations: &[Station],
    b: &Polyline,
    seen_on_b: impl Fn(f64) -> bool,
) -> Option<Laid> {
    let first = lay(stations, b, &seen_on_b);
    if first.as_ref().is_some_and(|l| l.left_over < DOUBTFUL) {
        return first;
    }
    let turned = (1..TURNS).filter_map(|k| {
        let angle = std::f64::consts::TAU * f64::from(k) / f64::from(TURNS);
        let turn = Rigid::rotation(Vector::z() * angle);
        let mut laid = lay(stations, &b.mapped(|p| turn * p)?, &seen_on_b)?;
        laid.shift *= turn;
        Some(laid)
    });
    // A turn must be clearly better, so that a nearly round opening keeps the top that was clicked.
    turned.fold(first, |best, l| match best {
        Some(b) if b.left_over <= 1.2 * l.left_over => Some(b),
        _ => Some(l),
    })
}

/// How far place `p` moves along `direction` for each of the six placements about `centre`.
pub fn row(direction: &Vector, p: &Point, centre: &Point) -> Vector6<f64> {
    let turn = (p - centre).cross(direction);
    Vector6::new(
        direction.x,
        direction.y,
        direction.z,
        turn.x,
        turn.y,
        turn.z,
    )
}

fn design(stations: &[Station], crossings: &[Option<Crossing>], centre: &Point) -> DMatrix<f64> {
    let used: Vec<_> = stations
        .iter()
        .zip(crossings)
        .filter_map(|(s, c)| c.map(|c| (s, c)))
        .collect();
    let n = used.len();
    let mut j = DMatrix::zeros(2 * n, 6);
    for (i, (s, c)) in used.iter().enumerate() {
        j.row_mut(i)
            .copy_from(&row(&s.inward, &c.p, centre).transpose());
        j.row_mut(n + i)
            .copy_from(&-row(&s.out, &c.p, centre).transpose());
    }
    j
}

fn cut(
    stations: &[Station],
    posed: &Polyline,
    seen_on_b: &impl Fn(f64) -> bool,
) -> Vec<Option<Crossing>> {
    stations
        .iter()
        .map(|s| {
            if s.weight == 0.0 {
                return None;
            }
            let near = posed.nearest(&s.p);
            let mut arc = near.s;
            let mut hit = None;
            // The plane leans on b's tangent at the crossing; two rounds settle it.
            for _ in 0..3 {
                let t = posed.chord_at(arc, 1.0);
                let t = if t.dot(&s.along) < 0.0 { -t } else { t };
                let normal = Unit::new_normalize(s.along.into_inner() + t.into_inner());
                hit = posed.crossing_near(&Plane::through(&s.p, normal), arc);
                arc = hit.as_ref()?.s;
            }
            let hit = hit?;
            let share = hit.s / posed.length();
            let d = hit.at - s.p;
            // Farther than this it is another part of the edge, not this one.
            (seen_on_b(share) && d.norm() < 40.0).then(|| Crossing {
                p: hit.at,
                share,
                gap: d.dot(&s.inward),
                flush: -d.dot(&s.out),
            })
        })
        .collect()
}

/// Factors of the six placements that `factors` of the data (rows as in `design`) bring about; zero where the placements
/// are not determined.
pub fn placement_factors(design: &DMatrix<f64>, factors: &DMatrix<f64>) -> DMatrix<f64> {
    let scale = DVector::from_iterator(6, design.column_iter().map(|c| c.norm().max(1e-12)));
    let d = DMatrix::from_diagonal(&scale.map(|s| 1.0 / s));
    let j = design * &d;
    match (j.transpose() * &j).cholesky() {
        Some(c) => d * c.solve(&(j.transpose() * factors)),
        None => DMatrix::zeros(6, factors.ncols()),
    }
}

/// Takes out of `factors` (rows gap then flush of the stations with a crossing) what the placement takes out of
/// the data.
pub fn projected(design: &DMatrix<f64>, factors: &DMatrix<f64>) -> DMatrix<f64> {
    let scale = DVector::from_iterator(6, design.column_iter().map(|c| c.norm().max(1e-12)));
    let mut j = design.clone();
    for (k, mut c) in j.column_iter_mut().enumerate() {
        c /= scale[k];
    }
    let normal = j.transpose() * &j;
    match normal.cholesky() {
        Some(c) => factors - &j * c.solve(&(j.transpose() * factors)),
        None => factors.clone(),
    }
}
