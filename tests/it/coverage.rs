//! Simulations with known truth: how often the stated give-or-take holds the true value, and how much wider it is than
//! need be.
//!
//! The short runs (200 seeds) belong to every check. `UNMIRROR_SEEDS=2000 cargo test -p it coverage -- --nocapture`
//! repeats them with more seeds and prints the figures; `-- --ignored` adds the runs with 16 faces.

mod angle;
mod bow;
mod fields;
mod hole;
mod junction;

/// Number of seeds: 200, or what `UNMIRROR_SEEDS` says.
pub fn seeds() -> u64 {
    std::env::var("UNMIRROR_SEEDS").map_or(200, |n| n.parse().expect("UNMIRROR_SEEDS is a number"))
}

/// True errors beside stated 95 % half-widths.
#[derive(Default)]
pub struct Tally {
    /// (error, half-width).
    pub rows: Vec<(f64, f64)>,
}

impl Tally {
    pub fn add(&mut self, error: f64, u95: f64) {
        self.rows.push((error, u95));
    }

    /// Share of errors inside their half-width, percent.
    pub fn covered(&self) -> f64 {
        100.0 * self.rows.iter().filter(|r| r.0.abs() <= r.1).count() as f64
            / self.rows.len() as f64
    }

    /// Mean half-width over the 95 % point of the true errors.
    pub fn width(&self) -> f64 {
        let mut errors: Vec<f64> = self.rows.iter().map(|r| r.0.abs()).collect();
        errors.sort_by(f64::total_cmp);
        let point = errors[(errors.len() * 95).div_ceil(100) - 1];
        self.rows.iter().map(|r| r.1).sum::<f64>() / self.rows.len() as f64 / point
    }

    pub fn mean_error(&self) -> f64 {
        self.rows.iter().map(|r| r.0).sum::<f64>() / self.rows.len() as f64
    }

    pub fn root_mean_square(&self) -> f64 {
        (self.rows.iter().map(|r| r.0 * r.0).sum::<f64>() / self.rows.len() as f64).sqrt()
    }
}
