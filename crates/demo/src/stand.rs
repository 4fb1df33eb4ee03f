//! Things that stood in the picture: a leg of a stand, a box.

use geom::{Point, Vector};

use crate::body::Place;
use crate::surface::Spot;

/// A piece that is no part of the car.
#[derive(Clone, Debug)]
pub(crate) enum StandPiece {
    /// A tube from a place along a displacement.
    Tube {
        from: Point,
        along: Vector,
        radius: f64,
    },
    /// A flat piece from a corner along two sides; it faces along their cross product.
    Flat { from: Point, a: Vector, b: Vector },
}

impl StandPiece {
    /// Rows and columns of nodes about `step` apart.
    pub fn grid(&self, step: f64) -> (u32, u32) {
        let n = |length: f64| ((length / step).round() as u32).max(4);
        match self {
            Self::Tube { along, radius, .. } => (
                n(along.norm()) + 1,
                n(std::f64::consts::TAU * radius).max(8),
            ),
            Self::Flat { a, b, .. } => (n(b.norm()) + 1, n(a.norm()) + 1),
        }
    }

    /// Whether columns run round.
    pub fn cyclic(&self) -> bool {
        matches!(self, Self::Tube { .. })
    }

    /// The place of a node of a grid of `rows` by `cols`.
    pub fn spot(&self, row: u32, col: u32, rows: u32, cols: u32) -> Spot {
        let up = f64::from(row) / f64::from(rows - 1);
        match self {
            Self::Tube {
                from,
                along,
                radius,
            } => {
                let x = along.cross(&Vector::x()).normalize();
                let y = along.normalize().cross(&x);
                let (s, c) = (std::f64::consts::TAU * f64::from(col) / f64::from(cols)).sin_cos();
                let n = x * c + y * s;
                Spot {
                    p: from + along * up + n * *radius,
                    n,
                }
            }
            Self::Flat { from, a, b } => Spot {
                p: from + a * (f64::from(col) / f64::from(cols - 1)) + b * up,
                n: a.cross(b).normalize(),
            },
        }
    }
}

/// What stood in the picture of a scan, in side axes.
pub(crate) fn stand(place: Place) -> Vec<StandPiece> {
    let tube = |from: [f64; 3], along: [f64; 3], radius| StandPiece::Tube {
        from: from.into(),
        along: along.into(),
        radius,
    };
    match place {
        Place::Left => vec![
            tube([-190.0, 640.0, 180.0], [60.0, -30.0, 320.0], 14.0),
            tube([-60.0, 760.0, 180.0], [-40.0, -70.0, 300.0], 14.0),
        ],
        Place::Right => {
            let (x, y, z) = (
                Vector::x() * 180.0,
                Vector::y() * 150.0,
                Vector::z() * 110.0,
            );
            let from = Point::new(-140.0, 560.0, 330.0);
            vec![
                StandPiece::Flat { from, a: z, b: y },
                StandPiece::Flat {
                    from: from + z,
                    a: x,
                    b: y,
                },
                StandPiece::Flat {
                    from: from + y,
                    a: z,
                    b: x,
                },
            ]
        }
        Place::Centre => vec![tube([-240.0, 330.0, 200.0], [30.0, 20.0, 240.0], 12.0)],
    }
}
