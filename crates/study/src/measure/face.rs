//! From a grown face to its figures.

use geom::{Curvature, NoiseModel, SurfaceFit, SurfaceOrder, Uncertain, fit_surface_while};
use record::{
    Code, FaceId, FacePick, Figure, Finding, MeasuredFace, Number, Quantity, Severity, Source,
};

use super::face_grow::{self, GrownFace, NoFace, Seed};
use super::surface::Surface;

/// Cells across the shorter side of a face.
const CELLS_ACROSS: f64 = 15.0;
/// A face whose bow is proven and above this is called curved, mm.
const CURVED: f64 = 0.1;
/// Below this p-value the bow is no noise.
const CURVED_P: f64 = 0.05;

/// A face with the surface fitted to it.
#[derive(Clone, Debug)]
pub struct FittedFace {
    /// Its name.
    pub id: FaceId,
    /// Its points.
    pub grown: GrownFace,
    /// The quadric through them; its cells and residuals.
    pub fit: SurfaceFit,
    /// Width left out beside junctions, mm, if the job says so.
    pub band: Option<f64>,
}

/// Grows and fits the face of a pick.
pub fn fit_face(surface: &Surface, pick: &FacePick) -> Result<FittedFace, NoFace> {
    let grown = face_grow::grow(
        surface,
        &Seed {
            near: &pick.near,
            facing: pick.facing,
            along: None,
            reach_mm: pick.reach_mm,
        },
    )?;
    let fit = fit_grown(surface, &grown)?;
    Ok(FittedFace {
        id: pick.id.clone(),
        grown,
        fit,
        band: pick.band_mm,
    })
}

/// The quadric through a grown face.
pub fn fit_grown(surface: &Surface, grown: &GrownFace) -> Result<SurfaceFit, NoFace> {
    let short = grown.size[0].min(grown.size[1]);
    let cell = (short / CELLS_ACROSS).max(1.4 * surface.spacing());
    fit_surface_while(
        grown.axes,
        &grown.points,
        cell,
        SurfaceOrder::Quadric,
        0.0,
        &|| !surface.is_stopped(),
    )
    .map_err(|_| NoFace::NotSmooth)
}

/// All figures of a face.
pub fn measured_face(face: &FittedFace, noise: &NoiseModel) -> MeasuredFace {
    let fit = &face.fit;
    let mut findings = Vec::new();
    // A face too small for the test says nothing of its curvature.
    let curvature = Curvature::test(&fit.cells, &fit.covered, noise).ok();
    let (sag, sag_u, curved, steepest) = match &curvature {
        Some(c) => {
            let proven = c.p < CURVED_P && c.sag.abs() > CURVED;
            (
                c.sag,
                noise.uncertainty(&c.sag_lagged),
                proven,
                c.principal[0].abs(),
            )
        }
        None => (0.0, Uncertain::new(f64::INFINITY, 1.0), false, 0.0),
    };
    let name = face.id.to_string();
    if curved {
        findings.push(Finding {
            code: Code::CurvedFace,
            severity: Severity::Note,
            subject: name.clone(),
            says: format!("the face bows by {:.2} mm over its length", sag.abs()),
            advice: "its tangent at the middle is used; say where on the face the part will sit"
                .to_owned(),
            numbers: vec![Number {
                name: "bow".to_owned(),
                value: sag,
                quantity: Some(Quantity::Length),
            }],
        });
    }
    if sag_u.cannot_tell() {
        findings.push(cannot_tell(&name));
    }
    MeasuredFace {
        id: face.id.clone(),
        plane: fit.plane_at(0.0, 0.0),
        centre: fit.point_at(0.0, 0.0),
        size_mm: face.grown.size,
        points: face.grown.points.len(),
        seen: face.grown.seen,
        scatter_mm: fit.scatter,
        sag: Figure {
            value: sag,
            u95: sag_u.u95,
            nu: sag_u.nu,
            source: Source::Noise,
            quantity: Quantity::Length,
        },
        radius_mm: curved.then(|| 1.0 / steepest),
        turn_deg_per_mm: steepest.to_degrees(),
        findings,
    }
}

/// The finding that a face alone cannot tell its noise from its form.
pub fn cannot_tell(subject: &str) -> Finding {
    Finding {
        code: Code::FaceCannotTell,
        severity: Severity::Doubt,
        subject: subject.to_owned(),
        says:
            "the waves on this face are as long as the face: it cannot be told from this face alone"
                .to_owned(),
        advice: "scan it a second time, re-seated, or take a longer base".to_owned(),
        numbers: Vec::new(),
    }
}
