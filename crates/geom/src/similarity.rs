//! Absolute orientation: the rigid (or scaled, or mirroring) map that takes one set of points best onto another.

use na::{DMatrix, Matrix3, Rotation3, UnitQuaternion};
use nalgebra as na;

use crate::{FitError, Improper, Point, Rigid, Vector};

/// Singular values below this share of the largest count as zero.
const RANK_TOLERANCE: f64 = 1e-12;

/// The map x -> scale R x + shift, R a proper rotation, and how well it does.
#[derive(Clone, Debug, PartialEq)]
pub struct Similarity {
    /// 1 for a rigid fit.
    pub scale: f64,
    /// Rotation, and shift in mm. The map is scale x rotation first, then the shift.
    pub rotation: UnitQuaternion<f64>,
    /// The shift, mm.
    pub shift: Vector,
    /// Image minus target for each pair, mm.
    pub residuals: Vec<Vector>,
    /// Root of the weighted mean of the squared lengths of `residuals`, mm.
    pub rms: f64,
}

impl Similarity {
    /// The image of a position.
    pub fn point(&self, p: &Point) -> Point {
        Point::from(self.rotation * p.coords * self.scale + self.shift)
    }

    /// The rigid map, if the scale is 1.
    pub fn rigid(&self) -> Option<Rigid> {
        (self.scale == 1.0).then(|| Rigid::from_parts(self.shift.into(), self.rotation))
    }
}

/// The rigid map that minimises sum w |R a + t - b|^2 over pairs (a from `from`, b from `to`).
///
/// `weights`: one per pair, `None` all equal. The rotation is proper even where a mirrored one would fit better
/// (Kabsch 1976, Umeyama 1991). Errors: unequal numbers or fewer than three pairs, values that are not finite,
/// negative weights, all points on a line, or a mirrored set that every turn about some axis fits equally badly.
pub fn fit_rigid(
    from: &[Point],
    to: &[Point],
    weights: Option<&[f64]>,
) -> Result<Similarity, FitError> {
    fit_3d(from, to, weights, false)
}

/// As [`fit_rigid`] with a free common scale: minimises sum w |c R a + t - b|^2.
pub fn fit_similarity(
    from: &[Point],
    to: &[Point],
    weights: Option<&[f64]>,
) -> Result<Similarity, FitError> {
    fit_3d(from, to, weights, true)
}

/// The length-keeping map with a mirror in it that takes `from` best onto `to`, in the sense of [`fit_rigid`], and the
/// weighted rms distance left, mm.
pub fn fit_improper(
    from: &[Point],
    to: &[Point],
    weights: Option<&[f64]>,
) -> Result<(Improper, f64), FitError> {
    let moments = Moments::of(&flat(from), &flat(to), 3, weights)?;
    let r = moments.best_orthogonal(-1.0)?;
    // R = (R M) M with M the mirror about Y = 0.
    let mirror = Matrix3::from_diagonal(&Vector::new(1.0, -1.0, 1.0));
    let rotation = proper(&(Matrix3::from_iterator(r.iter().copied()) * mirror));
    let shift = Vector::from_column_slice(moments.to.as_slice())
        - rotation * (mirror * Vector::from_column_slice(moments.from.as_slice()));
    let map = Improper::mirrored(Rigid::from_parts(shift.into(), rotation));
    let squares: f64 = from
        .iter()
        .zip(to)
        .zip(&moments.weights)
        .map(|((a, b), w)| w * (map.point(a) - b).norm_squared())
        .sum();
    Ok((map, squares.sqrt()))
}

/// The same in the plane: x -> scale R x + shift, R a turn by `angle` (rad, counter-clockwise).
#[derive(Clone, Debug, PartialEq)]
pub struct Similarity2 {
    /// 1 for a rigid fit.
    pub scale: f64,
    /// Turn, rad, -pi to pi.
    pub angle: f64,
    /// The shift, mm.
    pub shift: [f64; 2],
    /// Root of the weighted mean of the squared distances left, mm.
    pub rms: f64,
}

impl Similarity2 {
    /// The image of a position.
    pub fn point(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let (sin, cos) = self.angle.sin_cos();
        [
            self.scale * (cos * x - sin * y) + self.shift[0],
            self.scale * (sin * x + cos * y) + self.shift[1],
        ]
    }
}

/// The turn, shift and, if `free_scale`, scale of the plane that take `from` best onto `to`; never a mirror. Errors:
/// unequal numbers or fewer than two pairs, values that are not finite, all points in one place, or sets for which
/// every turn is equally good.
pub fn fit_similarity_2d(
    from: &[[f64; 2]],
    to: &[[f64; 2]],
    weights: Option<&[f64]>,
    free_scale: bool,
) -> Result<Similarity2, FitError> {
    let moments = Moments::of(&from.concat(), &to.concat(), 2, weights)?;
    // In the plane: maximise a cos + b sin over the turn.
    let s = &moments.cross;
    let (a, b) = (s[(0, 0)] + s[(1, 1)], s[(1, 0)] - s[(0, 1)]);
    let size = s.norm();
    if size <= 0.0 || a.hypot(b) <= RANK_TOLERANCE * size {
        return Err(FitError::Degenerate);
    }
    let angle = b.atan2(a);
    let scale = if free_scale {
        a.hypot(b) / moments.spread
    } else {
        1.0
    };
    let mut map = Similarity2 {
        scale,
        angle,
        shift: [0.0; 2],
        rms: 0.0,
    };
    let turned = map.point([moments.from[0], moments.from[1]]);
    map.shift = [moments.to[0] - turned[0], moments.to[1] - turned[1]];
    map.rms = from
        .iter()
        .zip(to)
        .zip(&moments.weights)
        .map(|((p, q), w)| {
            let [x, y] = map.point(*p);
            w * ((x - q[0]).powi(2) + (y - q[1]).powi(2))
        })
        .sum::<f64>()
        .sqrt();
    Ok(map)
}

fn fit_3d(
    from: &[Point],
    to: &[Point],
    weights: Option<&[f64]>,
    free_scale: bool,
) -> Result<Similarity, FitError> {
    let moments = Moments::of(&flat(from), &flat(to), 3, weights)?;
    let r = moments.best_orthogonal(1.0)?;
    let scale = if free_scale {
        // Umeyama 1991, equation 42: trace(R' S) / variance of `from`.
        r.component_mul(&moments.cross).sum() / moments.spread
    } else {
        1.0
    };
    let rotation = proper(&Matrix3::from_iterator(r.iter().copied()));
    let centre = Vector::from_column_slice(moments.from.as_slice());
    let shift = Vector::from_column_slice(moments.to.as_slice()) - rotation * centre * scale;
    let mut map = Similarity {
        scale,
        rotation,
        shift,
        residuals: Vec::new(),
        rms: 0.0,
    };
    map.residuals = from.iter().zip(to).map(|(a, b)| map.point(a) - b).collect();
    map.rms = map
        .residuals
        .iter()
        .zip(&moments.weights)
        .map(|(r, w)| w * r.norm_squared())
        .sum::<f64>()
        .sqrt();
    Ok(map)
}

fn flat(points: &[Point]) -> Vec<f64> {
    points.iter().flat_map(|p| [p.x, p.y, p.z]).collect()
}

fn proper(r: &Matrix3<f64>) -> UnitQuaternion<f64> {
    UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(*r))
}

/// Weighted means and the cross covariance of two sets.
struct Moments {
    /// Sum 1.
    weights: Vec<f64>,
    from: Vec<f64>,
    to: Vec<f64>,
    /// sum w (b - mean b)(a - mean a)'.
    cross: DMatrix<f64>,
    /// sum w |a - mean a|^2.
    spread: f64,
}

impl Moments {
    fn of(from: &[f64], to: &[f64], d: usize, weights: Option<&[f64]>) -> Result<Self, FitError> {
        let n = from.len() / d;
        let same = from.len() == to.len() && weights.is_none_or(|w| w.len() == n);
        let got = n.min(to.len() / d).min(weights.map_or(n, <[f64]>::len));
        FitError::check_count(if same { d } else { n.max(to.len() / d).max(d) }, got)?;
        let raw: Vec<f64> = weights.map_or_else(|| vec![1.0; n], <[f64]>::to_vec);
        if !from.iter().chain(to).chain(&raw).all(|x| x.is_finite()) || raw.iter().any(|w| *w < 0.0)
        {
            return Err(FitError::NotFinite);
        }
        FitError::check_count(d, raw.iter().filter(|w| **w > 0.0).count())?;
        let total: f64 = raw.iter().sum();
        let weights: Vec<f64> = raw.iter().map(|w| w / total).collect();
        let mean = |set: &[f64]| -> Vec<f64> {
            (0..d)
                .map(|k| {
                    set.chunks_exact(d)
                        .zip(&weights)
                        .map(|(p, w)| w * p[k])
                        .sum()
                })
                .collect()
        };
        let (a, b) = (mean(from), mean(to));
        let mut cross = DMatrix::zeros(d, d);
        let mut spread = 0.0;
        for ((p, q), w) in from.chunks_exact(d).zip(to.chunks_exact(d)).zip(&weights) {
            for i in 0..d {
                spread += w * (p[i] - a[i]).powi(2);
                for j in 0..d {
                    cross[(i, j)] += w * (q[i] - b[i]) * (p[j] - a[j]);
                }
            }
        }
        Ok(Self {
            weights,
            from: a,
            to: b,
            cross,
            spread,
        })
    }

    /// The orthogonal matrix with determinant `sign` that maximises trace(R' S) (Umeyama 1991, equation 43).
    fn best_orthogonal(&self, sign: f64) -> Result<DMatrix<f64>, FitError> {
        let svd = self.cross.clone().svd(true, true);
        let (Some(u), Some(v_t)) = (svd.u, svd.v_t) else {
            return Err(FitError::NoConvergence);
        };
        let d = self.cross.nrows();
        let mut order: Vec<usize> = (0..d).collect();
        order.sort_by(|&i, &j| svd.singular_values[j].total_cmp(&svd.singular_values[i]));
        let value = |k: usize| svd.singular_values[order[k]];
        let flip = (u.determinant() * v_t.determinant()).signum() * sign < 0.0;
        // Rank d - 1 fixes the map; a flip of the last direction needs that direction to be singled out.
        let gap = if flip {
            value(d - 2) - value(d - 1)
        } else {
            value(d - 2)
        };
        if value(0) <= 0.0 || gap <= RANK_TOLERANCE * value(0) {
            return Err(FitError::Degenerate);
        }
        let mut signs = na::DVector::from_element(d, 1.0);
        if flip {
            signs[order[d - 1]] = -1.0;
        }
        Ok(&u * DMatrix::from_diagonal(&signs) * &v_t)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Mirror;
    use approx::assert_relative_eq;

    fn body() -> Vec<Point> {
        [
            [0.0, 0.0, 0.0],
            [100.0, 5.0, 2.0],
            [-20.0, 60.0, -8.0],
            [35.0, -70.0, 40.0],
            [10.0, 20.0, 90.0],
        ]
        .map(|[x, y, z]| Point::new(x, y, z))
        .to_vec()
    }

    fn far() -> Rigid {
        Rigid::new(
            Vector::new(1500.0, -800.0, 300.0),
            Vector::new(0.7, -2.0, 1.1),
        )
    }

    #[test]
    fn a_rigid_map_comes_back() {
        let to: Vec<Point> = body().iter().map(|p| far() * p).collect();
        let fit = fit_rigid(&body(), &to, Some(&[1.0, 2.0, 0.5, 3.0, 1.0])).unwrap();
        assert!(fit.rms < 1e-11);
        let rigid = fit.rigid().unwrap();
        assert_relative_eq!(
            rigid.translation.vector,
            far().translation.vector,
            epsilon = 1e-9
        );
        assert!(rigid.rotation.angle_to(&far().rotation) < 1e-12);
        let grown: Vec<Point> = to.iter().map(|p| p * 1.25).collect();
        let fit = fit_similarity(&body(), &grown, None).unwrap();
        assert_relative_eq!(fit.scale, 1.25, epsilon = 1e-12);
        assert!(fit.rms < 1e-11 && fit.rigid().is_none());
    }

    #[test]
    fn a_mirrored_set_is_only_reached_by_a_mirror() {
        let to: Vec<Point> = body()
            .iter()
            .map(|p| far() * Mirror::y().point(p))
            .collect();
        let proper = fit_rigid(&body(), &to, None).unwrap();
        assert_relative_eq!(
            proper.rotation.to_rotation_matrix().matrix().determinant(),
            1.0,
            epsilon = 1e-12
        );
        assert!(proper.rms > 10.0);
        let (map, rms) = fit_improper(&body(), &to, None).unwrap();
        assert!(rms < 1e-10 && map.flips());
        for (a, b) in body().iter().zip(&to) {
            assert_relative_eq!(map.point(a), *b, epsilon = 1e-9);
        }
    }

    /// With paired landmarks the best map with a mirror of the set onto its relabelled self is a pure mirror
    /// I - 2nn' through the common centroid.
    #[test]
    fn paired_landmarks_give_a_pure_mirror() {
        let left = body();
        let right: Vec<Point> = left
            .iter()
            .enumerate()
            .map(|(k, p)| {
                let k = k as f64;
                Point::new(
                    p.x + 0.3 * k,
                    400.0 - p.y + 0.5 * k.sin(),
                    p.z - 0.2 * k * k,
                )
            })
            .collect();
        let from = [left.clone(), right.clone()].concat();
        let to = [right, left].concat();
        let (map, rms) = fit_improper(&from, &to, None).unwrap();
        assert!(rms > 0.1);
        let column = |v: Vector| map.vector(&v);
        let m = Matrix3::from_columns(&[
            column(Vector::x()),
            column(Vector::y()),
            column(Vector::z()),
        ]);
        assert_relative_eq!(m, m.transpose(), epsilon = 1e-12);
        assert_relative_eq!(m.trace(), 1.0, epsilon = 1e-12);
        let centre = from.iter().fold(Vector::zeros(), |s, p| s + p.coords) / from.len() as f64;
        assert_relative_eq!(map.point(&centre.into()).coords, centre, epsilon = 1e-9);
    }

    #[test]
    fn what_does_not_fix_a_map_is_refused() {
        let line: Vec<Point> = (0..5)
            .map(|k| Point::new(f64::from(k), 2.0 * f64::from(k), 7.0))
            .collect();
        assert_eq!(fit_rigid(&line, &line, None), Err(FitError::Degenerate));
        assert_eq!(
            fit_rigid(&[Point::origin(); 4], &body()[..4], None),
            Err(FitError::Degenerate)
        );
        assert_eq!(
            fit_rigid(&body()[..2], &body()[..2], None),
            Err(FitError::TooFewPoints { needed: 3, got: 2 })
        );
        assert!(matches!(
            fit_rigid(&body(), &body()[..4], None),
            Err(FitError::TooFewPoints { .. })
        ));
        assert_eq!(
            fit_rigid(&body(), &body(), Some(&[-1.0; 5])),
            Err(FitError::NotFinite)
        );
        // A cube corner against its mirror image: every turn about the diagonal is as good.
        let axes = [
            Point::new(1.0, 0.0, 0.0),
            Point::new(0.0, 1.0, 0.0),
            Point::new(0.0, 0.0, 1.0),
        ];
        let both: Vec<Point> = axes.iter().copied().chain(axes.map(|p| -p)).collect();
        let turned: Vec<Point> = both.iter().map(|p| -p).collect();
        assert_eq!(fit_rigid(&both, &turned, None), Err(FitError::Degenerate));
        assert!(matches!(
            fit_similarity_2d(
                &[[1.0, 0.0], [-1.0, 0.0]],
                &[[0.0, 0.0], [0.0, 0.0]],
                None,
                false
            ),
            Err(FitError::Degenerate)
        ));
        // Three points in a plane do fix it.
        assert!(fit_rigid(&body()[..3], &body()[..3], None).unwrap().rms < 1e-12);
    }
}
