//! A join by the surfaces that two scans both show, with or without places.

use geom::{JoinSurface, NoRefine, Rigid, Vector, WeakMotion, refine};
use record::{
    Cancelled, Code, Finding, Job, Join, JoinedBy, JoinedScan, Number, Overlap, Prepared, Progress,
    Quantity, Scans, Severity, Stage, WeakWay,
};

use super::by_places::not_made;
use super::{doubts, figure};

/// Points of a scan that are looked at, at most.
const MOST_POINTS: usize = 1_500_000;
/// How far off a start pose may be, as a share of the size of the scan.
pub(crate) const START_WITHIN: f64 = 0.05;
/// Places and surfaces that are sound lie farther apart than this in one case of a hundred.
const DISAGREE: f64 = 0.01;

/// The join by surfaces, from `placed` where places made one. Findings about what the surfaces say go to `findings`.
///
/// # Errors
/// Outer: [`Cancelled`]; inner: why there is no join.
pub(super) fn join(
    job: &Job,
    join: &Join,
    scans: &Scans,
    placed: Option<JoinedScan>,
    findings: &mut Vec<Finding>,
    at: &dyn Progress,
) -> Result<Result<JoinedScan, Finding>, Cancelled> {
    let (Some(from), Some(to)) = (scans.get(&join.scan), scans.get(&join.to)) else {
        let missing = if scans.contains_key(&join.scan) {
            &join.to
        } else {
            &join.scan
        };
        return Ok(
            placed.ok_or_else(|| not_made(join, &format!("the scan {missing} is not there")))
        );
    };
    let size = from.blocks.bounds().size().norm();
    let (start, reach) = match &placed {
        Some(p) => (p.to_from, reach_of(p, from)),
        None => (
            join.start.map_or_else(Rigid::identity, |s| s.pose()),
            join.start
                .and_then(|s| s.within_mm)
                .unwrap_or(START_WITHIN * size),
        ),
    };
    let total = job.joins.len();
    let go_on = || at.at(Stage::Join, 0, total).is_ok();
    let (from, to) = (surface(from), surface(to));
    at.at(Stage::Join, 0, total)?;
    let laid = match refine(&from, &to, &start, reach, &go_on) {
        Ok(laid) => laid,
        Err(NoRefine::CalledOff) => return Err(Cancelled),
        Err(e) => {
            let finding = Finding {
                severity: if placed.is_some() {
                    Severity::Doubt
                } else {
                    Severity::Stop
                },
                ..not_made(join, &why(e))
            };
            return Ok(match placed {
                // The places alone hold it then.
                Some(p) => {
                    findings.push(finding);
                    Ok(p)
                }
                None => Err(finding),
            });
        }
    };
    let overlap = Overlap {
        share: laid.share,
        left_mm: laid.left,
        patches: laid.patches,
    };
    let weak: Vec<WeakMotion> = laid.weak.clone();
    let both = placed.and_then(|p| Some((laid.with_places(&p.to_from, &p.doubt)?, p)));
    let mut made = match both {
        Some((both, p)) => {
            if both.chance < DISAGREE {
                findings.push(disagree(join, &laid.to_from, &p, both.chance));
            }
            JoinedScan {
                by: JoinedBy::PlacesAndSurfaces,
                to_from: both.to_from,
                doubt: both.doubt,
                overlap: Some(overlap),
                ..p
            }
        }
        None => JoinedScan {
            scan: join.scan.clone(),
            to: join.to.clone(),
            by: JoinedBy::Surfaces,
            to_from: laid.to_from,
            doubt: laid.doubt,
            places: Vec::new(),
            scatter_mm: None,
            overlap: Some(overlap),
            weak: Vec::new(),
            at: Vec::new(),
        },
    };
    made.weak = weak.iter().map(|w| weak_way(w, &made)).collect();
    doubts::of_surfaces(&made, findings);
    Ok(Ok(made))
}

/// How far off the places may leave the farthest corner of the scan, mm.
fn reach_of(placed: &JoinedScan, from: &Prepared) -> f64 {
    let bounds = from.blocks.bounds();
    let mut worst = 0.0_f64;
    for k in 0..8 {
        let pick = |i: usize| {
            if (k >> i) & 1 == 0 {
                bounds.low[i]
            } else {
                bounds.high[i]
            }
        };
        let corner = geom::Point::new(pick(0), pick(1), pick(2));
        if let Some(u) = placed.doubt.worst_at(&(placed.to_from * corner)) {
            worst = worst.max(u.u95);
        }
    }
    1.5 * worst
}

/// At most 1.5 million points of a scan with their normals, as a join sees them.
pub(crate) fn surface(scan: &Prepared) -> JoinSurface {
    surface_under(scan, 0.0)
}

/// The same of the metal under a film of so many mm, where it is known which way the points face.
pub(crate) fn surface_under(scan: &Prepared, film_mm: f64) -> JoinSurface {
    let every = scan.blocks.len().div_ceil(MOST_POINTS).max(1);
    let slots = || (0..scan.blocks.len() as u32).step_by(every);
    let under = |s: u32| match scan.blocks.normal(s) {
        Some(n) if film_mm > 0.0 => scan.blocks.point(s) - n * film_mm,
        _ => scan.blocks.point(s),
    };
    let points = slots().map(under).collect();
    let facing: Option<Vec<Vector>> = scan.blocks.has_normals().then(|| {
        slots()
            .map(|s| scan.blocks.normal(s).unwrap_or_default())
            .collect()
    });
    let spacing = scan.spacing_mm * (every as f64).sqrt();
    JoinSurface::new(points, facing.as_deref(), spacing)
}

/// Why surfaces could not be laid on each other, in words.
pub(crate) fn why(e: NoRefine) -> String {
    match e {
        NoRefine::NoOverlap(share) => format!(
            "{:.1} % of its points lie on a surface of the other when laid where they were said to be",
            100.0 * share
        ),
        NoRefine::NotSettled(_) => {
            "its surface slides on the other without coming to rest".to_owned()
        }
        NoRefine::TooLittle | NoRefine::CalledOff => {
            "too small a place is shown by both".to_owned()
        }
    }
}

fn disagree(join: &Join, laid: &Rigid, placed: &JoinedScan, chance: f64) -> Finding {
    let middle = placed.doubt.about;
    let apart = (laid * (placed.to_from.inverse() * middle) - middle).norm();
    Finding {
        code: Code::JoinDisagrees,
        severity: Severity::Doubt,
        subject: join.scan.0.clone(),
        says: format!(
            "the places and the surfaces join {} to {} differently: {apart:.1} mm apart in the middle of the places",
            join.scan, join.to
        ),
        advice: "look for places that moved between the scans, picks under a wrong name, or a door, a cover or a stand that stands elsewhere in one of the scans".to_owned(),
        numbers: vec![
            Number {
                name: "apart".to_owned(),
                value: apart,
                quantity: Some(Quantity::Length),
            },
            Number {
                name: "chance".to_owned(),
                value: chance,
                quantity: None,
            },
        ],
    }
}

fn weak_way(w: &WeakMotion, made: &JoinedScan) -> WeakWay {
    let goes = if w.turns {
        made.doubt
            .turn(&w.direction)
            .map(|u| figure(Some(u), Quantity::Angle))
    } else {
        made.doubt
            .at(&made.doubt.about, &w.direction)
            .map(|u| figure(Some(u), Quantity::Length))
    };
    WeakWay {
        turns: w.turns,
        direction: geom::Unit::new_normalize(w.direction),
        through: w.through,
        held: w.held,
        goes,
    }
}
