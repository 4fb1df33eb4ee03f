//! Whether a face is curved, by how much, and what that means for where it is taken.

use nalgebra::{Matrix2, Matrix3, Vector2, Vector3};

use crate::weighted_rows::weighted_rows;
use crate::{CellGrid, FitError, Lagged, LocalAxes, NoiseModel, Vector, f_sf};

/// The second-order part of a face, h = ... + c3 u^2 + c4 u v + c5 v^2 over the axes of its cells, and whether noise
/// alone explains it.
///
/// A face counts as curved only if `p` is small AND the size matters: the sag against what is allowed, the turn per mm
/// times how well the place is known against the uncertainty of the angle. Waves as long as the face cannot be told
/// from curvature by any test.
#[derive(Clone, Debug, PartialEq)]
pub struct Curvature {
    /// c3, c4, c5, 1/mm.
    pub coefficients: [f64; 3],
    /// Probability of at least this much by noise alone: the Wald statistic c' V^-1 c / 3 against F(3, freedom of the
    /// noise model), averaged over the candidates of the noise.
    pub p: f64,
    /// Height of the bow over the seen cells, mm: how far the second-order part leaves its best plane, top to bottom.
    pub sag: f64,
    /// `sag` as a functional of the readings.
    pub sag_lagged: Lagged,
    /// Principal curvatures, 1/mm = radians of turn per mm of shift, the larger size first; + curves towards the normal
    /// of the axes.
    pub principal: [f64; 2],
    axes: LocalAxes,
    rows: [Vec<f64>; 3],
}

impl Curvature {
    /// Fits and tests the second-order part of a face. `noise` should come from patches with the quadric removed
    /// ([`crate::Removed::Quadric`]), else curvature counts as noise. `covered` = weight of each cell.
    ///
    /// Errors: fewer than 7 cells, all on one conic, values that are not finite. With noise of size zero `p` is 0 if
    /// there is any curvature and 1 if not. Cost: about 6 figures of the noise model.
    pub fn test(cells: &CellGrid, covered: &[f64], noise: &NoiseModel) -> Result<Self, FitError> {
        let n = cells.cells.len() as f64;
        let u0 = cells.cells.iter().map(|c| c.u).sum::<f64>() / n;
        let v0 = cells.cells.iter().map(|c| c.v).sum::<f64>() / n;
        let bow = |u: f64, v: f64| [u * u, u * v, v * v];
        let mut all = weighted_rows(&cells.cells, covered, 6, |c| {
            let (u, v) = (c.u - u0, c.v - v0);
            let [uu, uv, vv] = bow(u, v);
            vec![1.0, u, v, uu, uv, vv]
        })?;
        let rows: [Vec<f64>; 3] = std::array::from_fn(|k| std::mem::take(&mut all[3 + k]));
        let coefficients: [f64; 3] =
            std::array::from_fn(|k| rows[k].iter().zip(&cells.cells).map(|(b, c)| b * c.h).sum());
        let [c3, c4, c5] = coefficients;
        let mut principal: Vec<f64> = Matrix2::new(2.0 * c3, c4, c4, 2.0 * c5)
            .symmetric_eigenvalues()
            .iter()
            .copied()
            .collect();
        principal.sort_by(|a, b| b.abs().total_cmp(&a.abs()));
        let (sag, sag_row) = sag(cells, covered, &coefficients, &rows, |c| {
            bow(c.u - u0, c.v - v0)
        })?;
        Ok(Self {
            coefficients,
            p: chance(cells, &rows, &coefficients, noise),
            sag,
            sag_lagged: Lagged::of(cells, &sag_row),
            principal: [principal[0], principal[1]],
            axes: cells.axes,
            rows,
        })
    }

    /// Largest turn of the normal per mm of shift, radians per mm.
    pub fn turn_per_mm(&self) -> f64 {
        self.principal[0].abs()
    }

    /// Smallest radius, mm; infinite for a plane.
    pub fn radius(&self) -> f64 {
        1.0 / self.turn_per_mm()
    }

    /// Turn of the slope along `direction` per mm of shift along it, radians per mm, + towards the normal of the axes.
    pub fn turn_along(&self, direction: &Vector) -> f64 {
        let [a, b, c] = self.weights_along(direction);
        a * self.coefficients[0] + b * self.coefficients[1] + c * self.coefficients[2]
    }

    /// [`Self::turn_along`] as a functional of the readings; `cells` those it was fitted to.
    pub fn turn_along_lagged(&self, cells: &CellGrid, direction: &Vector) -> Lagged {
        let w = self.weights_along(direction);
        let row: Vec<f64> = (0..self.rows[0].len())
            .map(|i| (0..3).map(|k| w[k] * self.rows[k][i]).sum())
            .collect();
        Lagged::of(cells, &row)
    }

    fn weights_along(&self, direction: &Vector) -> [f64; 3] {
        let d = Vector2::new(self.axes.u.dot(direction), self.axes.v.dot(direction));
        let d = d.try_normalize(0.0).unwrap_or_else(Vector2::zeros);
        [2.0 * d.x * d.x, 2.0 * d.x * d.y, 2.0 * d.y * d.y]
    }
}

/// Top to bottom of the second-order part above its best plane, and the weights of the readings in it.
fn sag(
    cells: &CellGrid,
    covered: &[f64],
    coefficients: &[f64; 3],
    rows: &[Vec<f64>; 3],
    bow: impl Fn(&crate::Cell) -> [f64; 3],
) -> Result<(f64, Vec<f64>), FitError> {
    let flat = |c: &crate::Cell| vec![1.0, c.u, c.v];
    let plane = weighted_rows(&cells.cells, covered, 3, flat)?;
    let terms: Vec<[f64; 3]> = cells.cells.iter().map(bow).collect();
    // Each term less its best plane.
    let fitted: [[f64; 3]; 3] = std::array::from_fn(|k| {
        std::array::from_fn(|q| plane[q].iter().zip(&terms).map(|(b, t)| b * t[k]).sum())
    });
    let rest = |i: usize, k: usize| {
        let c = &cells.cells[i];
        terms[i][k] - (fitted[k][0] + fitted[k][1] * c.u + fitted[k][2] * c.v)
    };
    let height = |i: usize| (0..3).map(|k| coefficients[k] * rest(i, k)).sum::<f64>();
    let (mut top, mut bottom) = (0, 0);
    let heights: Vec<f64> = (0..terms.len()).map(height).collect();
    for (i, h) in heights.iter().enumerate() {
        if *h > heights[top] {
            top = i;
        }
        if *h < heights[bottom] {
            bottom = i;
        }
    }
    let weight: [f64; 3] = std::array::from_fn(|k| rest(top, k) - rest(bottom, k));
    let row = (0..terms.len())
        .map(|i| (0..3).map(|k| weight[k] * rows[k][i]).sum())
        .collect();
    Ok((heights[top] - heights[bottom], row))
}

/// The probability of `c` by noise alone.
fn chance(cells: &CellGrid, rows: &[Vec<f64>; 3], c: &[f64; 3], noise: &NoiseModel) -> f64 {
    let at = |i: usize, j: usize| noise.variances(&Lagged::cross(cells, &rows[i], &rows[j]));
    let v = [at(0, 0), at(0, 1), at(0, 2), at(1, 1), at(1, 2), at(2, 2)];
    // Units in which all three are of one size.
    let scale = Vector3::from_fn(|k, _| rows[k].iter().map(|b| b * b).sum::<f64>().sqrt());
    let c = Vector3::from(*c).component_div(&scale);
    noise
        .points
        .iter()
        .enumerate()
        .map(|(k, point)| {
            let v = Matrix3::new(
                v[0][k], v[1][k], v[2][k], v[1][k], v[3][k], v[4][k], v[2][k], v[4][k], v[5][k],
            );
            let v = Matrix3::from_fn(|i, j| v[(i, j)] / (scale[i] * scale[j]));
            let statistic = match v.cholesky() {
                Some(f) => c.dot(&f.solve(&c)) / 3.0,
                None if c.norm() > 0.0 => f64::INFINITY,
                None => 0.0,
            };
            if statistic.is_finite() {
                point.weight * f_sf(statistic, 3.0, noise.dof)
            } else {
                0.0
            }
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Kernel, Point, Unit};
    use approx::{assert_abs_diff_eq, assert_relative_eq};

    fn face(h: impl Fn(f64, f64) -> f64) -> CellGrid {
        let axes = LocalAxes::about(Point::origin(), Unit::new_unchecked(Vector::z()));
        let points: Vec<_> = (0..900)
            .map(|k| {
                let (u, v) = (f64::from(k % 30) - 14.5, f64::from(k / 30) - 14.5);
                axes.point(u, v, h(u, v))
            })
            .collect();
        CellGrid::build(axes, 1.0, &points).unwrap()
    }

    #[test]
    fn a_cylinder_gives_its_radius_sag_and_turn() {
        let grid = face(|u, _| u * u / 1000.0 + 0.02 * u);
        let noise = NoiseModel::white(0.05);
        let k = Curvature::test(&grid, &vec![1.0; 900], &noise).unwrap();
        assert_relative_eq!(k.radius(), 500.0, max_relative = 1e-9);
        assert_abs_diff_eq!(k.principal[1], 0.0, epsilon = 1e-12);
        assert_relative_eq!(k.sag, (14.5 * 14.5 - 0.25) / 1000.0, max_relative = 1e-9);
        let u = grid.axes.u.into_inner();
        let v = grid.axes.v.into_inner();
        assert_relative_eq!(k.turn_along(&u), 0.002, max_relative = 1e-9);
        assert_relative_eq!(k.turn_along(&(u + v)), 0.001, max_relative = 1e-9);
        assert!(k.p < 1e-6);
        // One row of n = 30 readings: variance of the coefficient of u^2 is 180 / (n (n^2-1)(n^2-4)), here 30 of them.
        let s = noise.uncertainty(&k.turn_along_lagged(&grid, &u)).s;
        let want = 2.0 * 0.05 * (180.0 / (30.0 * 899.0 * 896.0) / 30.0_f64).sqrt();
        assert_relative_eq!(s, want, max_relative = 1e-9);
        let sag = noise.uncertainty(&k.sag_lagged).s;
        assert!(
            sag > 0.5 * want * 105.0 && sag < 4.0 * want * 105.0,
            "{sag} {want}"
        );
    }

    #[test]
    fn a_plane_is_flat_and_long_waves_excuse_a_bow() {
        let flat = face(|u, v| 0.1 * u - 0.2 * v + 3.0);
        let ones = vec![1.0; 900];
        let k = Curvature::test(&flat, &ones, &NoiseModel::white(0.05)).unwrap();
        assert!(k.sag < 1e-12 && k.p > 0.99);
        let bow = face(|u, _| u * u / 4000.0);
        let p = |noise| Curvature::test(&bow, &ones, &noise).unwrap().p;
        assert!(p(NoiseModel::white(0.05)) < 0.01);
        assert!(p(NoiseModel::known(Kernel::Gaussian, 0.05, 10.0, 0.01)) > 0.05);
        assert_eq!(p(NoiseModel::white(0.0)), 0.0);
    }
}
