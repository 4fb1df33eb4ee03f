//! A circle through points of which up to 40 % are stray.

use super::algebraic::taubin;
use super::{Circle, Circle2Fit, describe, geometric};
use crate::FitError;
use crate::robust::{EvenSequence, HARD_CUT, bisquare_weight, trimmed_scale, untruncated_sd};

const SUBSETS: usize = 500;
const KEPT: f64 = 0.6;
const CANDIDATES: usize = 10;
const RANKED_ON: usize = 400;

/// As [`super::fit_circle_2d`], setting stray points aside: least trimmed squares (60 %) from circles through 500
/// triples in a fixed sequence, bisquare weights at that scale, then an unweighted fit to the points within 3.5 sd.
/// `scale_floor` (mm) is the noise known beforehand, 0 if none. `sd` is corrected for the cut.
pub fn fit_circle_2d_robust(points: &[[f64; 2]], scale_floor: f64) -> Result<Circle2Fit, FitError> {
    let known = scale_floor >= 0.0 && scale_floor.is_finite();
    let finite = points.iter().flatten().all(|x| x.is_finite());
    if !known || !finite {
        return Err(FitError::NotFinite);
    }
    FitError::check_count(4, points.len())?;
    let (start, scale) = trimmed(points).ok_or(FitError::Degenerate)?;
    let reach = points.iter().flatten().fold(0.0_f64, |m, x| m.max(x.abs()));
    let floor = scale_floor.max(1e-13 * reach);
    let mut scale = scale.max(floor);
    let mut circle = start;
    for _ in 0..100 {
        let weights: Vec<f64> = points
            .iter()
            .map(|p| bisquare_weight(distance(&circle, p), scale))
            .collect();
        let next = geometric(points, &weights)?;
        let change = (0..3).fold(0.0_f64, |m, k| m.max((next[k] - circle[k]).abs()));
        circle = next;
        if change <= 1e-10 * scale {
            break;
        }
    }
    let mut inliers = Vec::new();
    for _ in 0..30 {
        let cut = HARD_CUT * scale;
        let kept: Vec<bool> = points
            .iter()
            .map(|p| distance(&circle, p).abs() <= cut)
            .collect();
        if kept == inliers {
            break;
        }
        inliers = kept;
        let weights: Vec<f64> = inliers.iter().map(|&x| f64::from(x)).collect();
        circle = geometric(points, &weights)?;
        let fit = describe(points, &inliers, &circle);
        if fit.dof > 0 {
            scale = untruncated_sd(fit.sd, cut).max(floor);
        }
    }
    let mut fit = describe(points, &inliers, &circle);
    fit.sd = untruncated_sd(fit.sd, HARD_CUT * scale);
    Ok(fit)
}

fn distance(c: &Circle, p: &[f64; 2]) -> f64 {
    (p[0] - c[0]).hypot(p[1] - c[1]) - c[2]
}

/// Least trimmed squares: the circle and the scale of its noise.
fn trimmed(points: &[[f64; 2]]) -> Option<(Circle, f64)> {
    let ranked: Vec<[f64; 2]> = if points.len() > RANKED_ON {
        let one = EvenSequence::new(1);
        (0..RANKED_ON)
            .map(|k| points[one.pick(k, 0, points.len())])
            .collect()
    } else {
        points.to_vec()
    };
    let sequence = EvenSequence::new(3);
    let mut candidates: Vec<(f64, Circle)> = (0..SUBSETS)
        .filter_map(|k| {
            let three = [0, 1, 2].map(|j| ranked[sequence.pick(k, j, ranked.len())]);
            taubin(&three, &[1.0; 3])
        })
        .filter_map(|c| (0..2).try_fold((0.0, c), |(_, c), _| concentrate(&ranked, &c)))
        .collect();
    candidates.sort_by(|a, b| a.0.total_cmp(&b.0));
    let best = candidates
        .into_iter()
        .take(CANDIDATES)
        .filter_map(|(_, c)| settle(&ranked, &c))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    let (objective, circle) = settle(points, &best.1)?;
    let kept = kept_of(points.len());
    let share = kept as f64 / points.len() as f64;
    let factor = if share < 1.0 {
        trimmed_scale(share)
    } else {
        1.0
    };
    Some((circle, (objective / kept as f64).sqrt() * factor))
}

fn kept_of(n: usize) -> usize {
    ((KEPT * n as f64).ceil() as usize).max(4.min(n))
}

/// Refits (Taubin) to the points nearest to the circle; returns the sum of their squared distances from the new one.
fn concentrate(points: &[[f64; 2]], circle: &Circle) -> Option<(f64, Circle)> {
    let kept = kept_of(points.len());
    let mut by_size: Vec<(f64, usize)> = points
        .iter()
        .enumerate()
        .map(|(k, p)| (distance(circle, p).abs(), k))
        .collect();
    by_size.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let chosen: Vec<[f64; 2]> = by_size[..kept].iter().map(|&(_, k)| points[k]).collect();
    let fitted = taubin(&chosen, &vec![1.0; kept])?;
    let objective = chosen.iter().map(|p| distance(&fitted, p).powi(2)).sum();
    Some((objective, fitted))
}

fn settle(points: &[[f64; 2]], circle: &Circle) -> Option<(f64, Circle)> {
    let mut best = concentrate(points, circle)?;
    for _ in 0..100 {
        let next = concentrate(points, &best.1)?;
        if next.0 >= best.0 {
            break;
        }
        best = next;
    }
    Some(best)
}
