//! The metal of one scan: a panel with its openings, and the trim junction of a side.

use geom::{Point, Vector};

use crate::edge::{Edge, EdgeBump, EdgeStretch, Outline, Return};
use crate::numbers::{self as no, Differences, OpeningNumbers};
use crate::surface::{Dent, Panel, Spot};
use crate::work::Work;

/// Which of the three scans.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Place {
    Left,
    Right,
    Centre,
}

/// A bolt hole: a cylinder through the panel.
#[derive(Clone, Debug)]
pub(crate) struct Hole {
    pub id: &'static str,
    /// Middle in the panel's (u, v).
    pub uv: [f64; 2],
    /// Middle on the panel.
    pub centre: Point,
    /// Outward.
    pub axis: Vector,
    /// Two directions across the axis.
    pub across: [Vector; 2],
    pub diameter: f64,
}

/// An opening of a body.
#[derive(Clone, Debug)]
pub(crate) struct Opening {
    pub numbers: &'static OpeningNumbers,
    pub edge: Edge,
    pub holes: Vec<Hole>,
}

/// The trim junction: the line, and the angle through the metal along it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Trim {
    /// On the sharp line at v = 0.
    pub middle: Point,
    /// From the line over the front cheek.
    pub front: Vector,
    /// Away from the front cheek's metal.
    pub front_n: Vector,
    /// Angle through the metal at the top and at the bottom, radians.
    pub angle: [f64; 2],
}

impl Trim {
    /// Angle through the metal and its change per mm, at height v.
    pub fn angle_at(&self, v: f64) -> (f64, f64) {
        let slope = (self.angle[0] - self.angle[1]) / no::JUNCTION_LENGTH;
        (
            f64::midpoint(self.angle[0], self.angle[1]) + slope * v,
            slope,
        )
    }

    /// A place on the sharp line.
    pub fn line(&self, v: f64) -> Point {
        self.middle + Vector::z() * v
    }

    /// From the sharp line to either end of the bend.
    pub fn tangent(&self, v: f64) -> f64 {
        no::BEND_RADIUS / (self.angle_at(v).0 / 2.0).tan()
    }

    /// On the bend at height v, `share` of its arc from the front cheek.
    pub fn on_bend(&self, v: f64, share: f64) -> Spot {
        let (angle, _) = self.angle_at(v);
        let middle = self.line(v) + self.front * self.tangent(v) - self.front_n * no::BEND_RADIUS;
        let (s, c) = ((std::f64::consts::PI - angle) * share).sin_cos();
        let n = self.front_n * c - self.front * s;
        Spot {
            p: middle + n * no::BEND_RADIUS,
            n,
        }
    }

    /// On the side cheek at height v, `t` mm from the sharp line.
    pub fn on_side_cheek(&self, v: f64, t: f64) -> Spot {
        let (angle, slope) = self.angle_at(v);
        let (s, c) = angle.sin_cos();
        let along = self.front * c - self.front_n * s;
        let across = -self.front * s - self.front_n * c;
        // The derivative of `along` by the angle is `across`.
        let dv = Vector::z() + across * (t * slope);
        let n = dv.cross(&along);
        Spot {
            p: self.line(v) + along * t,
            n: (if n.dot(&across) < 0.0 { -n } else { n }).normalize(),
        }
    }
}

/// The metal of one scan, in side axes.
#[derive(Clone, Debug)]
pub(crate) struct Body {
    pub panel: Panel,
    pub openings: Vec<Opening>,
    pub trim: Option<Trim>,
    /// Tiles of panel without an opening.
    pub plain: Vec<[f64; 4]>,
}

/// What differs at one opening.
#[derive(Default)]
struct Change {
    bumps: Vec<EdgeBump>,
    wider: f64,
    /// Shift of every hole along u.
    holes: f64,
    /// Shift of the hole of this name along u.
    hole: Option<(&'static str, f64)>,
    dressed: Vec<EdgeStretch>,
}

fn bump(corner: usize, amount: f64) -> Vec<EdgeBump> {
    if amount == 0.0 {
        Vec::new()
    } else {
        vec![EdgeBump {
            corner,
            amount,
            sd: no::CORNER_SD,
        }]
    }
}

fn change(stem: &str, d: &Differences) -> Change {
    match stem {
        "lamp" => Change {
            bumps: bump(3, -d.lamp_corner_mm),
            ..Change::default()
        },
        "vent" => Change {
            bumps: bump(1, d.vent_corner_mm),
            hole: Some(("rear", d.vent_hole_mm)),
            ..Change::default()
        },
        "step" => Change {
            holes: d.step_holes_mm,
            ..Change::default()
        },
        "marker" => Change {
            wider: d.marker_width_mm,
            ..Change::default()
        },
        _ => Change {
            bumps: bump(1, d.grille_corner_mm),
            ..Change::default()
        },
    }
}

fn opening(panel: &Panel, numbers: &'static OpeningNumbers, change: Change) -> Opening {
    let mut corners = numbers.corners;
    for c in &mut corners {
        c[0] += change.wider / 2.0 * c[0].signum();
    }
    let outline = Outline {
        corners,
        radii: numbers.radii,
        bumps: change.bumps,
        dressed: change.dressed,
    };
    let bend = Return {
        radius: no::BEND_RADIUS,
        turn: numbers.turn_deg.to_radians(),
        depth: numbers.flange,
        thickness: no::SHEET,
    };
    let holes = numbers
        .holes
        .iter()
        .map(|h| {
            let own = change
                .hole
                .map_or(0.0, |(id, by)| if id == h.id { by } else { 0.0 });
            let uv = [
                numbers.centre[0] + h.at[0] + change.holes + own,
                numbers.centre[1] + h.at[1],
            ];
            let j = panel.at(uv[0], uv[1]);
            let a = (j.pu - j.n * j.n.dot(&j.pu)).normalize();
            Hole {
                id: h.id,
                uv,
                centre: j.p,
                axis: j.n,
                across: [a, a.cross(&j.n)],
                diameter: h.diameter,
            }
        })
        .collect();
    Opening {
        numbers,
        edge: Edge::new(panel, numbers.centre, &outline, bend),
        holes,
    }
}

impl Body {
    /// The metal of a scan that departs from what is drawn by `differences`.
    /// With `work`, after it.
    pub fn new(place: Place, differences: &Differences, work: Option<&Work>) -> Self {
        let d = *differences;
        if place == Place::Centre {
            let panel = Panel {
                anchor: no::CENTRE_ANCHOR,
                yaw: 0.0,
                bend_from: 0.0,
                straight: false,
                plan_radius: no::CENTRE_PLAN_RADIUS,
                crown_radius: no::CENTRE_CROWN_RADIUS,
                crown_grows: None,
                dents: Vec::new(),
            };
            let openings = vec![opening(&panel, &no::CENTRE_OPENING, change("grille", &d))];
            return Self {
                panel,
                openings,
                trim: None,
                plain: Vec::new(),
            };
        }
        let lamp = &no::SIDE_OPENINGS[0];
        let mut dents = if d.lamp_twist_mm == 0.0 {
            Vec::new()
        } else {
            vec![Dent::Twist {
                centre: lamp.centre,
                half: no::TWIST_AT,
                reach: no::TWIST_REACH,
                amount: -d.lamp_twist_mm,
            }]
        };
        dents.extend(work.and_then(Work::dent));
        let panel = Panel {
            anchor: no::SIDE_ANCHOR,
            yaw: no::SIDE_YAW_DEG.to_radians(),
            bend_from: no::SIDE_BEND_FROM,
            straight: true,
            plan_radius: no::SIDE_PLAN_RADIUS,
            crown_radius: no::SIDE_CROWN_RADIUS,
            crown_grows: Some(no::SIDE_CROWN_GROWS),
            dents,
        };
        let openings = no::SIDE_OPENINGS
            .iter()
            .map(|n| {
                let mut change = change(n.stem, &d);
                change.dressed.extend(work.and_then(|w| w.stretch(n.stem)));
                opening(&panel, n, change)
            })
            .collect();
        let j = panel.at(no::JUNCTION_U, 0.0);
        let trim = Trim {
            middle: j.p,
            front: j.pu,
            front_n: j.n,
            angle: [
                d.junction_top_deg.to_radians(),
                d.junction_bottom_deg.to_radians(),
            ],
        };
        Self {
            panel,
            openings,
            trim: Some(trim),
            plain: no::PLAIN_TILES.to_vec(),
        }
    }

    /// Where the panel cuts the cylinder of a hole, at an angle about its axis: (u, v).
    pub fn on_hole(&self, h: &Hole, angle: f64) -> [f64; 2] {
        let r = h.diameter / 2.0;
        let aim = [r * angle.cos(), r * angle.sin()];
        let mut uv = h.uv;
        // The panel is all but flat over a hole: each round leaves about 0.0001 of the error.
        for _ in 0..4 {
            let j = self.panel.at(uv[0], uv[1]);
            let off = j.p - h.centre;
            let miss = h.across[0] * (aim[0] - off.dot(&h.across[0]))
                + h.across[1] * (aim[1] - off.dot(&h.across[1]));
            let step = j.pull_back(&miss);
            uv = [uv[0] + step[0], uv[1] + step[1]];
        }
        uv
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_junction_has_the_stated_angles() {
        let b = Body::new(Place::Right, &Differences::DEMO, None);
        let t = b.trim.unwrap();
        for (v, deg) in [(150.0, 89.1), (0.0, 90.0), (-150.0, 90.9)] {
            let a = b.panel.at(no::JUNCTION_U + 40.0, v).p - t.line(v);
            let s = t.on_side_cheek(v, 50.0);
            let c = s.p - t.line(v);
            assert!((a.angle(&c).to_degrees() - deg).abs() < 1e-9);
            // Both ends of the bend lie on the two faces.
            let l = t.tangent(v);
            assert!((t.on_bend(v, 1.0).p - t.on_side_cheek(v, l).p).norm() < 1e-9);
            assert!((t.on_bend(v, 0.0).p - b.panel.at(no::JUNCTION_U + l, v).p).norm() < 1e-9);
            // The metal lies on the side away from both faces' normals.
            assert!(s.n.dot(&a) < 0.0 || deg > 90.0);
            assert!(s.n.y < -0.8, "faces the centreline");
            let h = 1e-4;
            let across =
                (t.on_side_cheek(v + h, 30.0).p - t.on_side_cheek(v - h, 30.0).p) / (2.0 * h);
            assert!(across.dot(&t.on_side_cheek(v, 30.0).n).abs() < 1e-7);
        }
    }

    #[test]
    fn holes_are_round_about_their_axes() {
        let b = Body::new(Place::Right, &Differences::DEMO, None);
        for h in b.openings.iter().flat_map(|o| &o.holes) {
            for k in 0..16 {
                let uv = b.on_hole(h, f64::from(k) * 0.4);
                let off = b.panel.at(uv[0], uv[1]).p - h.centre;
                let r = (off - h.axis * h.axis.dot(&off)).norm();
                assert!((r - h.diameter / 2.0).abs() < 1e-9, "{r}");
            }
        }
    }

    #[test]
    fn the_mirror_image_of_a_perfect_body_is_itself() {
        let (l, r) = (
            Body::new(Place::Left, &Differences::NONE, None),
            Body::new(Place::Right, &Differences::NONE, None),
        );
        for (a, b) in l.openings.iter().zip(&r.openings) {
            assert!(
                a.edge
                    .stations()
                    .iter()
                    .zip(b.edge.stations())
                    .all(|(a, b)| a.p == b.p)
            );
            assert!(
                a.holes
                    .iter()
                    .zip(&b.holes)
                    .all(|(a, b)| a.centre == b.centre)
            );
        }
    }
}
