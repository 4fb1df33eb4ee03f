//! A smooth plane curve as the fewest tangent lines and arcs within a tolerance.
//!
//! Breakpoints first by exact dynamic programming over pieces that are each near a line or circle (least count, then
//! least squares), few of them to begin with; then one chain of constant-curvature pieces, tangent by construction, is
//! fitted to all points at once (see `arc_fit/chain.rs`) and split where it is beyond the tolerance; then pieces are
//! joined and straightened as long as the whole chain stays within it.

mod biarcs;
mod breaks;
mod chain;
mod parameters;
mod placed;
mod screen;

use nalgebra::Point2;

use crate::{ArcPath, GoOn, Point, Polyline, bulge_of};
use chain::Chain;

/// More pieces than this are not a description any more.
const MOST_PIECES: usize = 96;
/// A joining is tried only where single arcs come within this many tolerances of the points, least squares against
/// farthest distance: the whole chain can do no better than twice that.
const SCREEN: f64 = 1.7;
/// Breakpoints are looked for with these shares of the tolerance, in this order.
const BREAKS_WITHIN: [f64; 5] = [2.5, 1.6, 1.1, 0.8, 0.6];
/// A chain that needs more splits than this follows waves: pairs of arcs do that better.
const SPLITS: usize = 2;
/// A chain of more pieces than this has too little to hold each of them, and settles slowly if at all.
const MOST_IN_CHAIN: usize = 18;
/// Turn at one point of the outline, rad, above which it is a sharp corner if its neighbours turn far less.
const SHARP: f64 = 0.44;

/// What came of [`fit_arcs`].
#[derive(Clone, Debug, PartialEq)]
pub struct ArcFit {
    /// Lines and arcs, arcs at most half a circle; counter-clockwise exactly where the points are.
    pub path: ArcPath,
    /// Farthest distance between path and points, both ways (points to path, path to the chain of points), mm.
    pub error_mm: f64,
    /// Largest turn at a joint that is not a sharp corner of the outline, rad.
    pub joint_rad: f64,
    /// Number of sharp corners kept.
    pub corners: usize,
}

/// Describes a smooth outline, given as dense points in order (closed: without repeating the first), by the fewest
/// lines and tangent arcs it finds within `tolerance` mm of it both ways. Corners that turn by more than 25 degrees at
/// one point stay sharp; everything else is joined tangentially.
///
/// Points have to be smooth to well below the tolerance and closer together than the smallest radius; a noisy outline
/// is smoothed first. `None` with fewer than 8 points, or where more than 96 pieces would be needed. Cost: n2 for up
/// to 400 resampled points, milliseconds.
pub fn fit_arcs(points: &[Point2<f64>], closed: bool, tolerance: f64) -> Option<ArcFit> {
    fit_arcs_while(points, closed, tolerance, &|| true)
}

fn fit_arcs_while(
    points: &[Point2<f64>],
    closed: bool,
    tolerance: f64,
    go_on: GoOn<'_>,
) -> Option<ArcFit> {
    let chain_of =
        |p: &[Point2<f64>]| Polyline::new(p.iter().map(|q| Point::new(q.x, q.y, 0.0)), closed);
    let outline = chain_of(points)?;
    if outline.points().len() < 8 || tolerance.is_nan() || tolerance <= 0.0 {
        return None;
    }
    if let Some(circle) = Some(&outline)
        .filter(|_| closed)
        .and_then(|o| whole_circle(o, tolerance))
    {
        return Some(circle);
    }
    let sharp = sharp_corners(&outline);
    let samples = samples(&outline, &sharp);
    let ring = breaks::Ring::new(&samples, closed);
    let judge = Judge {
        points: &samples.iter().map(|s| s.at).collect::<Vec<_>>(),
        outline: &outline,
        tolerance,
        go_on,
    };
    // From few pieces to many: a chain of many pieces on an outline with little to hold them has next to nothing to
    // settle by.
    let chained = BREAKS_WITHIN.iter().find_map(|share| {
        if !go_on() {
            return None;
        }
        let breaks = ring.breaks_anywhere(share * tolerance, sharp.is_empty());
        let most = (breaks.len() + SPLITS).min(MOST_IN_CHAIN);
        let mut chain = judge.settle(Chain::from_breaks(&samples, &breaks, closed), most)?;
        judge.simplify(&mut chain);
        Some(chain.path())
    });
    let path = match chained {
        Some(path) => path,
        None if !go_on() => return None,
        None => biarcs::biarcs(&samples, closed, &judge)?,
    }
    .split_wide_arcs();
    let error_mm = judge.error(&path);
    let joints = path.joints();
    let (kinks, smooth): (Vec<f64>, Vec<f64>) = joints
        .iter()
        .map(|j| j.abs())
        .partition(|j| *j > SHARP / 2.0);
    Some(ArcFit {
        error_mm,
        joint_rad: smooth.iter().copied().fold(0.0, f64::max),
        corners: kinks.len(),
        path,
    })
    .filter(|f| f.error_mm <= tolerance && f.path.pieces.len() <= MOST_PIECES)
}

/// As [`fit_arcs`] with the first of `tolerances` (mm, ascending) at which at most `most` pieces will do; where none
/// is enough, the fewest pieces found. Once `go_on` says no, soon nothing.
pub fn fit_few_arcs(
    points: &[Point2<f64>],
    closed: bool,
    tolerances: &[f64],
    most: usize,
    go_on: GoOn<'_>,
) -> Option<ArcFit> {
    let mut fewest: Option<ArcFit> = None;
    for tolerance in tolerances {
        if !go_on() {
            break;
        }
        let Some(fit) = fit_arcs_while(points, closed, *tolerance, go_on) else {
            continue;
        };
        let pieces = fit.path.pieces.len();
        if fewest.as_ref().is_none_or(|f| pieces < f.path.pieces.len()) {
            fewest = Some(fit);
        }
        if pieces <= most {
            break;
        }
    }
    fewest
}

/// The outline as one circle in two halves, if it is one within the tolerance. (A closed chain of one or two tangent
/// arcs can be nothing else, so that its closing conditions hang together and the chain cannot be fitted as others.)
fn whole_circle(outline: &Polyline, tolerance: f64) -> Option<ArcFit> {
    let points = outline.points();
    let middle = outline.middle();
    let mut centre = Point2::new(middle.x, middle.y);
    let mut radius = outline.length() / std::f64::consts::TAU;
    for _ in 0..20 {
        // Gauss-Newton on the radial distances.
        let mut normal = nalgebra::Matrix3::zeros();
        let mut right = nalgebra::Vector3::zeros();
        for p in points {
            let v = Point2::new(p.x, p.y) - centre;
            let d = v.norm();
            let row = nalgebra::Vector3::new(v.x / d, v.y / d, 1.0);
            normal += row * row.transpose();
            right += row * (d - radius);
        }
        let step = normal.lu().solve(&right)?;
        centre += step.xy();
        radius += step.z;
        if step.norm() < 1e-12 * radius {
            break;
        }
    }
    let half = bulge_of(std::f64::consts::PI) * outline.area_xy().signum();
    let path = ArcPath::closed([
        ([centre.x - radius, centre.y], half),
        ([centre.x + radius, centre.y], half),
    ]);
    let judge = Judge {
        points: &[],
        outline,
        tolerance,
        go_on: &|| true,
    };
    let error_mm = Some(judge.error(&path)).filter(|e| *e <= tolerance)?;
    let joint_rad = path.joints().iter().map(|j| j.abs()).fold(0.0, f64::max);
    Some(ArcFit {
        path,
        error_mm,
        joint_rad,
        corners: 0,
    })
}

/// A point of the outline as the fit sees it.
#[derive(Clone, Copy, Debug)]
struct Sample {
    at: Point2<f64>,
    /// Direction of the outline leaving the point, rad.
    heading: f64,
    /// Direction arriving at it; differs from `heading` at sharp corners only.
    arriving: f64,
    /// Whether the outline has a sharp corner here.
    sharp: bool,
}

fn heading(v: &crate::Vector) -> f64 {
    v.y.atan2(v.x)
}

/// Brings an angle into -pi..pi.
fn wrapped(a: f64) -> f64 {
    a - std::f64::consts::TAU * (a / std::f64::consts::TAU).round()
}

/// Places of points at which the outline has a sharp corner.
fn sharp_corners(outline: &Polyline) -> Vec<usize> {
    let p = outline.points();
    let n = p.len();
    let turn: Vec<f64> = (0..n)
        .map(|i| {
            if !outline.closed() && (i == 0 || i + 1 == n) {
                return 0.0;
            }
            let (a, b) = (p[i] - p[(i + n - 1) % n], p[(i + 1) % n] - p[i]);
            wrapped(heading(&b) - heading(&a))
        })
        .collect();
    let near = |i: usize| turn[(i + n - 1) % n].abs().max(turn[(i + 1) % n].abs());
    (0..n)
        .filter(|i| turn[*i].abs() > SHARP && near(*i) < turn[*i].abs() / 4.0)
        .collect()
}

/// Evenly spaced samples, at most about 400, with the sharp corners among them.
fn samples(outline: &Polyline, sharp: &[usize]) -> Vec<Sample> {
    let n = outline.points().len().clamp(120, 400);
    let step = outline.length() / n as f64;
    let mut marks: Vec<(f64, bool)> = (0..n + usize::from(!outline.closed()))
        .map(|i| (step * i as f64, false))
        .collect();
    for i in sharp {
        let s = outline.arc_of(*i);
        marks.retain(|m| outline.apart(m.0, s) > 0.4 * step);
        marks.push((s, true));
    }
    marks.sort_by(|a, b| a.0.total_cmp(&b.0));
    if let Some(first) = marks.iter().position(|m| m.1).filter(|_| outline.closed()) {
        // A closed outline with sharp corners starts at one of them.
        marks.rotate_left(first);
    }
    let tiny = 0.5 * step;
    marks
        .into_iter()
        .map(|(s, sharp)| {
            let at = outline.point_at(s);
            let ahead = heading(&(outline.point_at(s + tiny) - at));
            let behind = heading(&(at - outline.point_at(s - tiny)));
            let both = smooth_heading(outline, s, step, sharp);
            let (heading, arriving) = if sharp { (ahead, behind) } else { (both, both) };
            Sample {
                at: Point2::new(at.x, at.y),
                heading,
                arriving,
                sharp,
            }
        })
        .collect()
}

/// Direction of the outline at `s` from a straight line through nine places about it: what noise is left in an outline
/// would turn a chord of one step by degrees.
fn smooth_heading(outline: &Polyline, s: f64, step: f64, sharp: bool) -> f64 {
    if sharp {
        return heading(&(outline.point_at(s + 0.5 * step) - outline.point_at(s - 0.5 * step)));
    }
    let sum = (-4..=4).fold(crate::Vector::zeros(), |sum, k| {
        sum + outline.point_at(s + f64::from(k) * step).coords * f64::from(k)
    });
    heading(&sum)
}

/// What the chain is held against.
struct Judge<'a> {
    points: &'a [Point2<f64>],
    outline: &'a Polyline,
    tolerance: f64,
    /// Says whether the work is still wanted.
    go_on: GoOn<'a>,
}

impl Judge<'_> {
    /// Farthest distance both ways, mm.
    fn error(&self, path: &ArcPath) -> f64 {
        self.distances(path).fold(0.0, f64::max)
    }

    /// Whether no distance either way is beyond the tolerance: no more are asked for once one is.
    fn within(&self, path: &ArcPath) -> bool {
        self.distances(path).all(|d| d <= self.tolerance)
    }

    /// Distances of the points from the path, then of the path from the chain of points, mm.
    fn distances<'b>(&'b self, path: &'b ArcPath) -> impl Iterator<Item = f64> + 'b {
        let step = (self.outline.length() / 1500.0).max(0.05);
        let points = self.outline.points().iter();
        let there = points.map(|p| path.distance(&Point2::new(p.x, p.y)));
        let back = std::iter::once_with(move || path.flattened(step, 0.2 * self.tolerance));
        there.chain(
            back.flatten()
                .map(|q| self.outline.distance(&Point::new(q.x, q.y, 0.0))),
        )
    }

    /// Fits the chain, splitting its worst piece until it is within the tolerance.
    fn settle(&self, mut chain: Chain, most: usize) -> Option<Chain> {
        // Counted, not by the number of pieces: a fit may drop a piece again as soon as it was split off.
        for _ in chain.pieces()..=most {
            if !(self.go_on)() {
                return None;
            }
            // A chain that does not settle at all is no better for one more piece.
            let worst = chain.fit(self.points, self.tolerance)?;
            if worst.1 <= self.tolerance && self.within(&chain.path()) {
                return Some(chain);
            }
            chain.split(worst.0);
        }
        None
    }

    /// Joins neighbours and straightens pieces while the chain stays within the tolerance.
    fn simplify(&self, chain: &mut Chain) {
        // Once the work is not wanted any more, nothing holds, and the loops below end.
        let holds = |trial: &mut Chain| {
            (self.go_on)()
                && trial
                    .fit(self.points, self.tolerance)
                    .is_some_and(|w| w.1 <= self.tolerance)
                && self.within(&trial.path())
        };
        let mut changed = true;
        while changed && (self.go_on)() {
            changed = false;
            for i in chain.by_length() {
                let screen = chain.shares(self.points);
                let trials = [
                    chain
                        .joined(i, self.tolerance)
                        .filter(|_| screen.one_arc(i, 0.0, 1.0, SCREEN * self.tolerance)),
                    chain
                        .dropped(i, self.tolerance)
                        .filter(|_| screen.two_arcs(i, SCREEN * self.tolerance)),
                ];
                if let Some(better) = trials
                    .into_iter()
                    .flatten()
                    .find_map(|mut t| holds(&mut t).then_some(t))
                {
                    *chain = better;
                    changed = true;
                    break;
                }
            }
        }
        // A fit may drop a piece that vanished: what is flattest is asked for anew after each.
        let mut refused = 0;
        while let Some(&i) = chain.flattest(20.0 * self.tolerance).get(refused) {
            let mut trial = chain.straightened(i);
            if holds(&mut trial) {
                *chain = trial;
            } else {
                refused += 1;
            }
        }
    }
}

#[cfg(test)]
mod tests;
