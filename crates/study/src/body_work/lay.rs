//! The scan from after laid on the one from before by what was not worked.

use geom::{ChangedArea, NoRefine, Rigid, Uncertain, Unit, lay_unworked};
use record::{
    BodyWork, Cancelled, Code, Figure, Finding, Job, LaidFrom, LaidWork, Measured, Overlap,
    Progress, Quantity, ScanId, Scans, Severity, Side, Source, Stage, WorkedArea,
};

use super::again::twin_id;
use super::opening;
use crate::join::{CommonAxes, START_WITHIN, surface_under, why};
use crate::measure::{Cover, Film};
use crate::regions::is_kept;

/// How far off the edges of openings may be by the work itself, mm.
const EDGE_WITHIN: f64 = 4.0;

/// Outer: [`Cancelled`]; inner: why it could not be laid.
pub(super) fn lay(
    job: &Job,
    scans: &Scans,
    measured: &Measured,
    work: &BodyWork,
    at: &dyn Progress,
) -> Result<Result<LaidWork, Finding>, Cancelled> {
    let (Some(before), Some(after)) = (scans.get(&work.before), scans.get(&work.after)) else {
        let missing = if scans.contains_key(&work.before) {
            &work.after
        } else {
            &work.before
        };
        return Ok(Err(not_laid(
            work,
            &format!("the scan {missing} is not there"),
        )));
    };
    let size = after.blocks.bounds().size().norm();
    let (start, from, reach) = start(job, measured, work, size);
    at.at(Stage::Join, 0, job.body_work.len())?;
    let films = films(job, work);
    let (before, after) = (
        surface_under(before, films[0].mm),
        surface_under(after, films[1].mm),
    );
    let total = job.body_work.len();
    let go_on = || at.at(Stage::Join, 0, total).is_ok();
    let worked = |p: &geom::Point| !work.worked.is_empty() && is_kept(&work.worked, &[], p);
    let laid = match lay_unworked(
        &after,
        &before,
        &start,
        (reach, work.most_mm),
        &worked,
        &go_on,
    ) {
        Ok(laid) => laid,
        Err(NoRefine::CalledOff) => return Err(Cancelled),
        Err(e) => return Ok(Err(not_laid(work, &why(e)))),
    };
    let film = Uncertain::new(films[0].u_mm.hypot(films[1].u_mm), f64::INFINITY);
    let areas = laid.map.areas.iter().map(|a| area(a, film, &worked, work));
    Ok(Ok(LaidWork {
        from,
        before_from_after: laid.refined.to_from,
        doubt: laid.refined.doubt.clone(),
        overlap: Overlap {
            share: laid.refined.share,
            left_mm: laid.refined.left,
            patches: laid.refined.patches,
        },
        films_mm: films.map(|f| f.mm),
        aside: laid.aside,
        patch_mm: 3.0 * laid.map.cell,
        found_from_mm: laid.map.found_from,
        areas: areas.collect(),
        cells: laid.map.cells,
    }))
}

fn not_laid(work: &BodyWork, says: &str) -> Finding {
    Finding {
        code: Code::VisitsNotLaid,
        severity: Severity::Stop,
        subject: work.name.clone(),
        says: format!(
            "{} could not be laid on {}: {says}",
            work.after, work.before
        ),
        advice: "pick the same opening in both scans, join them by places on metal that was not touched, or state a start"
            .to_owned(),
        numbers: Vec::new(),
    }
}

/// About where the scan from after lies, what says so, and how far off that may be (mm).
fn start(job: &Job, measured: &Measured, work: &BodyWork, size: f64) -> (Rigid, LaidFrom, f64) {
    let axes = CommonAxes::of(&measured.joined.joins, &work.before);
    if let (Some(b), Some(a)) = (axes.from(&work.before), axes.from(&work.after)) {
        return (b.inverse() * a, LaidFrom::Join, EDGE_WITHIN);
    }
    if let Some(start) = &work.start {
        let within = start.within_mm.unwrap_or(START_WITHIN * size);
        return (start.pose(), LaidFrom::Start, within);
    }
    // The largest opening in both: a scan turns least about it.
    let laid = job
        .openings
        .iter()
        .filter(|o| o.scan == work.before)
        .filter_map(|o| {
            let c = measured.compares.iter().find(|c| c.id == twin_id(&o.id))?;
            let a = opening(measured, &c.a)?;
            let part_from_after = c.b_on_a.filter(|m| m.mirror.is_none())?.rigid;
            let around = a.edge.as_ref()?.pieces.length();
            Some((around, a.part_from_scan.inverse() * part_from_after))
        })
        .max_by(|x, y| x.0.total_cmp(&y.0));
    match laid {
        Some((_, pose)) => (pose, LaidFrom::Openings, EDGE_WITHIN),
        None => (Rigid::identity(), LaidFrom::SameAxes, START_WITHIN * size),
    }
}

/// The films on the two scans, where they are unlike and known; else none.
fn films(job: &Job, work: &BodyWork) -> [Film; 2] {
    let cover = |id: &ScanId| {
        let scan = job.scans.iter().find(|s| s.id == *id)?;
        let own = job.openings.iter().find(|o| o.scan == *id).map(|o| o.side);
        let side = if scan.side == Side::NotSaid {
            own?
        } else {
            scan.side
        };
        let visit = job.visits.iter().find(|v| v.id == scan.visit)?;
        Some(Cover::on(&visit.state, side))
    };
    match (cover(&work.before), cover(&work.after)) {
        (Some(a), Some(b)) if !a.alike(&b) && a.film().known && b.film().known => {
            [a.film(), b.film()]
        }
        _ => [Film::NONE; 2],
    }
}

fn area(
    a: &ChangedArea,
    film: Uncertain,
    worked: &dyn Fn(&geom::Point) -> bool,
    work: &BodyWork,
) -> WorkedArea {
    let figure = |(value, u): (f64, Uncertain), source| Figure {
        value,
        u95: u.u95,
        nu: u.nu,
        source,
        quantity: Quantity::Length,
    };
    let moved = |(value, u)| (value, Uncertain::combined(&[u, film]));
    WorkedArea {
        centre: a.centre,
        normal: Unit::new_normalize(a.normal),
        along: Unit::new_normalize(a.along),
        mean: figure(moved(a.mean), Source::Noise),
        most: figure(moved(a.most), Source::Noise),
        length: figure(a.length, Source::EdgeSight),
        width: figure(a.width, Source::EdgeSight),
        ends_seen: a.ends_seen,
        as_said: work.worked.is_empty() || worked(&a.centre),
        touches: Vec::new(),
    }
}
