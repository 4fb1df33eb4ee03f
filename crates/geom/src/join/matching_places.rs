//! The pose from places named in both scans.

use nalgebra::Matrix6;

use super::odd_target;
use super::pose_doubt::{DoubtPart, PoseDoubt, motion_row};
use crate::{FitError, Point, Rigid, Uncertain, Vector, fit_rigid};

/// A place picked in both scans.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TwicePlace {
    /// In the scan that is to be joined, mm.
    pub from: Point,
    /// In the scan it is joined to, mm.
    pub to: Point,
    /// Standard uncertainty of a coordinate of the difference of the two picks, mm, > 0.
    pub sigma: f64,
}

/// What became of a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JoinedPlace {
    /// Joined minus target, axes of the target, mm.
    pub off: Vector,
    /// What `off` scatters by along each axis when picks are as uncertain as the pose takes them to be; mm.
    pub off_u: [Uncertain; 3],
    /// Whether it bears on the pose; else it is an odd one and was set aside.
    pub kept: bool,
    /// Chance that a sound place lies so far from the others; `None` with fewer than five places.
    pub chance: Option<f64>,
}

/// A pose from matching places.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceJoin {
    /// Target axes from those of the scan.
    pub to_from: Rigid,
    /// Its doubt, about the weighted middle of the places kept.
    pub doubt: PoseDoubt,
    /// The places in the order given.
    pub places: Vec<JoinedPlace>,
    /// Scatter of a coordinate of the places kept, in units of their sigmas, and its degrees of freedom 3 n - 6.
    pub scatter: Uncertain,
}

/// Degrees of freedom from which the scatter of the places stands alone.
const ENOUGH: f64 = 6.0;

/// The rigid map that takes places of one scan best onto the same ones of another: minimises sum |off|^2 / sigma^2 over
/// proper rotations (Umeyama 1991, see [`crate::fit_rigid`]).
///
/// The doubt comes from the scatter of the places themselves, 3 n - 6 degrees of freedom, with the sigmas as relative weights.
/// With three places (3 degrees of freedom) the larger of that and of what the sigmas say is given. Errors that are alike in
/// all places, such as a wrong scale along the body, are not in it: three places bend to fit almost any error out of
/// their plane (5 mm there leaves 0.009 mm), so five are to be asked for. From five places on, those that do not go with the
/// others are set aside (see `odd_target`).
///
/// # Errors
/// As [`crate::fit_rigid`]; also a sigma that is not above 0.
pub fn join_places(places: &[TwicePlace]) -> Result<PlaceJoin, FitError> {
    if !places.iter().all(|p| p.sigma > 0.0 && p.sigma.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let odd = odd_target::odd_targets(places)?;
    let kept: Vec<TwicePlace> = odd
        .kept
        .iter()
        .zip(places)
        .filter_map(|(kept, p)| kept.then_some(*p))
        .collect();
    let fitted = Fitted::to(&kept)?;
    let nu = fitted.nu();
    let scatter = if nu > 0.0 {
        Uncertain::new((fitted.squares / nu).sqrt(), nu)
    } else {
        Uncertain::new(1.0, f64::INFINITY)
    };
    let stated = Uncertain::new(1.0, f64::INFINITY);
    let used = if nu >= ENOUGH {
        scatter
    } else {
        scatter.at_least(stated)
    };
    let covariance = fitted.unscaled * (used.s * used.s);
    // The pose follows a place that bears on it; one that was set aside doubts by the pose as well.
    let off_u = |p: &TwicePlace, kept: bool| {
        let at = fitted.to_from * p.from;
        [Vector::x(), Vector::y(), Vector::z()].map(|d| {
            let row = motion_row(&at, &d, &fitted.about);
            let pose = row.dot(&(covariance * row));
            let pick = (p.sigma * used.s).powi(2);
            let variance = if kept { pick - pose } else { pick + pose };
            Uncertain::new(variance.max(0.0).sqrt(), used.nu)
        })
    };
    Ok(PlaceJoin {
        to_from: fitted.to_from,
        doubt: PoseDoubt {
            about: fitted.about,
            parts: vec![DoubtPart::of_covariance(&covariance, fitted.size, used.nu)],
            free: Vec::new(),
        },
        places: places
            .iter()
            .zip(odd.kept.iter().zip(odd.chance))
            .map(|(p, (kept, chance))| JoinedPlace {
                off: fitted.to_from * p.from - p.to,
                off_u: off_u(p, *kept),
                kept: *kept,
                chance,
            })
            .collect(),
        scatter,
    })
}

/// A weighted fit with its unscaled covariance.
pub(super) struct Fitted {
    pub to_from: Rigid,
    /// Weighted middle of the places, axes of the target.
    pub about: Point,
    /// Root mean square distance of the places from it, mm.
    pub size: f64,
    /// Covariance of the six motions about it where a coordinate of a place has its sigma.
    pub unscaled: Matrix6<f64>,
    /// Sum of |off|^2 / sigma^2.
    pub squares: f64,
    count: usize,
}

impl Fitted {
    pub fn to(places: &[TwicePlace]) -> Result<Self, FitError> {
        let from: Vec<Point> = places.iter().map(|p| p.from).collect();
        let to: Vec<Point> = places.iter().map(|p| p.to).collect();
        let weights: Vec<f64> = places.iter().map(|p| p.sigma.powi(-2)).collect();
        let fit = fit_rigid(&from, &to, Some(&weights))?;
        let to_from = fit.rigid().ok_or(FitError::Degenerate)?;
        let total: f64 = weights.iter().sum();
        let weighted = places.iter().zip(&weights);
        let about = Point::from(
            weighted
                .clone()
                .map(|(p, w)| (to_from * p.from).coords * *w)
                .sum::<Vector>()
                / total,
        );
        let (mut information, mut squares, mut spread) = (Matrix6::zeros(), 0.0, 0.0);
        for (p, w) in weighted {
            let at = to_from * p.from;
            squares += w * (at - p.to).norm_squared();
            spread += w * (at - about).norm_squared();
            for d in [Vector::x(), Vector::y(), Vector::z()] {
                let row = motion_row(&at, &d, &about);
                information += row * row.transpose() * *w;
            }
        }
        let size = (spread / total).sqrt();
        let shorter = Matrix6::from_diagonal(&nalgebra::Vector6::new(
            1.0,
            1.0,
            1.0,
            1.0 / size,
            1.0 / size,
            1.0 / size,
        ));
        let scaled = shorter * information * shorter;
        let inverse = scaled.try_inverse().ok_or(FitError::Degenerate)?;
        Ok(Self {
            to_from,
            about,
            size,
            unscaled: shorter * inverse * shorter,
            squares,
            count: places.len(),
        })
    }

    pub fn nu(&self) -> f64 {
        3.0 * self.count as f64 - 6.0
    }
}
