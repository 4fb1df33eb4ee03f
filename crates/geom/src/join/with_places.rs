//! Places and surfaces together: each says as much of the pose as it knows.

use nalgebra::{DVector, Matrix6, UnitQuaternion, Vector6};

use super::pose_doubt::{DoubtPart, PoseDoubt};
use super::refine::Refined;
use crate::{Rigid, Vector, f_sf};

/// A pose from places and surfaces.
#[derive(Clone, Debug, PartialEq)]
pub struct BothJoin {
    /// Target axes from those of the scan.
    pub to_from: Rigid,
    /// Its doubt.
    pub doubt: PoseDoubt,
    /// Chance that sound places and surfaces lie so far from each other.
    pub chance: f64,
}

impl Refined {
    /// This pose and that of places, `placed` with its doubt, weighed by what is known of each: in ways that the surfaces do not
    /// hold the places speak alone. `None` where the places leave the pose free.
    pub fn with_places(&self, placed: &Rigid, doubt: &PoseDoubt) -> Option<BothJoin> {
        let about = self.doubt.about;
        let places = doubt.taken_about(&about);
        // From this pose to that of the places, as a motion about the middle of the surfaces.
        let between = placed * self.to_from.inverse();
        let turn = between.rotation.scaled_axis();
        let shift = between * about - about;
        let off = Vector6::new(shift.x, shift.y, shift.z, turn.x, turn.y, turn.z);

        // In shares of the ways, in which the surfaces are sound; lever arms and units go with them.
        let d = 6 - self.first;
        let share = |m: &Vector6<f64>| self.ways.shares(m);
        let off = share(&off);
        let of_places: Matrix6<f64> = places
            .parts
            .iter()
            .flat_map(|p| &p.motions)
            .map(|m| {
                let s = share(m);
                s * s.transpose()
            })
            .sum();
        let by_places = inverse(&of_places)?;
        let held = self.of_ways.clone().try_inverse()?;
        let mut by_surfaces = Matrix6::zeros();
        by_surfaces
            .view_mut((self.first, self.first), (d, d))
            .copy_from(&held);
        let both = inverse(&(by_places + by_surfaces))?;
        let (of_place, of_surface) = (both * by_places, both * by_surfaces);
        let step = of_place * off;

        let back = |s: &Vector6<f64>| self.ways.motions * s;
        let mut parts: Vec<DoubtPart> = places
            .parts
            .iter()
            .map(|p| DoubtPart {
                motions: p
                    .motions
                    .iter()
                    .map(|m| back(&(of_place * share(m))))
                    .collect(),
                nu: p.nu.clone(),
            })
            .collect();
        parts.extend(self.doubt.parts.iter().map(|p| {
            DoubtPart {
                motions: p
                    .motions
                    .iter()
                    .map(|m| back(&(of_surface * share(m))))
                    .collect(),
                nu: p.nu.clone(),
            }
        }));
        // How far apart the two are in the ways that the surfaces hold.
        let apart = DVector::from_fn(d, |k, _| off[self.first + k]);
        let sum = of_places.view((self.first, self.first), (d, d)) + &self.of_ways;
        let squares = apart.dot(&(sum.try_inverse()? * &apart));
        let nu = parts
            .iter()
            .flat_map(|p| p.nu.iter().copied())
            .fold(f64::INFINITY, f64::min);
        let by = about_motion(&back(&step));
        Some(BothJoin {
            to_from: nalgebra::Translation3::from(about.coords + by.0)
                * by.1
                * nalgebra::Translation3::from(-about.coords)
                * self.to_from,
            chance: chance(squares, d as f64, nu),
            doubt: PoseDoubt {
                about,
                parts,
                free: Vec::new(),
            },
        })
    }
}

/// Hotelling's T^2 with the fewer of the degrees of freedom.
fn chance(squares: f64, d: f64, nu: f64) -> f64 {
    if nu.is_infinite() {
        return crate::chi_square_sf(squares, d);
    }
    let rest = (nu - d + 1.0).max(1.0);
    f_sf(squares * rest / (nu.max(d) * d), d, rest)
}

fn inverse(m: &Matrix6<f64>) -> Option<Matrix6<f64>> {
    let m = (m + m.transpose()) * 0.5;
    let size: Vector6<f64> = m.diagonal().map(|v| v.max(0.0).sqrt());
    if size.iter().any(|s| *s <= 0.0) {
        return None;
    }
    let shrink = Matrix6::from_diagonal(&size.map(f64::recip));
    let inverse: Matrix6<f64> = (shrink * m * shrink).try_inverse()?;
    Some(shrink * inverse * shrink)
}

fn about_motion(m: &Vector6<f64>) -> (Vector, UnitQuaternion<f64>) {
    (
        Vector::new(m[0], m[1], m[2]),
        UnitQuaternion::from_scaled_axis(Vector::new(m[3], m[4], m[5])),
    )
}
