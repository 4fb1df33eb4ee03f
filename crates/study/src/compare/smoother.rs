//! Smooths the difference of two edges.
//!
//! Both edges were read with noise that changes faster along them than sheet does; it would stand twice in the
//! difference and push its largest value up. The difference is kept as a cubic spline with one knot per 25 mm.

use geom::{Point, Spline, SplineBasis, SplineFit, covariance_factor};
use nalgebra::DMatrix;
use record::EdgeSpread;

use super::lay::{Crossing, Laid, Station};

/// Knot distance of the difference of two edges, mm.
const KNOTS: f64 = 25.0;

/// Factors of the same covariance, no more than there are rows but for the last `shared`, which stay as they are.
fn fewer(factors: DMatrix<f64>, shared: usize) -> DMatrix<f64> {
    let own = factors.columns(0, factors.ncols() - shared);
    if own.ncols() <= own.nrows() {
        return factors;
    }
    let few = covariance_factor(&(own * own.transpose()));
    let kept = few.ncols();
    let mut all = few.resize_horizontally(kept + shared, 0.0);
    let last = factors.columns(factors.ncols() - shared, shared);
    all.columns_mut(kept, shared).copy_from(&last);
    all
}

/// Takes out of the difference what changes faster than sheet does.
pub struct Smoother {
    fit: SplineFit,
    at: Vec<f64>,
    length: f64,
}

impl Smoother {
    /// For stations at these shares of an edge of `length` mm.
    pub fn new(shares: &[f64], length: f64, closed: bool) -> Option<Self> {
        let at: Vec<f64> = shares.iter().map(|f| f * length).collect();
        let basis = SplineBasis::every(length, KNOTS, closed);
        let fit = SplineFit::new(basis, &at, &[], 0.0)?;
        Some(Self { fit, at, length })
    }

    /// What smoothing leaves of the uncertainty of an edge in the difference.
    pub fn spread(&self, of: &EdgeSpread) -> EdgeSpread {
        let rows = self.fit.basis().rows(&self.at, 0);
        let left = |m: &DMatrix<f64>| &rows * fewer(self.fit.coefficients(m), of.shared);
        EdgeSpread {
            gap: left(&of.gap),
            flush: left(&of.flush),
            shared: of.shared,
            nu: of.nu,
        }
    }

    /// Gap and flush of the difference as functions of length.
    fn curves(&self, laid: &Laid) -> (Spline<1>, Spline<1>) {
        let values = |f: fn(&Crossing) -> f64| -> Vec<f64> {
            laid.crossings.iter().flatten().map(f).collect()
        };
        (
            self.fit.function(&values(|c| c.gap)),
            self.fit.function(&values(|c| c.flush)),
        )
    }

    /// The crossings moved to where the smooth difference has them.
    pub fn smoothed(&self, stations: &[Station], used: &[usize], laid: &Laid) -> Laid {
        let (gap, flush) = self.curves(laid);
        let mut out = laid.clone();
        for (s, i) in self.at.iter().zip(used) {
            if let Some(c) = out.crossings[*i].as_mut() {
                let station = &stations[*i];
                (c.gap, c.flush) = (gap.at(*s)[0], flush.at(*s)[0]);
                c.p = station.p + station.inward.into_inner() * c.gap
                    - station.out.into_inner() * c.flush;
            }
        }
        out
    }

    /// b's edge: a's dense edge moved by the difference. `shares` are those of `stations`.
    pub fn moved(
        &self,
        stations: &[Station],
        shares: &[f64],
        laid: &Laid,
        a_curve: &[Point],
    ) -> Vec<Point> {
        let (gap, flush) = self.curves(laid);
        let closed = self.fit.basis().periodic();
        let last = stations.len() - 1;
        let steps = if closed {
            a_curve.len()
        } else {
            a_curve.len() - 1
        } as f64;
        a_curve
            .iter()
            .enumerate()
            .map(|(k, p)| {
                let share = k as f64 / steps;
                let i = shares.partition_point(|s| *s <= share).saturating_sub(1);
                let next = if i == last && closed {
                    0
                } else {
                    (i + 1).min(last)
                };
                let to = if next > i { shares[next] } else { 1.0 };
                let f = ((share - shares[i]) / (to - shares[i]).max(1e-12)).clamp(0.0, 1.0);
                let inward = stations[i].inward.lerp(&stations[next].inward, f);
                let out = stations[i].out.lerp(&stations[next].out, f);
                let s = share * self.length;
                p + inward * gap.at(s)[0] - out * flush.at(s)[0]
            })
            .collect()
    }
}
