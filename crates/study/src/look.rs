//! A first look at a scan: what it holds, how fine and how noisy it is, and which openings are in it.

use geom::{CellGrid, LocalAxes, LocalPlane, NoiseModel, NoisePatch, Point, Removed, Unit, Vector};
use nalgebra::{Matrix6, Vector6};
use rayon::prelude::*;
use record::{
    Cancelled, Code, Finding, Number, Prepared, Progress, Quantity, ScanId, Severity, Stage,
};

use crate::propose;

/// Side of the patches from which the noise is read, mm.
const PATCH_MM: f64 = 26.0;
/// Most patches; 16 are wanted.
const PATCHES: usize = 24;
/// Places tried for them.
const TRIES: usize = 600;
/// Largest extent of a scan of body work, mm.
const SIZE_MM: (f64, f64) = (100.0, 6000.0);
/// Spacing above which edges and bolt holes cannot be told well, mm.
const COARSE_MM: f64 = 1.5;

/// What a scan looks like.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// Number of points.
    pub points: usize,
    /// Number of triangles; 0 for a cloud.
    pub triangles: usize,
    /// Number of closed boundary loops.
    pub loops: usize,
    /// Edge lengths of its box along its own axes, mm.
    pub size_mm: Vector,
    /// Median distance between neighbouring points, mm.
    pub spacing_mm: f64,
    /// Whether points have normals (given, or from triangles).
    pub normals: bool,
    /// Whether points have colours.
    pub colours: bool,
    /// Its noise, if there was enough smooth surface to read it from.
    pub noise: Option<LookNoise>,
    /// Openings found in it, longest first.
    pub openings: Vec<LookOpening>,
    /// What to know before using it, those of reading and preparing first.
    pub findings: Vec<Finding>,
}

/// Noise of a scan on its smooth parts, as far as patches of about 26 mm can tell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LookNoise {
    /// Standard deviation of one reading along the normal about a smooth patch of 26 mm, mm: the median over the patches.
    pub sd_mm: f64,
    /// Share of its variance that neighbouring readings have in common, 0 to 1. Read from means over cells of 5 mm, so it
    /// errs upwards where points are dense.
    pub common_share: f64,
    /// Distance beyond which readings have little (5 %) of that in common, mm; 0 if none is common.
    pub reach_mm: f64,
    /// How many patches this rests on.
    pub patches: usize,
}

/// An opening found in a scan.
#[derive(Clone, Debug, PartialEq)]
pub struct LookOpening {
    /// A place on the panel beside its edge, scan axes, mm.
    pub near: Point,
    /// Length round the edge, mm.
    pub perimeter_mm: f64,
    /// Diameters of the round holes beside it, mm.
    pub hole_diameters_mm: Vec<f64>,
    /// 0 to 1.
    pub sureness: f64,
    /// What speaks for it, in words.
    pub because: String,
}

/// Looks at a scan.
///
/// # Errors
/// [`Cancelled`] if `at` says so.
pub fn look(scan: &Prepared, at: &dyn Progress) -> Result<Look, Cancelled> {
    at.at(Stage::Find, 0, 3)?;
    let noise = noise(scan);
    at.at(Stage::Find, 1, 3)?;
    let id = ScanId(scan.name.clone());
    let openings: Vec<LookOpening> = propose::find(&id, scan, at)?
        .into_iter()
        .map(|o| LookOpening {
            near: o.near,
            perimeter_mm: o.perimeter,
            hole_diameters_mm: o.holes.iter().map(|h| h.diameter).collect(),
            sureness: o.sureness,
            because: o.because,
        })
        .collect();
    at.at(Stage::Find, 3, 3)?;
    let bounds = scan.blocks.bounds();
    let size_mm = if bounds.is_empty() {
        Vector::zeros()
    } else {
        bounds.size()
    };
    let mut findings = scan.notes.clone();
    findings.extend(warnings(scan, &size_mm));
    Ok(Look {
        points: scan.blocks.len(),
        triangles: scan.triangles.len(),
        loops: scan.loops.iter().filter(|l| l.closed).count(),
        size_mm,
        spacing_mm: scan.spacing_mm,
        normals: scan.blocks.has_normals(),
        colours: scan.blocks.has_colours(),
        noise,
        openings,
        findings,
    })
}

fn warnings(scan: &Prepared, size: &Vector) -> Vec<Finding> {
    let mut out = Vec::new();
    let mut warn = |code, says: String, advice: &str, name: &str, value: f64| {
        out.push(Finding {
            code,
            severity: Severity::Doubt,
            subject: scan.name.clone(),
            says,
            advice: advice.to_owned(),
            numbers: vec![Number {
                name: name.to_owned(),
                value,
                quantity: Some(Quantity::Length),
            }],
        });
    };
    let largest = size.amax();
    if scan.blocks.is_empty() {
        warn(
            Code::FewPoints,
            "The scan holds no points.".to_owned(),
            "Check that the right file was written by the scanner.",
            "largest extent",
            0.0,
        );
    } else if largest < SIZE_MM.0 || largest > SIZE_MM.1 {
        warn(
            Code::UnitDoubt,
            format!("The scan is {largest:.0} mm at its largest, which is no size for body work."),
            "Check the unit of the file against a length taped on the body.",
            "largest extent",
            largest,
        );
    }
    if scan.spacing_mm > COARSE_MM {
        warn(
            Code::CoarseScan,
            format!("Points are {:.1} mm apart.", scan.spacing_mm),
            "Edges, bends and bolt holes want points at most 1 mm apart.",
            "distance between points",
            scan.spacing_mm,
        );
    }
    out
}

/// Noise from smooth patches spread over the scan.
fn noise(scan: &Prepared) -> Option<LookNoise> {
    let n = scan.blocks.len();
    let tries = n.min(TRIES);
    let patches: Vec<Option<(NoisePatch, f64)>> = (0..tries)
        .into_par_iter()
        .map(|k| {
            // Golden-ratio steps spread the places evenly whatever their number.
            let share = (0.5 + k as f64 * 0.618_033_988_749_894_9).fract();
            patch(scan, ((n as f64 * share) as usize).min(n - 1) as u32)
        })
        .collect();
    let (patches, mut rests): (Vec<NoisePatch>, Vec<f64>) =
        patches.into_iter().flatten().take(PATCHES).unzip();
    if patches.len() < 4 {
        return None;
    }
    rests.sort_by(f64::total_cmp);
    let sd_mm = rests[rests.len() / 2];
    let model = NoiseModel::estimate(&patches)?;
    let common = model.covariance(0.0);
    // The first distance at which 5 % is left; waves longer than a patch cannot be told apart.
    let table = model.covariance_table(0.25, (4.0 * PATCH_MM) as usize);
    let reach = table
        .iter()
        .position(|c| *c <= 0.05 * common)
        .unwrap_or(table.len());
    let white = if sd_mm > 0.0 {
        model.white_var() / (sd_mm * sd_mm)
    } else {
        1.0
    };
    Some(LookNoise {
        sd_mm,
        common_share: if common > 0.0 {
            (1.0 - white).clamp(0.0, 1.0)
        } else {
            0.0
        },
        reach_mm: if common > 0.0 {
            reach as f64 * 0.25
        } else {
            0.0
        },
        patches: patches.len(),
    })
}

/// Standard deviation of the points (u, v, h; `half` is the half-size) about their surface of second order, mm.
fn rest(local: &[[f64; 3]], half: f64) -> Option<f64> {
    let row = |p: &[f64; 3]| {
        let (u, v) = (p[0] / half, p[1] / half);
        Vector6::new(1.0, u, v, u * u, u * v, v * v)
    };
    let (mut a, mut b) = (Matrix6::zeros(), Vector6::zeros());
    for p in local {
        let r = row(p);
        a += r * r.transpose();
        b += r * p[2];
    }
    let c = a.cholesky()?.solve(&b);
    let sum: f64 = local.iter().map(|p| (p[2] - c.dot(&row(p))).powi(2)).sum();
    Some((sum / (local.len() as f64 - 6.0).max(1.0)).sqrt())
}

/// A smooth patch about a point (nearly flat, one sheet, seen all over) and the scatter of its points, mm.
fn patch(scan: &Prepared, slot: u32) -> Option<(NoisePatch, f64)> {
    let at = scan.blocks.point(slot);
    let facing = scan.blocks.normal(slot);
    let half = PATCH_MM / 2.0;
    let mut points = Vec::new();
    scan.blocks
        .in_ball(&at, half * std::f64::consts::SQRT_2 + 1.0, |s, p, _| {
            let same_side = match (facing, scan.blocks.normal(s)) {
                (Some(a), Some(b)) => a.dot(&b) > 0.0,
                _ => true,
            };
            if same_side {
                points.push(p);
            }
        });
    let plane = LocalPlane::through(&points)?;
    // Nearly flat and about as long as wide: a bend, a step or an end is none of it.
    if points.len() < 100 || plane.spread[0] > 0.6 || plane.spread[1] < 0.8 * plane.spread[2] {
        return None;
    }
    let axes = LocalAxes::about(plane.centre, Unit::new_normalize(plane.normal));
    points.retain(|p| {
        let [u, v, h] = axes.local(p);
        u.abs() <= half && v.abs() <= half && h.abs() < 2.5
    });
    // A tenth of the patch at most, and no finer than the points are.
    let cell = (1.2 * scan.spacing_mm).clamp(0.5, PATCH_MM / 10.0);
    let grid = CellGrid::build(axes, cell, &points).ok()?;
    let tile = NoisePatch::tiles(&grid, PATCH_MM, Removed::Quadric)
        .into_iter()
        .next()?;
    // A bend leaves far more than noise.
    let worst = tile.cells.iter().map(|c| c.mean.abs()).fold(0.0, f64::max);
    let local: Vec<[f64; 3]> = points.iter().map(|p| axes.local(p)).collect();
    (worst < 0.5).then_some(())?;
    Some((tile, rest(&local, half)?))
}
