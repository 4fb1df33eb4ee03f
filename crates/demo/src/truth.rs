//! What is true of the coach.

use geom::{Improper, Point, Rigid, Unit, Vector};
use record::{HoleId, OpeningId, ScanId, Side};

use crate::body::{self, Body, Place};
use crate::coach::{Coach, PLACES};
use crate::numbers as no;

/// A bolt hole as it was made, car axes, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct TrueHole {
    /// Its name.
    pub id: HoleId,
    /// Its middle on the panel.
    pub centre: Point,
    /// Its axis, outward.
    pub axis: Unit,
    /// Its diameter.
    pub diameter_mm: f64,
}

/// A place of an opening edge, car axes, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueEdgePoint {
    /// On the sharp line in which panel and flange would meet.
    pub at: Point,
    /// On the free edge of the flange.
    pub free: Point,
    /// Normal of the panel, outward.
    pub normal: Unit,
    /// In the panel surface, towards the inside of the opening.
    pub inward: Unit,
}

/// The trim junction as it was made, car axes, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueJunction {
    /// Upper end of the sharp line.
    pub top: Point,
    /// Lower end.
    pub bottom: Point,
    /// Angle through the metal at the top, degrees.
    pub top_deg: f64,
    /// Angle through the metal at the bottom, degrees; linear between.
    pub bottom_deg: f64,
    /// Width of either face from the sharp line, mm.
    pub width_mm: f64,
}

impl TrueJunction {
    /// Angle through the metal, degrees, at a share of the length from the top (0) to the bottom (1).
    pub fn angle_deg(&self, share: f64) -> f64 {
        self.top_deg + (self.bottom_deg - self.top_deg) * share
    }

    /// Change of the angle, degrees per 100 mm, from the top down.
    pub fn twist_deg_per_100_mm(&self) -> f64 {
        (self.bottom_deg - self.top_deg) / (self.bottom - self.top).norm() * 100.0
    }
}

/// An opening as it was made.
#[derive(Clone, Debug)]
pub struct TrueOpening {
    /// Its name in the job.
    pub id: OpeningId,
    /// The scan it is in.
    pub scan: ScanId,
    /// Its side.
    pub side: Side,
    /// Its bolt holes.
    pub holes: Vec<TrueHole>,
    /// The trim junction beside it.
    pub junction: Option<TrueJunction>,
    edge: crate::edge::Edge,
    car_from_side: Improper,
}

impl TrueOpening {
    /// A place of its edge. `share` runs from 0 to 1 once round: from the middle of the lower inner (for the grille: lower
    /// left) corner along the lower edge; corners' middles are at 0, 1/4, 1/2, 3/4. The same share on the other side is
    /// the mirror image where nothing differs.
    pub fn edge_at(&self, share: f64) -> TrueEdgePoint {
        let s = self.edge.at(4.0 * share);
        let unit = |v: Vector| Unit::new_normalize(self.car_from_side.vector(&v));
        TrueEdgePoint {
            at: self.car_from_side.point(&s.p),
            free: self
                .car_from_side
                .point(&self.edge.on_flange(&s, self.edge.bend.depth).p),
            normal: unit(s.n),
            inward: unit(s.g),
        }
    }

    /// Its edge as `count` places, evenly spaced in share.
    pub fn edge(&self, count: usize) -> Vec<TrueEdgePoint> {
        (0..count)
            .map(|k| self.edge_at(k as f64 / count as f64))
            .collect()
    }

    /// Distance of a point (car axes, mm) from the sharp line of the edge.
    pub fn edge_distance(&self, p: &Point) -> f64 {
        const N: usize = 2048;
        let at = |k: f64| (self.edge_at(k).at - p).norm();
        let best = (0..N)
            .map(|k| k as f64 / N as f64)
            .min_by(|a, b| at(*a).total_cmp(&at(*b)))
            .unwrap_or(0.0);
        let (mut low, mut high) = (best - 1.0 / N as f64, best + 1.0 / N as f64);
        for _ in 0..60 {
            let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            if at(a) < at(b) { high = b } else { low = a }
        }
        at(f64::midpoint(low, high))
    }
}

/// What is true of the coach, car axes.
#[derive(Clone, Debug)]
pub struct Truth {
    /// Every opening.
    pub openings: Vec<TrueOpening>,
    /// Scan axes from car axes, by scan.
    pub scan_from_car: Vec<(ScanId, Rigid)>,
    /// By what the sides differ.
    pub differences: no::Differences,
}

impl Truth {
    /// The opening of a name.
    pub fn opening(&self, id: &OpeningId) -> Option<&TrueOpening> {
        self.openings.iter().find(|o| o.id == *id)
    }

    /// Scan axes from car axes of a scan.
    pub fn scan_from_car(&self, id: &ScanId) -> Option<Rigid> {
        self.scan_from_car
            .iter()
            .find(|(s, _)| s == id)
            .map(|(_, m)| *m)
    }
}

pub(crate) fn side(place: Place) -> Side {
    match place {
        Place::Left => Side::Left,
        Place::Right => Side::Right,
        Place::Centre => Side::Centre,
    }
}

/// The name of an opening in the job.
pub(crate) fn opening_id(place: Place, o: &body::Opening) -> OpeningId {
    match place {
        Place::Centre => OpeningId(o.numbers.stem.to_owned()),
        Place::Left | Place::Right => OpeningId(format!("{}-{}", o.numbers.stem, place.id())),
    }
}

impl Coach {
    /// What is true of it.
    pub fn truth(&self) -> Truth {
        let mut openings = Vec::new();
        for place in PLACES {
            let body = self.body(place);
            for o in &body.openings {
                openings.push(true_opening(place, &body, o));
            }
        }
        Truth {
            openings,
            scan_from_car: PLACES
                .map(|p| (p.id().into(), self.scan_from_car(p)))
                .to_vec(),
            differences: self.differences,
        }
    }
}

fn true_opening(place: Place, body: &Body, o: &body::Opening) -> TrueOpening {
    let car = place.car_from_side();
    let junction = body.trim.filter(|_| o.numbers.stem == "lamp").map(|t| {
        let half = no::JUNCTION_LENGTH / 2.0;
        TrueJunction {
            top: car.point(&t.line(half)),
            bottom: car.point(&t.line(-half)),
            top_deg: t.angle[0].to_degrees(),
            bottom_deg: t.angle[1].to_degrees(),
            width_mm: no::CHEEK_WIDTH,
        }
    });
    TrueOpening {
        id: opening_id(place, o),
        scan: place.id().into(),
        side: side(place),
        holes: o
            .holes
            .iter()
            .map(|h| TrueHole {
                id: h.id.into(),
                centre: car.point(&h.centre),
                axis: Unit::new_normalize(car.vector(&h.axis)),
                diameter_mm: h.diameter,
            })
            .collect(),
        junction,
        edge: o.edge.clone(),
        car_from_side: car,
    }
}
