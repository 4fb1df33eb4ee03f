//! How far naming is: what a click names, what was found, what is kept.

use std::sync::Arc;

use editor::{Command, OpeningChange, ProbeAnswer, ProbeAt, Probed};
use record::{EdgePick, FaceId, FacePick, Opening, OpeningId, ScanId, Side};
use view3d::Camera;

use crate::shown::Shown;
use crate::state::Act;

/// What a click names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Tool {
    /// An opening edge.
    #[default]
    Edge,
    /// The top of the opening.
    Top,
    /// A face.
    Face,
    /// Two faces that meet.
    Junction,
    /// A hole or stud.
    Hole,
    /// Nothing: a loop is drawn, and what lies in it is not used.
    Aside,
    /// Nothing: a loop is drawn, and it alone is used.
    Keep,
}

impl Tool {
    /// Every tool.
    pub(super) const ALL: [Self; 7] = [
        Self::Edge,
        Self::Top,
        Self::Face,
        Self::Junction,
        Self::Hole,
        Self::Aside,
        Self::Keep,
    ];

    /// Its name.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Edge => "Opening edge",
            Self::Top => "Top",
            Self::Face => "Face",
            Self::Junction => "Junction",
            Self::Hole => "Hole",
            Self::Aside => "Put aside",
            Self::Keep => "Use only",
        }
    }

    /// Whether a loop is drawn with it.
    pub(super) fn loops(self) -> bool {
        matches!(self, Self::Aside | Self::Keep)
    }
}

/// How far naming is.
#[derive(Clone, Debug, Default)]
pub struct Naming {
    /// What a click names.
    pub tool: Tool,
    /// The opening that places are named for.
    pub opening: Option<OpeningId>,
    /// From where each scan is looked at.
    pub camera: Option<(ScanId, Camera)>,
    /// What was found at the last place looked at, waiting to be kept.
    pub found: Option<Arc<ProbeAnswer>>,
    /// A look is under way.
    pub looking: bool,
    /// The faces of the junction in the making.
    pub faces: [Option<FaceId>; 2],
    /// The name in the making.
    pub name: String,
    /// Corners of the loop that is being drawn, points of the screen from the middle of the picture, right and down.
    pub corners: Vec<[f32; 2]>,
    /// Boxes are dragged instead of loops drawn.
    pub boxed: bool,
    /// Points have the colours they were scanned with; otherwise all are plain metal.
    pub own_colours: bool,
    /// What went wrong with the last look.
    pub says: Option<String>,
}

pub(super) fn opening(shown: Shown<'_>) -> Option<&Opening> {
    let job = shown.document().job();
    let wanted = shown.view.places.opening.as_ref();
    job.openings
        .iter()
        .find(|o| wanted == Some(&o.id))
        .or_else(|| {
            let in_scan = |o: &&Opening| shown.view.scan.as_ref().is_none_or(|s| o.scan == *s);
            job.openings.iter().find(in_scan)
        })
}

/// Whether an edge was picked and, as measured now, not found.
pub(super) fn edge_is_lost(shown: Shown, o: &Opening) -> bool {
    let measured = &shown.document().study().measured.openings;
    let of_it = measured.iter().find(|m| m.id == o.id);
    o.edge.is_some() && shown.document().is_fresh() && of_it.is_some_and(|m| m.edge.is_none())
}

/// `face-3`: the first name of its kind that the opening does not have.
pub(super) fn free_name(shown: Shown, kind: &str) -> String {
    let taken = |name: &str| {
        opening(shown).is_some_and(|o| {
            o.faces.iter().any(|f| f.id.0 == name)
                || o.holes.iter().any(|h| h.id.0 == name)
                || o.junctions.iter().any(|j| j.id.0 == name)
        })
    };
    (1..=10_000)
        .map(|k| format!("{kind}-{k}"))
        .find(|n| !taken(n))
        .unwrap_or_default()
}

/// What is kept when Enter is pressed.
pub(super) fn keep(shown: Shown) -> Option<Vec<Act>> {
    let naming = &shown.view.places;
    let done = |tool: Tool, opening: Option<OpeningId>| {
        Act::Naming(Box::new(Naming {
            tool,
            opening: opening.or_else(|| naming.opening.clone()),
            found: None,
            says: None,
            name: String::new(),
            ..naming.clone()
        }))
    };
    let Some(answer) = &naming.found else {
        let proposed = opening(shown).filter(|o| o.sureness.is_some())?;
        return Some(vec![Act::Do(Command::opening(
            proposed.id.clone(),
            OpeningChange::Keep,
        ))]);
    };
    if answer.found.is_err() {
        return None;
    }
    let named = opening(shown).filter(|o| o.scan == answer.scan);
    match (&answer.at, named) {
        (ProbeAt::Edge(pick), Some(o)) if o.edge.is_none() || edge_is_lost(shown, o) => Some(vec![
            Act::Do(Command::opening(
                o.id.clone(),
                OpeningChange::Edge(Some(pick.clone())),
            )),
            done(Tool::Top, None),
        ]),
        (ProbeAt::Edge(pick), _) => {
            let (add, id) = new_opening(shown, answer, pick);
            Some(vec![Act::Do(add), done(Tool::Top, Some(id))])
        }
        (ProbeAt::Face(pick), Some(o)) => Some(vec![
            Act::Do(Command::opening(
                o.id.clone(),
                OpeningChange::AddFace(pick.clone()),
            )),
            done(Tool::Face, None),
        ]),
        (ProbeAt::Hole(pick, _), Some(o)) => Some(vec![
            Act::Do(Command::opening(
                o.id.clone(),
                OpeningChange::AddHole(pick.clone()),
            )),
            done(Tool::Hole, None),
        ]),
        (ProbeAt::Face(_) | ProbeAt::Hole(..), None) => None,
    }
}

/// The side of the car a scan shows: as said of it, else as said of what is named in it.
pub(super) fn side_of(shown: Shown, scan: &ScanId) -> Side {
    let job = shown.document().job();
    let said = job.scans.iter().find(|s| s.id == *scan).map(|s| s.side);
    said.filter(|s| *s != Side::NotSaid).unwrap_or_else(|| {
        let of_one = job.openings.iter().find(|o| o.scan == *scan);
        of_one.map_or(Side::NotSaid, |o| o.side)
    })
}

fn new_opening(shown: Shown, answer: &ProbeAnswer, pick: &EdgePick) -> (Command, OpeningId) {
    let job = shown.document().job();
    let typed = shown.view.places.name.trim();
    let base = if typed.is_empty() { "opening" } else { typed };
    let side = side_of(shown, &answer.scan);
    let taken = |name: &str| job.openings.iter().any(|o| o.id.0 == name);
    let id = (1..=10_000)
        .map(|k| {
            format!(
                "{}-{}-{k}",
                answer.scan,
                base.to_lowercase().replace(' ', "-")
            )
        })
        .find(|n| !taken(n))
        .unwrap_or_default();
    let opening = Opening {
        name: report::words::capital(base),
        edge: Some(pick.clone()),
        ..Opening::unpicked(OpeningId(id.clone()), answer.scan.clone(), side)
    };
    (Command::AddOpening(Box::new(opening)), OpeningId(id))
}

/// Esc: what was found is left; a proposed opening is skipped.
pub(super) fn skip(shown: Shown) -> Vec<Act> {
    let naming = &shown.view.places;
    if naming.found.is_some() {
        let left = Naming {
            found: None,
            says: None,
            ..naming.clone()
        };
        return vec![Act::Naming(Box::new(left))];
    }
    opening(shown)
        .filter(|o| o.sureness.is_some())
        .map(|o| Act::Do(Command::opening(o.id.clone(), OpeningChange::Skip)))
        .into_iter()
        .collect()
}

/// The face found last, reaching farther or less far.
pub(super) fn resized(shown: Shown, factor: f64) -> Vec<Act> {
    let Some(answer) = &shown.view.places.found else {
        return Vec::new();
    };
    if let (ProbeAt::Face(pick), Ok(Probed::Face(face))) = (&answer.at, &answer.found) {
        let reach = pick.reach_mm.unwrap_or_else(|| {
            let far = face
                .points
                .iter()
                .map(|p| (p - pick.near).norm())
                .fold(0.0, f64::max);
            far.max(5.0)
        });
        let pick = FacePick {
            reach_mm: Some(reach * factor),
            ..pick.clone()
        };
        return vec![Act::Probe(answer.scan.clone(), ProbeAt::Face(pick))];
    }
    Vec::new()
}
