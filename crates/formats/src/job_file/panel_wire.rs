//! Sections, gaps to neighbours and hinges: their structs in the file, and to and from them.

use geom::{Point, Vector};
use record::{OpeningId, ScanId};
use serde::{Deserialize, Serialize};

use super::wire::{Three, is_default};

/// How sections are cut.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
// Every length of the file ends in its unit.
#[allow(clippy::struct_field_names)]
pub(super) struct Sections {
    pub width_mm: f64,
    pub step_mm: f64,
    pub every_mm: f64,
}

impl Default for Sections {
    fn default() -> Self {
        to_plan(&record::SectionPlan::default())
    }
}

/// A gap to a neighbour.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Gap {
    pub name: String,
    pub first: String,
    pub second: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub left: Option<Track>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub right: Option<Track>,
    #[serde(default = "gap_every")]
    pub every_mm: f64,
    #[serde(default = "gap_reach")]
    pub reach_mm: f64,
}

/// Distance of stations of a gap, where none is given, mm.
fn gap_every() -> f64 {
    25.0
}

/// How far the panels are looked at, where it is not given, mm.
fn gap_reach() -> f64 {
    20.0
}

/// A gap on one side.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Track {
    /// Left out: the only scan of the job, if there is one only.
    #[serde(default)]
    pub scan: Option<String>,
    pub along_mm: Vec<Three>,
    pub on_first_mm: Three,
    #[serde(default, skip_serializing_if = "is_default")]
    pub outward: Option<Three>,
}

/// Pins that are to lie on one line.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Hinge {
    pub name: String,
    #[serde(default)]
    pub scan: Option<String>,
    pub barrels: Vec<Barrel>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub swing: Option<Swing>,
}

/// A barrel or pin.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Barrel {
    pub name: String,
    pub from_mm: Three,
    pub to_mm: Three,
    #[serde(default, skip_serializing_if = "is_default")]
    pub diameter_mm: Option<f64>,
}

/// What swings past what.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Swing {
    pub part: String,
    pub body: String,
    pub open_deg: f64,
}

fn three(p: &Point) -> Three {
    [p.x, p.y, p.z]
}

pub(super) fn plan(s: &Sections) -> record::SectionPlan {
    record::SectionPlan {
        width_mm: s.width_mm,
        step_mm: s.step_mm,
        every_mm: s.every_mm,
    }
}

pub(super) fn to_plan(plan: &record::SectionPlan) -> Sections {
    let record::SectionPlan {
        width_mm,
        step_mm,
        every_mm,
    } = *plan;
    Sections {
        width_mm,
        step_mm,
        every_mm,
    }
}

fn track(t: Track, only_scan: &str) -> record::GapTrack {
    record::GapTrack {
        scan: ScanId(t.scan.unwrap_or_else(|| only_scan.to_owned())),
        along: t.along_mm.into_iter().map(Point::from).collect(),
        on_first: t.on_first_mm.into(),
        outward: t.outward.map(Vector::from),
    }
}

fn to_track(track: &record::GapTrack) -> Track {
    let record::GapTrack {
        scan,
        along,
        on_first,
        outward,
    } = track;
    Track {
        scan: Some(scan.0.clone()),
        along_mm: along.iter().map(three).collect(),
        on_first_mm: three(on_first),
        outward: outward.map(Into::into),
    }
}

pub(super) fn gap(g: Gap, only_scan: &str) -> record::GapPick {
    record::GapPick {
        name: g.name,
        first: g.first,
        second: g.second,
        left: g.left.map(|t| track(t, only_scan)),
        right: g.right.map(|t| track(t, only_scan)),
        every_mm: g.every_mm,
        reach_mm: g.reach_mm,
    }
}

pub(super) fn to_gap(gap: &record::GapPick) -> Gap {
    let record::GapPick {
        name,
        first,
        second,
        left,
        right,
        every_mm,
        reach_mm,
    } = gap;
    Gap {
        name: name.clone(),
        first: first.clone(),
        second: second.clone(),
        left: left.as_ref().map(to_track),
        right: right.as_ref().map(to_track),
        every_mm: *every_mm,
        reach_mm: *reach_mm,
    }
}

pub(super) fn hinge(h: Hinge, only_scan: &str) -> record::HingePick {
    record::HingePick {
        name: h.name,
        scan: ScanId(h.scan.unwrap_or_else(|| only_scan.to_owned())),
        barrels: h
            .barrels
            .into_iter()
            .map(|b| record::BarrelPick {
                name: b.name,
                from: b.from_mm.into(),
                to: b.to_mm.into(),
                diameter_mm: b.diameter_mm,
            })
            .collect(),
        swing: h.swing.map(|s| record::SwingPick {
            part: OpeningId(s.part),
            body: OpeningId(s.body),
            open_deg: s.open_deg,
        }),
    }
}

pub(super) fn to_hinge(hinge: &record::HingePick) -> Hinge {
    let record::HingePick {
        name,
        scan,
        barrels,
        swing,
    } = hinge;
    Hinge {
        name: name.clone(),
        scan: Some(scan.0.clone()),
        barrels: barrels
            .iter()
            .map(|b| {
                let record::BarrelPick {
                    name,
                    from,
                    to,
                    diameter_mm,
                } = b;
                Barrel {
                    name: name.clone(),
                    from_mm: three(from),
                    to_mm: three(to),
                    diameter_mm: *diameter_mm,
                }
            })
            .collect(),
        swing: swing.as_ref().map(|s| {
            let record::SwingPick {
                part,
                body,
                open_deg,
            } = s;
            Swing {
                part: part.0.clone(),
                body: body.0.clone(),
                open_deg: *open_deg,
            }
        }),
    }
}
