//! A chain of pieces of constant curvature, tangent at every joint by construction, fitted to points.
//!
//! The chain is its start, its first heading and length and curvature of each piece; at a sharp corner also the turn
//! there. Gauss-Newton with damping on the distances along the normals; a closed chain closes through Lagrange
//! multipliers, exactly.

use std::f64::consts::{PI, TAU};

use nalgebra::{DMatrix, DVector, Point2, Vector2};

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

/// A piece in place, with what depends on it alone.
#[derive(Clone, Copy)]
struct Placed {
    start: Point2<f64>,
    heading: f64,
    length: f64,
    k: f64,
    /// Direction at its start.
    along: Vector2<f64>,
    end: Point2<f64>,
    /// Direction at its end.
    end_along: Vector2<f64>,
    /// Derivative of its end by its curvature.
    end_by_curvature: Vector2<f64>,
}

fn direction(a: f64) -> Vector2<f64> {
    Vector2::new(a.cos(), a.sin())
}

fn left(v: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(-v.y, v.x)
}

/// `v` turned by the angle of which `c` and `s` are cosine and sine.
fn turned(v: Vector2<f64>, c: f64, s: f64) -> Vector2<f64> {
    v * c + left(v) * s
}

impl Placed {
    fn new(start: Point2<f64>, heading: f64, length: f64, k: f64) -> Self {
        let along = direction(heading);
        let mut placed = Self {
            start,
            heading,
            length,
            k,
            along,
            end: start,
            end_along: along,
            end_by_curvature: Vector2::zeros(),
        };
        (placed.end, placed.end_along) = placed.at(length);
        placed.end_by_curvature = placed.by_curvature(length);
        placed
    }

    /// Place and direction at the arc length `s`.
    fn at(&self, s: f64) -> (Point2<f64>, Vector2<f64>) {
        let half = self.k * s / 2.0;
        let (sin, cos) = half.sin_cos();
        let chord = if half.abs() < 1e-8 { s } else { s * sin / half };
        let middle = turned(self.along, cos, sin);
        (self.start + middle * chord, turned(middle, cos, sin))
    }

    fn point(&self, s: f64) -> Point2<f64> {
        self.at(s).0
    }

    /// Derivative of `point(s)` by the curvature: integral of w N(w) from 0 to s.
    fn by_curvature(&self, s: f64) -> Vector2<f64> {
        let turn = self.k * s;
        if turn.abs() < 1e-3 {
            let (sin, cos) = (turn * 2.0 / 3.0).sin_cos();
            return left(turned(self.along, cos, sin)) * (s * s / 2.0);
        }
        let (point, along) = self.at(s);
        (along * s - (point - self.start)) / self.k
    }

    /// Arc length of the nearest place and signed distance of `p` along the normal there (+ to the left).
    fn nearest(&self, p: &Point2<f64>) -> (f64, f64, f64) {
        let v = p - self.start;
        let (a, b) = (v.dot(&self.along), v.dot(&left(self.along)));
        let foot = if (self.k * self.length).abs() < 1e-9 {
            a
        } else {
            let mut s = (self.k * a).atan2(1.0 - self.k * b) / self.k;
            let round = TAU / self.k.abs();
            // Outside the piece the foot may be nearer the other way round the circle.
            if s < 0.0 && -s > (s + round - self.length).max(0.0) {
                s += round;
            }
            s
        };
        let s = foot.clamp(0.0, self.length);
        let (at, along) = self.at(s);
        let d = p - at;
        (s, d.dot(&left(along)), d.norm())
    }
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
                *w *= (nearest(&placed, p).3 / worst.1).max(0.05);
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
        Some(worst)
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
    fn columns(&self) -> (Vec<[Option<usize>; 3]>, usize) {
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
        let (columns, width) = self.columns();
        // Derivatives of the place at `s` on piece `j`, handed out column by column.
        let derive = |j: usize, s: f64, out: &mut Out<'_>| {
            let at = placed[j].point(s);
            out(0, Vector2::x());
            out(1, Vector2::y());
            out(2, left(at - self.start));
            for (i, p) in placed.iter().enumerate().take(j + 1) {
                let after = at - p.end;
                if let Some(c) = columns[i][0].filter(|_| i < j) {
                    out(c, p.end_along + left(after) * p.k);
                }
                if let Some(c) = columns[i][1] {
                    out(
                        c,
                        if i < j {
                            p.end_by_curvature + left(after) * p.length
                        } else {
                            p.by_curvature(s)
                        },
                    );
                }
                if let Some(c) = columns[i][2] {
                    out(c, left(at - p.start));
                }
            }
        };
        let mut normal = DMatrix::zeros(width, width);
        let mut right = DVector::zeros(width);
        let mut cost = 0.0;
        let mut worst = (0, 0.0);
        let mut row = DVector::zeros(width);
        let mut add = |row: &DVector<f64>, r: f64, w: f64| {
            normal.ger(w, row, row, 1.0);
            right.axpy(w * r, row, 1.0);
            cost += w * r * r;
        };
        let mut at = points.first().map_or(0, |p| nearest(&placed, p).0);
        for (p, w) in points.iter().zip(weights) {
            let (j, s, r, d) = nearest_from(&placed, at, self.closed, p);
            at = j;
            if d > worst.1 {
                worst = (j, d);
            }
            let n = left(placed[j].at(s).1);
            row.fill(0.0);
            derive(j, s, &mut |c, v| row[c] += n.dot(&v));
            add(&row, r, *w);
        }
        let last = placed.len() - 1;
        let end = placed[last];
        if !self.closed {
            // Both ends stay where the outline has them.
            for (j, s, p) in [
                (0, 0.0, points[0]),
                (last, end.length, points[points.len() - 1]),
            ] {
                let off = p - placed[j].point(s);
                for axis in 0..2 {
                    row.fill(0.0);
                    derive(j, s, &mut |c, v| row[c] += v[axis]);
                    if let Some(c) = columns[j][0].filter(|_| s > 0.0) {
                        row[c] += end.end_along[axis];
                    }
                    add(&row, off[axis], 1.0);
                }
            }
        }
        let (held, missing) = if self.closed {
            self.closing(&placed, &columns, width, &derive)
        } else {
            (DMatrix::zeros(0, width), DVector::zeros(0))
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
    fn closing(
        &self,
        placed: &[Placed],
        columns: &[[Option<usize>; 3]],
        width: usize,
        derive: &Derive<'_>,
    ) -> (DMatrix<f64>, DVector<f64>) {
        let last = placed.len() - 1;
        let end = placed[last];
        let smooth = self.pieces[0].turn.is_none();
        let rows = if smooth { 3 } else { 2 };
        let mut held = DMatrix::zeros(rows, width);
        let mut missing = DVector::zeros(rows);
        derive(last, end.length, &mut |c, v| {
            if c > 1 {
                held[(0, c)] += v.x;
                held[(1, c)] += v.y;
            }
        });
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
            let (j, s, ..) = nearest(&placed, p);
            of[j].push((s / placed[j].length, p));
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

/// Hands out the derivatives of the place at an arc length of a piece, column by column.
type Derive<'a> = dyn Fn(usize, f64, &mut Out<'_>) + 'a;
/// Takes a column and the derivative that belongs to it.
type Out<'a> = dyn FnMut(usize, Vector2<f64>) + 'a;

/// Nearest place on the chain: piece, arc length on it, signed normal distance, distance.
fn nearest(placed: &[Placed], p: &Point2<f64>) -> (usize, f64, f64, f64) {
    let mut best = (0, 0.0, 0.0, f64::INFINITY);
    for (j, piece) in placed.iter().enumerate() {
        let (s, r, d) = piece.nearest(p);
        if d < best.3 {
            best = (j, s, r, d);
        }
    }
    best
}

/// The same for points in order, searched from piece `at` on: its neighbours first, on as long as they are nearer.
fn nearest_from(
    placed: &[Placed],
    at: usize,
    closed: bool,
    p: &Point2<f64>,
) -> (usize, f64, f64, f64) {
    let n = placed.len();
    if n <= 4 {
        return nearest(placed, p);
    }
    let of = |j: usize| {
        let (s, r, d) = placed[j].nearest(p);
        (j, s, r, d)
    };
    let mut best = of(at);
    for way in [1, n - 1] {
        let mut misses = 0;
        let mut j = at;
        // Two pieces that are no nearer end the search: one may be a short one past a bend.
        for _ in 0..n / 2 {
            let end = if way == 1 { j + 1 == n } else { j == 0 };
            if end && !closed {
                break;
            }
            j = (j + way) % n;
            let found = of(j);
            if found.3 < best.3 {
                best = found;
                misses = 0;
            } else {
                misses += 1;
                if misses > 1 {
                    break;
                }
            }
        }
    }
    best
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
