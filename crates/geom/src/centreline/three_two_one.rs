//! Axes by three, two and one points.

use nalgebra::{Matrix3, RowVector3, UnitQuaternion};

use crate::{FitError, Plane, Point, Rigid, Uncertain, Unit, Vector};

/// Axes laid by hand: three points say what is level, two the direction along, one where X begins.
#[derive(Clone, Debug, PartialEq)]
pub struct ThreeTwoOne {
    /// X along (from the first to the second of the two), Z up, Y to the right.
    pub car_from_scan: Rigid,
    /// The plane Y = 0, its normal to the right.
    pub plane: Plane,
    /// What a reading error of one standard deviation in each coordinate of the two points and of the three makes of the
    /// turn about up, the turn about along (both rad per mm) and the shift (mm per mm): root sums of squares.
    per_mm: RowVector3<f64>,
}

/// Lays axes through points; all in one set of axes, mm. Z is the normal of the plane through `level`, towards `up`;
/// X the direction from `line[0]` to `line[1]` within it; Y = 0 goes through the middle of `line`, X = 0 through `start`,
/// Z = 0 through `level`.
///
/// # Errors
/// [`FitError::Degenerate`]: the three lie on a line, `up` lies in their plane, the two are in one place or above each
/// other; [`FitError::NotFinite`].
pub fn three_two_one(
    level: &[Point; 3],
    line: &[Point; 2],
    start: &Point,
    up: &Vector,
) -> Result<ThreeTwoOne, FitError> {
    let (car_from_scan, plane) = axes(level, line, start, up)?;
    let car = |p: &Point| car_from_scan * p;
    let (a, b) = (car(&line[0]), car(&line[1]));
    let length = (b - a).x;
    // A lateral error of either end turns by 1/length and shifts by one half; an error of height of the three tilts.
    let yaw = 2.0_f64.sqrt() / length;
    let shift = 0.5_f64.sqrt();
    let flat = level.map(|p| car(&p));
    let roll = tilt_per_mm(&flat).ok_or(FitError::Degenerate)?;
    Ok(ThreeTwoOne {
        car_from_scan,
        plane,
        per_mm: RowVector3::new(yaw, roll, shift),
    })
}

impl ThreeTwoOne {
    /// The doubt of the turn about up, the turn about along (rad) and the shift (mm) if every coordinate of the points
    /// has the standard uncertainty `u` (mm) with `nu` degrees of freedom. They have no scatter of their own to tell it
    /// from.
    pub fn doubt(&self, u: f64, nu: f64) -> [Uncertain; 3] {
        [0, 1, 2].map(|k| Uncertain::new(self.per_mm[k] * u, nu))
    }
}

/// Turn about X (rad) per mm of independent errors of height of three points: z = c + s y + t x, sd of s.
fn tilt_per_mm(p: &[Point; 3]) -> Option<f64> {
    let m = Matrix3::from_fn(|i, j| match j {
        0 => 1.0,
        1 => p[i].y,
        _ => p[i].x,
    });
    let inverse = m.try_inverse()?;
    Some(inverse.row(1).norm())
}

fn axes(
    level: &[Point; 3],
    line: &[Point; 2],
    start: &Point,
    up: &Vector,
) -> Result<(Rigid, Plane), FitError> {
    let all = level.iter().chain(line).chain([start]);
    if !all.flat_map(|p| p.iter()).chain(up).all(|x| x.is_finite()) {
        return Err(FitError::NotFinite);
    }
    let (a, b) = (level[1] - level[0], level[2] - level[0]);
    let z = a.cross(&b);
    if z.norm() <= 1e-9 * a.norm() * b.norm() || z.norm() <= 0.0 {
        return Err(FitError::Degenerate);
    }
    let mut z = Unit::new_normalize(z);
    let side = z.dot(up);
    if side.abs() <= 1e-6 * up.norm() {
        return Err(FitError::Degenerate);
    }
    if side < 0.0 {
        z = -z;
    }
    let d = line[1] - line[0];
    let flat = d - z.into_inner() * z.dot(&d);
    if flat.norm() <= 1e-6 * d.norm() || flat.norm() <= 0.0 {
        return Err(FitError::Degenerate);
    }
    let x = Unit::new_normalize(flat);
    let y = Unit::new_normalize(z.cross(&x));
    let rotation =
        UnitQuaternion::from_rotation_matrix(&nalgebra::Rotation3::from_matrix_unchecked(
            Matrix3::from_rows(&[x.transpose(), y.transpose(), z.transpose()]),
        ));
    let middle = nalgebra::center(&line[0], &line[1]);
    let shift = -Vector::new(
        x.dot(&start.coords),
        y.dot(&middle.coords),
        z.dot(&level[0].coords),
    );
    Ok((
        Rigid::from_parts(shift.into(), rotation),
        Plane::through(&middle, y),
    ))
}
