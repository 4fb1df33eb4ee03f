//! Walking from an edge over the metal: where it bends, and what lies beyond.

use geom::{Point, Vector};

use super::outline::Outline;
use super::skin::Skin;

/// How far a walk goes, mm.
const FAR: f64 = 46.0;
/// A bend turns by at least so many degrees within [`WINDOW`].
const BEND_DEG: f64 = 32.0;
/// A bend happens within so many mm.
const WINDOW: f64 = 7.0;
/// So much metal beyond the bend makes a panel, mm.
const PANEL: f64 = 10.0;

/// A place on a walk.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub s: f64,
    pub p: Point,
    pub n: Vector,
}

/// A walk over the metal in the section normal to the edge, beginning at the edge.
#[derive(Clone, Debug)]
pub(super) struct Profile {
    pub steps: Vec<Step>,
    /// Index of the step in the middle of the first bend, and whether the metal bends away from its facing side (as it
    /// does from a return flange to the panel).
    pub bend: Option<(usize, bool)>,
    /// Index of the first step of the panel; `None` if the metal ends first.
    pub panel: Option<usize>,
    /// Direction of the walk at its end.
    pub heading: Vector,
}

impl Profile {
    /// How far the metal was followed, mm.
    pub fn reach(&self) -> f64 {
        self.steps.last().map_or(0.0, |s| s.s)
    }

    /// Width of the flange: from the edge to the middle of the bend, mm.
    pub fn flange(&self) -> Option<f64> {
        match self.bend {
            Some((i, true)) => Some(self.steps[i].s),
            _ => None,
        }
    }

    /// Normal of the panel: mean from its first step on.
    pub fn panel_normal(&self) -> Option<Vector> {
        let first = self.panel?;
        let sum: Vector = self.steps[first..].iter().take(12).map(|s| s.n).sum();
        sum.try_normalize(1e-9)
    }
}

/// Walks from every place of an outline (evenly spaced).
pub(super) fn profiles(outline: &Outline, skin: &Skin) -> Vec<Profile> {
    use rayon::prelude::*;
    let n = outline.points.len();
    (0..n)
        .into_par_iter()
        .filter_map(|i| {
            let along = outline.points[(i + 2) % n] - outline.points[(i + n - 2) % n];
            walk(skin, &outline.points[i], &outline.normals[i], &along)
        })
        .collect()
}

fn walk(skin: &Skin, from: &Point, normal: &Vector, along: &Vector) -> Option<Profile> {
    let along = along.try_normalize(1e-9)?;
    let stride = skin.step.max(0.8);
    let r = (1.9 * skin.step).max(1.5);
    let (_, mut n, _) = skin.around(from, r, normal, 0.4)?;
    let mut p = *from;
    let mut steps = vec![Step { s: 0.0, p, n }];
    let mut heading = n.cross(&along).try_normalize(1e-9)?;
    let mut s = 0.0;
    while s < FAR {
        let ahead = p + heading * stride;
        // Over a sharp bend the surface may turn by a right angle from one step to the next.
        let found = skin
            .around(&ahead, r, &n, 0.5)
            .filter(|f| f.2 >= 2)
            .or_else(|| skin.around(&ahead, 1.3 * r, &n, -0.1).filter(|f| f.2 >= 2));
        let Some((centre, m, _)) = found else { break };
        if (ahead - centre).norm() > 1.2 * r {
            break;
        }
        let mut q = ahead - m * (ahead - centre).dot(&m);
        q -= along * (q - from).dot(&along);
        let moved = (q - p).norm();
        let ahead_of_mean = (q - centre).dot(&heading);
        if moved < 0.3 * stride || ahead_of_mean > 0.9 * r {
            break;
        }
        s += moved;
        n = m;
        p = q;
        steps.push(Step { s, p, n });
        match n.cross(&along).try_normalize(1e-9) {
            Some(h) => heading = h,
            None => break,
        }
    }
    let bend = first_bend(&steps);
    let after = bend.map_or(0.0, |(i, _)| steps[i].s + 0.6 * WINDOW);
    let last = steps.last().map_or(0.0, |x| x.s);
    let panel = (last >= after + PANEL)
        .then(|| steps.iter().position(|x| x.s >= after))
        .flatten();
    Some(Profile {
        steps,
        bend,
        panel,
        heading,
    })
}

/// The sharpest turn among those at the first bend: index of its middle and whether it turns away from the facing side.
fn first_bend(steps: &[Step]) -> Option<(usize, bool)> {
    let turn = |i: usize| -> f64 {
        let ahead = steps
            .iter()
            .rev()
            .find(|x| x.s <= steps[i].s + WINDOW / 2.0);
        let behind = steps.iter().find(|x| x.s >= steps[i].s - WINDOW / 2.0);
        match (behind, ahead) {
            (Some(a), Some(b)) => a.n.angle(&b.n).to_degrees(),
            _ => 0.0,
        }
    };
    let turns: Vec<f64> = (0..steps.len()).map(turn).collect();
    let first = turns.iter().position(|&t| t > BEND_DEG)?;
    let end = first
        + turns[first..]
            .iter()
            .position(|&t| t <= BEND_DEG)
            .unwrap_or(turns.len() - first);
    // The middle of what turns: where half the turn from before to after is done.
    let (a, b) = (steps[first].n, steps[end - 1].n);
    let middle = (first..end)
        .find(|&i| steps[i].n.angle(&a) >= steps[i].n.angle(&b))
        .unwrap_or(first);
    let before = steps[..=first].first()?;
    let beyond = steps
        .iter()
        .find(|x| x.s >= steps[middle].s + WINDOW / 2.0)
        .or_else(|| steps.last())?;
    let way = steps[middle].p - before.p;
    // Bending away from the facing side, the normal turns towards where one came to.
    let convex = if way.norm() > 1e-6 {
        beyond.n.dot(&way) > 0.0
    } else {
        (beyond.p - before.p).dot(&before.n) < 0.0
    };
    Some((middle, convex))
}
