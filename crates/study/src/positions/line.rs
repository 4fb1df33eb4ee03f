//! The centreline of the places of a job.

use geom::{
    Landmark, MidPlane, NoMidPlane, OddOnes, OwnImage, Point, Rigid, RivalKind, Uncertain, Vector,
    fit_mid_plane, odd_ones, three_two_one,
};
use record::{
    CentrelineWay, Code, Finding, Job, LaidBy, Measured, Place, PlaceName, RivalName, Severity,
    Side,
};

use super::{finding, own_image};
use crate::join::CommonAxes;

/// How well a line is known.
#[derive(Clone, Debug)]
pub(super) enum Doubt {
    /// From the places' own scatter.
    Scatter(Box<geom::PlaneDoubt>),
    /// Turn about up and along (rad), shift (mm), independent.
    Given([Uncertain; 3]),
    /// From how the halves of a scan lie on each other.
    Image(Box<(OwnImage, MidPlane)>),
    /// Too few places to tell.
    NotKnown,
}

impl Doubt {
    /// Of a figure that changes by `g` per rad of turn about up, per rad of turn about along, per mm of shift.
    pub(super) fn of(&self, g: [f64; 3]) -> Option<Uncertain> {
        match self {
            Self::Scatter(doubt) => Some(doubt.of_motion(g)),
            Self::Given(parts) => {
                let parts: Vec<Uncertain> = (0..3)
                    .map(|k| Uncertain::new(parts[k].s * g[k].abs(), parts[k].nu))
                    .collect();
                Some(Uncertain::combined(&parts))
            }
            Self::Image(image) => image.0.of_motion(&image.1, g),
            Self::NotKnown => None,
        }
    }
}

/// A centreline.
#[derive(Clone, Debug)]
pub(super) struct Line {
    pub name: RivalName,
    pub car_from_scan: Rigid,
    pub doubt: Doubt,
}

/// A pair of places or one on the centre.
#[derive(Clone, Debug)]
pub(super) struct Named {
    pub name: String,
    pub centre: bool,
    pub landmark: Landmark,
}

/// The centreline used, its rivals and what they rest on.
#[derive(Clone, Debug)]
pub(super) struct Lines {
    /// The axes everything is in.
    pub axes: CommonAxes,
    pub by: LaidBy,
    pub used: Line,
    pub rivals: Vec<Line>,
    pub named: Vec<Named>,
    /// The plane of the places that go together, with its search; `None` for three-two-one.
    pub found: Option<OddOnes>,
    /// Names without a partner.
    pub alone: Vec<String>,
    /// What stands against the own mirror image as a rival.
    pub notes: Vec<Finding>,
}

impl Lines {
    /// Whether places laid the line used, so that their number and spread count.
    pub fn rests_on_places(&self) -> bool {
        matches!(self.by, LaidBy::Pairs | LaidBy::CentrePlaces)
    }
}

fn stop(code: Code, says: String, advice: &str) -> Finding {
    finding(code, Severity::Stop, "centreline", says, advice)
}

fn not_laid(says: &str, advice: &str) -> Finding {
    stop(
        Code::CentrelineNotLaid,
        format!("no centreline could be laid: {says}"),
        advice,
    )
}

/// Lays the centreline that the job asks for, and its rivals, in the axes of the scan that the scans of its places are joined to.
pub(super) fn lay(job: &Job, measured: &Measured) -> Result<Lines, Finding> {
    if job.centreline.way == CentrelineWay::OwnImage {
        return by_image(job, measured);
    }
    let mut lines = by_places(job, measured)?;
    let places = in_common_axes(job, &lines.axes);
    let places: Vec<&Place> = places.iter().collect();
    match own_image::in_axes(job, measured, &lines.axes, &places) {
        Some(Ok((image, right))) => {
            let car = lines.used.car_from_scan.inverse();
            let plane = image.mid_plane(&right, &(car * Point::origin()), &(car * Vector::x()));
            let line = own_image::line(RivalName::OwnImage, image, plane);
            lines.rivals.push(line);
        }
        Some(Err(finding)) => lines.notes.push(finding),
        None => {}
    }
    Ok(lines)
}

/// An own mirror image in common axes with what is named in them.
struct Imaged {
    image: OwnImage,
    plane: MidPlane,
    named: Vec<Named>,
    alone: Vec<String>,
}

fn imaged(job: &Job, measured: &Measured, axes: &CommonAxes) -> Option<Result<Imaged, Finding>> {
    let places = in_common_axes(job, axes);
    let places: Vec<&Place> = places.iter().collect();
    let (named, alone) = named(&places);
    let (image, right) = match own_image::in_axes(job, measured, axes, &places)? {
        Ok(found) => found,
        Err(finding) => return Some(Err(finding)),
    };
    let origin = if named.is_empty() {
        image.centre
    } else {
        let sum: Vector = (named.iter().map(|n| n.landmark.midpoint().coords)).sum();
        Point::from(sum / named.len() as f64)
    };
    let by = |along: &Vector| image.mid_plane(&right, &origin, along);
    // The longest way is along the car, unless it is that of the tops.
    let first = by(&image.long);
    let up = tops(job, measured, axes);
    let first = if up.dot(&first.up).abs() < up.dot(&first.along).abs() {
        by(&first.up)
    } else {
        first
    };
    let plane = match along(job, measured, &first, &named, axes) {
        Ok(along) => by(&along),
        Err(finding) => return Some(Err(finding)),
    };
    Some(Ok(Imaged {
        image,
        plane,
        named,
        alone,
    }))
}

fn by_image(job: &Job, measured: &Measured) -> Result<Lines, Finding> {
    let stop = |f: Finding| Finding {
        severity: Severity::Stop,
        ..f
    };
    let Some(of) = &measured.own_image else {
        return Err(not_laid(
            "the scan that is to be laid on its own mirror image is not there",
            "bring the scan in again, or lay the line by pairs of places",
        ));
    };
    let axes = CommonAxes::of(&measured.joined.joins, &of.scan);
    let Some(found) = imaged(job, measured, &axes) else {
        let why = of.findings.first().cloned();
        return Err(why.map_or_else(|| not_laid("its image was not found", ""), stop));
    };
    let Imaged {
        image,
        plane,
        named,
        alone,
    } = found.map_err(stop)?;
    // The places by themselves are a rival.
    let landmarks: Vec<Landmark> = named.iter().map(|n| n.landmark).collect();
    let along = plane.along.into_inner();
    let pairs = named.iter().any(|n| !n.centre) && named.len() >= 2;
    let rivals = pairs
        .then(|| odd_ones(&landmarks, Some(&along)).ok())
        .flatten()
        .filter(|found| !found.plane.poorly_determined())
        .map(|found| line_of(RivalName::GoTogether, &found.plane.facing(&plane)))
        .into_iter()
        .collect();
    Ok(Lines {
        axes,
        by: LaidBy::OwnImage,
        used: own_image::line(RivalName::OwnImage, image, plane),
        rivals,
        named,
        found: None,
        alone,
        notes: Vec::new(),
    })
}

fn line_of(name: RivalName, plane: &MidPlane) -> Line {
    Line {
        name,
        car_from_scan: plane.car_from_scan(),
        doubt: (plane.doubt.clone()).map_or(Doubt::NotKnown, |d| Doubt::Scatter(Box::new(d))),
    }
}

fn by_places(job: &Job, measured: &Measured) -> Result<Lines, Finding> {
    let Some(first) = job.every_place().find(|p| p.side != Side::NotSaid) else {
        return Err(not_laid(
            "no place has a side",
            "say of each place whether it is left, right or on the centre",
        ));
    };
    let axes = CommonAxes::of(&measured.joined.joins, &first.scan);
    let elsewhere = |p: &&Place| p.side != Side::NotSaid && axes.from(&p.scan).is_none();
    if let Some(other) = job.every_place().find(elsewhere) {
        return Err(stop(
            Code::ScansNotJoined,
            format!(
                "the places are in several scans ({} and {}), each with axes of its own",
                first.scan, other.scan
            ),
            "join the scans (joins in the job), or pick all places of the centreline in one scan that shows both sides of the car",
        ));
    }
    let places = in_common_axes(job, &axes);
    let places: Vec<&Place> = places.iter().collect();
    if let Some(bad) = places.iter().find(|p| {
        !(p.sigma_mm > 0.0 && p.sigma_mm.is_finite() && p.at.iter().all(|x| x.is_finite()))
    }) {
        return Err(not_laid(
            &format!("the place {} has no sound numbers", bad.name),
            "correct its coordinates and its sigma",
        ));
    }
    let (named, alone) = named(&places);
    if let CentrelineWay::ThreeTwoOne { level, line, start } = &job.centreline.way {
        return three(axes, &places, named, alone, (level, line, start));
    }
    let by = if job.centreline.way == CentrelineWay::CentrePlaces {
        LaidBy::CentrePlaces
    } else {
        LaidBy::Pairs
    };
    let used: Vec<Named> = named
        .into_iter()
        .filter(|n| by == LaidBy::Pairs || n.centre)
        .collect();
    let landmarks: Vec<Landmark> = used.iter().map(|n| n.landmark).collect();
    let pairs = used.iter().filter(|n| !n.centre).count();
    let least = if pairs > 0 { 2 } else { 3 };
    if used.len() < least {
        return Err(not_laid(
            &format!("{} of the places can be used", used.len()),
            "pick at least six pairs of places over the whole length of the car",
        ));
    }
    let first = fit_mid_plane(&landmarks, None).map_err(|e| why(&e))?;
    if first.poorly_determined() {
        return Err(not_laid(
            "the places leave its direction open",
            "pick pairs that lie well apart across the car, over its whole length",
        ));
    }
    let first = facing_right(first, &places, by)?;
    let along = along(job, measured, &first, &used, &axes)?;
    let found = odd_ones(&landmarks, Some(&along)).map_err(|e| why(&e))?;
    let turn = |plane: MidPlane| {
        // From places on the centre alone the normal has no side of its own.
        plane.facing(&first)
    };
    let plane = turn(found.plane.clone());
    let rivals = geom::rivals(&landmarks, &found.kept, &along)
        .into_iter()
        .filter(|r| !(r.kind == RivalKind::GoTogether || (r.kind == RivalKind::All && found.aside.is_empty())))
        // One that only leaves out what is set aside anyhow is the one used.
        .filter(|r| !matches!(r.kind, RivalKind::Without(k) if found.aside.iter().any(|s| s.index == k)))
        .map(|r| line_of(rival_name(r.kind, &used), &turn(r.plane)))
        .collect();
    Ok(Lines {
        axes,
        by,
        used: line_of(RivalName::GoTogether, &plane),
        rivals,
        found: Some(OddOnes { plane, ..found }),
        named: used,
        alone,
        notes: Vec::new(),
    })
}

/// Pairs by name, places on the centre, and names that stand on one side only.
fn named(places: &[&Place]) -> (Vec<Named>, Vec<String>) {
    let (mut named, mut alone) = (Vec::new(), Vec::new());
    for p in places {
        let other = |side: Side| places.iter().find(|q| q.side == side && q.name == p.name);
        match p.side {
            Side::Left => match other(Side::Right) {
                Some(r) => {
                    let sigma = f64::midpoint(p.sigma_mm.powi(2), r.sigma_mm.powi(2)).sqrt();
                    named.push(Named {
                        name: p.name.clone(),
                        centre: false,
                        landmark: Landmark::pair(p.at, r.at, sigma),
                    });
                }
                None => alone.push(p.name.clone()),
            },
            Side::Right if other(Side::Left).is_none() => alone.push(p.name.clone()),
            Side::Centre => named.push(Named {
                name: p.name.clone(),
                centre: true,
                landmark: Landmark::centre(p.at, p.sigma_mm),
            }),
            Side::Right | Side::NotSaid => {}
        }
    }
    (named, alone)
}

/// The places with a side that lie in common axes, in those; one picked in several scans is their weighted mean. What the joins
/// make of them is told apart, see [`again`].
fn in_common_axes(job: &Job, axes: &CommonAxes) -> Vec<Place> {
    let mut out: Vec<Place> = Vec::new();
    let mut weights: Vec<f64> = Vec::new();
    for p in job.every_place().filter(|p| p.side != Side::NotSaid) {
        let Some(map) = axes.from(&p.scan) else {
            continue;
        };
        let (at, w) = (map * p.at, p.sigma_mm.powi(-2));
        let seen = out
            .iter()
            .position(|q| q.name == p.name && q.side == p.side);
        if let Some(k) = seen {
            let total = weights[k] + w;
            let more = at - out[k].at;
            out[k].at += more * (w / total);
            out[k].sigma_mm = total.sqrt().recip();
            weights[k] = total;
        } else {
            out.push(Place { at, ..p.clone() });
            weights.push(w);
        }
    }
    out
}

/// The centreline of `lines` laid again by the same places in slightly other axes; `None` where it cannot be.
pub(super) fn again(
    job: &Job,
    measured: &Measured,
    lines: &Lines,
    axes: &CommonAxes,
) -> Option<Rigid> {
    if lines.by == LaidBy::OwnImage {
        let found = imaged(job, measured, axes)?.ok()?;
        return Some(found.plane.car_from_scan());
    }
    let places = in_common_axes(job, axes);
    let places: Vec<&Place> = places.iter().collect();
    let (all, alone) = named(&places);
    if let CentrelineWay::ThreeTwoOne { level, line, start } = &job.centreline.way {
        let laid = three(axes.clone(), &places, all, alone, (level, line, start)).ok()?;
        return Some(laid.used.car_from_scan);
    }
    let found = lines.found.as_ref()?;
    let used: Vec<Named> = lines
        .named
        .iter()
        .map(|n| {
            let same = |m: &&Named| m.name == n.name && m.centre == n.centre;
            all.iter().find(same).cloned()
        })
        .collect::<Option<_>>()?;
    let kept: Vec<Landmark> = found.kept.iter().map(|&k| used[k].landmark).collect();
    let along = along(job, measured, &found.plane, &used, axes).ok()?;
    let plane = fit_mid_plane(&kept, Some(&along)).ok()?;
    let right = lines.used.car_from_scan.rotation.inverse() * Vector::y();
    let plane = if plane.plane.normal.dot(&right) < 0.0 {
        plane.turned_over()
    } else {
        plane
    };
    Some(plane.car_from_scan())
}

fn rival_name(kind: RivalKind, named: &[Named]) -> RivalName {
    match kind {
        RivalKind::All => RivalName::All,
        RivalKind::GoTogether => RivalName::GoTogether,
        RivalKind::FrontOnly => RivalName::FrontOnly,
        RivalKind::RearOnly => RivalName::RearOnly,
        RivalKind::MidpointsOnly => RivalName::MidpointsOnly,
        RivalKind::CentrePointsOnly => RivalName::CentreOnly,
        RivalKind::Without(k) => RivalName::Without(named[k].name.clone()),
    }
}

fn why(e: &NoMidPlane) -> Finding {
    match e {
        NoMidPlane::NotAcross => not_laid(
            "left and right places do not lie across from each other",
            "see that partners have the same name and the sides are as named",
        ),
        NoMidPlane::Fit(_) => not_laid(
            "the places leave it free",
            "pick at least six pairs of places over the whole length of the car",
        ),
    }
}

/// The normal to the right: by the pairs, or by any place on a side where only those on the centre count.
fn facing_right(first: MidPlane, places: &[&Place], by: LaidBy) -> Result<MidPlane, Finding> {
    if by == LaidBy::Pairs && places.iter().any(|p| p.side != Side::Centre) {
        return Ok(first);
    }
    let side: f64 = places
        .iter()
        .map(|p| match p.side {
            Side::Left => -first.plane.distance(&p.at),
            Side::Right => first.plane.distance(&p.at),
            Side::Centre | Side::NotSaid => 0.0,
        })
        .sum();
    if side == 0.0 {
        return Err(not_laid(
            "no place says which side is left",
            "add one place on the left or on the right",
        ));
    }
    Ok(if side < 0.0 {
        first.turned_over()
    } else {
        first
    })
}

/// Rearward in scan axes: from the front place to the rear one, else along the places, its sense by the tops of the
/// openings.
fn along(
    job: &Job,
    measured: &Measured,
    plane: &MidPlane,
    used: &[Named],
    axes: &CommonAxes,
) -> Result<Vector, Finding> {
    if let (Some(front), Some(rear)) = (&job.centreline.front, &job.centreline.rear) {
        let at = |name: &String| -> Result<Point, Finding> {
            used.iter()
                .find(|n| n.name == *name)
                .map(|n| n.landmark.midpoint())
                .ok_or_else(|| {
                    not_laid(
                        &format!("the place {name}, which says what is forward, is no pair and not on the centre"),
                        "name pairs or places on the centre as front and rear",
                    )
                })
        };
        return Ok(at(rear)? - at(front)?);
    }
    let tops = plane.up.dot(&tops(job, measured, axes));
    if tops.abs() < 0.3 {
        return Err(not_laid(
            "nothing says what is forward and what is up",
            "name a place at the front and one at the rear in centreline",
        ));
    }
    // Rearward, right and up are right-handed: turning one of them over in the plane turns the other.
    Ok(plane.along.into_inner() * tops.signum())
}

/// Sum of the upward directions of the openings, each one long, by their clicked tops.
fn tops(job: &Job, measured: &Measured, axes: &CommonAxes) -> Vector {
    job.openings
        .iter()
        .filter_map(|o| {
            let base_from_scan = axes.from(&o.scan)?;
            let m = measured.openings.iter().find(|m| m.id == o.id)?;
            let middle = m.part_from_scan.inverse() * Point::origin();
            (base_from_scan * (o.top? - middle)).try_normalize(0.0)
        })
        .sum()
}

fn three(
    axes: CommonAxes,
    places: &[&Place],
    named: Vec<Named>,
    alone: Vec<String>,
    (level, line, start): (&[PlaceName; 3], &[PlaceName; 2], &PlaceName),
) -> Result<Lines, Finding> {
    let find = |n: &PlaceName| -> Result<&Place, Finding> {
        places
            .iter()
            .copied()
            .find(|p| p.name == n.name && p.side == n.side)
            .ok_or_else(|| {
                not_laid(
                    &format!("there is no place {}", n.name),
                    "name six places that are given",
                )
            })
    };
    let (l, b, s) = (
        [find(&level[0])?, find(&level[1])?, find(&level[2])?],
        [find(&line[0])?, find(&line[1])?],
        find(start)?,
    );
    let normal = (l[1].at - l[0].at).cross(&(l[2].at - l[0].at));
    let lay = |up: Vector| {
        three_two_one(&l.map(|p| p.at), &b.map(|p| p.at), &s.at, &up).map_err(|_| {
            not_laid(
                "the six places do not determine axes",
                "choose three level places that are no line, and two that lie apart along the car",
            )
        })
    };
    let mut six = lay(normal)?;
    let side: f64 = places
        .iter()
        .map(|p| {
            let y = (six.car_from_scan * p.at).y;
            match p.side {
                Side::Left => -y,
                Side::Right => y,
                Side::Centre | Side::NotSaid => 0.0,
            }
        })
        .sum();
    if side == 0.0 {
        return Err(not_laid(
            "no place says which side is left",
            "add one place on the left or on the right",
        ));
    }
    if side < 0.0 {
        six = lay(-normal)?;
    }
    let sigma = l.iter().chain(&b).map(|p| p.sigma_mm).fold(0.0, f64::max);
    Ok(Lines {
        axes,
        by: LaidBy::ThreeTwoOne,
        used: Line {
            name: RivalName::GoTogether,
            car_from_scan: six.car_from_scan,
            doubt: Doubt::Given(six.doubt(sigma, f64::INFINITY)),
        },
        rivals: Vec::new(),
        named,
        found: None,
        alone,
        notes: Vec::new(),
    })
}
