//! Figures of position under every centreline, and which conclusions survive.

use geom::{BodyModeKind, Rigid, Uncertain, body_modes};
use nalgebra::{Matrix6, Vector6};
use record::{
    BodyFigure, BodyWay, CentralRow, Code, Figure, Finding, Job, Laid, LaidBy, LineKnown, Measured,
    MeasuredCompare, MeasuredOpening, PairPosition, PlaceRow, PositionKind, PositionRow, Quantity,
    Relation, RivalLine, ScanId, Severity, Side, Source,
};

use super::line::{Doubt, Line, Lines};
use super::pose::{Pose, Spot, pose_covariance, turned};
use super::worlds::{World, Worlds};
use super::{doubts, finding, own_image};
use crate::join::CommonAxes;

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
    let worlds = Worlds::of(job, measured, lines);
    let mut out = Laid {
        scan: lines.axes.base.clone(),
        joined: lines.axes.joined(),
        by: lines.by,
        car_from_scan: lines.used.car_from_scan,
        level_named: job.centreline.front.is_some() || lines.by == LaidBy::ThreeTwoOne,
        yaw: line_figure(lines, &worlds, [1.0, 0.0, 0.0], Quantity::Angle),
        lean: line_figure(lines, &worlds, [0.0, 1.0, 0.0], Quantity::Angle),
        shift: line_figure(lines, &worlds, [0.0, 0.0, 1.0], Quantity::Length),
        known: known(lines, &worlds),
        places: places(lines),
        body: body(lines),
        image: own_image::fit(measured),
        rivals: lines.rivals.iter().map(|r| rival(&lines.used, r)).collect(),
        pairs: Vec::new(),
        central: Vec::new(),
    };
    let here = |id: &record::OpeningId| -> Option<Placed> {
        let scan = &job.openings.iter().find(|o| o.id == *id)?.scan;
        lines.axes.from(scan)?;
        let opening = measured.openings.iter().find(|o| o.id == *id)?;
        Some(Placed { opening, scan })
    };
    let mut elsewhere: Vec<String> = Vec::new();
    for compare in &measured.compares {
        let Some(b) = &compare.b else { continue };
        if compare.relation != Relation::Mirrored || compare.sides != [Side::Left, Side::Right] {
            continue;
        }
        match (here(&compare.a), here(b)) {
            (Some(a), Some(b)) => out.pairs.extend(pair(compare, a, b, lines, &worlds)),
            _ => elsewhere.push(compare.id.0.clone()),
        }
    }
    for o in measured.openings.iter().filter(|o| o.side == Side::Centre) {
        match here(&o.id) {
            Some(o) => out.central.extend(central(o, lines, &worlds)),
            None => elsewhere.push(o.id.0.clone()),
        }
    }
    findings.extend(lines.notes.iter().cloned());
    doubts::of_places(lines, &out, findings);
    if !elsewhere.is_empty() {
        findings.push(finding(
            Code::ScansNotJoined,
            Severity::Doubt,
            &elsewhere.join(", "),
            format!(
                "{} neither in the scan {} of the places nor in one joined to it: no position is given",
                if elsewhere.len() == 1 {
                    format!("{} is", elsewhere[0])
                } else {
                    format!("{} are", elsewhere.join(", "))
                },
                lines.axes.base
            ),
            "join the scans (joins in the job), or use one scan that shows the places and both openings",
        ));
    }
    doubts::of_openings(job, measured, lines, &out, findings);
    out
}

/// An opening and the scan it was measured in.
#[derive(Clone, Copy)]
struct Placed<'a> {
    opening: &'a MeasuredOpening,
    scan: &'a ScanId,
}

impl Placed<'_> {
    fn pose(&self, axes: &CommonAxes) -> Option<Pose> {
        Some(Pose::of(&self.opening.part_from_scan).in_axes(axes.from(self.scan)?))
    }
}

/// A figure of value 0 that changes by `g` per rad of turn of the centreline about up, per rad of turn about along, per mm
/// of shift: its doubt is that of the centreline.
fn line_figure(lines: &Lines, worlds: &Worlds, g: [f64; 3], quantity: Quantity) -> Figure {
    let join = worlds.doubt(&|w| {
        let off = against(&lines.used, &w.car_from_base);
        Some(std::iter::zip(g, off).map(|(g, o)| g * o).sum())
    });
    let none = Uncertain::new(0.0, f64::INFINITY);
    figure(0.0, quantity, lines.used.doubt.of(g), none, join)
}

/// `line` is in rad for angles, `own` and `join` too; a doubt that is not known makes a give-or-take that is no number.
fn figure(
    value: f64,
    quantity: Quantity,
    line: Option<Uncertain>,
    own: Uncertain,
    join: Option<Uncertain>,
) -> Figure {
    let scale = if quantity == Quantity::Angle {
        1f64.to_degrees()
    } else {
        1.0
    };
    let (Some(line), Some(join)) = (line, join) else {
        return Figure {
            value,
            u95: f64::NAN,
            nu: f64::NAN,
            source: if line.is_some() {
                Source::Join
            } else {
                Source::Centreline
            },
            quantity,
        };
    };
    let all = Uncertain::combined(&[line, own, join]);
    Figure {
        value,
        u95: all.u95 * scale,
        nu: all.nu,
        source: if join.s > line.s.max(own.s) {
            Source::Join
        } else if line.s >= own.s {
            Source::Centreline
        } else {
            Source::EdgeSight
        },
        quantity,
    }
}

/// How far the line may lie to one side along the car. A turn about up moves what lies `x` behind the middle by -x times
/// the turn to the right.
fn known(lines: &Lines, worlds: &Worlds) -> Vec<LineKnown> {
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
            let aside = line_figure(lines, worlds, [-along_mm, 0.0, 1.0], Quantity::Length);
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
    if let Doubt::Image(image) = &lines.used.doubt {
        return of_halves(&image.0, &image.1);
    }
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

/// How the halves of an own mirror image are slid against each other in its plane.
fn of_halves(image: &geom::OwnImage, plane: &geom::MidPlane) -> Vec<BodyFigure> {
    [(BodyWay::Back, plane.along), (BodyWay::High, plane.up)]
        .into_iter()
        .filter_map(|(way, direction)| {
            let (value, doubt) = image.slid_along(plane, &direction);
            let doubt = doubt?;
            // Two ways are looked at.
            let chance = 2.0 * geom::t_sf(value.abs() / doubt.s, doubt.nu);
            Some(BodyFigure {
                way,
                amount: Figure {
                    value,
                    u95: doubt.u95,
                    nu: doubt.nu,
                    source: Source::EdgeSight,
                    quantity: Quantity::Length,
                },
                proven: chance < 0.025,
            })
        })
        .collect()
}

/// Turned (rad), leaning (rad) and moved to the right (mm) by, against the line used.
fn against(used: &Line, other_from_scan: &Rigid) -> [f64; 3] {
    let back = other_from_scan * used.car_from_scan.inverse();
    // The other's rightward direction and its plane at the origin of the one used.
    let normal = back.inverse().rotation * geom::Vector::y();
    [
        normal.x.atan2(normal.y),
        normal.z.atan2(normal.y),
        -(back * geom::Point::origin()).y,
    ]
}

fn rival(used: &Line, other: &Line) -> RivalLine {
    let [yaw, lean, shift_mm] = against(used, &other.car_from_scan);
    RivalLine {
        name: other.name.clone(),
        yaw_deg: yaw.to_degrees(),
        lean_deg: lean.to_degrees(),
        shift_mm,
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

/// A figure in a world whose centreline was turned about up, turned about along and shifted by so much.
type Seeing<'a> = &'a dyn Fn(&World, [f64; 3]) -> Option<f64>;

/// Evaluates `f` under every centreline; the first is the one used. `unit` takes its value to rad or mm.
fn under_all(lines: &Lines, worlds: &Worlds, unit: f64, f: Seeing) -> Option<Vec<Seen>> {
    std::iter::once(&lines.used)
        .chain(&lines.rivals)
        .map(|line| {
            let world = World {
                axes: worlds.found.axes.clone(),
                car_from_base: line.car_from_scan,
            };
            let value = f(&world, [0.0; 3])? * unit;
            let mut g = [0.0; 3];
            for (k, g) in g.iter_mut().enumerate() {
                let mut step = [0.0; 3];
                step[k] = STEP;
                let up = f(&world, step)? * unit;
                step[k] = -STEP;
                *g = (up - f(&world, step)? * unit) / (2.0 * STEP);
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

fn pair(
    compare: &MeasuredCompare,
    a: Placed,
    b: Placed,
    lines: &Lines,
    worlds: &Worlds,
) -> Option<PairPosition> {
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
    let right = Pose::laid_on(a_from_b);
    let both = Both {
        a,
        right: &|axes| Some(right.in_axes(axes.from(b.scan)?)),
    };
    let mut rows: Vec<PositionRow> = PositionKind::ALL
        .into_iter()
        .filter_map(|kind| position_row(kind, &both, &own, lines, worlds))
        .collect();
    prove(&mut rows);
    Some(PairPosition {
        compare: compare.id.clone(),
        name: a.opening.name.clone(),
        rows,
    })
}

/// A left opening and its partner laid on it, in common axes.
struct Both<'a> {
    a: Placed<'a>,
    right: &'a dyn Fn(&CommonAxes) -> Option<Pose>,
}

fn position_row(
    kind: PositionKind,
    both: &Both,
    own: &[(Matrix6<f64>, f64)],
    lines: &Lines,
    worlds: &Worlds,
) -> Option<PositionRow> {
    let left_in = |w: &World, g: [f64; 3]| {
        let pose = both.a.pose(&w.axes)?.in_axes(&w.car_from_base);
        pose.seen_from(g).figure(kind)
    };
    let right_in = |w: &World, g: [f64; 3]| {
        let pose = (both.right)(&w.axes)?.in_axes(&w.car_from_base);
        pose.seen_from(g).mirrored().figure(kind)
    };
    let difference_in = |w: &World, g: [f64; 3]| -> Option<f64> {
        let diff = left_in(w, g)? - right_in(w, g)?;
        // An angle of half a turn and more is one the other way.
        Some(if quantity(kind) == Quantity::Angle {
            diff - 360.0 * (diff / 360.0).round()
        } else {
            diff
        })
    };
    let unit = unit_of(kind);
    let pose = both.a.pose(&lines.axes)?.in_axes(&lines.used.car_from_scan);
    let base_from_scan = lines.axes.from(both.a.scan)?;
    let car_from_part = lines.used.car_from_scan.rotation
        * base_from_scan.rotation
        * both.a.opening.part_from_scan.rotation.inverse();
    let own: Vec<Uncertain> = own
        .iter()
        .map(|(c, nu)| own_doubt(&pose, kind, &turned(c, &car_from_part), *nu))
        .collect::<Option<_>>()?;
    let one = |f: Seeing, own: Uncertain| -> Option<Figure> {
        let seen = under_all(lines, worlds, unit, f)?;
        // How level one opening stands by itself hangs on its clicked top.
        let line = if kind == PositionKind::Level {
            None
        } else {
            seen[0].doubt
        };
        let join = worlds.doubt(&|w| Some(f(w, [0.0; 3])? * unit));
        Some(figure(
            seen[0].value / unit,
            quantity(kind),
            line,
            own,
            join,
        ))
    };
    let edges = Uncertain::combined(&own);
    let join = worlds.doubt(&|w| Some(difference_in(w, [0.0; 3])? * unit));
    let seen = under_all(lines, worlds, unit, &difference_in)?;
    let difference = figure(
        seen[0].value / unit,
        quantity(kind),
        seen[0].doubt,
        edges,
        join,
    );
    let (over_rivals, survives) = over(&seen, &with_join(edges, join), unit);
    Some(PositionRow {
        kind,
        left: one(&left_in, own[0])?,
        right: one(&right_in, own[1])?,
        difference,
        proven: difference.value.abs() > difference.u95,
        over_rivals,
        survives,
    })
}

/// Edges and joins together; without bound where the joins are.
fn with_join(own: Uncertain, join: Option<Uncertain>) -> Uncertain {
    let unbounded = Uncertain::new(f64::INFINITY, f64::INFINITY);
    join.map_or(unbounded, |j| Uncertain::combined(&[own, j]))
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

fn central(o: Placed, lines: &Lines, worlds: &Worlds) -> Option<CentralRow> {
    let edge = o.opening.edge.as_ref()?;
    let spots: Vec<Spot> = edge
        .stations
        .iter()
        .map(|s| (s.at, s.gap_dir, s.flush_dir))
        .collect();
    let covariance = pose_covariance(&spots, &edge.spread)?;
    let base_from_scan = lines.axes.from(o.scan)?;
    let car_from_part = lines.used.car_from_scan.rotation
        * base_from_scan.rotation
        * o.opening.part_from_scan.rotation.inverse();
    let kind = PositionKind::Out;
    let own = own_doubt(
        &o.pose(&lines.axes)?.in_axes(&lines.used.car_from_scan),
        kind,
        &turned(&covariance, &car_from_part),
        edge.spread.nu,
    )?;
    let f = |w: &World, g: [f64; 3]| {
        let pose = o.pose(&w.axes)?.in_axes(&w.car_from_base);
        Some(pose.seen_from(g).middle.y)
    };
    let seen = under_all(lines, worlds, 1.0, &f)?;
    let join = worlds.doubt(&|w| f(w, [0.0; 3]));
    let off = figure(seen[0].value, Quantity::Length, seen[0].doubt, own, join);
    let (over_rivals, survives) = over(&seen, &with_join(own, join), 1.0);
    Some(CentralRow {
        opening: o.opening.id.clone(),
        name: o.opening.name.clone(),
        off,
        proven: off.value.abs() > off.u95,
        over_rivals,
        survives,
    })
}
