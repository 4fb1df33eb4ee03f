//! A surface through cell places of which up to 40 % may be wrong.

use rayon::prelude::*;

use super::SurfaceOrder;
use super::normal_equations::{NormalEquations, Row, height, row};
use crate::robust::{EvenSequence, HARD_CUT, bisquare_weight, trimmed_scale};
use crate::{FitError, GoOn};

/// One place of the surface per cell, in scaled coordinates.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place {
    pub row: Row,
    pub h: f64,
}

impl Place {
    pub(super) fn new(u: f64, v: f64, h: f64) -> Self {
        Self { row: row(u, v), h }
    }

    fn residual(&self, b: &Row) -> f64 {
        self.h - height(b, &self.row)
    }
}

/// Number of smallest subsets tried.
const SUBSETS: usize = 500;
/// Subsets between two looks at the wish to stop: well below a millisecond.
const TRIED: usize = 20;
/// Share of the places that must be right.
const KEPT: f64 = 0.6;
/// Candidates carried to convergence.
const CANDIDATES: usize = 10;
/// The subsets are drawn from, and ranked on, at most this many places spread over all of them.
const RANKED_ON: usize = 400;

/// Least trimmed squares (Rousseeuw & Van Driessen 2006) from a fixed sequence of smallest subsets, then bisquare at
/// the trimmed scale to convergence, then all places within 3.5 scales with equal weight. Returns the coefficients.
/// The scale is never below `floor`.
pub(super) fn robust_start(
    places: &[Place],
    order: SurfaceOrder,
    floor: f64,
    go_on: GoOn<'_>,
) -> Result<Row, FitError> {
    let p = order.unknowns();
    FitError::check_count(p, places.len())?;
    let ranked = spread(places, RANKED_ON);
    let sequence = EvenSequence::new(p);
    let tried: Vec<Vec<(f64, Row)>> = (0..SUBSETS.div_ceil(TRIED))
        .into_par_iter()
        .map_init(Room::default, |room, some| {
            super::check(go_on)?;
            let subsets = some * TRIED..((some + 1) * TRIED).min(SUBSETS);
            let concentrated = subsets.filter_map(|k| {
                let b = through_subset(&ranked, order, &sequence, k)?;
                (0..2).try_fold((0.0, b), |(_, b), _| concentrate(&ranked, order, &b, room))
            });
            Ok(concentrated.collect())
        })
        .collect::<Result<_, FitError>>()?;
    let mut candidates = tried.concat();
    let mut room = Room::default();
    // A stable sort: equal objectives keep the order of the sequence.
    candidates.sort_by(|a, b| a.0.total_cmp(&b.0));
    let best = candidates
        .into_iter()
        .take(CANDIDATES)
        .filter_map(|c| settle(&ranked, order, c, &mut room))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .ok_or(FitError::Degenerate)?;
    super::check(go_on)?;
    let (objective, b) = settle(places, order, best, &mut room).ok_or(FitError::Degenerate)?;
    super::check(go_on)?;
    let kept = kept_of(places.len(), p);
    let scale = (objective / kept as f64).sqrt() * trimmed_scale(kept as f64 / places.len() as f64);
    refit(places, order, b, scale.max(floor))
}

/// At most `most` of the places, spread evenly over their order.
fn spread(places: &[Place], most: usize) -> Vec<Place> {
    let n = places.len();
    if n <= most {
        return places.to_vec();
    }
    let sequence = EvenSequence::new(1);
    (0..most).map(|k| places[sequence.pick(k, 0, n)]).collect()
}

/// How many places are kept by the trimming: 60 %, and one more than the unknowns at least where there are so many.
fn kept_of(n: usize, p: usize) -> usize {
    ((KEPT * n as f64).ceil() as usize).max((p + 1).min(n))
}

/// The surface through the `k`-th subset of as many places as unknowns.
fn through_subset(
    places: &[Place],
    order: SurfaceOrder,
    sequence: &EvenSequence,
    k: usize,
) -> Option<Row> {
    let mut equations = NormalEquations::default();
    for j in 0..order.unknowns() as u16 {
        let place = &places[sequence.pick(k, j, places.len())];
        equations.add(order, &place.row, place.h, 1.0);
    }
    equations.solve(order)
}

/// One concentration step: refits to the places with the smallest residuals from `b`. Returns their sum of squares
/// about `b` before the refit would change it, evaluated on the refitted surface.
fn concentrate(
    places: &[Place],
    order: SurfaceOrder,
    b: &Row,
    room: &mut Room,
) -> Option<(f64, Row)> {
    let kept = kept_of(places.len(), order.unknowns());
    let Room { sizes, sorted } = room;
    sizes.clear();
    // Of numbers that are not below zero, the bits have the same order.
    sizes.extend(places.iter().map(|p| p.residual(b).abs().to_bits()));
    let limit = if kept < sizes.len() {
        sorted.clone_from(sizes);
        *sorted.select_nth_unstable(kept - 1).1
    } else {
        u64::MAX
    };
    // Of those at the very limit the first.
    let below = sizes.iter().filter(|s| **s < limit).count();
    let mut at_limit = kept - below;
    let mut equations = NormalEquations::default();
    for (place, size) in places.iter().zip(sizes.iter_mut()) {
        let chosen = *size < limit || (*size == limit && at_limit > 0);
        if chosen {
            at_limit -= usize::from(*size == limit);
            equations.add(order, &place.row, place.h, 1.0);
        } else {
            *size = LEFT_OUT;
        }
    }
    let fitted = equations.solve(order)?;
    let objective = places
        .iter()
        .zip(sizes.iter())
        .filter(|(_, size)| **size != LEFT_OUT)
        .map(|(place, _)| place.residual(&fitted).powi(2))
        .sum();
    Some((objective, fitted))
}

/// Room for the residuals of a step.
#[derive(Default)]
struct Room {
    sizes: Vec<u64>,
    sorted: Vec<u64>,
}

/// No residual has these bits.
const LEFT_OUT: u64 = u64::MAX;

/// Concentration steps until the objective no longer falls.
fn settle(
    places: &[Place],
    order: SurfaceOrder,
    start: (f64, Row),
    room: &mut Room,
) -> Option<(f64, Row)> {
    let mut best = concentrate(places, order, &start.1, room)?;
    for _ in 0..100 {
        let next = concentrate(places, order, &best.1, room)?;
        if next.0 >= best.0 {
            return Some(best);
        }
        best = next;
    }
    Some(best)
}

/// Bisquare at a fixed scale to convergence, then every place within 3.5 scales.
fn refit(places: &[Place], order: SurfaceOrder, start: Row, scale: f64) -> Result<Row, FitError> {
    let weighted = |weight: &dyn Fn(f64) -> f64, b: &Row| {
        let mut equations = NormalEquations::default();
        for place in places {
            equations.add(order, &place.row, place.h, weight(place.residual(b)));
        }
        equations.solve(order).ok_or(FitError::Degenerate)
    };
    let mut b = start;
    for _ in 0..200 {
        let next = weighted(&|r| bisquare_weight(r, scale), &b)?;
        let change = next
            .iter()
            .zip(&b)
            .fold(0.0_f64, |m, (x, y)| m.max((x - y).abs()));
        b = next;
        if change <= 1e-12 * scale {
            break;
        }
    }
    weighted(&|r| f64::from(r.abs() <= HARD_CUT * scale), &b)
}
