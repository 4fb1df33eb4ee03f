//! What each place says about a small motion of the plane, as rows of a linear least-squares problem.

use nalgebra::{Matrix3, Vector3};

use super::{Landmark, MidPlane};

/// One place: v + H theta is its misfit after the plane was turned by theta_1, theta_2 (rad) and shifted by theta_3
/// (mm); components along, across, up in the axes of the plane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row {
    pub v: Vector3<f64>,
    pub h: Matrix3<f64>,
    pub weight: f64,
    /// A place on the middle speaks across only: its other misfits are zero whatever the plane.
    pub centre: bool,
}

impl Row {
    /// Components that carry a reading.
    pub fn speaks(&self, component: usize) -> bool {
        !self.centre || component == 1
    }
}

/// The rows of all places about `plane`.
///
/// With n the normal, T_k the axes in the plane, m the midpoint from the centre and b half the chord along n:
/// H = [2 n (T_k . m) - 2 b T_k (k = 1, 2), -2 n].
pub(super) fn rows(plane: &MidPlane, landmarks: &[Landmark]) -> Vec<Row> {
    let n = plane.plane.normal;
    landmarks
        .iter()
        .map(|l| {
            let m = l.midpoint() - plane.centre;
            let b = 0.5 * n.dot(&l.chord());
            let (along, up) = (plane.along.dot(&m), plane.up.dot(&m));
            Row {
                v: plane.misfit(l),
                h: Matrix3::new(
                    -2.0 * b,
                    0.0,
                    0.0,
                    2.0 * along,
                    2.0 * up,
                    -2.0,
                    0.0,
                    -2.0 * b,
                    0.0,
                ),
                weight: l.weight,
                centre: l.is_centre(),
            }
        })
        .collect()
}

/// The sums of a linear least-squares problem with weights per component.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sums {
    pub information: Matrix3<f64>,
    pub pull: Vector3<f64>,
    pub squares: f64,
    /// Readings in it.
    pub readings: usize,
}

impl Sums {
    pub const NONE: Self = Self {
        information: Matrix3::new(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
        pull: Vector3::new(0.0, 0.0, 0.0),
        squares: 0.0,
        readings: 0,
    };

    /// Those of one place, its components divided by `scale`.
    pub fn of(row: &Row, scale: &Vector3<f64>) -> Self {
        let mut sums = Self::NONE;
        for k in 0..3 {
            if row.speaks(k) {
                let w = row.weight / (scale[k] * scale[k]);
                let h = row.h.row(k).transpose();
                sums.information += h * h.transpose() * w;
                sums.pull += h * (w * row.v[k]);
                sums.squares += w * row.v[k] * row.v[k];
                sums.readings += 1;
            }
        }
        sums
    }

    pub fn with(&self, other: &Self) -> Self {
        Self {
            information: self.information + other.information,
            pull: self.pull + other.pull,
            squares: self.squares + other.squares,
            readings: self.readings + other.readings,
        }
    }

    /// The inverse of the information; `None` if the places leave the plane free.
    pub fn inverse(&self) -> Option<Matrix3<f64>> {
        // Turns in rad and shifts in mm: made alike before the inverse is taken.
        let d = self.information.diagonal();
        if d.iter().any(|x| *x <= 0.0) {
            return None;
        }
        let root = Matrix3::from_diagonal(&d.map(|x| 1.0 / x.sqrt()));
        let alike = root * self.information * root;
        (alike.symmetric_eigenvalues().min() > 1e-9)
            .then(|| alike.try_inverse())
            .flatten()
            .map(|i| root * i * root)
    }

    /// The motion that leaves the least, and the weighted sum of squares left.
    pub fn solve(&self) -> Option<(Vector3<f64>, f64)> {
        let theta = -(self.inverse()? * self.pull);
        Some((theta, (self.squares + theta.dot(&self.pull)).max(0.0)))
    }
}

/// Variance per component of a reading of weight one: sum of weighted squares over readings less what the fit took, and
/// those degrees of freedom. Misfits are those after the best motion for `scale`.
pub(super) fn scatter(rows: &[Row], scale: &Vector3<f64>) -> Option<(Vector3<f64>, Vector3<f64>)> {
    let sums = rows
        .iter()
        .fold(Sums::NONE, |s, r| s.with(&Sums::of(r, scale)));
    let inverse = sums.inverse()?;
    let theta = -(inverse * sums.pull);
    let (mut squares, mut free) = (Vector3::zeros(), Vector3::zeros());
    for row in rows {
        let left = row.v + row.h * theta;
        for k in (0..3).filter(|&k| row.speaks(k)) {
            let h = row.h.row(k).transpose();
            let leverage = row.weight / (scale[k] * scale[k]) * h.dot(&(inverse * h));
            squares[k] += row.weight * left[k] * left[k];
            free[k] += 1.0 - leverage;
        }
    }
    Some((squares, free))
}
