//! The centre plane in closed form.

use std::fmt;

use nalgebra::{Matrix3, SymmetricEigen};

use super::rows::{Row, rows};
use super::{Landmark, PlaneDoubt};
use crate::{FitError, Mirror, Plane, Point, Rigid, Uncertain, Unit, Vector, any_perpendicular};

/// Below this share of the spread of the eigenvalues the smallest is not well told from the next.
const POOR_GAP: f64 = 0.1;

/// Why there is no centre plane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoMidPlane {
    /// The places do not determine one.
    Fit(FitError),
    /// The pairs do not lie across from each other: left and right are one side, or likes were not paired.
    NotAcross,
}

impl From<FitError> for NoMidPlane {
    fn from(e: FitError) -> Self {
        Self::Fit(e)
    }
}

impl fmt::Display for NoMidPlane {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Fit(e) => e.fmt(f),
            Self::NotAcross => {
                write!(f, "left and right places do not lie across from each other")
            }
        }
    }
}

impl std::error::Error for NoMidPlane {}

/// A centre plane with axes in it. It is in whatever axes the places were given in.
#[derive(Clone, Debug, PartialEq)]
pub struct MidPlane {
    /// The plane; its normal points from left to right.
    pub plane: Plane,
    /// Weighted middle of all places, on the plane, mm.
    pub centre: Point,
    /// Along the body, in the plane.
    pub along: Unit,
    /// In the plane, perpendicular to `along`: `along`, normal, `up` are right-handed.
    pub up: Unit,
    /// Eigenvalues of the moment matrix, ascending, mm2 x weight; the normal belongs to the first.
    pub eigenvalues: [f64; 3],
    /// Per place: right minus mirrored left, along, across (towards the right) and up, mm.
    pub misfits: Vec<Vector>,
    /// Pairs whose left lies on the right of their right.
    pub swapped: Vec<usize>,
    /// How well it is known; `None` with fewer than four places.
    pub doubt: Option<PlaneDoubt>,
}

impl MidPlane {
    /// The mirror about it.
    pub fn mirror(&self) -> Mirror {
        Mirror { plane: self.plane }
    }

    /// Whether another direction of the normal would do nearly as well: the smallest eigenvalue is not well told from
    /// the next.
    pub fn poorly_determined(&self) -> bool {
        let [a, b, c] = self.eigenvalues;
        b - a < POOR_GAP * (c - a)
    }

    /// A point in the axes of the plane: along, across, up from its centre.
    pub fn local(&self, p: &Point) -> Vector {
        self.local_vector(&(p - self.centre))
    }

    /// A displacement in the axes of the plane.
    pub fn local_vector(&self, d: &Vector) -> Vector {
        Vector::new(self.along.dot(d), self.plane.normal.dot(d), self.up.dot(d))
    }

    /// Right minus mirrored left of a place, in the axes of the plane, mm.
    pub fn misfit(&self, l: &Landmark) -> Vector {
        self.local_vector(&(l.right - self.mirror().point(&l.left)))
    }

    /// Axes with X along, Y across to the right, Z up and the origin in the centre.
    pub fn car_from_scan(&self) -> Rigid {
        let r = Matrix3::from_rows(&[
            self.along.transpose(),
            self.plane.normal.transpose(),
            self.up.transpose(),
        ]);
        let rotation = nalgebra::UnitQuaternion::from_rotation_matrix(
            &nalgebra::Rotation3::from_matrix_unchecked(r),
        );
        Rigid::from_parts((-(rotation * self.centre.coords)).into(), rotation)
    }

    /// How far the mirror image of `p` may be off along `direction` (any length) from the doubt of the plane, mm.
    pub fn mirrored_doubt(&self, p: &Point, direction: &Vector) -> Option<Uncertain> {
        let d = self.local_vector(direction).try_normalize(0.0)?;
        Some(self.doubt.as_ref()?.mirrored(&self.local(p), &d))
    }

    /// A plane that no places laid, through `centre`, with axes in it: `along` as it is given, else any.
    pub(super) fn of_plane(plane: Plane, centre: Point, along: Option<&Vector>) -> Self {
        let (along, up) = axes_in(&plane, &centre, &[], along);
        Self {
            plane,
            centre,
            along,
            up,
            eigenvalues: [0.0; 3],
            misfits: Vec::new(),
            swapped: Vec::new(),
            doubt: None,
        }
    }

    /// The doubt of the distance of `p` from the plane, mm.
    pub fn distance_doubt(&self, p: &Point) -> Option<Uncertain> {
        Some(self.doubt.as_ref()?.distance(&self.local(p)))
    }

    /// The angle by which `other` is turned about the upward axis against this, rad: + turns the normal along.
    pub fn yaw_to(&self, other: &Plane) -> f64 {
        let n = self.local_vector(&towards(&other.normal, &self.plane.normal));
        n.x.atan2(n.y)
    }

    /// The angle by which `other` is turned about the axis along the body, rad: + turns the normal up.
    pub fn roll_to(&self, other: &Plane) -> f64 {
        let n = self.local_vector(&towards(&other.normal, &self.plane.normal));
        n.z.atan2(n.y)
    }

    /// The same plane with its normal on the side of `other`'s.
    #[must_use]
    pub fn facing(self, other: &Self) -> Self {
        if self.plane.normal.dot(&other.plane.normal) < 0.0 {
            self.turned_over()
        } else {
            self
        }
    }

    /// Normal and up turned over about the axis along.
    /// Normal and up turned over about the axis along.
    #[must_use]
    pub fn turned_over(mut self) -> Self {
        self.plane.normal = -self.plane.normal;
        self.plane.offset = -self.plane.offset;
        self.up = -self.up;
        for v in &mut self.misfits {
            (v.y, v.z) = (-v.y, -v.z);
        }
        // The doubt goes over: turns about up keep their size, and so do the others.
        self.doubt = self.doubt.map(PlaneDoubt::turned_over);
        self
    }

    pub(super) fn rows(&self, landmarks: &[Landmark]) -> Vec<Row> {
        rows(self, landmarks)
    }
}

fn towards(n: &Unit, like: &Unit) -> Vector {
    let n = n.into_inner();
    if n.dot(like) < 0.0 { -n } else { n }
}

/// The plane whose mirror takes left places best onto their right ones: minimises
/// sum w |right - M left|^2 over all planes.
///
/// The centre is the weighted mean of all points, left and right alike; the normal the eigenvector of the
/// algebraically smallest eigenvalue of sym(sum w (l - c)(r - c)'). Places on the middle count as pairs of one point;
/// three of them alone also do (a plane through them). `along` tells the direction of the body; without it the axis in
/// the plane is that in which the places are spread most. From places on the middle alone the normal has no side: its
/// largest component is positive.
///
/// # Errors
/// [`NoMidPlane`]: fewer than one place with a chord or three without, places that leave the plane free (all on one
/// line along the normal of several planes), pairs that do not lie across.
pub fn fit_mid_plane(
    landmarks: &[Landmark],
    along: Option<&Vector>,
) -> Result<MidPlane, NoMidPlane> {
    fit(landmarks, along, true)
}

/// As [`fit_mid_plane`], but only the midpoints speak, not the direction of the chords: a wing that sits forward of
/// the other does not turn it. Three midpoints at least, not on a line.
///
/// # Errors
/// As [`fit_mid_plane`].
pub fn fit_midpoints_only(
    landmarks: &[Landmark],
    along: Option<&Vector>,
) -> Result<MidPlane, NoMidPlane> {
    let middles: Vec<Landmark> = landmarks
        .iter()
        .map(|l| Landmark {
            left: l.midpoint(),
            right: l.midpoint(),
            weight: l.weight,
        })
        .collect();
    let plane = fit(&middles, along, true)?;
    let chords: Vector = landmarks.iter().map(|l| l.chord() * l.weight).sum();
    if chords.dot(&plane.plane.normal) < 0.0 {
        return Ok(plane.turned_over());
    }
    Ok(plane)
}

pub(super) fn fit(
    landmarks: &[Landmark],
    along: Option<&Vector>,
    with_doubt: bool,
) -> Result<MidPlane, NoMidPlane> {
    if !landmarks.iter().all(Landmark::is_finite) {
        return Err(FitError::NotFinite.into());
    }
    let pairs = landmarks.iter().filter(|l| !l.is_centre()).count();
    FitError::check_count(if pairs > 0 { 1 } else { 3 }, landmarks.len())?;
    let total: f64 = landmarks.iter().map(|l| l.weight).sum();
    let centre = Point::from(
        landmarks
            .iter()
            .map(|l| l.midpoint().coords * l.weight)
            .sum::<Vector>()
            / total,
    );
    let moments: Matrix3<f64> = landmarks
        .iter()
        .map(|l| {
            let m = (l.left - centre) * (l.right - centre).transpose() * l.weight;
            (m + m.transpose()) * 0.5
        })
        .sum();
    let eigen = SymmetricEigen::new(moments);
    let mut order = [0, 1, 2];
    order.sort_by(|&i, &j| eigen.eigenvalues[i].total_cmp(&eigen.eigenvalues[j]));
    let eigenvalues = order.map(|k| eigen.eigenvalues[k]);
    let size = eigenvalues.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    if size <= 0.0 || eigenvalues[1] - eigenvalues[0] <= 1e-12 * size {
        return Err(FitError::Degenerate.into());
    }
    if pairs > 0 && eigenvalues[0] >= 0.0 {
        return Err(NoMidPlane::NotAcross);
    }
    let mut n = eigen.eigenvectors.column(order[0]).into_owned();
    let side: f64 = landmarks.iter().map(|l| l.weight * n.dot(&l.chord())).sum();
    if side < 0.0 || (pairs == 0 && n[n.iamax()] < 0.0) {
        n = -n;
    }
    let n = Unit::new_normalize(n);
    let plane = Plane::through(&centre, n);
    let (along, up) = axes_in(&plane, &centre, landmarks, along);
    let mut out = MidPlane {
        plane,
        centre,
        along,
        up,
        eigenvalues,
        misfits: Vec::new(),
        swapped: (0..landmarks.len())
            .filter(|&k| n.dot(&landmarks[k].chord()) < 0.0)
            .collect(),
        doubt: None,
    };
    out.misfits = landmarks.iter().map(|l| out.misfit(l)).collect();
    if with_doubt {
        out.doubt = PlaneDoubt::of(&out.rows(landmarks));
    }
    Ok(out)
}

/// The directions along and up in the plane.
fn axes_in(
    plane: &Plane,
    centre: &Point,
    landmarks: &[Landmark],
    along: Option<&Vector>,
) -> (Unit, Unit) {
    let n = plane.normal;
    let flat = |v: &Vector| v - n.into_inner() * n.dot(v);
    let hinted = along
        .map(flat)
        .filter(|v| along.is_some_and(|a| v.norm() > 1e-6 * a.norm()));
    let along = hinted.map_or_else(
        || {
            let a = any_perpendicular(&n);
            let b = Unit::new_normalize(n.cross(&a));
            let (mut aa, mut ab, mut bb) = (0.0, 0.0, 0.0);
            for l in landmarks {
                let m = l.midpoint() - centre;
                let (x, y) = (a.dot(&m), b.dot(&m));
                aa += l.weight * x * x;
                ab += l.weight * x * y;
                bb += l.weight * y * y;
            }
            let angle = 0.5 * (2.0 * ab).atan2(aa - bb);
            let v = a.into_inner() * angle.cos() + b.into_inner() * angle.sin();
            Unit::new_normalize(if v[v.iamax()] < 0.0 { -v } else { v })
        },
        Unit::new_normalize,
    );
    (along, Unit::new_normalize(along.cross(&n)))
}
