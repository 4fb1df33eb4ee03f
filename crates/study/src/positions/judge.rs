//! Figures of position under every centreline, and which conclusions survive.

use geom::{BodyModeKind, Uncertain, body_modes};
use nalgebra::{Matrix6, Vector6};
use record::{
    BodyFigure, BodyWay, CentralRow, Code, Figure, Finding, Job, Laid, LaidBy, LineKnown, Measured,
    MeasuredCompare, MeasuredOpening, PairPosition, PlaceRow, PositionKind, PositionRow, Quantity,
    Relation, RivalLine, Severity, Side, Source,
};

use super::line::{Doubt, Line, Lines};
use super::pose::{Pose, Spot, pose_covariance, turned};
use super::{doubts, finding};

/// Step of numeric derivatives: rad and mm.
const STEP: f64 = 1e-6;
/// Steps in which the doubt of the centreline is followed along the car.
const KNOWN_AT: usize = 24;

/// Everything that hangs on the centreline; what is doubtful about it goes to `findings`.
pub(super) fn laid(
    job: &Job,
    measured: &Measured,
    lines: &Lines,
    findings: &mut Vec<Finding>,
) -> Laid {
    let angle = |g: [f64; 3]| line_figure(&lines.used.doubt, g, Quantity::Angle);
    let mut out = Laid {
        scan: lines.scan.clone(),
        by: lines.by,
        car_from_scan: lines.used.car_from_scan,
        level_named: job.centreline.front.is_some() || lines.by == LaidBy::ThreeTwoOne,
        yaw: angle([1.0, 0.0, 0.0]),
        lean: angle([0.0, 1.0, 0.0]),
        shift: line_figure(&lines.used.doubt, [0.0, 0.0, 1.0], Quantity::Length),
        known: known(lines),
        places: places(lines),
        body: body(lines),
        rivals: lines.rivals.iter().map(|r| rival(&lines.used, r)).collect(),
        pairs: Vec::new(),
        central: Vec::new(),
    };
    let here = |id: &record::OpeningId| -> Option<&MeasuredOpening> {
        let in_scan = job
            .openings
            .iter()
            .any(|o| o.id == *id && o.scan == lines.scan);
        measured.openings.iter().find(|o| o.id == *id && in_scan)
    };
    let mut elsewhere: Vec<String> = Vec::new();
    for compare in &measured.compares {
        let Some(b) = &compare.b else { continue };
        if compare.relation != Relation::Mirrored || compare.sides != [Side::Left, Side::Right] {
            continue;
        }
        match (here(&compare.a), here(b)) {
            (Some(a), Some(_)) => out.pairs.extend(pair(compare, a, lines)),
            _ => elsewhere.push(compare.id.0.clone()),
        }
    }
    for o in measured.openings.iter().filter(|o| o.side == Side::Centre) {
        match here(&o.id) {
            Some(o) => out.central.extend(central(o, lines)),
            None => elsewhere.push(o.id.0.clone()),
        }
    }
    doubts::of_places(lines, &out, findings);
    if !elsewhere.is_empty() {
        findings.push(finding(
            Code::ScansNotJoined,
            Severity::Doubt,
            &elsewhere.join(", "),
            format!(
                "{} not all in the scan {} of the places: no position is given",
                if elsewhere.len() == 1 {
                    format!("{} is", elsewhere[0])
                } else {
                    format!("{} are", elsewhere.join(", "))
                },
                lines.scan
            ),
            "use one scan that shows the places and both openings",
        ));
    }
    doubts::of_openings(job, measured, lines, &out, findings);
    out
}

/// A figure of value 0 whose doubt is the centreline's.
fn line_figure(doubt: &Doubt, g: [f64; 3], quantity: Quantity) -> Figure {
    figure(
        0.0,
        quantity,
        doubt.of(g),
        Uncertain::new(0.0, f64::INFINITY),
    )
}

/// `line` is in rad for angles, `own` too; a doubt that is not known makes a give-or-take that is no number.
fn figure(value: f64, quantity: Quantity, line: Option<Uncertain>, own: Uncertain) -> Figure {
    let scale = if quantity == Quantity::Angle {
        1f64.to_degrees()
    } else {
        1.0
    };
    let Some(line) = line else {
        return Figure {
            value,
            u95: f64::NAN,
            nu: f64::NAN,
            source: Source::Centreline,
            quantity,
        };
    };
    let both = Uncertain::combined(&[line, own]);
    Figure {
        value,
        u95: both.u95 * scale,
        nu: both.nu,
        source: if line.s >= own.s {
            Source::Centreline
        } else {
            Source::EdgeSight
        },
        quantity,
    }
}

/// How far the line may lie to one side along the car. A turn about up moves what lies `x` behind the middle by -x times
/// the turn to the right.
fn known(lines: &Lines) -> Vec<LineKnown> {
    let aside = |name: usize| {
        let found = lines.found.as_ref();
        found.is_some_and(|f| f.aside.iter().any(|s| s.index == name))
    };
    let car = &lines.used.car_from_scan;
    let xs = lines
        .named
        .iter()
        .enumerate()
        .filter(|(k, _)| !aside(*k))
        .map(|(_, n)| (car * n.landmark.midpoint()).x);
    let (front, rear) = xs.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
        (a.min(x), b.max(x))
    });
    if front > rear {
        return Vec::new();
    }
    (0..=KNOWN_AT)
        .map(|k| {
            let along_mm = front + (rear - front) * k as f64 / KNOWN_AT as f64;
            let aside = line_figure(&lines.used.doubt, [-along_mm, 0.0, 1.0], Quantity::Length);
            LineKnown { along_mm, aside }
        })
        .collect()
}

fn places(lines: &Lines) -> Vec<PlaceRow> {
    let car = &lines.used.car_from_scan;
    let row = |k: usize, n: &super::line::Named| {
        let (l, r) = (car * n.landmark.left, car * n.landmark.right);
        let found = lines.found.as_ref();
        let aside = found.and_then(|f| f.aside.iter().find(|s| s.index == k));
        let closest = found.and_then(|f| f.closest.filter(|s| s.index == k));
        PlaceRow {
            name: n.name.clone(),
            centre: n.centre,
            middle: nalgebra::center(&l, &r),
            half_mm: (r.y - l.y) / 2.0,
            misfit_mm: [l.x - r.x, -(l.y + r.y), l.z - r.z],
            kept: aside.is_none(),
            chance: aside.copied().or(closest).map(|s| s.p),
        }
    };
    lines
        .named
        .iter()
        .enumerate()
        .map(|(k, n)| row(k, n))
        .collect()
}

fn body(lines: &Lines) -> Vec<BodyFigure> {
    let Some(found) = &lines.found else {
        return Vec::new();
    };
    let kept: Vec<geom::Landmark> = found
        .kept
        .iter()
        .map(|&k| lines.named[k].landmark)
        .collect();
    body_modes(&found.plane, &kept)
        .into_iter()
        .map(|m| {
            // Those of the plane are right minus left.
            let (way, sign, quantity) = match m.kind {
                BodyModeKind::Shear => (BodyWay::Back, -1.0, Quantity::Length),
                BodyModeKind::Lean => (BodyWay::High, -1.0, Quantity::Length),
                BodyModeKind::Twist => (BodyWay::Twisted, 1.0, Quantity::Angle),
                BodyModeKind::Bow => (BodyWay::Bowed, 1.0, Quantity::Length),
            };
            let scale = if quantity == Quantity::Angle {
                1f64.to_degrees()
            } else {
                1.0
            };
            BodyFigure {
                way,
                amount: Figure {
                    value: sign * m.amount * scale,
                    u95: m.doubt.u95 * scale,
                    nu: m.doubt.nu,
                    source: Source::Noise,
                    quantity,
                },
                proven: m.is_real(),
            }
        })
        .collect()
}

fn rival(used: &Line, other: &Line) -> RivalLine {
    let back = other.car_from_scan * used.car_from_scan.inverse();
    // The other's rightward direction and its plane at the origin of the one used.
    let normal = back.inverse().rotation * geom::Vector::y();
    RivalLine {
        name: other.name.clone(),
        yaw_deg: normal.x.atan2(normal.y).to_degrees(),
        lean_deg: normal.z.atan2(normal.y).to_degrees(),
        shift_mm: -(back * geom::Point::origin()).y,
    }
}

/// A value and how well it is known by one centreline.
struct Seen {
    value: f64,
    doubt: Option<Uncertain>,
}

impl Seen {
    /// 0: not proven; else the sign.
    fn verdict(&self, own: &Uncertain, fallback: Option<Uncertain>) -> i8 {
        let Some(line) = self.doubt.or(fallback) else {
            return 0;
        };
        let u95 = Uncertain::combined(&[line, *own]).u95;
        if self.value.abs() <= u95 {
            0
        } else if self.value > 0.0 {
            1
        } else {
            -1
        }
    }
}

/// Evaluates `f` under every centreline; the first is the one used. `unit` takes its value to rad or mm.
fn under_all(
    lines: &Lines,
    unit: f64,
    f: &dyn Fn(&Line, [f64; 3]) -> Option<f64>,
) -> Option<Vec<Seen>> {
    std::iter::once(&lines.used)
        .chain(&lines.rivals)
        .map(|line| {
            let value = f(line, [0.0; 3])? * unit;
            let mut g = [0.0; 3];
            for (k, g) in g.iter_mut().enumerate() {
                let mut step = [0.0; 3];
                step[k] = STEP;
                let up = f(line, step)? * unit;
                step[k] = -STEP;
                *g = (up - f(line, step)? * unit) / (2.0 * STEP);
            }
            Some(Seen {
                value,
                doubt: line.doubt.of(g),
            })
        })
        .collect()
}

/// How far a figure goes with the doubt of an edge.
fn own_doubt(
    pose: &Pose,
    kind: PositionKind,
    covariance: &Matrix6<f64>,
    nu: f64,
) -> Option<Uncertain> {
    let unit = unit_of(kind);
    let mut g = Vector6::zeros();
    for k in 0..6 {
        let mut q = Vector6::zeros();
        q[k] = STEP;
        let up = pose.moved(&q).figure(kind)? * unit;
        g[k] = (up - pose.moved(&-q).figure(kind)? * unit) / (2.0 * STEP);
    }
    let var = (g.transpose() * covariance * g)[0];
    Some(Uncertain::new(var.max(0.0).sqrt(), nu))
}

fn unit_of(kind: PositionKind) -> f64 {
    if quantity(kind) == Quantity::Angle {
        1f64.to_radians()
    } else {
        1.0
    }
}

fn quantity(kind: PositionKind) -> Quantity {
    match kind {
        PositionKind::SetBack | PositionKind::Out | PositionKind::Height => Quantity::Length,
        PositionKind::Toe | PositionKind::Camber | PositionKind::Level => Quantity::Angle,
    }
}

fn pair(compare: &MeasuredCompare, a: &MeasuredOpening, lines: &Lines) -> Option<PairPosition> {
    let a_from_b = compare.b_on_a.as_ref()?;
    let spots: Vec<Spot> = compare
        .stations
        .iter()
        .map(|s| (s.a, s.gap_dir, s.flush_dir))
        .collect();
    let spreads = [compare.a_spread.as_ref()?, compare.b_spread.as_ref()?];
    let mut own = Vec::new();
    for spread in spreads {
        own.push((pose_covariance(&spots, spread)?, spread.nu));
    }
    let (left, right) = (Pose::of(&a.part_from_scan), Pose::laid_on(a_from_b));
    let mut rows: Vec<PositionRow> = PositionKind::ALL
        .into_iter()
        .filter_map(|kind| position_row(kind, &left, &right, a, &own, lines))
        .collect();
    prove(&mut rows);
    Some(PairPosition {
        compare: compare.id.clone(),
        name: a.name.clone(),
        rows,
    })
}

fn position_row(
    kind: PositionKind,
    left: &Pose,
    right: &Pose,
    a: &MeasuredOpening,
    own: &[(Matrix6<f64>, f64)],
    lines: &Lines,
) -> Option<PositionRow> {
    let l = |line: &Line, g: [f64; 3]| left.in_car(&line.car_from_scan).seen_from(g).figure(kind);
    let r = |line: &Line, g: [f64; 3]| {
        right
            .in_car(&line.car_from_scan)
            .seen_from(g)
            .mirrored()
            .figure(kind)
    };
    let d = |line: &Line, g: [f64; 3]| -> Option<f64> {
        let diff = l(line, g)? - r(line, g)?;
        // An angle of half a turn and more is one the other way.
        Some(if quantity(kind) == Quantity::Angle {
            diff - 360.0 * (diff / 360.0).round()
        } else {
            diff
        })
    };
    let unit = unit_of(kind);
    let car_from_part = lines.used.car_from_scan.rotation * a.part_from_scan.rotation.inverse();
    let pose = left.in_car(&lines.used.car_from_scan);
    let own: Vec<Uncertain> = own
        .iter()
        .map(|(c, nu)| own_doubt(&pose, kind, &turned(c, &car_from_part), *nu))
        .collect::<Option<_>>()?;
    let one = |f: &dyn Fn(&Line, [f64; 3]) -> Option<f64>, own: Uncertain| -> Option<Figure> {
        let seen = under_all(lines, unit, f)?;
        // How level one opening stands by itself hangs on its clicked top.
        let line = if kind == PositionKind::Level {
            None
        } else {
            seen[0].doubt
        };
        Some(figure(seen[0].value / unit, quantity(kind), line, own))
    };
    let both = Uncertain::combined(&own);
    let seen = under_all(lines, unit, &d)?;
    let difference = figure(seen[0].value / unit, quantity(kind), seen[0].doubt, both);
    let (over_rivals, survives) = over(&seen, &both, unit);
    Some(PositionRow {
        kind,
        left: one(&l, own[0])?,
        right: one(&r, own[1])?,
        difference,
        proven: difference.value.abs() > difference.u95,
        over_rivals,
        survives,
    })
}

/// Holm's steps over the figures of a pair: "proven" then holds for all of them together at 5 %.
fn prove(rows: &mut [PositionRow]) {
    let chance = |r: &PositionRow| {
        let d = &r.difference;
        // u = U95 / t(0.975, nu)
        let u = d.u95 / geom::t_quantile(0.975, d.nu);
        2.0 * geom::t_sf(d.value.abs() / u, d.nu)
    };
    let chances: Vec<f64> = rows.iter().map(chance).collect();
    let mut order: Vec<usize> = (0..rows.len())
        .filter(|&k| chances[k].is_finite())
        .collect();
    order.sort_by(|&i, &j| chances[i].total_cmp(&chances[j]));
    for r in rows.iter_mut() {
        r.proven = false;
    }
    for (step, &k) in order.iter().enumerate() {
        if chances[k] > 0.05 / (order.len() - step) as f64 {
            break;
        }
        rows[k].proven = true;
    }
}

/// Least and greatest over all centrelines, and whether all say the same as the first.
fn over(seen: &[Seen], own: &Uncertain, unit: f64) -> ([f64; 2], bool) {
    let first = seen[0].verdict(own, None);
    let fallback = seen[0].doubt;
    let range = seen
        .iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |r, s| {
            [r[0].min(s.value / unit), r[1].max(s.value / unit)]
        });
    let survives = seen.iter().all(|s| s.verdict(own, fallback) == first);
    (range, survives)
}

fn central(o: &MeasuredOpening, lines: &Lines) -> Option<CentralRow> {
    let pose = Pose::of(&o.part_from_scan);
    let edge = o.edge.as_ref()?;
    let spots: Vec<Spot> = edge
        .stations
        .iter()
        .map(|s| (s.at, s.gap_dir, s.flush_dir))
        .collect();
    let covariance = pose_covariance(&spots, &edge.spread)?;
    let car_from_part = lines.used.car_from_scan.rotation * o.part_from_scan.rotation.inverse();
    let kind = PositionKind::Out;
    let own = own_doubt(
        &pose.in_car(&lines.used.car_from_scan),
        kind,
        &turned(&covariance, &car_from_part),
        edge.spread.nu,
    )?;
    let f = |line: &Line, g: [f64; 3]| {
        let p = pose.in_car(&line.car_from_scan).seen_from(g);
        Some(p.middle.y)
    };
    let seen = under_all(lines, 1.0, &f)?;
    let off = figure(seen[0].value, Quantity::Length, seen[0].doubt, own);
    let (over_rivals, survives) = over(&seen, &own, 1.0);
    Some(CentralRow {
        opening: o.id.clone(),
        name: o.name.clone(),
        off,
        proven: off.value.abs() > off.u95,
        over_rivals,
        survives,
    })
}
