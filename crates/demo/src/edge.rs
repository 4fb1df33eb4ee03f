//! Outlines of openings and the section of the metal across them.

use geom::{Point, Vector};

use crate::surface::{HALF, Panel, Spot, window};

/// A local departure of an edge: `amount` mm at the middle of a corner (+ where the opening is larger), falling off as
/// a Gaussian of `sd` mm.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EdgeBump {
    pub corner: usize,
    pub amount: f64,
    pub sd: f64,
}

/// A stretch of an edge dressed by `amount` mm (+ where the opening becomes larger): all of it over the stretch, half of it at its ends.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EdgeStretch {
    /// Its middle, round the outline from 0 to 4 as in [`Edge`].
    pub tau: f64,
    /// Its length between the places of half of it, mm.
    pub length: f64,
    pub amount: f64,
}

/// A four-sided outline with rounded corners, in the (u, v) of its panel about its centre.
#[derive(Clone, Debug)]
pub(crate) struct Outline {
    /// Sharp corners, counter-clockwise in (u, v): lower inner, lower outer, upper outer, upper inner.
    pub corners: [[f64; 2]; 4],
    /// Radius of each corner, mm.
    pub radii: [f64; 4],
    /// Departures.
    pub bumps: Vec<EdgeBump>,
    /// Stretches that were dressed.
    pub dressed: Vec<EdgeStretch>,
}

struct Corner {
    centre: [f64; 2],
    /// Direction (angle) from the arc's centre to the middle of the arc.
    middle: f64,
    /// Half of the arc, radians.
    half: f64,
    /// Length from the sharp corner to the arc's ends.
    tangent: f64,
}

impl Outline {
    fn corner(&self, k: usize) -> Corner {
        let (p, c, n) = (
            self.corners[(k + 3) % 4],
            self.corners[k],
            self.corners[(k + 1) % 4],
        );
        let dir = |a: [f64; 2], b: [f64; 2]| (b[1] - a[1]).atan2(b[0] - a[0]);
        let (a_in, a_out) = (dir(p, c), dir(c, n));
        let turn = (a_out - a_in).rem_euclid(std::f64::consts::TAU);
        let r = self.radii[k];
        let tangent = r * (turn / 2.0).tan();
        let middle = a_in - std::f64::consts::FRAC_PI_2 + turn / 2.0;
        let reach = r / (turn / 2.0).cos();
        Corner {
            centre: [c[0] - reach * middle.cos(), c[1] - reach * middle.sin()],
            middle,
            half: turn / 2.0,
            tangent,
        }
    }

    /// The middle of a corner's arc.
    pub fn corner_middle(&self, k: usize) -> [f64; 2] {
        let c = self.corner(k);
        [
            c.centre[0] + self.radii[k] * c.middle.cos(),
            c.centre[1] + self.radii[k] * c.middle.sin(),
        ]
    }

    /// `per_side` points a side (from the middle of one corner towards the middle of the next, evenly by length) with
    /// the outward direction of the undeparted outline.
    fn trace(&self, per_side: usize) -> Vec<([f64; 2], [f64; 2])> {
        let mut all = Vec::with_capacity(4 * per_side);
        for k in 0..4 {
            let (c, d) = (self.corner(k), self.corner((k + 1) % 4));
            let (rc, rd) = (self.radii[k], self.radii[(k + 1) % 4]);
            let (from, to) = (self.corners[k], self.corners[(k + 1) % 4]);
            let whole = (to[0] - from[0]).hypot(to[1] - from[1]);
            let straight = whole - c.tangent - d.tangent;
            let (first, last) = (rc * c.half, rd * d.half);
            let length = first + straight + last;
            let (ux, uy) = ((to[0] - from[0]) / whole, (to[1] - from[1]) / whole);
            for m in 0..per_side {
                let s = length * m as f64 / per_side as f64;
                let on_arc = |q: &Corner, r: f64, angle: f64| {
                    let (sin, cos) = angle.sin_cos();
                    ([q.centre[0] + r * cos, q.centre[1] + r * sin], [cos, sin])
                };
                all.push(if s < first {
                    on_arc(&c, rc, c.middle + s / rc)
                } else if s <= first + straight {
                    let t = c.tangent + s - first;
                    ([from[0] + ux * t, from[1] + uy * t], [uy, -ux])
                } else {
                    on_arc(&d, rd, d.middle - (length - s) / rd)
                });
            }
        }
        all
    }

    /// The trace with its departures.
    fn points(&self, per_side: usize) -> Vec<[f64; 2]> {
        let middles: Vec<_> = self
            .bumps
            .iter()
            .map(|b| self.corner_middle(b.corner))
            .collect();
        let trace = self.trace(per_side);
        let along = lengths(&trace);
        let whole = along[trace.len()];
        let dressed = |k: usize| -> f64 {
            let of = |d: &EdgeStretch| {
                let middle = along[(d.tau * per_side as f64).round() as usize % trace.len()];
                let off = (along[k] - middle).abs();
                let off = off.min(whole - off);
                d.amount * window(off * 2.0 * HALF / d.length).0
            };
            self.dressed.iter().map(of).sum()
        };
        trace
            .iter()
            .enumerate()
            .map(|(k, &(p, out))| {
                let push: f64 = self
                    .bumps
                    .iter()
                    .zip(&middles)
                    .map(|(b, m)| {
                        let r = (p[0] - m[0]).hypot(p[1] - m[1]) / b.sd;
                        b.amount * (-0.5 * r * r).exp()
                    })
                    .sum::<f64>()
                    + dressed(k);
                [p[0] + push * out[0], p[1] + push * out[1]]
            })
            .collect()
    }
}

/// Length from the first point to each, and once round.
fn lengths(trace: &[([f64; 2], [f64; 2])]) -> Vec<f64> {
    let mut along = vec![0.0];
    for k in 0..trace.len() {
        let (a, b) = (trace[k].0, trace[(k + 1) % trace.len()].0);
        along.push(along[k] + (b[0] - a[0]).hypot(b[1] - a[1]));
    }
    along
}

/// A station of an opening edge: the sharp line in which panel skin and return flange would meet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Station {
    /// Place in the panel's (u, v).
    pub uv: [f64; 2],
    /// Step in (u, v) per mm away from the opening, in the panel surface.
    pub out: [f64; 2],
    /// The sharp line, mm.
    pub p: Point,
    /// Unit normal of the panel there.
    pub n: Vector,
    /// Unit, in the panel surface, towards the inside of the opening.
    pub g: Vector,
}

/// How the metal is bent round an opening edge.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Return {
    /// Bend radius of the seen skin, mm.
    pub radius: f64,
    /// By how much the metal turns, radians.
    pub turn: f64,
    /// From the sharp line to the free edge, mm.
    pub depth: f64,
    /// Thickness of the sheet, mm.
    pub thickness: f64,
}

impl Return {
    /// From the sharp line to either end of the bend, mm.
    pub fn tangent(&self) -> f64 {
        self.radius * (self.turn / 2.0).tan()
    }

    /// Length of the bend, mm.
    pub fn arc(&self) -> f64 {
        self.radius * self.turn
    }
}

/// An opening edge as a dense table of stations. tau runs from 0 to 4: its whole part is the side (lower, outer, upper,
/// inner, each from the middle of one corner to the middle of the next), its fraction the share of the side's length.
#[derive(Clone, Debug)]
pub(crate) struct Edge {
    stations: Vec<Station>,
    pub bend: Return,
}

/// Stations per side of the table; on a corner of 15 mm radius lines between them are within 0.0001 mm of the curve.
const PER_SIDE: usize = 2048;

impl Edge {
    pub fn new(panel: &Panel, centre: [f64; 2], outline: &Outline, bend: Return) -> Self {
        let uv: Vec<[f64; 2]> = outline
            .points(PER_SIDE)
            .into_iter()
            .map(|p| [p[0] + centre[0], p[1] + centre[1]])
            .collect();
        let n = uv.len();
        let jets: Vec<_> = uv.iter().map(|q| panel.at(q[0], q[1])).collect();
        let stations = (0..n)
            .map(|i| {
                let (before, here, after) = (&jets[(i + n - 1) % n], &jets[i], &jets[(i + 1) % n]);
                let (a, b) = (here.p - before.p, after.p - here.p);
                let (la, lb) = (a.norm(), b.norm());
                let t = (a * (lb / la) + b * (la / lb)).normalize();
                let t = (t - here.n * here.n.dot(&t)).normalize();
                // (u, v, normal) is left-handed in side axes, so the inside (left of the direction of travel in
                // (u, v)) is on this side:
                let g = t.cross(&here.n);
                Station {
                    uv: uv[i],
                    out: here.pull_back(&-g),
                    p: here.p,
                    n: here.n,
                    g,
                }
            })
            .collect();
        Self { stations, bend }
    }

    /// The station at tau (any real; it wraps round).
    pub fn at(&self, tau: f64) -> Station {
        let n = self.stations.len();
        let x = tau.rem_euclid(4.0) * (n / 4) as f64;
        let i = (x.floor() as usize).min(n - 1);
        let f = x - i as f64;
        let (a, b) = (&self.stations[i], &self.stations[(i + 1) % n]);
        let mix = |p: [f64; 2], q: [f64; 2]| [p[0] + (q[0] - p[0]) * f, p[1] + (q[1] - p[1]) * f];
        Station {
            uv: mix(a.uv, b.uv),
            out: mix(a.out, b.out),
            p: a.p + (b.p - a.p) * f,
            n: (a.n + (b.n - a.n) * f).normalize(),
            g: (a.g + (b.g - a.g) * f).normalize(),
        }
    }

    /// All stations.
    pub fn stations(&self) -> &[Station] {
        &self.stations
    }

    /// (u, v) of the start of the bend, or `further` mm beyond it.
    pub fn bend_start(&self, s: &Station, further: f64) -> [f64; 2] {
        let d = self.bend.tangent() + further;
        [s.uv[0] + s.out[0] * d, s.uv[1] + s.out[1] * d]
    }

    /// On the bend, `share` of its arc from the panel.
    pub fn on_bend(&self, s: &Station, share: f64) -> Spot {
        let r = self.bend.radius;
        let middle = s.p - s.g * self.bend.tangent() - s.n * r;
        let (sin, cos) = (self.bend.turn * share).sin_cos();
        let n = s.g * sin + s.n * cos;
        Spot {
            p: middle + n * r,
            n,
        }
    }

    /// On the flange, `depth` mm from the sharp line.
    pub fn on_flange(&self, s: &Station, depth: f64) -> Spot {
        let (sin, cos) = self.bend.turn.sin_cos();
        Spot {
            p: s.p + (s.g * cos - s.n * sin) * depth,
            n: s.g * sin + s.n * cos,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flat() -> Panel {
        Panel {
            anchor: [0.0; 3],
            yaw: 0.0,
            bend_from: 1e6,
            straight: true,
            plan_radius: 1e3,
            crown_radius: 1e12,
            crown_grows: None,
            dents: Vec::new(),
        }
    }

    #[test]
    fn a_rounded_rectangle_has_its_length_and_size() {
        let o = Outline {
            corners: [
                [-100.0, -80.0],
                [100.0, -80.0],
                [100.0, 80.0],
                [-100.0, 80.0],
            ],
            radii: [35.0, 40.0, 50.0, 60.0],
            bumps: Vec::new(),
            dressed: Vec::new(),
        };
        let e = Edge::new(
            &flat(),
            [0.0, 0.0],
            &o,
            Return {
                radius: 2.0,
                turn: std::f64::consts::FRAC_PI_2,
                depth: 14.0,
                thickness: 1.0,
            },
        );
        let s = e.stations();
        let length: f64 = (0..s.len())
            .map(|i| (s[(i + 1) % s.len()].p - s[i].p).norm())
            .sum();
        let exact = 2.0 * 360.0 - (8.0 - 2.0 * std::f64::consts::PI) * 185.0 / 4.0;
        assert!((length - exact).abs() < 1e-3, "{length} {exact}");
        let top = s.iter().map(|s| s.uv[1]).fold(f64::MIN, f64::max);
        assert!((top - 80.0).abs() < 1e-12);
        for i in (0..s.len()).step_by(97) {
            // Towards the middle, and the whole section turns by 90 degrees over the bend.
            assert!(s[i].g.z * s[i].uv[1] + s[i].g.y * s[i].uv[0] < 0.0);
            let f = e.on_flange(&s[i], 14.0);
            assert!((f.p - s[i].p).dot(&s[i].n) + 14.0 < 1e-9);
            assert!((e.on_bend(&s[i], 1.0).p - e.on_flange(&s[i], 2.0).p).norm() < 1e-9);
            let b = e.bend_start(&s[i], 0.0);
            assert!((flat().at(b[0], b[1]).p - e.on_bend(&s[i], 0.0).p).norm() < 1e-6);
        }
    }
}
