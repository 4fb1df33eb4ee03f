//! Other ways of laying the centre plane.

use super::mid_plane::{fit, fit_midpoints_only};
use super::{Landmark, MidPlane};
use crate::Vector;

/// How a centre plane was laid.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum RivalKind {
    /// By all places.
    All,
    /// By the places that go together.
    GoTogether,
    /// By the front half of the places.
    FrontOnly,
    /// By the rear half.
    RearOnly,
    /// By the midpoints alone, not by the direction of the chords.
    MidpointsOnly,
    /// By the places on the middle alone.
    CentrePointsOnly,
    /// Without one place.
    Without(usize),
}

/// A centre plane and how it was laid.
#[derive(Clone, Debug, PartialEq)]
pub struct Rival {
    /// How.
    pub kind: RivalKind,
    /// The plane.
    pub plane: MidPlane,
}

/// Every way of laying a centre plane by `landmarks` that determines one. `kept` are the places that go together
/// ([`super::odd_ones`]); front is where `along` is small. Ways that cannot be gone (a front half without two places,
/// midpoints on a line) are left out, as are planes that are poorly determined by midpoints or centre points alone.
pub fn rivals(landmarks: &[Landmark], kept: &[usize], along: &Vector) -> Vec<Rival> {
    let Ok(all) = fit(landmarks, Some(along), true) else {
        return Vec::new();
    };
    let of =
        |indices: &[usize]| -> Vec<Landmark> { indices.iter().map(|&k| landmarks[k]).collect() };
    let mut out = Vec::new();
    let mut offer = |kind, plane: Option<MidPlane>| {
        if let Some(plane) = plane {
            out.push(Rival { kind, plane });
        }
    };
    let fitted = |set: &[Landmark]| fit(set, Some(along), true).ok();
    let mut order: Vec<usize> = (0..landmarks.len()).collect();
    let at = |k: usize| all.local(&landmarks[k].midpoint()).x;
    order.sort_by(|&i, &j| at(i).total_cmp(&at(j)).then(i.cmp(&j)));
    let half = landmarks.len().div_ceil(2);
    if kept.len() < landmarks.len() {
        offer(RivalKind::GoTogether, fitted(&of(kept)));
    }
    if landmarks.len() >= 4 {
        offer(RivalKind::FrontOnly, fitted(&of(&order[..half])));
        offer(
            RivalKind::RearOnly,
            fitted(&of(&order[landmarks.len() - half..])),
        );
    }
    let well = |p: &MidPlane| !p.poorly_determined();
    if landmarks.iter().any(|l| !l.is_centre()) {
        offer(
            RivalKind::MidpointsOnly,
            fit_midpoints_only(landmarks, Some(along)).ok().filter(well),
        );
        let middle: Vec<Landmark> = landmarks
            .iter()
            .filter(|l| l.is_centre())
            .copied()
            .collect();
        if middle.len() >= 3 {
            offer(
                RivalKind::CentrePointsOnly,
                fit_midpoints_only(&middle, Some(along))
                    .ok()
                    .filter(well)
                    .map(|p| p.facing(&all)),
            );
        }
    }
    if landmarks.len() > 3 {
        for k in 0..landmarks.len() {
            let others: Vec<usize> = (0..landmarks.len()).filter(|&j| j != k).collect();
            offer(RivalKind::Without(k), fitted(&of(&others)));
        }
    }
    out.insert(
        0,
        Rival {
            kind: RivalKind::All,
            plane: all,
        },
    );
    out
}
