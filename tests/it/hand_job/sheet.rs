//! A field sheet as a careful shop would fill it in at the lamp opening of the demo: six ties to every point of the edge and
//! every hole, three of them to points raised off the panel.

use demo::TrueOpening;
use geom::{Point, Rigid, Unit, Vector};
use nalgebra::Matrix3;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use record::{HandInstrument, HandKind, Side};

/// Shares of a side of the opening at which its edge is measured: the middle of a corner, its arc and where it ends, the middle
/// of the side.
const ON_SIDE: [f64; 6] = [0.0, 0.13, 0.26, 0.5, 0.74, 0.87];
/// Points to which the others are tied, about the middle: to the right, up, out of the panel; the last three are raised.
const TIED_TO: [(&str, [f64; 3]); 6] = [
    ("A", [-175.0, -140.0, -6.0]),
    ("B", [170.0, -150.0, -4.0]),
    ("C", [5.0, 180.0, -8.0]),
    ("P", [-120.0, 70.0, 160.0]),
    ("Q", [135.0, 85.0, 150.0]),
    ("R", [10.0, -125.0, 175.0]),
];

/// A reading that was taken wrongly.
#[derive(Clone, Copy)]
pub struct Slip {
    /// Which length, in the order of the sheet.
    pub tie: usize,
    /// By how much too long, mm.
    pub by: f64,
}

pub struct Sheet {
    opening: TrueOpening,
    names: Vec<String>,
    points: Vec<Point>,
    ties: Vec<(usize, usize)>,
    noise: bool,
    seed: u64,
}

impl Sheet {
    pub fn new(opening: &TrueOpening, seed: u64) -> Self {
        let mut names = Vec::new();
        let mut points = Vec::new();
        for side in 0..4 {
            for share in ON_SIDE {
                names.push(format!("E{}", names.len() + 1));
                points.push(opening.edge_at((f64::from(side) + share) / 4.0).at);
            }
        }
        for h in &opening.holes {
            names.push(h.id.0.clone());
            points.push(h.centre);
        }
        let part_from_car = axes(opening);
        let hand = if opening.side == Side::Left {
            -1.0
        } else {
            1.0
        };
        let first = points.len();
        for (name, [x, y, z]) in TIED_TO {
            names.push(name.to_owned());
            points.push(part_from_car.inverse() * Point::new(hand * x, y, z));
        }
        let mut ties = Vec::new();
        for i in first..points.len() {
            ties.extend((first..i).map(|j| (j, i)));
        }
        for i in 0..first {
            ties.extend((first..points.len()).map(|j| (i, j)));
        }
        Self {
            opening: opening.clone(),
            names,
            points,
            ties,
            noise: true,
            seed,
        }
    }

    pub fn opening(&self) -> &TrueOpening {
        &self.opening
    }

    pub fn part_from_car(&self) -> Rigid {
        axes(&self.opening)
    }

    /// Without any error of reading, written to a thousandth.
    pub fn exact(self) -> Self {
        Self {
            noise: false,
            ..self
        }
    }

    /// With so many ties to every point only: those to P, Q, R first.
    pub fn with_ties(&self, count: usize) -> Self {
        let n = self.points.len();
        let order = [n - 3, n - 2, n - 1, n - 6, n - 5, n - 4];
        let kept = &order[..count];
        Self {
            opening: self.opening.clone(),
            names: self.names.clone(),
            points: self.points.clone(),
            ties: self
                .ties
                .iter()
                .filter(|(a, b)| *a >= n - 6 || kept.contains(b))
                .copied()
                .collect(),
            noise: self.noise,
            seed: self.seed,
        }
    }

    /// As findings name a tie.
    pub fn words(&self, tie: usize) -> String {
        let (a, b) = self.ties[tie];
        format!("from {} to {},", self.names[a], self.names[b])
    }

    /// The table: the left in millimetres with a decimal comma, the right in inches and fractions.
    pub fn text(&self, slips: &[Slip]) -> String {
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        let mut normal = || -> f64 {
            let e: f64 = StandardNormal.sample(&mut rng);
            if self.noise { e } else { 0.0 }
        };
        let usual = |kind: HandKind| -> HandInstrument {
            let name = HandInstrument::usual_for(kind);
            HandInstrument::usual()
                .into_iter()
                .find(|i| i.name == name)
                .expect("a usual one")
        };
        let inches = self.opening.side == Side::Right && self.noise;
        let write = |mm: f64| -> String {
            if !self.noise {
                return format!("{mm:.3};mm");
            }
            if inches {
                let in64 = (mm / 25.4 * 64.0).round() as u64;
                let (whole, rest) = (in64 / 64, in64 % 64);
                return if rest == 0 {
                    format!("{whole};in")
                } else {
                    format!("{whole} {rest}/64;in")
                };
            }
            format!("{:.1};mm", (2.0 * mm).round() / 2.0).replace('.', ",")
        };
        let mut text = "kind;from;to;value;unit;instrument;station;note\n".to_owned();
        let middle = centre(&self.points[..24]);
        let area: Vector = (0..24)
            .map(|i| {
                let next = self.points[(i + 1) % 24] - middle;
                (self.points[i] - middle).cross(&next)
            })
            .sum();
        let out = self.opening.edge_at(0.0).normal;
        let way = if area.dot(&out) > 0.0 {
            "counter-clockwise"
        } else {
            "clockwise"
        };
        text += &format!("edge;{};;;;;{way};\n", self.names[..24].join(" "));
        // The middle of the upper edge.
        text += "top;E16;;;;;;\n";
        text += "raised;P;;;;;outward;\n";
        let tape = usual(HandKind::Length);
        for (k, (a, b)) in self.ties.iter().enumerate() {
            let length = (self.points[*a] - self.points[*b]).norm();
            let sd = tape.own_sd(length).hypot(tape.reading_sd());
            let slip: f64 = slips.iter().filter(|s| s.tie == k).map(|s| s.by).sum();
            let read = length + sd * normal() + slip;
            let (a, b) = (&self.names[*a], &self.names[*b]);
            text += &format!("length;{a};{b};{};tape;;\n", write(read));
        }
        for h in &self.opening.holes {
            let caliper = usual(HandKind::Hole);
            let sd = caliper.own_sd(h.diameter_mm).hypot(caliper.reading_sd());
            let read = h.diameter_mm + sd * normal();
            text += &format!("hole;{};;{read:.2};mm;caliper;;\n", h.id);
        }
        if let Some(j) = self.opening.junction {
            let protractor = usual(HandKind::Angle);
            let own = protractor.own_sd(0.0) * normal();
            for (place, share) in [
                ("top", 0.0),
                ("1/4", 0.25),
                ("1/2", 0.5),
                ("3/4", 0.75),
                ("bottom", 1.0),
            ] {
                for _ in 0..3 {
                    let read = j.angle_deg(share) + own + protractor.reading_sd() * normal();
                    text += &format!("angle;cheek;;{read:.2};deg;protractor;{place};\n");
                }
            }
        }
        text
    }
}

fn centre(points: &[Point]) -> Point {
    Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / points.len() as f64)
}

/// Part axes of the true opening, up to what a small turn does.
fn axes(opening: &TrueOpening) -> Rigid {
    let line: Vec<Point> = opening.edge(720).iter().map(|p| p.at).collect();
    let middle = centre(&line);
    let mut m = Matrix3::zeros();
    for p in &line {
        m += (p - middle) * (p - middle).transpose();
    }
    let eigen = m.symmetric_eigen();
    let mut z: Vector = eigen
        .eigenvectors
        .column(eigen.eigenvalues.imin())
        .into_owned();
    if z.dot(&opening.edge_at(0.0).normal) < 0.0 {
        z = -z;
    }
    let up = opening.edge_at(0.625).at - middle;
    let y = Unit::new_normalize(up - z * up.dot(&z));
    let x = y.cross(&z);
    let turn =
        nalgebra::Rotation3::from_matrix_unchecked(Matrix3::from_columns(&[x, y.into_inner(), z]));
    let turn = nalgebra::UnitQuaternion::from_rotation_matrix(&turn);
    Rigid::from_parts(middle.coords.into(), turn).inverse()
}
