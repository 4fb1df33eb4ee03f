//! The doubly curved panel that carries the openings.
//!
//! Side axes are car axes for the right side: x rearward, w away from the centreline, z up (mm). The left side is
//! their mirror image. Seen in plan the panel is straight, then bends round to the rear on a circle; seen along the
//! car it is crowned.

use geom::{Point, Vector};

/// A place on metal and the direction in which the metal faces there.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    /// The place, mm.
    pub p: Point,
    /// Unit normal away from the metal.
    pub n: Vector,
}

/// A place on a panel with its derivatives.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Jet {
    /// The place, mm.
    pub p: Point,
    /// Derivative along u.
    pub pu: Vector,
    /// Derivative along v.
    pub pv: Vector,
    /// Unit normal away from the metal.
    pub n: Vector,
}

impl Jet {
    /// The step in (u, v) whose image in the tangent plane is `step` (its part along the normal is left out).
    pub fn pull_back(&self, step: &Vector) -> [f64; 2] {
        let (e, f, g) = (
            self.pu.norm_squared(),
            self.pu.dot(&self.pv),
            self.pv.norm_squared(),
        );
        let (a, b) = (self.pu.dot(step), self.pv.dot(step));
        let det = e * g - f * f;
        [(g * a - f * b) / det, (e * b - f * a) / det]
    }
}

/// A departure of the panel from its ideal shape, along its normal.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Dent {
    /// A saddle: `amount` at (`half.0`, `half.1`) from the centre, the opposite at its neighbours, nothing beyond `reach`.
    Twist {
        centre: [f64; 2],
        half: [f64; 2],
        reach: [f64; 2],
        amount: f64,
    },
    /// `amount` all over, falling to half of it at 0.89 of `reach` and to nothing at `reach`.
    Level {
        centre: [f64; 2],
        reach: [f64; 2],
        amount: f64,
    },
}

/// Half of [`window`] is left at this.
pub(crate) const HALF: f64 = f64::midpoint(FULL, 1.0);
/// [`window`] is whole up to this.
const FULL: f64 = 0.78;

/// 1 up to 0.78, 0 from 1 on, a quintic between; with its derivative.
pub(crate) fn window(x: f64) -> (f64, f64) {
    let a = x.abs();
    if a <= FULL {
        return (1.0, 0.0);
    }
    if a >= 1.0 {
        return (0.0, 0.0);
    }
    let (s, ds) = smooth((1.0 - a) / (1.0 - FULL));
    (s, -ds / (1.0 - FULL) * x.signum())
}

/// 6 x^5 - 15 x^4 + 10 x^3 on [0, 1], constant beyond; with its derivative.
fn smooth(x: f64) -> (f64, f64) {
    if x <= 0.0 {
        return (0.0, 0.0);
    }
    if x >= 1.0 {
        return (1.0, 0.0);
    }
    (
        x * x * x * (x * (6.0 * x - 15.0) + 10.0),
        30.0 * x * x * (x - 1.0) * (x - 1.0),
    )
}

impl Dent {
    /// Height and its derivatives along u and v.
    fn at(&self, u: f64, v: f64) -> [f64; 3] {
        match *self {
            Self::Twist {
                centre,
                half,
                reach,
                amount,
            } => {
                let (a, b) = (u - centre[0], v - centre[1]);
                let (wa, da) = window(a / reach[0]);
                let (wb, db) = window(b / reach[1]);
                let k = amount / (half[0] * half[1]);
                [
                    k * a * wa * b * wb,
                    k * (wa + a * da / reach[0]) * b * wb,
                    k * a * wa * (wb + b * db / reach[1]),
                ]
            }
            Self::Level {
                centre,
                reach,
                amount,
            } => {
                let (wa, da) = window((u - centre[0]) / reach[0]);
                let (wb, db) = window((v - centre[1]) / reach[1]);
                [
                    amount * wa * wb,
                    amount * da / reach[0] * wb,
                    amount * wa * db / reach[1],
                ]
            }
        }
    }
}

/// A panel: (u, v) are lengths in plan and upward, mm, of the uncrowned surface.
#[derive(Clone, Debug)]
pub(crate) struct Panel {
    /// Plan position (x, w) and height z of (bend_from, 0).
    pub anchor: [f64; 3],
    /// Direction in which the panel faces there: radians outward from straight ahead.
    pub yaw: f64,
    /// u at which the plan circle begins; with `straight` the plan is straight before it.
    pub bend_from: f64,
    /// Whether the plan is straight before `bend_from`.
    pub straight: bool,
    /// Radius of the plan circle, mm.
    pub plan_radius: f64,
    /// Radius of the crown, mm.
    pub crown_radius: f64,
    /// The crown grows from none at the first u to full at the second.
    pub crown_grows: Option<(f64, f64)>,
    /// Departures from it.
    pub dents: Vec<Dent>,
}

impl Panel {
    /// Place, derivatives and normal at (u, v).
    pub fn at(&self, u: f64, v: f64) -> Jet {
        let du = u - self.bend_from;
        let (turn, bend) = if self.straight && du < 0.0 {
            (0.0, 0.0)
        } else {
            (du / self.plan_radius, 1.0 / self.plan_radius)
        };
        let (s0, c0) = self.yaw.sin_cos();
        let (s, c) = (self.yaw + turn).sin_cos();
        let (x, w) = if bend == 0.0 {
            (s0 * du, c0 * du)
        } else {
            ((c0 - c) * self.plan_radius, (s - s0) * self.plan_radius)
        };
        let along = Vector::new(s, c, 0.0);
        let out = Vector::new(-c, s, 0.0);
        let (grown, dgrown) = self.crown_grows.map_or((1.0, 0.0), |(from, to)| {
            let (g, d) = smooth((u - from) / (to - from));
            (g, d / (to - from))
        });
        let crown = -v * v / (2.0 * self.crown_radius);
        let mut o = grown * crown;
        let mut ou = dgrown * crown;
        let mut ov = -grown * v / self.crown_radius;
        for d in &self.dents {
            let [h, hu, hv] = d.at(u, v);
            o += h;
            ou += hu;
            ov += hv;
        }
        let pu = along * (1.0 + bend * o) + out * ou;
        let pv = out * ov + Vector::z();
        Jet {
            p: Point::new(self.anchor[0] + x, self.anchor[1] + w, self.anchor[2] + v) + out * o,
            pu,
            pv,
            n: pv.cross(&pu).normalize(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn panel() -> Panel {
        Panel {
            anchor: [20.0, 420.0, 700.0],
            yaw: 0.2,
            bend_from: -40.0,
            straight: true,
            plan_radius: 790.0,
            crown_radius: 1800.0,
            crown_grows: Some((-40.0, 20.0)),
            dents: vec![
                Dent::Twist {
                    centre: [110.0, 10.0],
                    half: [90.0, 75.0],
                    reach: [150.0, 140.0],
                    amount: 1.3,
                },
                Dent::Level {
                    centre: [40.0, -110.0],
                    reach: [58.0, 40.0],
                    amount: -0.9,
                },
            ],
        }
    }

    #[test]
    fn derivatives_agree_with_differences() {
        let s = panel();
        for (u, v) in [
            (-70.0, 30.0),
            (-10.0, -120.0),
            (35.0, 80.0),
            (220.0, 120.0),
            (700.0, -60.0),
        ] {
            let h = 1e-4;
            let j = s.at(u, v);
            let du = (s.at(u + h, v).p - s.at(u - h, v).p) / (2.0 * h);
            let dv = (s.at(u, v + h).p - s.at(u, v - h).p) / (2.0 * h);
            assert!((du - j.pu).norm() < 1e-7, "{u} {v}: {du} {}", j.pu);
            assert!((dv - j.pv).norm() < 1e-7, "{u} {v}: {dv} {}", j.pv);
            let back = j.pull_back(&(j.pu * 2.0 - j.pv * 3.0 + j.n));
            assert!((back[0] - 2.0).abs() < 1e-12 && (back[1] + 3.0).abs() < 1e-12);
        }
    }

    #[test]
    fn the_straight_part_is_flat_and_faces_forward() {
        let s = panel();
        let a = s.at(-100.0, -150.0);
        for (u, v) in [(-41.0, 150.0), (-80.0, 3.0), (-60.0, -140.0)] {
            let b = s.at(u, v);
            assert!((b.p - a.p).dot(&a.n).abs() < 1e-12);
            assert!((b.n - a.n).norm() < 1e-12);
        }
        assert!(a.n.x < -0.9 && a.n.y > 0.1);
    }
}
