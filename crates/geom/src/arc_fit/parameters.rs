//! How the places of a chain move with its parameters, and the normal equations gathered piece by piece.
//!
//! The place q at an arc length of piece j moves by `shift + turn left(q)` with every parameter before it, whatever q is, and
//! with its own curvature by an integral of its own. So of the points of a piece only the sums over
//! (n, n . left(q), n . own) are needed, n the normal at the foot: the equations cost the square of the number of parameters, not that
//! for every point.

use nalgebra::{DMatrix, DVector, Matrix3, Matrix4, Vector2, Vector3, Vector4};

use super::chain::Chain;
use super::placed::{Placed, left};

/// Sums over the points of one piece.
#[derive(Clone, Copy, Default)]
pub(super) struct Sums {
    square: Matrix4<f64>,
    right: Vector4<f64>,
}

impl Sums {
    /// A point seen as (n.x, n.y, n . left(q), n . own), `r` off along the normal.
    pub(super) fn add(&mut self, seen: &Vector4<f64>, r: f64, weight: f64) {
        self.square += seen * (seen.transpose() * weight);
        self.right += seen * (weight * r);
    }
}

/// A parameter: how places behind it move by it.
struct Parameter {
    /// (shift x, shift y, turn about the origin).
    moves: Vector3<f64>,
    /// The first piece whose places move so.
    from: usize,
}

pub(super) struct Parameters {
    all: Vec<Parameter>,
    /// Columns of length, curvature and turn of every piece, where they are free.
    pub of_piece: Vec<[Option<usize>; 3]>,
}

impl Parameters {
    /// Start x, y and heading, then those of the pieces.
    pub(super) fn of(chain: &Chain, placed: &[Placed]) -> Self {
        let (of_piece, width) = chain.columns();
        let about = |p: nalgebra::Point2<f64>, by: f64, and: Vector2<f64>| {
            let shift = and - left(p.coords) * by;
            Vector3::new(shift.x, shift.y, by)
        };
        let mut all = Vec::with_capacity(width);
        let mut add = |moves, from| all.push(Parameter { moves, from });
        add(Vector3::x(), 0);
        add(Vector3::y(), 0);
        add(about(placed[0].start, 1.0, Vector2::zeros()), 0);
        for (i, (p, columns)) in placed.iter().zip(&of_piece).enumerate() {
            if columns[0].is_some() {
                add(about(p.end, p.k, p.end_along), i + 1);
            }
            if columns[1].is_some() {
                add(about(p.end, p.length, p.end_by_curvature), i + 1);
            }
            if columns[2].is_some() {
                add(about(p.start, 1.0, Vector2::zeros()), i);
            }
        }
        Self { all, of_piece }
    }

    pub(super) fn width(&self) -> usize {
        self.all.len()
    }

    /// Hands out the derivatives of the place at the arc length `s` of piece `j`, column by column.
    pub(super) fn derive(
        &self,
        placed: &[Placed],
        j: usize,
        s: f64,
        mut out: impl FnMut(usize, Vector2<f64>),
    ) {
        let q = left(placed[j].point(s).coords);
        for (c, p) in self.all.iter().enumerate().filter(|(_, p)| p.from <= j) {
            out(c, p.moves.xy() + q * p.moves.z);
        }
        if let Some(c) = self.of_piece[j][1] {
            out(c, placed[j].by_curvature(s));
        }
    }

    /// Normal matrix and right side of the points of all pieces.
    pub(super) fn gathered(&self, sums: &[Sums]) -> (DMatrix<f64>, DVector<f64>) {
        let width = self.width();
        // Sums over the points of a piece and of all behind it; beyond the last there are none.
        let mut behind = vec![(Matrix3::zeros(), Vector3::zeros()); sums.len() + 1];
        for (j, s) in sums.iter().enumerate().rev() {
            let (square, right): (Matrix3<f64>, Vector3<f64>) = behind[j + 1];
            behind[j] = (
                square + s.square.fixed_view::<3, 3>(0, 0),
                right + s.right.xyz(),
            );
        }
        let mut normal = DMatrix::zeros(width, width);
        let mut right = DVector::zeros(width);
        for (b, p) in self.all.iter().enumerate() {
            right[b] = p.moves.dot(&behind[p.from].1);
            for (a, o) in self.all.iter().enumerate().take(b + 1) {
                normal[(b, a)] = p.moves.dot(&(behind[p.from.max(o.from)].0 * o.moves));
            }
        }
        for (j, s) in sums.iter().enumerate() {
            let Some(own) = self.of_piece[j][1] else {
                continue;
            };
            let with = s.square.fixed_view::<3, 1>(0, 3);
            right[own] += s.right.w;
            normal[(own, own)] += s.square.m44;
            for (c, p) in self.all.iter().enumerate().filter(|(_, p)| p.from <= j) {
                normal[(own.max(c), own.min(c))] += p.moves.dot(&with);
            }
        }
        normal.fill_upper_triangle_with_lower_triangle();
        (normal, right)
    }
}
