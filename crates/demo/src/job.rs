//! The job of the coach, with picks as a person clicks them.

use geom::{Improper, Point, Rigid, Vector};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use record::{
    Allowed, BodyState, Car, Choices, Compare, DisplayUnits, EdgeKind, EdgePick, FacePick,
    Fastener, Finish, Fixing, HoleKind, HolePick, Job, JunctionPick, LengthUnit, Mounting, Opening,
    Part, Relation, ScanRef, Stations, Surface, Through, UnitSource, Visit,
};

use crate::body::{self, Body, Place, Trim};
use crate::chance::dice;
use crate::coach::{Coach, PLACES};
use crate::numbers as no;
use crate::surface::Spot;
use crate::truth::{opening_id, side};

const VISIT: &str = "first visit";
const CAR: &str = "touring coach";

/// Clicks into a scan: a little beside what was aimed at.
struct Clicks {
    rng: ChaCha8Rng,
    car_from_side: Improper,
    scan_from_car: Rigid,
}

impl Clicks {
    fn point(&self, p: &Point) -> Point {
        self.scan_from_car * self.car_from_side.point(p)
    }

    fn vector(&self, v: &Vector) -> Vector {
        self.scan_from_car.rotation * self.car_from_side.vector(v)
    }

    /// A click aimed at a place on metal that lands about `off` mm beside it, on the metal.
    fn at(&mut self, s: &Spot, off: f64) -> Point {
        let step = Vector::from_fn(|_, _| self.rng.sample(StandardNormal));
        let beside = step - s.n * s.n.dot(&step);
        self.point(&(s.p + beside * (off / std::f64::consts::SQRT_2)))
    }
}

impl Coach {
    /// The job: what a person would have typed and clicked. Paths are the names of the scan files.
    pub fn job(&self) -> Job {
        let openings = PLACES.iter().flat_map(|&p| self.openings(p)).collect();
        Job {
            title: "Touring coach, front trim".to_owned(),
            note: "Made by the demo: a coach that never existed, with known truth.".to_owned(),
            seed: self.seed,
            units: DisplayUnits::default(),
            cars: vec![Car {
                name: CAR.to_owned(),
                note: "Hand-built coach of the 1950s; both front wings are of their time."
                    .to_owned(),
            }],
            visits: vec![visit()],
            scans: PLACES.iter().map(|&p| scan_ref(p)).collect(),
            hand: Vec::new(),
            places: Vec::new(),
            places_table: None,
            joins: Vec::new(),
            taped: Vec::new(),
            body_work: Vec::new(),
            centreline: record::Centreline::default(),
            openings,
            compares: compares(),
            sections: record::SectionPlan::default(),
            gaps: Vec::new(),
            hinges: Vec::new(),
            choices: Choices {
                parts: no::SIDE_OPENINGS
                    .iter()
                    .chain([&no::CENTRE_OPENING])
                    .map(part)
                    .collect(),
                chosen: Vec::new(),
            },
        }
    }

    pub(crate) fn openings(&self, place: Place) -> Vec<Opening> {
        let body = self.body(place);
        let mut clicks = Clicks {
            rng: dice(&[self.scan_seed(place), 201]),
            car_from_side: place.car_from_side(),
            scan_from_car: self.scan_from_car(place),
        };
        body.openings
            .iter()
            .map(|o| opening(place, &body, o, &mut clicks))
            .collect()
    }
}

fn visit() -> Visit {
    Visit {
        id: VISIT.into(),
        car: CAR.to_owned(),
        date: "first Tuesday".to_owned(),
        operator: "the demo".to_owned(),
        instrument: "virtual scanner".to_owned(),
        flatness_mm: 0.05,
        state: BodyState {
            mounting: Mounting::OnMounts,
            left: Surface::Primed,
            right: Surface::Primed,
            left_film_um: None,
            right_film_um: None,
            left_film_u95_um: None,
            right_film_u95_um: None,
            doors_hung: Some(true),
            temperature_c: Some(20.0),
        },
        note: String::new(),
    }
}

fn scan_ref(place: Place) -> ScanRef {
    ScanRef {
        id: place.id().into(),
        visit: VISIT.into(),
        path: place.file_name().into(),
        hash: None,
        unit: LengthUnit::Millimetre,
        unit_source: UnitSource::Stated,
        side: record::Side::NotSaid,
        keep: Vec::new(),
        aside: Vec::new(),
        largest_piece_only: false,
        note: String::new(),
    }
}

fn compares() -> Vec<Compare> {
    let pairs = no::SIDE_OPENINGS.iter().map(|n| Compare {
        id: n.stem.into(),
        a: format!("{}-left", n.stem).as_str().into(),
        b: Some(format!("{}-right", n.stem).as_str().into()),
        relation: Relation::Mirrored,
        part: n.part.into(),
    });
    let centre = &no::CENTRE_OPENING;
    pairs
        .chain([Compare {
            id: centre.stem.into(),
            a: centre.stem.into(),
            b: None,
            relation: Relation::Itself,
            part: centre.part.into(),
        }])
        .collect()
}

/// Where on the coach a part sits: along from the nose, aside from the middle.
fn place_of(stem: &str) -> [f64; 2] {
    match stem {
        "lamp" => [0.05, 0.72],
        "grille" => [0.0, 0.0],
        "marker" => [0.17, 0.84],
        "vent" => [0.33, 0.62],
        _ => [0.5, 1.0],
    }
}

fn part(n: &no::OpeningNumbers) -> Part {
    Part {
        id: n.part.into(),
        name: n.part_name.to_owned(),
        gap_mm: n.gap,
        allowed: Allowed {
            tight_mm: n.allowed,
            wide_mm: n.allowed,
            proud_mm: n.allowed,
            shy_mm: n.allowed,
            angle_deg: n.allowed_deg,
        },
        evenness: None,
        fasteners: n
            .holes
            .iter()
            .map(|h| Fastener {
                hole: h.id.into(),
                fastener_mm: n.fastener,
                part_hole_mm: n.part_hole,
                body_hole_mm: h.diameter,
                fixing: Fixing::Floating,
                slot: None,
                shim_mm: (0.0, 0.0),
            })
            .collect(),
        gasket: None,
        finish: Finish::default(),
        cutter_radius_mm: 5.0,
        load_bearing: false,
        must_not_mirror: match n.stem {
            "lamp" => vec!["the mark that shows which way up the bulb goes".to_owned()],
            _ => Vec::new(),
        },
        seen_together: true,
        place: Some(place_of(n.stem)),
        note: String::new(),
    }
}

fn opening(place: Place, body: &Body, o: &body::Opening, clicks: &mut Clicks) -> Opening {
    let n = o.numbers;
    let spot = |uv: [f64; 2]| {
        let j = body.panel.at(uv[0], uv[1]);
        Spot { p: j.p, n: j.n }
    };
    let by = |du: f64, dv: f64| spot([n.centre[0] + du, n.centre[1] + dv]);
    // Near the lower edge, somewhat off its middle.
    let low = o.edge.at(0.4);
    let high = o.edge.at(2.5);
    // In the middle of the strip between edge and border of the tile, clear of the bolt holes.
    let aside = if n.stem == "lamp" { 0.2 } else { 0.28 } * (n.tile[1] - n.tile[0]);
    let mut faces = [
        ("panel above", 1.0, n.tile[3], -aside),
        ("panel below", -1.0, n.tile[2], aside),
    ]
    .map(|(id, up, border, along)| {
        let border = (border - n.centre[1]) * up;
        let edge = n.corners.iter().map(|c| c[1] * up).fold(f64::MIN, f64::max) + no::BEND_RADIUS;
        let spot = by(along, up * f64::midpoint(border, edge));
        face(id, clicks, &spot, ((border - edge) / 2.0 - 3.0).min(22.0))
    })
    .to_vec();
    let mut junctions = Vec::new();
    if let Some(trim) = body.trim.as_ref().filter(|_| n.stem == "lamp") {
        let (f, j) = trim_picks(body, trim, clicks);
        faces.extend(f);
        junctions.push(j);
    }
    Opening {
        id: opening_id(place, o),
        name: n.name.to_owned(),
        scan: place.id().into(),
        side: side(place),
        edge: Some(EdgePick {
            near: clicks.at(&Spot { p: low.p, n: low.n }, 3.0),
            kind: EdgeKind::Auto,
            by_hand: Vec::new(),
            closed: true,
        }),
        top: Some(clicks.at(
            &Spot {
                p: high.p,
                n: high.n,
            },
            3.0,
        )),
        outward: (place != Place::Centre).then(|| clicks.vector(&Vector::y())),
        repeat_of: None,
        faces,
        junctions,
        holes: o
            .holes
            .iter()
            .map(|h| HolePick {
                id: h.id.into(),
                near: clicks.at(
                    &Spot {
                        p: h.centre,
                        n: h.axis,
                    },
                    1.5,
                ),
                kind: HoleKind::Hole,
                diameter_mm: Some(h.diameter),
            })
            .collect(),
        sureness: None,
        note: String::new(),
    }
}

fn face(id: &str, clicks: &mut Clicks, s: &Spot, reach_mm: f64) -> FacePick {
    FacePick {
        id: id.into(),
        near: clicks.at(s, 2.0),
        facing: Some(clicks.vector(&s.n)),
        reach_mm: Some(reach_mm),
        band_mm: None,
    }
}

/// Picks of the two cheeks and of the junction between them.
fn trim_picks(body: &Body, trim: &Trim, clicks: &mut Clicks) -> ([FacePick; 2], JunctionPick) {
    let half = no::JUNCTION_LENGTH / 2.0;
    let front = body.panel.at(no::JUNCTION_U + 30.0, 0.2 * half);
    let side = trim.on_side_cheek(-0.1 * half, 30.0);
    let faces = [
        (
            "front cheek",
            Spot {
                p: front.p,
                n: front.n,
            },
        ),
        ("side cheek", side),
    ]
    .map(|(id, s)| FacePick {
        id: id.into(),
        near: clicks.at(&s, 3.0),
        facing: Some(clicks.vector(&s.n)),
        reach_mm: None,
        band_mm: Some(4.0),
    });
    let start = trim.on_bend(half - 4.0, 0.5);
    let junction = JunctionPick {
        id: "inner side".into(),
        a: "front cheek".into(),
        b: "side cheek".into(),
        start: clicks.at(&start, 3.0),
        start_name: "top".to_owned(),
        end_name: "bottom".to_owned(),
        through: Through::Material,
        stations: Stations::Quarters,
        drawn_deg: Some(90.0),
    };
    (faces, junction)
}
