//! Angles of short pieces of a junction, and whether the ruled faces describe them.

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::ruled::Flat;
use super::shared::Blocks;
use super::{JunctionFit, places};
use crate::{FitError, Lagged, NoiseModel, chi_square_sf};

/// The angle of a piece of a junction, in sections perpendicular to the axis of the whole.
#[derive(Clone, Debug, PartialEq)]
pub struct LocalAngle {
    /// Middle of the area of the piece, mm from the named start: the station the angle belongs to. At the ends this is
    /// not the middle of the window.
    pub station: f64,
    /// Stretch of the piece, mm.
    pub from_to: [f64; 2],
    /// Angle through the metal, radians.
    pub angle: f64,
    /// As a functional of the readings.
    pub lagged: Lagged,
}

/// Whether local angles scatter about the ruled ones more than the noise explains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LackOfFit {
    /// r' V^+ r over the pieces.
    pub chi_square: f64,
    /// Number of pieces minus 2.
    pub dof: f64,
    /// Probability of at least this much by noise alone.
    pub p: f64,
}

/// A window on one face.
struct Piece {
    flat: Flat,
    /// Weights over all cells of the face.
    row: Vec<f64>,
}

impl JunctionFit<'_> {
    /// The angle from the cells with s in `from_to` (mm): a plane in each face, cut by the section of the whole axis.
    /// Errors: fewer than 4 cells of a face, or cells on one line.
    pub fn local(&self, from_to: [f64; 2]) -> Result<LocalAngle, FitError> {
        let pieces = [self.piece(0, from_to)?, self.piece(1, from_to)?];
        let gain = |k: usize| 1.0 / (1.0 + pieces[k].flat.slope.powi(2));
        let part = |k: usize| Lagged::of(self.faces[k].cells, &pieces[k].row).scaled(gain(k));
        // The local slope in the place of c2, and nothing in that of c3.
        let blocks = [0, 1].map(|k| {
            let row = &pieces[k].row;
            Blocks::new(self.faces[k].cells, &[row, &vec![0.0; row.len()]])
        });
        let shared = blocks[0]
            .by_distance(&blocks[1])
            .lagged([gain(0), 0.0], [gain(1), 0.0]);
        Ok(LocalAngle {
            station: 0.5 * (pieces[0].flat.s + pieces[1].flat.s),
            from_to,
            angle: self.base + pieces[0].flat.slope.atan() + pieces[1].flat.slope.atan(),
            lagged: part(0).plus(&part(1)).plus(&shared),
        })
    }

    /// `n` windows of equal length, end to end over the common stretch.
    pub fn windows(&self, n: usize) -> Vec<[f64; 2]> {
        let [low, high] = self.range;
        let at = |k: usize| low + (high - low) * k as f64 / n as f64;
        (0..n).map(|k| [at(k), at(k + 1)]).collect()
    }

    /// Compares local angles in `n` windows with the ruled ones: r' V^+ r against chi-square with n - 2 degrees of
    /// freedom, V the covariance of the differences under the mean noise. A small `p` says that two ruled faces do not
    /// describe the junction; print the local angles then.
    ///
    /// Errors: fewer than 3 windows, too few cells in one, noise of size zero.
    pub fn lack_of_fit(&self, noise: &NoiseModel, n: usize) -> Result<LackOfFit, FitError> {
        FitError::check_count(3, n)?;
        let mut r: DVector<f64> = DVector::zeros(n);
        let mut v: DMatrix<f64> = DMatrix::zeros(n, n);
        let mut both: [Vec<Vec<f64>>; 2] = [Vec::with_capacity(n), Vec::with_capacity(n)];
        for (k, rows) in both.iter_mut().enumerate() {
            for (j, window) in self.windows(n).into_iter().enumerate() {
                let (d, row) = self.departure(k, window)?;
                r[j] += d;
                rows.push(row);
            }
            for i in 0..n {
                for j in 0..=i {
                    let c = Lagged::cross(self.faces[k].cells, &rows[i], &rows[j]);
                    v[(i, j)] += noise.mean_variance(&c);
                }
            }
        }
        let [a, b] = [0, 1].map(|k| {
            let rows: Vec<&[f64]> = both[k].iter().map(Vec::as_slice).collect();
            Blocks::new(self.faces[k].cells, &rows)
        });
        let shared = a.covariances(&b, noise);
        v += &shared + shared.transpose();
        v.fill_upper_triangle_with_lower_triangle();
        // Two combinations of the pieces are what the ruled faces were fitted to; they hold next to nothing.
        let eigen = SymmetricEigen::new(v);
        let along = eigen.eigenvectors.tr_mul(&r);
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
        let mut chi_square = 0.0;
        for &k in &order[..n - 2] {
            if eigen.eigenvalues[k] <= 0.0 {
                return Err(FitError::Degenerate);
            }
            chi_square += along[k] * along[k] / eigen.eigenvalues[k];
        }
        let dof = (n - 2) as f64;
        Ok(LackOfFit {
            chi_square,
            dof,
            p: chi_square_sf(chi_square, dof),
        })
    }

    /// How much the local slope angle of face `k` departs from the ruled one at the middle of the piece, with the
    /// weights of the readings in it.
    fn departure(&self, k: usize, window: [f64; 2]) -> Result<(f64, Vec<f64>), FitError> {
        let piece = self.piece(k, window)?;
        let (s, slope) = (piece.flat.s, piece.flat.slope);
        let here = 1.0 / (1.0 + slope * slope);
        let gain = self.gain(k, s);
        let [b2, b3] = &self.slope_rows[k];
        let row = piece
            .row
            .iter()
            .zip(b2.iter().zip(b3))
            .map(|(x, (b2, b3))| here * x - gain * (b2 + (s - self.middle()) * b3))
            .collect();
        Ok((slope.atan() - self.slope(k, s).atan(), row))
    }

    fn piece(&self, k: usize, [low, high]: [f64; 2]) -> Result<Piece, FitError> {
        let face = &self.faces[k];
        let (mut at, mut local, mut weights) = (Vec::new(), Vec::new(), Vec::new());
        for (i, p) in places(face.cells).iter().enumerate() {
            let d = p - self.origin;
            let s = self.along.dot(&d);
            if s >= low && s < high {
                at.push(i);
                local.push([s, self.into[k].dot(&d), self.outward[k].dot(&d)]);
                weights.push(face.covered[i]);
            }
        }
        let flat = Flat::fit(&local, &weights)?;
        let mut row = vec![0.0; face.cells.cells.len()];
        for (i, x) in at.iter().zip(&flat.row) {
            row[*i] = *x;
        }
        Ok(Piece { flat, row })
    }
}
