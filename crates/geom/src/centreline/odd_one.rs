//! The place that does not go with the others.

use nalgebra::{Matrix3, Vector3};

use super::mid_plane::fit;
use super::rows::{Row, Sums, scatter};
use super::{Landmark, MidPlane, NoMidPlane};
use crate::robust::EvenSequence;
use crate::{FitError, Vector, chi_square_sf, t_sf};

/// Chance of calling a sound set of places unsound.
const LEVEL: f64 = 0.05;
/// Up to so many places every subset is tried.
const EXHAUSTIVE: usize = 16;
/// Subsets tried beyond that.
const TRIPLES: usize = 500;
/// Fewest places of which one can be told from the rest.
const FEWEST: usize = 4;
/// Degrees of freedom with which the scatter of one component leans on that of all together: with few places the ratio
/// of the components is itself badly known.
pub(super) const LEAN: f64 = 6.0;
/// Below this share of the size of the body a misfit is rounding.
pub(super) const ROUNDING: f64 = 1e-12;

/// A place that was tested against the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Suspect {
    /// Index of the place.
    pub index: usize,
    /// Its misfit to the plane of those kept: right minus mirrored left, along, across, up, mm.
    pub misfit: Vector,
    /// Chance that a sound place lies so far off.
    pub p: f64,
}

/// The centre plane of the places that go together, and those that do not.
#[derive(Clone, Debug, PartialEq)]
pub struct OddOnes {
    /// The plane of the places kept; its misfits and doubt are those of all `kept`, in that order.
    pub plane: MidPlane,
    /// Indices of the places kept, ascending.
    pub kept: Vec<usize>,
    /// Those set aside, the worst first.
    pub aside: Vec<Suspect>,
    /// Of those kept the one that comes closest to being set aside, if it was tested.
    pub closest: Option<Suspect>,
}

/// Finds the largest set of places that go together: exact least trimmed squares over all subsets of ceil(3N/4) places
/// (N > 16: 500 fixed triples with concentration steps), then places are added back, the best first, while the chance p
/// that a sound place lies so far off is above 0.05/N. Each component of a misfit is weighed by its own scatter: a test
/// with one scatter for all calls a sound body of unequal scatter unsound far too often.
///
/// With fewer than four places nothing can be told: all are kept. Taking one place at a time would miss a wing that
/// carries two of them.
///
/// # Errors
/// As [`super::fit_mid_plane`].
pub fn odd_ones(landmarks: &[Landmark], along: Option<&Vector>) -> Result<OddOnes, NoMidPlane> {
    let n = landmarks.len();
    let all = fit(landmarks, along, true)?;
    if n < FEWEST {
        return Ok(OddOnes {
            plane: all,
            kept: (0..n).collect(),
            aside: Vec::new(),
            closest: None,
        });
    }
    let size = landmarks
        .iter()
        .map(|l| (l.left - all.centre).norm().max(l.chord().norm()))
        .fold(0.0, f64::max);
    let floor = (size * ROUNDING).powi(2)
        * landmarks.iter().map(|l| l.weight).fold(0.0, f64::max)
        * n as f64;
    // About the plane of all, then about that of the best set: the rows are linear in small turns.
    let mut rows = all.rows(landmarks);
    let mut kept = best_set(&rows, &Vector3::repeat(1.0)).ok_or(FitError::Degenerate)?;
    for _ in 0..2 {
        let about = fit(&chosen(landmarks, &kept), along, false)?;
        rows = about.rows(landmarks);
        let scale = scales(&chosen(&rows, &kept), floor);
        kept = best_set(&rows, &scale).ok_or(FitError::Degenerate)?;
    }
    let mut closest = None;
    while kept.len() < n {
        let about = fit(&chosen(landmarks, &kept), along, false)?;
        rows = about.rows(landmarks);
        let best = tested(&rows, &kept, floor)
            .into_iter()
            .max_by(|a, b| a.p.total_cmp(&b.p).then(b.index.cmp(&a.index)));
        match best {
            Some(s) if s.p > LEVEL / n as f64 => {
                kept.push(s.index);
                kept.sort_unstable();
                closest = Some(s);
            }
            _ => break,
        }
    }
    let plane = fit(&chosen(landmarks, &kept), along, true)?;
    let mut aside = tested(&plane.rows(landmarks), &kept, floor);
    aside.sort_by(|a, b| a.p.total_cmp(&b.p).then(a.index.cmp(&b.index)));
    for s in &mut aside {
        s.misfit = plane.misfit(&landmarks[s.index]);
    }
    Ok(OddOnes {
        plane,
        kept,
        aside,
        closest,
    })
}

fn chosen<T: Copy>(of: &[T], indices: &[usize]) -> Vec<T> {
    indices.iter().map(|&k| of[k]).collect()
}

/// Scatter per component of a set, each leaning on that of all.
fn scales(rows: &[Row], floor: f64) -> Vector3<f64> {
    let mut scale = Vector3::repeat(1.0);
    for _ in 0..2 {
        let Some((squares, free)) = scatter(rows, &scale) else {
            return Vector3::repeat(1.0);
        };
        let pooled = squares.sum() / free.sum().max(1e-9);
        if squares.sum() <= floor {
            return Vector3::repeat(1.0);
        }
        scale = Vector3::from_fn(|k, _| ((squares[k] + LEAN * pooled) / (free[k] + LEAN)).sqrt());
    }
    scale
}

/// Every place outside the set against it: per component the misfit to the plane of the set over its scatter there
/// (Student's t with the freedom of that component), joined by Fisher's method, which needs no ratio of the scatters.
fn tested(rows: &[Row], kept: &[usize], floor: f64) -> Vec<Suspect> {
    let inside = chosen(rows, kept);
    let scale = scales(&inside, floor);
    let set = inside
        .iter()
        .fold(Sums::NONE, |s, r| s.with(&Sums::of(r, &scale)));
    let (Some(inverse), Some((squares, free))) = (set.inverse(), scatter(&inside, &scale)) else {
        return Vec::new();
    };
    let theta = -(inverse * set.pull);
    let variance = Vector3::from_fn(|k, _| {
        if free[k] > 1e-6 {
            squares[k] / free[k]
        } else {
            0.0
        }
    });
    // Covariance of theta, the scatter of each component its own.
    let middle: Matrix3<f64> = inside
        .iter()
        .flat_map(|r| (0..3).filter(|&k| r.speaks(k)).map(move |k| (r, k)))
        .map(|(r, k)| {
            let h = r.h.row(k).transpose();
            h * h.transpose() * (r.weight * variance[k] / scale[k].powi(4))
        })
        .sum();
    let spread = inverse * middle * inverse;
    (0..rows.len())
        .filter(|k| !kept.contains(k))
        .map(|index| {
            let row = &rows[index];
            let off = row.v + row.h * theta;
            let (mut logs, mut terms) = (0.0, 0.0);
            for k in (0..3).filter(|&k| row.speaks(k) && free[k] > 0.5) {
                let h = row.h.row(k).transpose();
                let var = variance[k] / row.weight + h.dot(&(spread * h));
                let t = off[k].abs() / var.max(floor / row.weight).sqrt();
                logs -= 2.0 * (2.0 * t_sf(t, free[k])).max(1e-300).ln();
                terms += 2.0;
            }
            Suspect {
                index,
                misfit: row.v,
                p: if terms > 0.0 {
                    chi_square_sf(logs, terms)
                } else {
                    1.0
                },
            }
        })
        .collect()
}

/// The set of ceil(3N/4) places that leaves the least.
fn best_set(rows: &[Row], scale: &Vector3<f64>) -> Option<Vec<usize>> {
    let n = rows.len();
    let h = (3 * n).div_ceil(4);
    let sums: Vec<Sums> = rows.iter().map(|r| Sums::of(r, scale)).collect();
    let mut best: Option<(f64, Vec<usize>)> = None;
    let mut offer = |set: &[usize]| {
        let total = set.iter().fold(Sums::NONE, |s, &k| s.with(&sums[k]));
        if let Some((_, left)) = total.solve()
            && best.as_ref().is_none_or(|b| left < b.0)
        {
            best = Some((left, set.to_vec()));
        }
    };
    if n <= EXHAUSTIVE {
        let mut set: Vec<usize> = (0..h).collect();
        loop {
            offer(&set);
            // The next subset in order.
            let Some(i) = (0..h).rev().find(|&i| set[i] < n - h + i) else {
                break;
            };
            set[i] += 1;
            for j in i + 1..h {
                set[j] = set[j - 1] + 1;
            }
        }
    } else {
        let sequence = EvenSequence::new(3);
        for k in 0..TRIPLES {
            let mut set = [0, 1, 2].map(|j| sequence.pick(k, j, n)).to_vec();
            set.sort_unstable();
            set.dedup();
            for _ in 0..10 {
                let Some(next) = concentrated(rows, &sums, &set, scale, h) else {
                    break;
                };
                if next == set {
                    break;
                }
                set = next;
            }
            if set.len() == h {
                offer(&set);
            }
        }
    }
    best.map(|b| b.1)
}

/// The `h` places that lie closest to the plane of `set`.
fn concentrated(
    rows: &[Row],
    sums: &[Sums],
    set: &[usize],
    scale: &Vector3<f64>,
    h: usize,
) -> Option<Vec<usize>> {
    let total = set.iter().fold(Sums::NONE, |s, &k| s.with(&sums[k]));
    let (theta, _) = total.solve()?;
    let mut order: Vec<(f64, usize)> = rows
        .iter()
        .enumerate()
        .map(|(k, r)| {
            let left = (r.v + r.h * theta).component_div(scale);
            (left.norm_squared() * r.weight, k)
        })
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut next: Vec<usize> = order[..h].iter().map(|o| o.1).collect();
    next.sort_unstable();
    Some(next)
}
