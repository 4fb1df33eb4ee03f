//! What the noise of a visit means for the cells of a strip.

use geom::{Lagged, NoiseModel};

/// Step and number of entries of the table, mm.
const STEP: f64 = 0.5;
const ENTRIES: usize = 160;
/// Sub-places per side of a cell over which covariance is averaged.
const SUB: i32 = 4;

/// Covariance of single readings, tabulated.
#[derive(Clone, Debug)]
pub struct StripNoise {
    white: f64,
    /// Covariance of the correlated parts at the distances 0, STEP, ..., mm2.
    table: Vec<f64>,
    /// Degrees of freedom of the variance of a single reading.
    pub nu: f64,
}

/// Covariance of the means of the cells of a strip.
#[derive(Clone, Debug)]
pub struct CellNoise {
    /// Variance of one reading, and covariance of two anywhere in a cell, mm2.
    single: f64,
    pair: f64,
    /// Covariance of two cells whose middles are 0, STEP, ... apart, mm2.
    table: Vec<f64>,
    /// Beyond this distance nothing is left, mm.
    pub reach: f64,
}

impl StripNoise {
    /// As the noise of a visit says.
    pub fn new(model: &NoiseModel) -> Self {
        Self {
            white: model.white_var(),
            table: model.covariance_table(STEP, 2 * ENTRIES),
            nu: model.uncertainty(&Lagged::from_pairs(1.0, [(0.0, 1.0)])).nu,
        }
    }

    /// For square cells of this side (mm) with this many readings each, whose middles are those of their readings.
    pub fn of_cells(&self, side: f64, readings: f64) -> CellNoise {
        // Readings lie less far from their own middle than from that of the cell.
        let own_side = side * (1.0 - 1.0 / readings).max(0.0).sqrt();
        let table: Vec<f64> = (0..ENTRIES)
            .map(|k| self.smeared(k as f64 * STEP, own_side))
            .collect();
        let largest = table.first().copied().unwrap_or(0.0).max(1e-30);
        let last = table.iter().rposition(|c| *c > 2e-3 * largest).unwrap_or(0);
        CellNoise {
            single: self.white + between(&self.table, 0.0),
            pair: self.smeared(0.0, side),
            table,
            reach: (last + 1) as f64 * STEP,
        }
    }

    /// Mean covariance of two readings in squares of this side whose middles are so far apart, mm2.
    fn smeared(&self, apart: f64, side: f64) -> f64 {
        let (mut sum, mut weights) = (0.0, 0.0);
        // Differences of two places in cells are spread as a triangle over twice the side.
        for i in 1 - SUB..SUB {
            for j in 1 - SUB..SUB {
                let w = f64::from((SUB - i.abs()) * (SUB - j.abs()));
                let d = side / f64::from(SUB);
                let (dx, dy) = (f64::from(i) * d, f64::from(j) * d);
                sum += w * between(&self.table, (apart + dx).hypot(dy));
                weights += w;
            }
        }
        sum / weights
    }
}

impl CellNoise {
    /// Covariance of the means of two cells `distance` apart, mm2.
    pub fn between(&self, distance: f64) -> f64 {
        between(&self.table, distance)
    }

    /// Variance of the mean of the `n` readings of a cell, mm2: each is alike with itself, and with the others as two
    /// places of a cell are.
    pub fn own(&self, n: f64) -> f64 {
        self.single / n + self.pair * (1.0 - 1.0 / n)
    }
}

/// Linear between the entries of a table, 0 beyond it.
fn between(table: &[f64], distance: f64) -> f64 {
    let x = distance / STEP;
    let i = x as usize;
    match (table.get(i), table.get(i + 1)) {
        (Some(a), Some(b)) => a + (b - a) * (x - i as f64),
        _ => 0.0,
    }
}
