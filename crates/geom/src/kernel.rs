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
    /// closer than the range where that allows.
    pub(crate) fn between_cells(self, l: f64, cell: f64, di: f64, dj: f64) -> f64 {
        let q = (1.2 * cell / l).ceil().clamp(2.0, 6.0);
        let n = q as i32;
        let mut sum = 0.0;
        for r in 1 - n..n {
            let (x, wx) = (di + f64::from(r) / q, q - f64::from(r.abs()));
            for s in 1 - n..n {
                let (y, wy) = (dj + f64::from(s) / q, q - f64::from(s.abs()));
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
