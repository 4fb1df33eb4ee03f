//! Barrels and pins of a hinge: do they lie on one line, and how near does what swings come.

use geom::{
    CylinderFit, NoiseModel, Point, Polyline, Rigid, Uncertain, Unit, Vector, f_sf,
    fit_circle_2d_robust, fit_cylinder,
};
use nalgebra::{Matrix2, Vector2};
use record::{
    BarrelPick, Code, Figure, Finding, HingeBarrel, HingePick, HingeStep, Job, Measured,
    MeasuredHinge, MeasuredOpening, Number, Quantity, Scans, Severity, Source, Swing, SwingPick,
};

use crate::measure::{Surface, assumed_noise};

/// A barrel of unknown size is looked for within this radius, mm.
const LARGEST: f64 = 15.0;
/// The wall is taken within this of the first circle, mm.
const WALL: f64 = 1.0;
/// A normal is that of the wall where it goes with the radius by this cosine.
const RADIAL: f64 = 0.8;
/// Below this arc the axis hangs on little, degrees.
const SHORT_ARC: f64 = 60.0;
/// Step of the swing, degrees.
const STEP: f64 = 0.5;
/// Step of numeric derivatives, mm and rad.
const SMALL: f64 = 1e-4;

/// A hinge of the job, with what has to be said of it. `None` where its scan is not there.
pub(super) fn hinge(
    job: &Job,
    scans: &Scans,
    measured: &Measured,
    pick: &HingePick,
    findings: &mut Vec<Finding>,
) -> Option<MeasuredHinge> {
    let scan = scans.get(&pick.scan)?;
    let visit = job
        .scans
        .iter()
        .find(|s| s.id == pick.scan)
        .map(|s| &s.visit);
    let known = measured.noise.iter().find(|n| Some(&n.visit) == visit);
    let noise = known.map_or_else(assumed_noise, |n| n.model.clone());
    let surface = Surface::new(scan);
    let mut found: Vec<(&BarrelPick, CylinderFit)> = Vec::new();
    for b in &pick.barrels {
        match barrel(&surface, b) {
            Some(fit) => found.push((b, fit)),
            None => findings.push(Finding {
                code: Code::PickNotFound,
                severity: Severity::Doubt,
                subject: format!("{}, {}", pick.name, b.name),
                says: "no round wall was found at this barrel".to_owned(),
                advice: "pick its wall near both ends, and give its diameter".to_owned(),
                numbers: Vec::new(),
            }),
        }
    }
    // All axes run from the first barrel to the last.
    if let [(_, first), .., (_, last)] = found.as_slice() {
        let along = last.middle - first.middle;
        for (_, f) in &mut found {
            if f.axis.dot(&along) < 0.0 {
                f.turn_round();
            }
        }
    }
    for (b, f) in &found {
        let arc = f.arc.to_degrees();
        if arc < SHORT_ARC {
            findings.push(Finding {
                code: Code::ShortArc,
                severity: Severity::Doubt,
                subject: format!("{}, {}", pick.name, b.name),
                says: format!("only {arc:.0} degrees of its wall were seen"),
                advice: "scan it again from the other side".to_owned(),
                numbers: vec![Number {
                    name: "arc seen".to_owned(),
                    value: arc,
                    quantity: Some(Quantity::Angle),
                }],
            });
        }
    }
    let trials = found.windows(2).map(|w| step(&w[0], &w[1], &noise));
    let steps = proven(trials.collect());
    findings.extend(off_line(pick, &steps));
    let swing = pick.swing.as_ref().and_then(|s| {
        let line = Line::of(&found, &noise)?;
        swing(job, measured, pick, s, &line, findings)
    });
    Some(MeasuredHinge {
        name: pick.name.clone(),
        barrels: found
            .iter()
            .map(|(b, f)| HingeBarrel {
                name: b.name.clone(),
                middle: f.middle,
                axis: f.axis,
                diameter: length(
                    2.0 * f.radius,
                    noise.uncertainty(&f.radius_of()).scaled(2.0),
                ),
                arc_deg: f.arc.to_degrees(),
            })
            .collect(),
        steps,
        swing,
    })
}

fn figure(value: f64, own: Uncertain, quantity: Quantity) -> Figure {
    Figure {
        value,
        u95: own.u95,
        nu: own.nu,
        source: Source::Noise,
        quantity,
    }
}

fn length(value: f64, own: Uncertain) -> Figure {
    figure(value, own, Quantity::Length)
}

/// The wall of a barrel.
fn barrel(surface: &Surface, pick: &BarrelPick) -> Option<CylinderFit> {
    let axis = Unit::try_new(pick.to - pick.from, 1e-9)?;
    let span = (pick.to - pick.from).norm();
    let centre = nalgebra::center(&pick.from, &pick.to);
    let reach = pick.diameter_mm.map_or(LARGEST, |d| 1.1 * d + 1.0);
    let u = geom::any_perpendicular(&axis);
    let v = axis.cross(&u);
    let mut near: Vec<(Point, Vector)> = Vec::new();
    surface.in_ball(&centre, (span / 2.0).hypot(reach), |slot, p| {
        let d = p - centre;
        let z = d.dot(&axis);
        let off = (d - axis.into_inner() * z).norm();
        // Walls stand across the axis; ends and leaves do not.
        if z.abs() <= span / 2.0 && off <= reach {
            let n = surface.normal(slot);
            if n.dot(&axis).abs() < 0.5 {
                near.push((p, n));
            }
        }
    });
    let flat: Vec<[f64; 2]> = near
        .iter()
        .map(|(p, _)| {
            let d = p - centre;
            [d.dot(&u), d.dot(&v)]
        })
        .collect();
    let circle = fit_circle_2d_robust(&flat, 0.02).ok()?;
    let radius = circle.radius;
    if radius > 1.5 * LARGEST.max(reach) {
        return None;
    }
    let middle = centre + u.into_inner() * circle.centre[0] + v * circle.centre[1];
    let wall: Vec<Point> = near
        .iter()
        .filter(|(p, n)| {
            let d = p - middle;
            let across = d - axis.into_inner() * d.dot(&axis);
            let r = across.norm();
            (r - radius).abs() < WALL && n.dot(&across).abs() > RADIAL * r
        })
        .map(|(p, _)| *p)
        .collect();
    fit_cylinder(&wall, &middle, &axis, radius).ok()
}

/// A step before the odds of all of them are weighed, with the chances of offset and angle.
struct Trial {
    step: HingeStep,
    chances: [f64; 2],
}

/// Holm's steps over all chances: "proven" then holds for all of them together at 5 %.
fn proven(mut all: Vec<Trial>) -> Vec<HingeStep> {
    let mut order: Vec<(usize, usize)> = (0..all.len()).flat_map(|i| [(i, 0), (i, 1)]).collect();
    order.sort_by(|a, b| all[a.0].chances[a.1].total_cmp(&all[b.0].chances[b.1]));
    for (k, (i, j)) in order.iter().enumerate() {
        if all[*i].chances[*j] > 0.05 / (order.len() - k) as f64 {
            break;
        }
        all[*i].step.proven[*j] = true;
    }
    all.into_iter().map(|t| t.step).collect()
}

/// Two neighbouring barrels.
fn step(
    a: &(&BarrelPick, CylinderFit),
    b: &(&BarrelPick, CylinderFit),
    noise: &NoiseModel,
) -> Trial {
    let ((pick_a, a), (pick_b, b)) = (a, b);
    let axis = Unit::new_normalize(a.axis.into_inner() + b.axis.into_inner());
    let across = {
        let u = geom::any_perpendicular(&axis);
        [u, Unit::new_normalize(axis.cross(&u))]
    };
    let half = nalgebra::center(&a.middle, &b.middle);
    // Each axis where it passes the plane halfway between them.
    let passes = |f: &CylinderFit| (half - f.middle).dot(&axis) / f.axis.dot(&axis);
    let (ta, tb) = (passes(a), passes(b));
    let miss = b.at(tb) - a.at(ta);
    let lean = b.axis.into_inner() - a.axis.into_inner();
    let both = |of: &dyn Fn(&CylinderFit, f64, &Vector) -> geom::Lagged, direction: &Vector| {
        noise.uncertainty(&of(a, ta, direction).plus(&of(b, tb, direction)))
    };
    let judged = |v: &Vector, of: &dyn Fn(&CylinderFit, f64, &Vector) -> geom::Lagged| {
        let flat = Vector2::new(v.dot(&across[0]), v.dot(&across[1]));
        let size = flat.norm();
        let along = if size > 0.0 {
            (across[0].into_inner() * flat.x + across[1].into_inner() * flat.y) / size
        } else {
            across[0].into_inner()
        };
        let own = both(of, &along);
        // Covariance of the two parts, from its values along three directions.
        let var = |d: &Vector| both(of, d).s.powi(2);
        let (x, y) = (var(&across[0]), var(&across[1]));
        let skew = var(&((across[0].into_inner() + across[1].into_inner()) / 2_f64.sqrt()));
        let xy = skew - f64::midpoint(x, y);
        let c = Matrix2::new(x, xy, xy, y);
        let chance = c.try_inverse().map_or(1.0, |i| {
            let square = (flat.transpose() * i * flat)[0] / 2.0;
            if own.nu.is_finite() {
                f_sf(square.max(0.0), 2.0, own.nu)
            } else {
                (-square.max(0.0)).exp()
            }
        });
        (size, own, chance)
    };
    let (offset, offset_u, p) = judged(&miss, &|f, t, d| f.place_of(t, d));
    let (angle, angle_u, q) = judged(&lean, &|f, _, d| f.lean_of(d));
    Trial {
        step: HingeStep {
            between: [pick_a.name.clone(), pick_b.name.clone()],
            offset: length(offset, offset_u),
            angle: figure(
                angle.atan().to_degrees(),
                angle_u.scaled(1f64.to_degrees()),
                Quantity::Angle,
            ),
            proven: [false; 2],
        },
        chances: [p, q],
    }
}

fn off_line(pick: &HingePick, steps: &[HingeStep]) -> Option<Finding> {
    let off = steps.iter().find(|s| s.proven.contains(&true))?;
    Some(Finding {
        code: Code::PinsNotOnOneLine,
        severity: Severity::Doubt,
        subject: pick.name.clone(),
        says: format!(
            "{} and {} do not lie on one line: their axes miss each other by {:.2} mm and stand at {:.2} degrees",
            off.between[0], off.between[1], off.offset.value, off.angle.value
        ),
        advice: "set the hinges to one line before anything is fitted to what swings on them"
            .to_owned(),
        numbers: vec![
            Number {
                name: "axes miss each other by".to_owned(),
                value: off.offset.value,
                quantity: Some(Quantity::Length),
            },
            Number {
                name: "angle between the axes".to_owned(),
                value: off.angle.value,
                quantity: Some(Quantity::Angle),
            },
        ],
    })
}

/// The line about which a part swings.
struct Line {
    middle: Point,
    axis: Unit,
    across: [Unit; 2],
    /// Standard uncertainty of shift (mm) and lean (rad), each direction alike.
    u: [f64; 2],
    nu: f64,
}

impl Line {
    /// Through the middles of the first and the last barrel; of one barrel its axis.
    fn of(found: &[(&BarrelPick, CylinderFit)], noise: &NoiseModel) -> Option<Self> {
        let (first, last) = (&found.first()?.1, &found.last()?.1);
        let one = found.len() == 1;
        let axis = if one {
            first.axis
        } else {
            Unit::try_new(last.middle - first.middle, 1e-6)?
        };
        let u = geom::any_perpendicular(&axis);
        let across = [u, Unit::new_normalize(axis.cross(&u))];
        let worst = |of: &dyn Fn(&Unit) -> Uncertain| {
            let [a, b] = across.each_ref().map(of);
            if a.s > b.s { a } else { b }
        };
        let (shift, lean) = if one {
            (
                worst(&|d| noise.uncertainty(&first.place_of(0.0, d))),
                worst(&|d| noise.uncertainty(&first.lean_of(d))),
            )
        } else {
            let apart = (last.middle - first.middle).norm();
            let ends =
                worst(&|d| noise.uncertainty(&first.place_of(0.0, d).plus(&last.place_of(0.0, d))));
            (ends.scaled(0.5), ends.scaled(1.0 / apart))
        };
        Some(Self {
            middle: nalgebra::center(&first.middle, &last.middle),
            axis,
            across,
            u: [shift.s, lean.s],
            nu: shift.nu,
        })
    }

    /// The turn by `angle` (rad) about the line, shifted and leant by `q`.
    fn turn(&self, angle: f64, q: [f64; 4]) -> Rigid {
        let [u, v] = self.across.map(Unit::into_inner);
        let middle = self.middle + u * q[0] + v * q[1];
        let axis = Unit::new_normalize(self.axis.into_inner() + u * q[2] + v * q[3]);
        let to = nalgebra::Translation3::from(middle.coords);
        let by = nalgebra::UnitQuaternion::from_axis_angle(&axis, angle);
        to * by * to.inverse()
    }
}

/// The edge of an opening in scan axes, with the doubt of each place.
fn edge(opening: &MeasuredOpening) -> Option<(Vec<Point>, Vec<f64>, bool)> {
    let edge = opening.edge.as_ref()?;
    let back = opening.part_from_scan.inverse();
    let seen = edge.stations.iter().filter(|s| s.seen);
    let points = seen.clone().map(|s| back * s.at).collect();
    let doubt = seen.map(|s| s.gap_u_mm.hypot(s.flush_u_mm)).collect();
    Some((points, doubt, edge.closed))
}

fn swing(
    job: &Job,
    measured: &Measured,
    pick: &HingePick,
    wanted: &SwingPick,
    line: &Line,
    findings: &mut Vec<Finding>,
) -> Option<Swing> {
    let of = |id: &record::OpeningId| {
        let here = job
            .openings
            .iter()
            .any(|o| o.id == *id && o.scan == pick.scan);
        measured.openings.iter().find(|o| o.id == *id && here)
    };
    let found = of(&wanted.part)
        .and_then(|p| Some((p, edge(p)?)))
        .zip(of(&wanted.body).and_then(edge));
    let Some(((part, (points, doubt, closed)), (stays, stays_u, stays_closed))) = found else {
        findings.push(Finding {
            code: Code::PickNotFound,
            severity: Severity::Doubt,
            subject: pick.name.clone(),
            says: format!(
                "the edges of {} and {} were not both found in the scan of the hinge, so nothing is said of the swing",
                wanted.part, wanted.body
            ),
            advice: "pick both edges in one scan with the barrels".to_owned(),
            numbers: Vec::new(),
        });
        return None;
    };
    let body = Polyline::new(stays.iter().copied(), stays_closed)?;
    let chain = Polyline::new(points.iter().copied(), closed)?;
    // Opening goes outward.
    let outward = part.part_from_scan.inverse().rotation * Vector::z();
    let middle = Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / points.len() as f64);
    let lifted = (line.turn(0.01, [0.0; 4]) * middle - middle).dot(&outward);
    let sign = if lifted < 0.0 { -1.0 } else { 1.0 };
    let away = |k: usize, deg: f64, q: [f64; 4]| {
        let moved = line.turn(sign * deg.to_radians(), q) * points[k];
        body.distance(&moved)
    };
    let count = (wanted.open_deg / STEP).ceil().max(1.0) as usize;
    let nearest = |degrees: &mut dyn Iterator<Item = f64>| {
        let mut best = (f64::INFINITY, 0, 0.0);
        for deg in degrees {
            for k in 0..points.len() {
                let d = away(k, deg, [0.0; 4]);
                if d < best.0 {
                    best = (d, k, deg);
                }
            }
        }
        best
    };
    let all = nearest(&mut (0..=count).map(|i| wanted.open_deg * i as f64 / count as f64));
    let shut = nearest(&mut std::iter::once(0.0));
    let doubted = |(value, k, deg): (f64, usize, f64)| {
        let mut var = doubt[k].powi(2);
        let moved = line.turn(sign * f64::to_radians(deg), [0.0; 4]) * points[k];
        let beside = (0..stays.len())
            .min_by(|i, j| {
                (stays[*i] - moved)
                    .norm_squared()
                    .total_cmp(&(stays[*j] - moved).norm_squared())
            })
            .unwrap_or(0);
        var += stays_u.get(beside).copied().unwrap_or(0.0).powi(2);
        for i in 0..4 {
            let mut q = [0.0; 4];
            q[i] = SMALL;
            let up = away(k, deg, q);
            q[i] = -SMALL;
            let slope = (up - away(k, deg, q)) / (2.0 * SMALL);
            var += (slope * line.u[i / 2]).powi(2);
        }
        Figure {
            source: Source::EdgeSight,
            ..length(value, Uncertain::new(var.sqrt(), line.nu))
        }
    };
    Some(Swing {
        part: wanted.part.clone(),
        open_deg: wanted.open_deg,
        nearest: doubted(all),
        at_deg: all.2,
        along_mm: chain.nearest(&points[all.1]).s,
        at: points[all.1],
        shut: doubted(shut),
    })
}

#[cfg(test)]
mod tests;
