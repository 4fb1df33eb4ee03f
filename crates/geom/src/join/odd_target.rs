//! The place that does not go with the others.
//!
//! The test is that of a shifted mean: with m of n places left out the sum of squares falls by an F-distributed amount
//! (3 m and 3 (n - m) - 6 degrees of freedom) if all are sound; the smallest chance over all subsets is multiplied by
//! their number (Bonferroni).

use super::matching_places::{Fitted, TwicePlace};
use crate::{FitError, f_sf};

/// Chance of calling a sound set of places unsound.
const LEVEL: f64 = 0.05;
/// Fewest places of which one can be told from the rest.
const FEWEST: usize = 5;
/// Subsets tried at most for one number of odd places.
const SUBSETS: usize = 20_000;

/// Which places go together.
pub(super) struct OddTargets {
    /// Per place.
    pub kept: Vec<bool>,
    /// Per place: chance that a sound one lies so far from those kept.
    pub chance: Vec<Option<f64>>,
}

/// Looks for the fewest places without which the rest go together; at most a quarter of them, four at least stay.
pub(super) fn odd_targets(places: &[TwicePlace]) -> Result<OddTargets, FitError> {
    let n = places.len();
    let all = Fitted::to(places)?;
    let mut kept = vec![true; n];
    if n < FEWEST {
        return Ok(OddTargets {
            kept,
            chance: vec![None; n],
        });
    }
    // Rounding of coordinates is no scatter.
    let floor = places
        .iter()
        .map(|p| (1e-12 * p.to.coords.norm().max(all.size) / p.sigma).powi(2))
        .sum::<f64>();
    let most = (n / 4).max(1);
    for m in 1..=most {
        let Some(out) = best_without(places, m) else {
            break;
        };
        let count = binomial(n, m);
        if chance(&all, &without(places, &out), m, floor)? * count < LEVEL / most as f64 {
            for k in out {
                kept[k] = false;
            }
            put_back(places, &mut kept, floor)?;
            break;
        }
    }
    let rest = chosen(places, &kept);
    let inside = Fitted::to(&rest)?;
    let chance = (0..n)
        .map(|k| {
            if kept[k] {
                let mut others = kept.clone();
                others[k] = false;
                Ok(Some(chance(&inside, &chosen(places, &others), 1, floor)?))
            } else {
                let mut with = kept.clone();
                with[k] = true;
                Ok(Some(chance(
                    &Fitted::to(&chosen(places, &with))?,
                    &rest,
                    1,
                    floor,
                )?))
            }
        })
        .collect::<Result<_, FitError>>()?;
    Ok(OddTargets { kept, chance })
}

/// Those set aside that alone would not have been go back.
fn put_back(places: &[TwicePlace], kept: &mut [bool], floor: f64) -> Result<(), FitError> {
    let n = places.len();
    for k in 0..n {
        if kept[k] {
            continue;
        }
        let rest = chosen(places, kept);
        let mut with = kept.to_vec();
        with[k] = true;
        let alone = chance(&Fitted::to(&chosen(places, &with))?, &rest, 1, floor)?;
        if alone * n as f64 >= LEVEL {
            kept[k] = true;
        }
    }
    Ok(())
}

/// Chance that sound places lie as far off as the `m` by which `all` is more than `rest`.
fn chance(all: &Fitted, rest: &[TwicePlace], m: usize, floor: f64) -> Result<f64, FitError> {
    let inner = Fitted::to(rest)?;
    let (of, nu) = (3.0 * m as f64, inner.nu());
    let fell = (all.squares - inner.squares).max(0.0);
    let left = inner.squares.max(floor);
    Ok(f_sf(fell / of / (left / nu), of, nu))
}

fn chosen(places: &[TwicePlace], kept: &[bool]) -> Vec<TwicePlace> {
    let both = places.iter().zip(kept);
    both.filter_map(|(p, k)| k.then_some(*p)).collect()
}

fn without(places: &[TwicePlace], out: &[usize]) -> Vec<TwicePlace> {
    let all = places.iter().enumerate();
    all.filter(|(k, _)| !out.contains(k))
        .map(|(_, p)| *p)
        .collect()
}

fn binomial(n: usize, m: usize) -> f64 {
    (0..m).map(|k| (n - k) as f64 / (k + 1) as f64).product()
}

/// The `m` places without which the rest leave least; `None` where that leaves too few or there are too many subsets to try.
fn best_without(places: &[TwicePlace], m: usize) -> Option<Vec<usize>> {
    let n = places.len();
    if n - m < FEWEST - 1 || binomial(n, m) > SUBSETS as f64 {
        return None;
    }
    let mut out: Vec<usize> = (0..m).collect();
    let mut best: Option<(f64, Vec<usize>)> = None;
    loop {
        // A subset that leaves the pose free is no candidate.
        if let Ok(fitted) = Fitted::to(&without(places, &out))
            && best.as_ref().is_none_or(|b| fitted.squares < b.0)
        {
            best = Some((fitted.squares, out.clone()));
        }
        let Some(i) = (0..m).rev().find(|&i| out[i] < n - m + i) else {
            break;
        };
        out[i] += 1;
        for j in i + 1..m {
            out[j] = out[j - 1] + 1;
        }
    }
    best.map(|b| b.1)
}
