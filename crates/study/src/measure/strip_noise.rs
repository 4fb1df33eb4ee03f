//! What the noise of a visit means for the cells of a strip.

use geom::{Lagged, NoiseModel};

/// Step and number of entries of the table, mm.
const STEP: f64 = 0.5;
const ENTRIES: usize = 160;
/// Sub-places per side of a cell over which covariance is averaged.
const SUB: i32 = 4;

/// Covariance of cell means, tabulated.
#[derive(Clone, Debug)]
pub struct StripNoise {
    white: f64,
    table: Vec<f64>,
    /// Degrees of freedom of the variance of a single reading.
    pub nu: f64,
    /// Beyond this distance nothing is left, mm.
    pub reach: f64,
}

impl StripNoise {
    /// For square cells of side `cell`, mm.
    pub fn new(model: &NoiseModel, cell: f64) -> Self {
        let fine = model.covariance_table(STEP, ENTRIES + (2.0 * cell / STEP).ceil() as usize + 2);
        let at = |h: f64| {
            let x = h / STEP;
            let i = x as usize;
            match (fine.get(i), fine.get(i + 1)) {
                (Some(a), Some(b)) => a + (b - a) * (x - i as f64),
                _ => 0.0,
            }
        };
        let table: Vec<f64> = (0..ENTRIES)
            .map(|k| {
                let h = k as f64 * STEP;
                let (mut sum, mut weights) = (0.0, 0.0);
                // Differences of two places in cells are spread as a triangle over twice the side.
                for i in 1 - SUB..SUB {
                    for j in 1 - SUB..SUB {
                        let w = f64::from((SUB - i.abs()) * (SUB - j.abs()));
                        let (dx, dy) = (f64::from(i), f64::from(j));
                        let d = cell / f64::from(SUB);
                        sum += w * at((h + dx * d).hypot(dy * d));
                        weights += w;
                    }
                }
                sum / weights
            })
            .collect();
        let largest = table.first().copied().unwrap_or(0.0).max(1e-30);
        let last = table.iter().rposition(|c| *c > 2e-3 * largest).unwrap_or(0);
        Self {
            white: model.white_var(),
            table,
            nu: model.uncertainty(&Lagged::from_pairs(1.0, [(0.0, 1.0)])).nu,
            reach: (last + 1) as f64 * STEP,
        }
    }

    /// Covariance of the means of two cells `distance` apart, mm2.
    pub fn between(&self, distance: f64) -> f64 {
        let x = distance / STEP;
        let i = x as usize;
        match (self.table.get(i), self.table.get(i + 1)) {
            (Some(a), Some(b)) => a + (b - a) * (x - i as f64),
            _ => 0.0,
        }
    }

    /// Variance of the mean of the `n` points of a cell, mm2.
    pub fn own(&self, n: f64) -> f64 {
        self.white / n + self.between(0.0)
    }
}
