//! How correlated two readings are that lie some distance apart.

/// Form of a correlation function; 1 at distance 0, falling to 0. "Correlated over L mm" means `Gaussian` of range L.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kernel {
    /// exp(-h^2 / 2 l^2): smooth waves.
    Gaussian,
    /// exp(-h / l): rough at every scale.
    Exponential,
    /// (1 + a) exp(-a), a = sqrt(3) h / l: Matern of smoothness 3/2.
    Matern,
}

impl Kernel {
    /// All forms.
    pub const ALL: [Self; 3] = [Self::Gaussian, Self::Exponential, Self::Matern];

    /// Correlation at distance `h` for range `l`, both mm, `l > 0`.
    pub fn at(self, h: f64, l: f64) -> f64 {
        match self {
            Self::Gaussian => (-0.5 * (h / l) * (h / l)).exp(),
            Self::Exponential => (-h / l).exp(),
            Self::Matern => {
                let a = 3_f64.sqrt() * h / l;
                (1.0 + a) * (-a).exp()
            }
        }
    }

    /// Distance at which the correlation has fallen to 5 %, in units of the range.
    pub fn practical_range(self) -> f64 {
        match self {
            Self::Gaussian => 2.45,
            Self::Exponential => 3.0,
            Self::Matern => 2.74,
        }
    }

    /// Distance, in units of the range, beyond which the correlation is below 1e-9 and is left out of sums.
    pub(crate) fn reach(self) -> f64 {
        match self {
            Self::Gaussian => 6.5,
            Self::Exponential => 21.0,
            Self::Matern => 14.0,
        }
    }

    /// Mean correlation between the points of two square cells of side `cell` (mm) that lie `(di, dj)` cells apart;
    /// for one and the same cell, between two different points of it. Each cell is a lattice of at most 6 x 6 points,
    /// closer than the range where that allows, and spread so that their variance is that of the cell: where the range is
    /// long, it is the variance that the mean correlation depends on.
    pub(crate) fn between_cells(self, l: f64, cell: f64, di: f64, dj: f64) -> f64 {
        let q = (1.2 * cell / l).ceil().clamp(2.0, 6.0);
        let n = q as i32;
        // The variance of q even places in a cell is 1 - 1/q^2 of that of the cell.
        let step = 1.0 / (q * q - 1.0).sqrt();
        let mut sum = 0.0;
        for r in 1 - n..n {
            let (x, wx) = (di + f64::from(r) * step, q - f64::from(r.abs()));
            for s in 1 - n..n {
                let (y, wy) = (dj + f64::from(s) * step, q - f64::from(s.abs()));
                sum += wx * wy * self.at(cell * x.hypot(y), l);
            }
        }
        sum / q.powi(4)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn falls_to_five_percent_at_the_practical_range() {
        for k in Kernel::ALL {
            assert_eq!(k.at(0.0, 3.0), 1.0);
            assert_abs_diff_eq!(k.at(3.0 * k.practical_range(), 3.0), 0.05, epsilon = 1e-3);
            assert!(k.at(3.0 * k.reach(), 3.0) < 1e-9);
        }
    }

    #[test]
    fn cells_small_against_the_range_count_by_their_variance() {
        // A Gaussian correlation averaged over two cells apart in one direction only has a closed form: to the fourth
        // order in cell / range, 1 - E h^2 / 2 l^2 + E h^4 / 8 l^4, with h = cell x (d + t), t of the triangle density on
        // -1..1 both ways (E t^2 = 1/6, E t^4 = 1/15).
        let (l, cell) = (10.0_f64, 2.0_f64);
        for (di, dj) in [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0)] {
            let m2 = |d: f64| d * d + 1.0 / 6.0;
            let m4 = |d: f64| d.powi(4) + d * d + 1.0 / 15.0;
            let a = (cell / l).powi(2);
            let h2 = m2(di) + m2(dj);
            let h4 = m4(di) + m4(dj) + 2.0 * m2(di) * m2(dj);
            let want = 1.0 - 0.5 * a * h2 + 0.125 * a * a * h4;
            let found = Kernel::Gaussian.between_cells(l, cell, di, dj);
            assert_abs_diff_eq!(found, want, epsilon = 2e-4);
            // Without regard to the variance it would be 0.0017 off at two places a side.
            assert!((found - want).abs() < 0.3 * a / 24.0);
        }
    }

    #[test]
    fn cell_means_add_up_to_the_area_under_the_correlation() {
        // The sum over all lags is the integral over the plane divided by the cell: 2 pi l^2 for the first two forms,
        // 4 pi l^2 / 3 x 3/2 = 2 pi l^2 for the third.
        for k in Kernel::ALL {
            for (l, cell) in [(1.2, 6.0), (3.0, 6.0), (6.0, 6.0)] {
                let n = (k.reach() * l / cell).ceil() as i32 + 1;
                let mut sum = 0.0;
                for i in -n..=n {
                    for j in -n..=n {
                        sum += k.between_cells(l, cell, f64::from(i), f64::from(j));
                    }
                }
                let want = std::f64::consts::TAU * l * l / (cell * cell);
                assert_abs_diff_eq!(sum, want, epsilon = 0.03 * want);
            }
        }
    }
}
