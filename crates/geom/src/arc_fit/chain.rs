//! A chain of pieces of constant curvature, tangent at every joint by construction, fitted to points.
//!
//! The chain is its start, its first heading and length and curvature of each piece; at a sharp corner also the turn
//! there. Gauss-Newton with damping on the distances along the normals; a closed chain closes through Lagrange
//! multipliers, exactly.

use std::f64::consts::{PI, TAU};

use nalgebra::{DMatrix, DVector, Point2, Vector2, Vector4};

use super::parameters::{Parameters, Sums};
use super::placed::{Placed, left, nearest_from, nearest_piece};
use super::screen::Screen;
use super::{Sample, wrapped};
use crate::{ArcPath, ArcPiece, bulge_of};

const MOST_ROUNDS: usize = 40;
/// Steps that close a chain which has not settled, and how stiff it is meanwhile.
const CLOSING_ROUNDS: usize = 12;
const CLOSING_DAMPING: f64 = 10.0;
/// A piece shorter than this is none, mm.
const SHRUNK: f64 = 1e-3;
/// A piece that bows by less is a line, mm.
const FLAT: f64 = 1e-9;

#[derive(Clone, Copy, Debug)]
struct Piece {
    length: f64,
    /// Signed curvature, 1/mm.
    k: f64,
    straight: bool,
    /// Free turn before the piece, rad, where the outline has a sharp corner.
    turn: Option<f64>,
}

#[derive(Clone, Debug)]
pub(super) struct Chain {
    start: Point2<f64>,
    heading: f64,
    pieces: Vec<Piece>,
    closed: bool,
}

impl Chain {
    /// The chain whose headings at the breakpoints are those of the outline.
    pub(super) fn from_breaks(samples: &[Sample], breaks: &[usize], closed: bool) -> Self {
        let n = samples.len();
        let count = if closed {
            breaks.len()
        } else {
            breaks.len() - 1
        };
        let pieces = (0..count)
            .map(|i| {
                let from = breaks[i];
                let to = breaks[(i + 1) % breaks.len()];
                let steps = if count == 1 && closed {
                    n
                } else {
                    (to + n - from) % n
                };
                let (mut length, mut turn) = (0.0, 0.0);
                for k in 0..steps {
                    let (a, b) = (&samples[(from + k) % n], &samples[(from + k + 1) % n]);
                    length += (b.at - a.at).norm();
                    turn += wrapped(b.arriving - a.heading);
                }
                Piece {
                    length,
                    k: turn / length,
                    straight: false,
                    turn: samples[from]
                        .sharp
                        .then(|| wrapped(samples[from].heading - samples[from].arriving)),
                }
            })
            .collect();
        Self {
            start: samples[breaks[0]].at,
            heading: samples[breaks[0]].heading,
            pieces,
            closed,
        }
    }

    pub(super) fn pieces(&self) -> usize {
        self.pieces.len()
    }

    fn placed(&self) -> Vec<Placed> {
        let (mut start, mut heading) = (self.start, self.heading);
        self.pieces
            .iter()
            .enumerate()
            .map(|(i, p)| {
                if i > 0 {
                    heading += p.turn.unwrap_or(0.0);
                }
                let placed = Placed::new(start, heading, p.length, p.k);
                start = placed.end;
                heading += p.k * p.length;
                placed
            })
            .collect()
    }

    /// Lines and arcs; arcs above half a circle come in equal parts.
    pub(super) fn path(&self) -> ArcPath {
        let placed = self.placed();
        let mut pieces = Vec::new();
        for p in &placed {
            let bow = p.k * p.length * p.length / 8.0;
            let sweep = if bow.abs() < FLAT {
                0.0
            } else {
                p.k * p.length
            };
            let parts = (sweep.abs() / PI * (1.0 - 1e-9)).ceil().max(1.0);
            for i in 0..parts as usize {
                pieces.push(ArcPiece {
                    start: p.point(p.length * i as f64 / parts),
                    bulge: bulge_of(sweep / parts),
                });
            }
        }
        let end = placed.last().filter(|_| !self.closed).map(|p| p.end);
        ArcPath { pieces, end }
    }

    /// Fits all pieces to the points at once. Gives the piece with the worst point and its distance, or `None` where
    /// the fit does not settle or is hopelessly far off.
    pub(super) fn fit(&mut self, points: &[Point2<f64>], tolerance: f64) -> Option<(usize, f64)> {
        let mut weights = vec![1.0; points.len()];
        let mut worst = self.rounds(points, &weights, tolerance)?;
        // Just beyond the tolerance: lean on the worst points (Lawson's weights) before giving up.
        for _ in 0..6 {
            if worst.1 <= tolerance || worst.1 > 1.6 * tolerance {
                break;
            }
            let placed = self.placed();
            let mut sum = 0.0;
            for (w, p) in weights.iter_mut().zip(points) {
                let off = placed[nearest_piece(&placed, p)].nearest(p).distance;
                *w *= (off / worst.1).max(0.05);
                sum += *w;
            }
            let mean = sum / points.len() as f64;
            for w in &mut weights {
                *w /= mean;
            }
            let mut trial = self.clone();
            match trial.rounds(points, &weights, tolerance) {
                Some(better) if better.1 < worst.1 => {
                    *self = trial;
                    worst = better;
                }
                _ => break,
            }
        }
        // A piece wound round itself has every point near it and describes nothing.
        let wound = |p: &Piece| (p.k * p.length).abs() > TAU || !p.length.is_finite();
        (!self.pieces.iter().any(wound)).then_some(worst)
    }

    fn rounds(
        &mut self,
        points: &[Point2<f64>],
        weights: &[f64],
        tolerance: f64,
    ) -> Option<(usize, f64)> {
        let mut damping = 1e-4;
        let mut best = f64::INFINITY;
        let mut kept = self.clone();
        for round in 0..MOST_ROUNDS {
            let system = self.system(points, weights);
            let worse = system.cost + system.open * system.open > 1.5 * best && round > 2;
            if worse {
                *self = kept.clone();
                damping *= 100.0;
                if damping > 1e5 {
                    return None;
                }
                best = f64::INFINITY;
                continue;
            }
            let gain = best - system.cost;
            best = system.cost + system.open * system.open;
            kept = self.clone();
            if system.open < 1e-11 && gain.abs() <= 1e-5 * system.cost + 1e-16 && round > 1 {
                return Some(system.worst);
            }
            if round == 12 && system.worst.1 > 10.0 * tolerance {
                return None;
            }
            let step = system.solve(damping)?;
            self.step(&step);
            if self.without_shrunk() {
                best = f64::INFINITY;
                damping = 1e-3;
            }
            damping = (damping / 10.0f64).max(1e-7);
        }
        self.close(points, weights)
    }

    /// Closes a chain that is still on its way along a direction in which next to nothing is gained: steps that change
    /// it as little as can be. Gives the piece with the worst point and its distance.
    fn close(&mut self, points: &[Point2<f64>], weights: &[f64]) -> Option<(usize, f64)> {
        for _ in 0..CLOSING_ROUNDS {
            let system = self.system(points, weights);
            if system.open < 1e-10 {
                return Some(system.worst);
            }
            self.step(&system.solve(CLOSING_DAMPING)?);
        }
        None
    }

    /// Leaves out pieces of no length, as long as enough are left; whether there were any.
    fn without_shrunk(&mut self) -> bool {
        let least = if self.closed { 3 } else { 1 };
        let before = self.pieces.len();
        let mut i = 0;
        while i < self.pieces.len() && self.pieces.len() > least {
            let p = self.pieces[i];
            // The start of a chain and sharp corners stay.
            if p.length < SHRUNK && p.turn.is_none() && i > 0 {
                self.pieces.remove(i);
            } else {
                i += 1;
            }
        }
        self.pieces.len() < before
    }

    /// Columns of the parameters: start x, y, heading, then length, curvature and turn where they are free.
    pub(super) fn columns(&self) -> (Vec<[Option<usize>; 3]>, usize) {
        let mut next = 3;
        let mut take = |free: bool| {
            free.then(|| {
                next += 1;
                next - 1
            })
        };
        let columns = self
            .pieces
            .iter()
            .enumerate()
            .map(|(i, p)| {
                [
                    take(true),
                    take(!p.straight),
                    take(i > 0 && p.turn.is_some()),
                ]
            })
            .collect();
        (columns, next)
    }

    fn system(&self, points: &[Point2<f64>], weights: &[f64]) -> System {
        let placed = self.placed();
        let parameters = Parameters::of(self, &placed);
        let mut sums = vec![Sums::default(); placed.len()];
        let mut cost = 0.0;
        let mut worst = (0, 0.0);
        let mut at = points.first().map_or(0, |p| nearest_piece(&placed, p));
        for (p, w) in points.iter().zip(weights) {
            at = nearest_from(&placed, at, self.closed, p);
            let near = placed[at].nearest(p);
            if near.distance > worst.1 {
                worst = (at, near.distance);
            }
            let n = left(near.along);
            let bends = n.dot(&placed[at].by_curvature_at(near.s, &near.at, near.along));
            let seen = Vector4::new(n.x, n.y, n.dot(&left(near.at.coords)), bends);
            sums[at].add(&seen, near.off, *w);
            cost += w * near.off * near.off;
        }
        let (mut normal, mut right) = parameters.gathered(&sums);
        let last = placed.len() - 1;
        let end = placed[last];
        if !self.closed {
            // Both ends stay where the outline has them.
            for (j, s, p) in [
                (0, 0.0, points[0]),
                (last, end.length, points[points.len() - 1]),
            ] {
                let off = p - placed[j].point(s);
                let mut rows = [
                    DVector::zeros(parameters.width()),
                    DVector::zeros(parameters.width()),
                ];
                parameters.derive(&placed, j, s, |c, v| {
                    rows[0][c] += v.x;
                    rows[1][c] += v.y;
                });
                for (axis, row) in rows.iter_mut().enumerate() {
                    if let Some(c) = parameters.of_piece[j][0].filter(|_| s > 0.0) {
                        row[c] += end.end_along[axis];
                    }
                    normal.ger(1.0, row, row, 1.0);
                    right.axpy(off[axis], row, 1.0);
                    cost += off[axis] * off[axis];
                }
            }
        }
        let (held, missing) = if self.closed {
            self.closing(&placed, &parameters)
        } else {
            (DMatrix::zeros(0, parameters.width()), DVector::zeros(0))
        };
        System {
            normal,
            right,
            open: missing.norm(),
            held,
            missing,
            cost,
            worst,
        }
    }

    /// Rows and missing amounts of the closing conditions: place, and heading unless the start is a sharp corner.
    fn closing(&self, placed: &[Placed], parameters: &Parameters) -> (DMatrix<f64>, DVector<f64>) {
        let last = placed.len() - 1;
        let end = placed[last];
        let smooth = self.pieces[0].turn.is_none();
        let rows = if smooth { 3 } else { 2 };
        let mut held = DMatrix::zeros(rows, parameters.width());
        let mut missing = DVector::zeros(rows);
        parameters.derive(placed, last, end.length, |c, v| {
            if c > 1 {
                held[(0, c)] += v.x;
                held[(1, c)] += v.y;
            }
        });
        let columns = &parameters.of_piece;
        if let Some(c) = columns[last][0] {
            held[(0, c)] += end.end_along.x;
            held[(1, c)] += end.end_along.y;
        }
        let gap = self.start - end.end;
        missing[0] = gap.x;
        missing[1] = gap.y;
        if smooth {
            missing[2] = -wrapped(end.heading + end.k * end.length - self.heading);
            for (i, p) in self.pieces.iter().enumerate() {
                if let Some(c) = columns[i][0] {
                    held[(2, c)] = p.k;
                }
                if let Some(c) = columns[i][1] {
                    held[(2, c)] = p.length;
                }
                if let Some(c) = columns[i][2] {
                    held[(2, c)] = 1.0;
                }
            }
        }
        (held, missing)
    }

    /// Takes a step, shortened so that no piece loses more than two thirds of its length.
    fn step(&mut self, step: &DVector<f64>) {
        let (columns, _) = self.columns();
        let mut share: f64 = 1.0;
        for (p, c) in self.pieces.iter().zip(&columns) {
            if let Some(c) = c[0].filter(|c| step[*c] < 0.0) {
                share = share.min(0.67 * p.length / -step[c]);
            }
        }
        self.start += Vector2::new(step[0], step[1]) * share;
        self.heading += step[2] * share;
        for (p, c) in self.pieces.iter_mut().zip(&columns) {
            if let Some(c) = c[0] {
                p.length += share * step[c];
            }
            if let Some(c) = c[1] {
                p.k += share * step[c];
            }
            if let (Some(c), Some(turn)) = (c[2], p.turn.as_mut()) {
                *turn += share * step[c];
            }
        }
    }

    /// The points that belong to each piece, with their share of its length.
    pub(super) fn shares<'a>(&self, points: &'a [Point2<f64>]) -> Screen<'a> {
        let placed = self.placed();
        let mut of = vec![Vec::new(); placed.len()];
        for p in points {
            let j = nearest_piece(&placed, p);
            of[j].push((placed[j].nearest(p).s / placed[j].length, p));
        }
        Screen { of }
    }

    /// Halves a piece.
    pub(super) fn split(&mut self, i: usize) {
        self.pieces[i].length /= 2.0;
        let second = Piece {
            turn: None,
            ..self.pieces[i]
        };
        self.pieces.insert(i + 1, second);
    }

    /// Places of pieces, the shortest first.
    pub(super) fn by_length(&self) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.pieces.len()).collect();
        order.sort_by(|a, b| self.pieces[*a].length.total_cmp(&self.pieces[*b].length));
        order
    }

    /// Curved pieces whose bow is below `most`, the flattest first.
    pub(super) fn flattest(&self, most: f64) -> Vec<usize> {
        let bow = |i: &usize| self.pieces[*i].k.abs() * self.pieces[*i].length.powi(2) / 8.0;
        let mut order: Vec<usize> = (0..self.pieces.len())
            .filter(|i| !self.pieces[*i].straight && bow(i) < most)
            .collect();
        order.sort_by(|a, b| bow(a).total_cmp(&bow(b)));
        order
    }

    /// The same closed chain begun at another piece.
    fn begun_at(&self, i: usize) -> Self {
        let placed = self.placed();
        let mut pieces = self.pieces.clone();
        pieces.rotate_left(i);
        Self {
            start: placed[i].start,
            heading: placed[i].heading,
            pieces,
            closed: self.closed,
        }
    }

    /// The chain with piece `i` and the next made one, if they are tangent and alike enough for it to be worth a try.
    pub(super) fn joined(&self, i: usize, tolerance: f64) -> Option<Self> {
        let n = self.pieces.len();
        let next = (i + 1) % n;
        let least = if self.closed { 4 } else { 2 };
        if n < least || (!self.closed && next == 0) || self.pieces[next].turn.is_some() {
            return None;
        }
        let (a, b) = (self.pieces[i], self.pieces[next]);
        if (a.k - b.k).abs() * a.length.min(b.length).powi(2) / 8.0 > 20.0 * tolerance {
            return None;
        }
        let mut chain = if next == 0 {
            self.begun_at(i)
        } else {
            self.clone()
        };
        let i = if next == 0 { 0 } else { i };
        let length = a.length + b.length;
        chain.pieces[i] = Piece {
            length,
            k: (a.k * a.length + b.k * b.length) / length,
            straight: false,
            turn: a.turn,
        };
        chain.pieces.remove(i + 1);
        Some(chain)
    }

    /// The chain without piece `i`, its length and turn shared by its neighbours, if it is tangent to both.
    pub(super) fn dropped(&self, i: usize, tolerance: f64) -> Option<Self> {
        let n = self.pieces.len();
        let ends = !self.closed && (i == 0 || i + 1 == n);
        let least = if self.closed { 4 } else { 3 };
        if n < least
            || ends
            || self.pieces[i].turn.is_some()
            || self.pieces[(i + 1) % n].turn.is_some()
        {
            return None;
        }
        let mut chain = if self.closed {
            self.begun_at((i + n - 1) % n)
        } else {
            self.clone()
        };
        let i = if self.closed { 1 } else { i };
        let gone = chain.pieces[i];
        let other = f64::midpoint(chain.pieces[i - 1].k, chain.pieces[i + 1].k);
        if (gone.k - other).abs() * gone.length.powi(2) / 8.0 > 20.0 * tolerance {
            return None;
        }
        for j in [i - 1, i + 1] {
            let p = &mut chain.pieces[j];
            let length = p.length + gone.length / 2.0;
            p.k = (p.k * p.length + gone.k * gone.length / 2.0) / length;
            p.length = length;
            p.straight = false;
        }
        chain.pieces.remove(i);
        Some(chain)
    }

    /// The chain with piece `i` held straight, its turn shared by its neighbours.
    pub(super) fn straightened(&self, i: usize) -> Self {
        let n = self.pieces.len();
        let mut chain = self.clone();
        let turn = self.pieces[i].k * self.pieces[i].length;
        chain.pieces[i].k = 0.0;
        chain.pieces[i].straight = true;
        let sides = [
            (self.closed || i > 0).then_some((i + n - 1) % n),
            (self.closed || i + 1 < n).then_some((i + 1) % n),
        ];
        for j in sides.into_iter().flatten().filter(|j| *j != i) {
            let p = &mut chain.pieces[j];
            if !p.straight {
                p.k += turn / 2.0 / p.length;
            }
        }
        if i == 0 {
            chain.heading += turn / 2.0;
        }
        chain
    }
}

struct System {
    normal: DMatrix<f64>,
    right: DVector<f64>,
    held: DMatrix<f64>,
    missing: DVector<f64>,
    /// How far the closing conditions are missed.
    open: f64,
    cost: f64,
    worst: (usize, f64),
}

impl System {
    /// The damped step that meets the closing conditions to first order, in columns scaled to one.
    fn solve(&self, damping: f64) -> Option<DVector<f64>> {
        let (n, m) = (self.normal.nrows(), self.held.nrows());
        let scale = DVector::from_fn(n, |i, _| 1.0 / self.normal[(i, i)].sqrt().max(1e-9));
        let mut k = DMatrix::zeros(n + m, n + m);
        let mut b = DVector::zeros(n + m);
        for i in 0..n {
            for j in 0..n {
                k[(i, j)] = self.normal[(i, j)] * scale[i] * scale[j];
            }
            k[(i, i)] += damping;
            b[i] = self.right[i] * scale[i];
            for c in 0..m {
                k[(n + c, i)] = self.held[(c, i)] * scale[i];
                k[(i, n + c)] = k[(n + c, i)];
            }
        }
        for c in 0..m {
            b[n + c] = self.missing[c];
        }
        let x = k.lu().solve(&b)?;
        let step = DVector::from_fn(n, |i, _| x[i] * scale[i]);
        step.iter().all(|v| v.is_finite()).then_some(step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten turns of a circle have every point of it on them, and are no description of it.
    #[test]
    fn a_piece_wound_round_itself_does_not_settle() {
        let turns = |n: f64| Chain {
            start: Point2::origin(),
            heading: 0.0,
            pieces: vec![Piece {
                length: n * TAU * 5.0,
                k: 0.2,
                straight: false,
                turn: None,
            }],
            closed: false,
        };
        let on = |share: f64| turns(0.9).placed()[0].point(share * 0.9 * TAU * 5.0);
        let points: Vec<Point2<f64>> = (0..=60).map(|i| on(f64::from(i) / 60.0)).collect();
        assert!(turns(0.9).fit(&points, 0.01).is_some());
        assert!(turns(10.9).fit(&points, 0.01).is_none());
    }

    /// The normal equations, gathered piece by piece, are those of rows found by taking a small step along each parameter.
    #[test]
    fn the_equations_are_those_of_small_steps() {
        let piece = |length, k, straight, turn| Piece {
            length,
            k,
            straight,
            turn,
        };
        let chain = Chain {
            start: Point2::new(12.0, -7.0),
            heading: 0.3,
            pieces: vec![
                piece(30.0, 0.02, false, None),
                piece(25.0, 0.0, true, None),
                piece(20.0, -0.03, false, Some(0.5)),
                piece(40.0, 1e-6, false, None),
                piece(15.0, 0.05, false, None),
            ],
            closed: false,
        };
        let placed = chain.placed();
        let points: Vec<Point2<f64>> = placed
            .iter()
            .enumerate()
            .flat_map(|(j, p)| {
                [0.2, 0.45, 0.8].map(|share| {
                    let (at, along) = p.at(share * p.length);
                    at + left(along) * (0.1 + 0.05 * j as f64) * (share - 0.4)
                })
            })
            .collect();
        let weights: Vec<f64> = (0..points.len()).map(|i| 1.0 + 0.1 * i as f64).collect();
        // Its ends, where points are held both ways, are left out by a closed chain with the same pieces.
        let closed = Chain {
            closed: true,
            ..chain.clone()
        };
        let system = closed.system(&points, &weights);
        let (_, width) = closed.columns();
        let off = |chain: &Chain| -> Vec<f64> {
            let placed = chain.placed();
            let off = |p| placed[nearest_piece(&placed, p)].nearest(p).off;
            points.iter().map(off).collect()
        };
        let h = 1e-6;
        let mut rows = DMatrix::zeros(points.len(), width);
        for c in 0..width {
            let moved = |by: f64| {
                let mut chain = closed.clone();
                let mut step = DVector::zeros(width);
                step[c] = by;
                chain.step(&step);
                off(&chain)
            };
            let (up, down) = (moved(h), moved(-h));
            for i in 0..points.len() {
                rows[(i, c)] = -(up[i] - down[i]) / (2.0 * h);
            }
        }
        let weighted = DMatrix::from_fn(points.len(), width, |i, c| rows[(i, c)] * weights[i]);
        let normal = weighted.transpose() * &rows;
        let right = weighted.transpose() * DVector::from_vec(off(&closed));
        for a in 0..width {
            for b in 0..width {
                // No point hangs on the length of the last piece.
                let scale = (normal[(a, a)] * normal[(b, b)]).sqrt().max(1e-9);
                let wrong = (normal[(a, b)] - system.normal[(a, b)]) / scale;
                assert!(wrong.abs() < 2e-5, "{a} {b}: {wrong}");
            }
            let wrong = (right[a] - system.right[a]) / normal[(a, a)].sqrt().max(1e-9);
            assert!(wrong.abs() < 2e-5, "{a}: {wrong}");
        }
    }
}
