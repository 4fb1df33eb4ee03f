//! Ways in which one opening differs from the other as a whole, and what is left.
//!
//! Fitted together with the six placements; xi and eta run from -1 to 1 over the opening: width moves the sides out
//! along x, height along y, shear moves the top along x, twist lifts by k x y, bow lifts by 1 - xi^2 and 1 - eta^2.

use geom::{Point, Unit, Vector};
use nalgebra::{DMatrix, DVector};
use record::ModeKind;

/// Station data for the fit.
#[derive(Clone, Copy, Debug)]
pub struct ModeStation {
    /// Position in part axes, mm.
    pub p: Point,
    /// Towards the inside.
    pub inward: Unit,
    /// Out of the panel.
    pub out: Unit,
}

/// Fitted modes.
pub struct Modes {
    /// Kind, amount (mm, or radians over the height for twist) and its row in units of the data: amount = row . data.
    pub amounts: Vec<(ModeKind, f64, DVector<f64>)>,
    /// What is left, rows gap then flush, mm.
    pub rest: DVector<f64>,
    /// Takes placement and modes out of data: rest = data - design * map * data.
    pub design: DMatrix<f64>,
    /// Least-squares map from data to all coefficients.
    pub map: DMatrix<f64>,
}

const KINDS: [ModeKind; 6] = [
    ModeKind::Width,
    ModeKind::Height,
    ModeKind::Shear,
    ModeKind::Twist,
    ModeKind::BowAcross,
    ModeKind::BowUp,
];

/// Fits placements (`placement`, rows gap then flush) and modes to `data` (a less b). `None` if they cannot be told
/// apart, as on an edge that is seen on one side only.
pub fn fit(
    stations: &[ModeStation],
    placement: &DMatrix<f64>,
    data: &DVector<f64>,
) -> Option<Modes> {
    let n = stations.len();
    let (half_x, half_y) = half_sizes(stations.iter().map(|s| s.p))?;
    let mut design = DMatrix::zeros(2 * n, 12);
    design.view_mut((0, 0), (2 * n, 6)).copy_from(placement);
    for (i, s) in stations.iter().enumerate() {
        let (xi, eta) = (s.p.x / half_x, s.p.y / half_y);
        let moves = [
            Vector::new(xi * 0.5, 0.0, 0.0),
            Vector::new(0.0, eta * 0.5, 0.0),
            Vector::new(eta * 0.5, 0.0, 0.0),
            Vector::new(0.0, 0.0, xi * half_x * eta * 0.5),
            Vector::new(0.0, 0.0, 1.0 - xi * xi),
            Vector::new(0.0, 0.0, 1.0 - eta * eta),
        ];
        for (k, m) in moves.iter().enumerate() {
            // a moved by m against b: its gap grows by -inward . m, it stands proud by out . m.
            design[(i, 6 + k)] = -s.inward.dot(m);
            design[(n + i, 6 + k)] = s.out.dot(m);
        }
    }
    let scale: Vec<f64> = design.column_iter().map(|c| c.norm()).collect();
    if scale.iter().any(|s| *s < 1e-9) {
        return None;
    }
    let mut scaled = design.clone();
    for (mut c, s) in scaled.column_iter_mut().zip(&scale) {
        c /= *s;
    }
    let normal = scaled.transpose() * &scaled;
    let cholesky = normal.cholesky()?;
    if cholesky.l_dirty().diagonal().min() < 1e-4 {
        return None;
    }
    let mut map = cholesky.solve(&scaled.transpose());
    for (mut r, s) in map.row_iter_mut().zip(&scale) {
        r /= *s;
    }
    let x = &map * data;
    let rest = data - &design * &x;
    let amounts = KINDS
        .iter()
        .enumerate()
        .map(|(k, kind)| (*kind, x[6 + k], map.row(6 + k).transpose()))
        .collect();
    Some(Modes {
        amounts,
        rest,
        design,
        map,
    })
}

/// Half the extent in X and Y about the origin of part axes, mm; `None` for a degenerate opening.
pub fn half_sizes(points: impl Iterator<Item = Point>) -> Option<(f64, f64)> {
    let b = points.fold(geom::Aabb::empty(), |mut b, p| {
        b.add(&p);
        b
    });
    let s = b.size();
    (!b.is_empty() && s.x > 1e-6 && s.y > 1e-6).then(|| (s.x / 2.0, s.y / 2.0))
}
