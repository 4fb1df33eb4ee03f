//! The active rows of a vertex with the inverse of their matrix.

/// One active row.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Held {
    /// A row of the problem.
    Row(usize),
    /// `-s <= 0`.
    Bottom,
    /// `x_j = 0`, only until a row sees the unknown: its multiplier is always 0.
    Still(usize),
}

/// As many active rows as there are unknowns (`s` the last of them), the vertex where all are met, and the inverse.
#[derive(Clone, Debug)]
pub(super) struct Basis {
    width: usize,
    held: Vec<Held>,
    /// Whether a row is held, by row.
    inside: Vec<bool>,
    /// Column-major inverse: column k belongs to the k-th held row.
    inverse: Vec<f64>,
    vertex: Vec<f64>,
    /// The row last expressed in the held rows.
    weights: Vec<f64>,
}

impl Basis {
    /// All unknowns at rest and `s = 0`.
    pub(super) fn new(rows: usize, width: usize) -> Self {
        let mut held: Vec<Held> = (0..width - 1).map(Held::Still).collect();
        held.push(Held::Bottom);
        let mut inverse = vec![0.0; width * width];
        for k in 0..width {
            inverse[k * width + k] = if k + 1 == width { -1.0 } else { 1.0 };
        }
        Self {
            width,
            held,
            inside: vec![false; rows],
            inverse,
            vertex: vec![0.0; width],
            weights: vec![0.0; width],
        }
    }

    pub(super) fn vertex(&self) -> &[f64] {
        &self.vertex
    }

    pub(super) fn holds(&self, row: usize) -> bool {
        self.inside[row]
    }

    pub(super) fn size(&self) -> f64 {
        self.vertex.iter().fold(0.0, |m, v| m.max(v.abs()))
    }

    pub(super) fn value(&self) -> f64 {
        self.vertex[self.width - 1]
    }

    fn column(&self, k: usize) -> &[f64] {
        &self.inverse[k * self.width..(k + 1) * self.width]
    }

    /// Multiplier of the k-th held row: minus the last row of the inverse, since the aim is the last unknown alone.
    fn multiplier(&self, k: usize) -> f64 {
        -self.inverse[k * self.width + self.width - 1]
    }

    /// Held rows of the problem with their multipliers.
    pub(super) fn multipliers(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.held.iter().enumerate().filter_map(|(k, h)| match h {
            Held::Row(i) => Some((*i, self.multiplier(k))),
            Held::Bottom | Held::Still(_) => None,
        })
    }

    /// Held rows of the problem with their weights in the row last expressed.
    pub(super) fn expressed(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.held
            .iter()
            .zip(&self.weights)
            .filter_map(|(h, w)| match h {
                Held::Row(i) => Some((*i, *w)),
                Held::Bottom | Held::Still(_) => None,
            })
    }

    /// Puts the vertex where the held rows meet their bounds.
    pub(super) fn place(&mut self, bound: &[f64]) {
        self.vertex.fill(0.0);
        for k in 0..self.width {
            if let Held::Row(i) = self.held[k] {
                let b = bound[i];
                let column = &self.inverse[k * self.width..(k + 1) * self.width];
                for (v, c) in self.vertex.iter_mut().zip(column) {
                    *v += b * c;
                }
            }
        }
    }

    /// Writes `row` as a combination of the held rows.
    pub(super) fn express(&mut self, row: &[f64]) {
        for k in 0..self.width {
            self.weights[k] = row.iter().zip(self.column(k)).map(|(a, b)| a * b).sum();
        }
    }

    /// The held row that has to make room for the one last expressed; `None`: the rows contradict each other.
    ///
    /// A resting unknown goes first (its multiplier stays 0); else the smallest ratio of multiplier to weight, which
    /// keeps all multipliers >= 0. Ties: the largest weight, or the lowest place where cycling is to be ruled out.
    pub(super) fn leaving(&self, lowest: bool) -> Option<usize> {
        let largest = self.weights.iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        let small = 1e-11 * largest.max(1e-3);
        let still = (0..self.width)
            .filter(|&k| matches!(self.held[k], Held::Still(_)) && self.weights[k].abs() > small)
            .max_by(|&a, &b| self.weights[a].abs().total_cmp(&self.weights[b].abs()));
        if still.is_some() {
            return still;
        }
        let mut best: Option<(usize, f64)> = None;
        for k in (0..self.width).filter(|&k| self.weights[k] > small) {
            let ratio = self.multiplier(k).max(0.0) / self.weights[k];
            let better = match best {
                None => true,
                Some((b, r)) => {
                    let tie = (ratio - r).abs() <= 1e-13 * (1.0 + r);
                    if !tie {
                        ratio < r
                    } else if lowest {
                        self.order(k) < self.order(b)
                    } else {
                        self.weights[k] > self.weights[b]
                    }
                }
            };
            if better {
                best = Some((k, ratio));
            }
        }
        best.map(|(k, _)| k)
    }

    fn order(&self, k: usize) -> usize {
        match self.held[k] {
            Held::Row(i) => i,
            Held::Bottom => self.inside.len(),
            Held::Still(j) => self.inside.len() + 1 + j,
        }
    }

    /// Lets row `enter` (last expressed, exceeded by `excess` at the vertex) take the place of the k-th held row.
    pub(super) fn exchange(&mut self, k: usize, enter: usize, excess: f64) {
        let w = self.width;
        let pivot = self.weights[k];
        for v in &mut self.inverse[k * w..(k + 1) * w] {
            *v /= pivot;
        }
        let (before, rest) = self.inverse.split_at_mut(k * w);
        let (mine, after) = rest.split_at_mut(w);
        for (j, other) in before.chunks_exact_mut(w).enumerate() {
            subtract(other, mine, self.weights[j]);
        }
        for (j, other) in after.chunks_exact_mut(w).enumerate() {
            subtract(other, mine, self.weights[k + 1 + j]);
        }
        for (v, c) in self.vertex.iter_mut().zip(mine.iter()) {
            *v -= excess * c;
        }
        if let Held::Row(i) = self.held[k] {
            self.inside[i] = false;
        }
        self.held[k] = Held::Row(enter);
        self.inside[enter] = true;
    }

    /// Works the inverse out afresh (Gauss-Jordan with row exchange); keeps the old one should the matrix be singular.
    pub(super) fn refactor(&mut self, fill: impl Fn(usize, &mut [f64])) {
        let w = self.width;
        let mut a = vec![0.0; w * w];
        for (k, h) in self.held.iter().enumerate() {
            let row = &mut a[k * w..(k + 1) * w];
            match h {
                Held::Row(i) => fill(*i, row),
                Held::Bottom => row[w - 1] = -1.0,
                Held::Still(j) => row[*j] = 1.0,
            }
        }
        if let Some(inverse) = invert(a, w) {
            for k in 0..w {
                for j in 0..w {
                    self.inverse[k * w + j] = inverse[j * w + k];
                }
            }
        }
    }
}

fn subtract(from: &mut [f64], what: &[f64], times: f64) {
    if times != 0.0 {
        for (f, v) in from.iter_mut().zip(what) {
            *f -= times * v;
        }
    }
}

/// Inverse of a row-major square matrix; `None` if it is singular to rounding.
fn invert(mut a: Vec<f64>, w: usize) -> Option<Vec<f64>> {
    let mut inv = vec![0.0; w * w];
    for k in 0..w {
        inv[k * w + k] = 1.0;
    }
    for k in 0..w {
        let p = (k..w).max_by(|&i, &j| a[i * w + k].abs().total_cmp(&a[j * w + k].abs()))?;
        let pivot = a[p * w + k];
        if pivot.abs() < 1e-300 {
            return None;
        }
        for j in 0..w {
            a.swap(k * w + j, p * w + j);
            inv.swap(k * w + j, p * w + j);
        }
        for j in 0..w {
            a[k * w + j] /= pivot;
            inv[k * w + j] /= pivot;
        }
        for i in (0..w).filter(|&i| i != k) {
            let f = a[i * w + k];
            if f != 0.0 {
                for j in 0..w {
                    a[i * w + j] -= f * a[k * w + j];
                    inv[i * w + j] -= f * inv[k * w + j];
                }
            }
        }
    }
    Some(inv)
}
