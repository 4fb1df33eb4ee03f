//! What to measure by hand, opening by opening: the plan of a field sheet.

use std::f64::consts::TAU;

use record::{
    Compare, FieldPlan, HandKind, HandTable, Job, Measured, MeasuredOpening, Opening, PlanBox,
    PlanPoint, PlanRole, Relation, Side,
};

use crate::measure::places_by_hand;

/// Points of an edge of which nothing is known yet.
const EDGE_POINTS: usize = 16;
/// Half the size of an opening of which nothing is known yet, mm, and how square it is.
const HALF: [f64; 2] = [100.0, 80.0];
const SQUARE: f64 = 4.0;
/// Marks on the panel and raised off it, in half sizes of the opening.
const MARKS: [(&str, [f64; 2], PlanRole); 6] = [
    ("A", [-1.5, -1.35], PlanRole::Panel),
    ("B", [1.5, -1.35], PlanRole::Panel),
    ("C", [0.0, 1.55], PlanRole::Panel),
    ("P", [-1.45, 0.75], PlanRole::Raised),
    ("Q", [1.45, 0.75], PlanRole::Raised),
    ("R", [0.0, -1.6], PlanRole::Raised),
];
/// Ties of a point where only what would settle it is asked for: one more than hold it, so that each is checked.
const FEWEST_TIES: usize = 4;
/// Places at which an angle is read.
const STATIONS: [&str; 5] = ["top", "1/4", "1/2", "3/4", "bottom"];

/// The field sheets of a job: both sides of every comparison; where one side was measured and the other was not, only the
/// other, with the fewest readings that still check each other.
pub fn field_plans(job: &Job, measured: &Measured) -> Vec<FieldPlan> {
    job.compares
        .iter()
        .flat_map(|c| plans_of(job, measured, c))
        .collect()
}

fn plans_of(job: &Job, measured: &Measured, c: &Compare) -> Vec<FieldPlan> {
    let opening = |id: &record::OpeningId| job.openings.iter().find(|o| o.id == *id);
    let seen = |o: Option<&Opening>| -> Option<&MeasuredOpening> {
        let m = measured
            .openings
            .iter()
            .find(|m| Some(&m.id) == o.map(|o| &o.id))?;
        m.edge.is_some().then_some(m)
    };
    let a = opening(&c.a);
    let b = c.b.as_ref().and_then(opening);
    let sides = match c.relation {
        Relation::Mirrored => [Side::Left, Side::Right],
        Relation::Same | Relation::Itself => {
            let side = a.map_or(Side::NotSaid, |o| o.side);
            [side, b.map_or(side, |o| o.side)]
        }
    };
    let both = [(a, sides[0]), (b, sides[1])];
    let pattern = both
        .iter()
        .find_map(|(o, side)| Some(((*o)?, *side, seen(*o)?)))
        .map(|(o, side, m)| (pattern(job, o, m), side));
    let plain = pattern.is_none();
    let (shape, side) = pattern.unwrap_or_else(|| (any_opening(), Side::Right));
    let missing: Vec<bool> = both.iter().map(|(o, _)| seen(*o).is_none()).collect();
    let only_missing = !plain && missing.iter().any(|m| *m) && c.relation != Relation::Itself;
    both.into_iter()
        .zip(missing)
        .filter(|((o, _), missing)| {
            let one = c.relation == Relation::Itself && o.is_none();
            !one && (!only_missing || *missing)
        })
        .map(|((o, own), _)| {
            let turned = (own == Side::Left) != (side == Side::Left);
            let name = o.or(a).map_or_else(|| c.id.to_string(), |o| o.name.clone());
            shape.plan(o, name, own, turned, only_missing)
        })
        .collect()
}

/// The places and readings of one side, as seen from outside.
struct Pattern {
    outline: Vec<[f64; 2]>,
    measured: bool,
    points: Vec<PlanPoint>,
    clockwise: bool,
    top: Option<String>,
    boxes: Vec<PlanBox>,
}

impl Pattern {
    fn plan(
        &self,
        opening: Option<&Opening>,
        name: String,
        side: Side,
        turned: bool,
        fewest: bool,
    ) -> FieldPlan {
        let hand = if turned { -1.0 } else { 1.0 };
        let at = |p: &[f64; 2]| [hand * p[0], p[1]];
        FieldPlan {
            opening: opening.map(|o| o.id.clone()),
            name,
            side,
            outline: self.outline.iter().map(at).collect(),
            measured: self.measured,
            points: self
                .points
                .iter()
                .map(|p| PlanPoint {
                    at: at(&p.at),
                    ..p.clone()
                })
                .collect(),
            clockwise: self.clockwise != turned,
            top: self.top.clone(),
            boxes: if fewest {
                self.fewest()
            } else {
                self.boxes.clone()
            },
            says: if fewest {
                "Only what would settle it: four ties to every point, so that each is checked once. More ties find more slips."
                    .to_owned()
            } else {
                "Both sides alike. Leave a box blank if it was not measured: blank is never 0."
                    .to_owned()
            },
        }
    }

    /// All ties between marks, and of every other point the first four, raised marks first; every other reading once.
    fn fewest(&self) -> Vec<PlanBox> {
        let role = |name: &String| self.points.iter().find(|p| p.name == *name).map(|p| p.role);
        let mark = |name: &String| matches!(role(name), Some(PlanRole::Panel | PlanRole::Raised));
        let mut out: Vec<PlanBox> = Vec::new();
        let ends = |b: &PlanBox| -> Vec<String> { b.from.iter().chain(&b.to).cloned().collect() };
        for b in &self.boxes {
            let all = ends(b);
            if b.kind != HandKind::Length || all.iter().all(mark) {
                out.push(PlanBox {
                    times: if b.kind == HandKind::Length {
                        1
                    } else {
                        b.times.min(2)
                    },
                    ..b.clone()
                });
            }
        }
        for p in self.points.iter().filter(|p| !mark(&p.name)) {
            let mut own: Vec<&PlanBox> = self
                .boxes
                .iter()
                .filter(|b| b.kind == HandKind::Length && ends(b).contains(&p.name))
                .collect();
            own.sort_by_key(|b| !ends(b).iter().any(|e| role(e) == Some(PlanRole::Raised)));
            for b in own.into_iter().take(FEWEST_TIES) {
                if !out.contains(b) {
                    out.push(PlanBox {
                        times: 1,
                        ..b.clone()
                    });
                }
            }
        }
        out
    }
}

/// The pattern of a measured opening: the readings of its hand table, or points round the edge that a scan found.
fn pattern(job: &Job, opening: &Opening, m: &MeasuredOpening) -> Pattern {
    let outline: Vec<[f64; 2]> = m
        .edge
        .iter()
        .flat_map(|e| &e.stations)
        .map(|s| [s.at.x, s.at.y])
        .collect();
    if let Some(table) = job.hand_of(opening) {
        let places = places_by_hand(job, opening, table);
        if !places.is_empty() {
            return of_table(table, outline, &places);
        }
    }
    let half = [0, 1].map(|k| outline.iter().map(|p| p[k].abs()).fold(1.0, f64::max));
    let n = outline.len();
    // The first point is the top.
    let top = (0..n)
        .max_by(|a, b| {
            (outline[*a][1] - outline[*a][0].abs())
                .total_cmp(&(outline[*b][1] - outline[*b][0].abs()))
        })
        .unwrap_or(0);
    let edge: Vec<[f64; 2]> = (0..EDGE_POINTS)
        .map(|k| outline[(top + k * n / EDGE_POINTS) % n.max(1)])
        .collect();
    let holes: Vec<(String, [f64; 2])> = m
        .holes
        .iter()
        .map(|h| (h.id.to_string(), [h.centre.x, h.centre.y]))
        .collect();
    let junctions: Vec<String> = m.junctions.iter().map(|j| j.id.to_string()).collect();
    Pattern {
        measured: true,
        ..made(outline, half, &edge, false, &holes, &junctions)
    }
}

/// The pattern of any opening.
fn any_opening() -> Pattern {
    let at = |share: f64| {
        let a = TAU * share + TAU / 4.0;
        let (s, c) = a.sin_cos();
        // A square with rounded corners: |x|^n + |y|^n = 1.
        let r = (c.abs().powf(SQUARE) + s.abs().powf(SQUARE)).powf(-1.0 / SQUARE);
        [HALF[0] * r * c, HALF[1] * r * s]
    };
    let outline: Vec<[f64; 2]> = (0..96).map(|k| at(f64::from(k) / 96.0)).collect();
    let edge: Vec<[f64; 2]> = (0..EDGE_POINTS)
        .map(|k| at(k as f64 / EDGE_POINTS as f64))
        .collect();
    made(outline, HALF, &edge, false, &[], &["junction".to_owned()])
}

fn made(
    outline: Vec<[f64; 2]>,
    half: [f64; 2],
    edge: &[[f64; 2]],
    clockwise: bool,
    holes: &[(String, [f64; 2])],
    junctions: &[String],
) -> Pattern {
    let mut points: Vec<PlanPoint> = edge
        .iter()
        .enumerate()
        .map(|(k, at)| PlanPoint {
            name: format!("{}", k + 1),
            at: *at,
            role: PlanRole::Edge,
        })
        .collect();
    points.extend(holes.iter().map(|(name, at)| PlanPoint {
        name: name.replace(' ', "-"),
        at: *at,
        role: PlanRole::Hole,
    }));
    let others: Vec<String> = points.iter().map(|p| p.name.clone()).collect();
    points.extend(MARKS.iter().map(|(name, [x, y], role)| PlanPoint {
        name: (*name).to_owned(),
        at: [x * half[0], y * half[1]],
        role: *role,
    }));
    let length = |from: &str, to: &str, times: u8| PlanBox {
        kind: HandKind::Length,
        from: vec![from.to_owned()],
        to: vec![to.to_owned()],
        station: String::new(),
        times,
    };
    let mut boxes = Vec::new();
    for (i, (a, ..)) in MARKS.iter().enumerate() {
        boxes.extend(MARKS[..i].iter().map(|(b, ..)| length(b, a, 2)));
    }
    for p in &others {
        boxes.extend(MARKS.iter().map(|(m, ..)| length(p, m, 1)));
    }
    for (name, _) in holes {
        boxes.push(PlanBox {
            kind: HandKind::Hole,
            from: vec![name.replace(' ', "-")],
            to: Vec::new(),
            station: String::new(),
            times: 2,
        });
    }
    for j in junctions {
        boxes.extend(STATIONS.iter().map(|s| PlanBox {
            kind: HandKind::Angle,
            from: vec![j.clone()],
            to: Vec::new(),
            station: (*s).to_owned(),
            times: 3,
        }));
    }
    Pattern {
        outline,
        measured: false,
        top: points.first().map(|p| p.name.clone()),
        points,
        clockwise,
        boxes,
    }
}

/// The rows of a hand table, each once, with as many boxes as it was read times (two at least for lengths between marks).
fn of_table(
    table: &HandTable,
    outline: Vec<[f64; 2]>,
    places: &[(String, geom::Point)],
) -> Pattern {
    let rows = &table.readings;
    let edge = rows.iter().find(|r| r.kind == HandKind::Edge);
    let on_edge = |n: &String| edge.is_some_and(|e| e.from.contains(n));
    let holes: Vec<&String> = rows
        .iter()
        .filter(|r| matches!(r.kind, HandKind::Hole | HandKind::Stud))
        .filter_map(|r| r.from.first())
        .collect();
    let depth = outline.iter().fold(1.0, |m: f64, p| m.max(p[0].abs()));
    let mut points: Vec<PlanPoint> = places
        .iter()
        .map(|(name, p)| PlanPoint {
            name: name.clone(),
            at: [p.x, p.y],
            role: if on_edge(name) {
                PlanRole::Edge
            } else if holes.contains(&name) {
                PlanRole::Hole
            } else if p.z.abs() > 0.4 * depth {
                PlanRole::Raised
            } else {
                PlanRole::Panel
            },
        })
        .collect();
    if let Some(e) = edge {
        points.sort_by_key(|p| {
            e.from
                .iter()
                .position(|n| *n == p.name)
                .unwrap_or(usize::MAX)
        });
    }
    let mut boxes: Vec<PlanBox> = Vec::new();
    for r in rows.iter().filter(|r| !r.kind.is_word()) {
        let same = |b: &&mut PlanBox| {
            b.kind == r.kind && b.from == r.from && b.to == r.to && b.station == r.station
        };
        match boxes.iter_mut().find(same) {
            Some(b) => b.times = (b.times + 1).min(3),
            None => boxes.push(PlanBox {
                kind: r.kind,
                from: r.from.clone(),
                to: r.to.clone(),
                station: r.station.clone(),
                times: 1,
            }),
        }
    }
    Pattern {
        outline,
        measured: true,
        clockwise: edge.is_some_and(|e| {
            let w = e.station.to_lowercase();
            w.contains("clockwise") && !w.contains("counter") && !w.contains("anti")
        }),
        top: rows
            .iter()
            .find(|r| r.kind == HandKind::Top)
            .map(|r| r.from.join(" ")),
        points,
        boxes,
    }
}
