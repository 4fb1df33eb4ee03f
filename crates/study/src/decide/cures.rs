//! Slots and shims that would let a shape fit which does not fit with round holes on bare seats.

use geom::Vector;
use record::NeedKind;

use super::pairing::Pairing;
use crate::fit::{
    Fit, FitProblem, Limits, Which, least_oversize, least_shim, least_slot, place_from,
};

/// A cure and the problem with it built in.
pub(super) struct Cure {
    pub problem: FitProblem,
    pub kind: NeedKind,
    /// Slot length over width, or shim thickness, mm.
    pub amount: f64,
    /// Direction by fastener in the flat of the part, for slots.
    pub along: Vec<[f64; 2]>,
}

/// Longest slot that is still a slot, mm.
const LONGEST: f64 = 30.0;

/// The simplest cure: slots, else shims; `None`: neither helps. Slots and shims are made large enough to leave half of
/// what they can gain in hand, and slots to take up the doubt of the holes. `free` is the best placement without fasteners.
pub(super) fn cure(p: &Pairing<'_>, single: &FitProblem, midway: bool, free: &Fit) -> Option<Cure> {
    if single.fasteners.is_empty() {
        return None;
    }
    slots(p, single, midway, free).or_else(|| shims(single, midway, free))
}

fn joint(single: &FitProblem, midway: bool) -> FitProblem {
    if midway {
        single.midway()
    } else {
        single.clone()
    }
}

fn tightened(p: &FitProblem, share: f64) -> FitProblem {
    let l = p.limits;
    FitProblem {
        limits: Limits {
            tight: l.tight * share,
            wide: l.wide * share,
            proud: l.proud * share,
            shy: l.shy * share,
        },
        ..p.clone()
    }
}

fn slots(p: &Pairing<'_>, single: &FitProblem, midway: bool, free: &Fit) -> Option<Cure> {
    let whole = joint(single, midway);
    let mut best: Option<(f64, Vec<Option<Vector>>, f64)> = None;
    for along in directions(&whole, free) {
        let Ok(long) = place_from(&whole.slotted(&along, 2.0 * LONGEST), &free.pose, 1e-6) else {
            continue;
        };
        if long.share > 1.0 {
            continue;
        }
        let aim = 0.5 * (1.0 + long.share);
        let Some(least) = least_slot(&tightened(&whole, aim), free, &along) else {
            continue;
        };
        // Two sides together have twice the travel of one slot.
        let least = if midway { 0.5 * least } else { least };
        if best.as_ref().is_none_or(|b| least < 0.95 * b.0) {
            best = Some((least, along, long.share));
        }
    }
    let (least, along, _) = best?;
    let doubt = (0..p.holes.len())
        .map(|j| p.hole_u(j, 0).hypot(p.hole_u(j, 1)))
        .fold(0.0, f64::max);
    // Upwards to a tenth; 1.645 sd each way holds the hole in 95 of 100 cases.
    let amount = ((least + 2.0 * 1.645 * doubt) * 10.0 - 1e-6).ceil() / 10.0;
    if amount > LONGEST {
        return None;
    }
    Some(Cure {
        problem: single.slotted(&along, amount),
        kind: NeedKind::SlotLength,
        amount,
        along: along
            .iter()
            .map(|d| d.map_or([1.0, 0.0], |d| [d.x, d.y]))
            .collect(),
    })
}

/// Directions worth trying: all along part X, all along Y, all along the mean way the holes have to give, each along
/// its own.
fn directions(whole: &FitProblem, free: &Fit) -> Vec<Vec<Option<Vector>>> {
    let n = whole.fasteners.len();
    let mut out = vec![vec![Some(Vector::x()); n], vec![Some(Vector::y()); n]];
    if let Some((_, holes)) = least_oversize(whole, free, Which::All) {
        let ways: Vec<Vector> = whole
            .fasteners
            .iter()
            .zip(&holes)
            .map(|(f, d)| {
                let [x, y] = f.across();
                let v = x.into_inner() * d[0] + y.into_inner() * d[1];
                Vector::new(v.x, v.y, 0.0)
            })
            .collect();
        let mean: Vector = ways.iter().sum();
        if mean.norm() > 1e-6 {
            out.push(vec![Some(mean.normalize()); n]);
        }
        if ways.iter().all(|w| w.norm() > 1e-6) {
            out.push(ways.iter().map(|w| Some(w.normalize())).collect());
        }
    }
    out
}

fn shims(single: &FitProblem, midway: bool, free: &Fit) -> Option<Cure> {
    let whole = joint(single, midway);
    [true, false].into_iter().find_map(|up| {
        let least = least_shim(&tightened(&whole, 0.98), free, Which::All, up)?;
        let amount = (least * 10.0 - 1e-6).ceil() / 10.0;
        let problem = single.shimmed(amount, up);
        let fits =
            place_from(&joint(&problem, midway), &free.pose, 1e-6).is_ok_and(|f| f.share <= 1.0);
        fits.then_some(Cure {
            problem,
            kind: NeedKind::Shim,
            amount,
            along: Vec::new(),
        })
    })
}
