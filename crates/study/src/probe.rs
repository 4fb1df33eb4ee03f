//! Looking at single places of a scan while a person points at them.
//!
//! [`Probe::face_at`], [`Probe::edge_near`] and [`Probe::hole_near`] call the very functions [`crate::measure()`] calls, so that
//! what is shown while picking equals what is measured afterwards, bit for bit.

use std::borrow::Cow;
use std::sync::Arc;

use geom::{Lagged, NoiseModel, Plane, Point, Rigid, Uncertain, Unit};
use record::{
    EdgeGap, EdgeKind, EdgePick, FacePick, Figure, HoleKind, HolePick, MeasuredFace, MeasuredHole,
    Prepared, Quantity, Source,
};

pub use crate::measure::Normals;
use crate::measure::{
    FittedEdge, FittedFace, NoEdge, NoFace, Surface, assumed_noise, edge_of, fit_face, hole_of,
    measured_face, measured_hole, station_shares,
};

/// Why nothing was found at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum NotFound {
    /// There are no points there.
    NoPoints,
    /// Points, but no smooth surface.
    NotSmooth,
    /// Points, but neither a bend nor a free edge.
    NotAnEdge,
    /// No round hole, no stud.
    NotRound,
}

/// A face grown from a place; scan axes, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct FaceAt {
    /// Its figures, as [`crate::measure()`] gives them for the same noise.
    pub face: MeasuredFace,
    /// Its points.
    pub points: Vec<Point>,
    /// Area seen, mm2.
    pub area_mm2: f64,
    /// Farthest means of cells above and below the plane of `face`, together, mm: how flat it is.
    pub flatness_mm: f64,
    /// Give-or-take of the direction of its normal in the worse of two directions; the value is 0.
    pub normal: Figure,
}

/// A place on a traced edge; scan axes, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EdgePlace {
    /// Where.
    pub at: Point,
    /// In the panel, towards the inside of the opening.
    pub inward: Unit,
    /// Normal of the panel, out of the metal.
    pub out: Unit,
    /// Whether it was seen here.
    pub seen: bool,
}

/// An edge traced from a place; scan axes, mm.
#[derive(Clone, Debug, PartialEq)]
pub struct EdgeNear {
    /// Which line it is; never auto.
    pub kind: EdgeKind,
    /// Whether it closes.
    pub closed: bool,
    /// Its length.
    pub length_mm: f64,
    /// The stations that are measured, in order, counter-clockwise seen from outside.
    pub stations: Vec<EdgePlace>,
    /// The curve to draw, in the same order, about 1 mm apart.
    pub curve: Vec<EdgePlace>,
    /// Lengths not seen.
    pub gaps: Vec<EdgeGap>,
}

/// A prepared scan that is pointed at. Normals it lacks are worked out where they are asked for, once.
pub struct Probe<'a> {
    surface: Surface<'a>,
}

impl<'a> Probe<'a> {
    /// Wraps a prepared scan; costs nothing yet.
    pub fn new(scan: &'a Prepared) -> Self {
        Self {
            surface: Surface::new(scan),
        }
    }

    /// The same with the normals that an earlier look at this very scan worked out.
    pub fn with_normals(scan: &'a Prepared, normals: Arc<Normals>) -> Self {
        Self {
            surface: Surface::with_normals(scan, normals),
        }
    }

    /// The normals worked out so far, for [`Probe::with_normals`].
    pub fn normals(&self) -> Arc<Normals> {
        Arc::clone(self.surface.normals())
    }

    /// Grows the face of a pick. `noise` is that of the visit, if it is known; else what is assumed of an instrument.
    ///
    /// # Errors
    /// [`NotFound`] where there is no smooth surface.
    pub fn face_at(&self, pick: &FacePick, noise: Option<&NoiseModel>) -> Result<FaceAt, NotFound> {
        let fitted = fit_face(&self.surface, pick).map_err(|why| match why {
            NoFace::NoPoints => NotFound::NoPoints,
            NoFace::NotSmooth => NotFound::NotSmooth,
        })?;
        let noise = &*known_or_assumed(noise);
        let face = measured_face(&fitted, noise);
        let cell = fitted.fit.cells.size;
        Ok(FaceAt {
            area_mm2: fitted.fit.covered.iter().sum::<f64>() * cell * cell,
            flatness_mm: flatness(&fitted, &face.plane),
            normal: normal(&fitted, noise),
            points: fitted.grown.points,
            face,
        })
    }

    /// Traces the edge of a pick.
    ///
    /// # Errors
    /// [`NotFound`] where there is none.
    pub fn edge_near(&self, pick: &EdgePick) -> Result<EdgeNear, NotFound> {
        let edge = self.edge(pick)?;
        let places = |shares: &[f64]| -> Vec<EdgePlace> {
            shares
                .iter()
                .map(|share| {
                    let s = edge.station(*share);
                    EdgePlace {
                        at: s.p,
                        inward: s.inward,
                        out: s.out,
                        seen: s.seen,
                    }
                })
                .collect()
        };
        let n = edge.length.ceil().max(64.0) as usize;
        let count = if edge.closed { n } else { n + 1 };
        let dense: Vec<f64> = (0..count).map(|i| i as f64 / n as f64).collect();
        let gaps = edge.gaps().into_iter();
        Ok(EdgeNear {
            kind: edge.kind,
            closed: edge.closed,
            length_mm: edge.length,
            stations: places(&station_shares(&edge)),
            curve: places(&dense),
            gaps: gaps
                .map(|(from_mm, length_mm)| EdgeGap { from_mm, length_mm })
                .collect(),
        })
    }

    fn edge(&self, pick: &EdgePick) -> Result<FittedEdge, NotFound> {
        edge_of(&self.surface, pick).map_err(|why| match why {
            NoEdge::NoPoints => NotFound::NoPoints,
            NoEdge::NotAnEdge => NotFound::NotAnEdge,
        })
    }

    /// Fits the hole or stud of a pick, in scan axes. `edge`: the edge of its opening, which tells the outside. `noise` as for
    /// [`Probe::face_at`].
    ///
    /// # Errors
    /// [`NotFound::NotRound`] where there is none.
    pub fn hole_near(
        &self,
        pick: &HolePick,
        edge: Option<&EdgePick>,
        noise: Option<&NoiseModel>,
    ) -> Result<MeasuredHole, NotFound> {
        let edge = edge.and_then(|e| self.edge(e).ok());
        let fitted = hole_of(&self.surface, pick, edge.as_ref()).ok_or(NotFound::NotRound)?;
        Ok(measured_hole(
            &pick.id,
            pick.kind,
            &fitted,
            &known_or_assumed(noise),
            &Rigid::identity(),
        ))
    }
}

/// The noise of the visit, or what is assumed of an instrument.
fn known_or_assumed(noise: Option<&NoiseModel>) -> Cow<'_, NoiseModel> {
    noise.map_or_else(|| Cow::Owned(assumed_noise()), Cow::Borrowed)
}

/// Grows the face of a pick; see [`Probe::face_at`].
///
/// # Errors
/// [`NotFound`] where there is no smooth surface.
pub fn face_at(
    scan: &Prepared,
    pick: &FacePick,
    noise: Option<&NoiseModel>,
) -> Result<FaceAt, NotFound> {
    Probe::new(scan).face_at(pick, noise)
}

/// Traces the edge of a pick; see [`Probe::edge_near`].
///
/// # Errors
/// [`NotFound`] where there is none.
pub fn edge_near(scan: &Prepared, pick: &EdgePick) -> Result<EdgeNear, NotFound> {
    Probe::new(scan).edge_near(pick)
}

/// Fits the hole or stud of a pick; see [`Probe::hole_near`].
///
/// # Errors
/// [`NotFound::NotRound`] where there is none.
pub fn hole_near(
    scan: &Prepared,
    pick: &HolePick,
    edge: Option<&EdgePick>,
) -> Result<MeasuredHole, NotFound> {
    Probe::new(scan).hole_near(pick, edge, None)
}

/// A pick of an edge at a place.
pub fn edge_pick(near: Point) -> EdgePick {
    EdgePick {
        near,
        kind: EdgeKind::Auto,
        by_hand: Vec::new(),
        closed: true,
    }
}

/// A pick of a hole at a place.
pub fn hole_pick(id: &str, near: Point) -> HolePick {
    HolePick {
        id: id.into(),
        near,
        kind: HoleKind::Hole,
        diameter_mm: None,
    }
}

/// Spread of the cell means about the plane of the face, mm; the face's own bow counts.
fn flatness(face: &FittedFace, plane: &Plane) -> f64 {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for cell in &face.fit.cells.cells {
        let d = plane.distance(&face.fit.axes.point(cell.u, cell.v, cell.h));
        low = low.min(d);
        high = high.max(d);
    }
    if low <= high { high - low } else { 0.0 }
}

/// Give-or-take of the normal: of the slopes of the fitted surface in its middle, the worse one.
fn normal(face: &FittedFace, noise: &NoiseModel) -> Figure {
    let worse = face.fit.hat().ok().map(|hat| {
        let of = |k: usize| {
            let row: Vec<f64> = hat.row(k).iter().copied().collect();
            noise.uncertainty(&Lagged::of(&face.fit.cells, &row))
        };
        let (u, v) = (of(1), of(2));
        if u.u95 > v.u95 { u } else { v }
    });
    let worse = worse.unwrap_or_else(|| Uncertain::new(f64::INFINITY, 1.0));
    Figure {
        value: 0.0,
        u95: worse.u95.to_degrees(),
        nu: worse.nu,
        source: Source::Noise,
        quantity: Quantity::Angle,
    }
}
