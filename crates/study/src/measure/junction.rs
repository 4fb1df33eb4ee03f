//! The junction of two faces: which points count, and its figures.

use geom::{
    CellGrid, Curvature, JunctionFace, JunctionFit, Lagged, LocalAxes, NoiseModel, Point,
    Uncertain, Unit, Vector,
};
use record::{
    Code, Figure, Finding, JunctionPick, MeasuredJunction, Number, Quantity, Severity, Source,
    StationAngle, Stations, Through,
};

use super::face::{FittedFace, cannot_tell};
use super::robust;

/// Width left out beside the junction line unless the job says otherwise, mm: bend radius and softened edge.
const BAND: f64 = 5.0;
/// Cells across the narrower face.
const CELLS_ACROSS: f64 = 12.0;
/// Windows for local angles: their length is about the width of the faces, and there are at most so many.
const MOST_WINDOWS: f64 = 7.0;
/// Below this p-value two ruled faces do not describe the junction.
const RULED_P: f64 = 0.01;
/// Places along a face are repeatable within this half-width, mm.
const PLACE: f64 = 1.0;
/// Width of the slices in which the section across a face is looked at, mm, and the fewest that are left.
const SLICE: f64 = 4.0;
const LEAST_SLICES: usize = 3;
/// Points from which the surface is taken that the section is held against.
const ENOUGH: usize = 4000;
/// A section that is off its straight line by more than this bends, mm.
const BENDS: f64 = 0.03;
/// So many times its doubt is no noise.
const SURE: f64 = 3.0;
/// Below this p-value a face is curved.
const CURVED_P: f64 = 0.05;
/// Full turn, degrees.
const TURN: f64 = 360.0;

/// The faces cut down to what speaks for the junction.
struct Cleaned {
    grids: [CellGrid; 2],
    covered: [Vec<f64>; 2],
}

/// Measures the junction of two fitted faces. The error says why it could not be.
pub fn measured_junction(
    pick: &JunctionPick,
    a: &FittedFace,
    b: &FittedFace,
    noise: &NoiseModel,
    flatness_mm: f64,
) -> Result<MeasuredJunction, Finding> {
    let fail = |says: &str| {
        finding(
            Code::FewPoints,
            Severity::Doubt,
            pick,
            says,
            "pick both faces again, nearer to the junction",
        )
    };
    let cleaned = clean(pick, a, b, noise)
        .ok_or_else(|| fail("the two faces do not meet in a line that was seen"))?;
    let outward = [a.grown.axes.n.into_inner(), b.grown.axes.n.into_inner()];
    let faces = [0, 1].map(|k| JunctionFace {
        cells: &cleaned.grids[k],
        covered: &cleaned.covered[k],
        outward: outward[k],
    });
    let fit = JunctionFit::fit(faces, pick.start, &cleaned.grids[0].axes.u.into_inner())
        .map_err(|e| fail(&format!("no junction could be fitted ({e})")))?;
    Ok(figures(pick, &fit, &cleaned, noise, flatness_mm))
}

fn finding(
    code: Code,
    severity: Severity,
    pick: &JunctionPick,
    says: &str,
    advice: &str,
) -> Finding {
    Finding {
        code,
        severity,
        subject: pick.id.to_string(),
        says: says.to_owned(),
        advice: advice.to_owned(),
        numbers: Vec::new(),
    }
}

/// Keeps the points of both faces beside their common line: not the band at the bend, not beyond the common length,
/// nothing set aside by the fit of the face.
fn clean(
    pick: &JunctionPick,
    a: &FittedFace,
    b: &FittedFace,
    noise: &NoiseModel,
) -> Option<Cleaned> {
    let mut line = meet(
        &a.fit.plane_at(0.0, 0.0),
        &b.fit.plane_at(0.0, 0.0),
        &a.grown.axes.origin,
    )?;
    // Once more with the tangent planes next to the line, which differ where the faces are twisted or curved.
    let beside = |f: &FittedFace, at: &Point| {
        let [u, v, _] = f.grown.axes.local(at);
        let [lu, lv] = f.grown.size;
        f.fit
            .plane_at(u.clamp(-lu / 2.0, lu / 2.0), v.clamp(-lv / 2.0, lv / 2.0))
    };
    for _ in 0..3 {
        let middle = line.0 + line.1.into_inner() * (a.grown.axes.origin - line.0).dot(&line.1);
        line = meet(&beside(a, &middle), &beside(b, &middle), &middle)?;
    }
    let (origin, mut e) = line;
    let middle = nalgebra::center(&a.grown.axes.origin, &b.grown.axes.origin);
    if (pick.start - middle).dot(&e) > 0.0 {
        e = -e;
    }
    let into = [a, b].map(|f| {
        let d = f.grown.axes.origin - origin;
        Unit::try_new(d - e.into_inner() * d.dot(&e), 1e-6)
    });
    let [Some(into_a), Some(into_b)] = into else {
        return None;
    };
    let st = |p: &Point, into: &Unit| ((p - origin).dot(&e), (p - origin).dot(into));
    let kept = |f: &FittedFace, into: &Unit| -> Vec<Point> {
        let band = f.band.unwrap_or(BAND);
        f.grown
            .points
            .iter()
            .zip(&f.fit.inliers)
            .filter(|(p, good)| **good && st(p, into).1 > band)
            .map(|(p, _)| *p)
            .collect()
    };
    let straight = |points: Vec<Point>, f: &FittedFace, into: &Unit| -> Vec<Point> {
        let n = f.grown.axes.n;
        let across: Vec<[f64; 3]> = points
            .iter()
            .map(|p| [st(p, into).0, st(p, into).1, (p - origin).dot(&n)])
            .collect();
        let leg = straight_leg(&across, noise);
        points
            .into_iter()
            .filter(|p| st(p, into).1 <= leg)
            .collect()
    };
    let points = [
        straight(kept(a, &into_a), a, &into_a),
        straight(kept(b, &into_b), b, &into_b),
    ];
    let range = |points: &[Point], into: &Unit| {
        points
            .iter()
            .map(|p| st(p, into).0)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), s| {
                (l.min(s), h.max(s))
            })
    };
    let (ra, rb) = (range(&points[0], &into_a), range(&points[1], &into_b));
    let (low, high) = (ra.0.max(rb.0), ra.1.min(rb.1));
    if high - low < 5.0 {
        return None;
    }
    let grid = |points: &[Point], f: &FittedFace, into: &Unit| -> Option<CellGrid> {
        let n = Unit::try_new(e.cross(into), 1e-9)?;
        let n = if n.dot(&f.grown.axes.n) < 0.0 { -n } else { n };
        let axes = LocalAxes::along(origin, &e, n).ok()?;
        let inside: Vec<Point> = points
            .iter()
            .filter(|p| (low..=high).contains(&st(p, into).0))
            .copied()
            .collect();
        let width = inside.iter().map(|p| st(p, into).1).fold(0.0, f64::max);
        let density = inside.len() as f64 / ((high - low) * width.max(1.0));
        let size = (width / CELLS_ACROSS).max(1.4 / density.sqrt());
        CellGrid::build(axes, size, &inside).ok()
    };
    let grids = [grid(&points[0], a, &into_a)?, grid(&points[1], b, &into_b)?];
    let covered = [grids[0].covered(), grids[1].covered()];
    Some(Cleaned { grids, covered })
}

/// How far from the junction a face is straight across, mm: it is cut off where its mean section, after a ruled
/// surface is taken off, bends away by more than [`BENDS`] and by more than the noise explains. Points are (along, across,
/// height). A face cut where its noise turns up would be read with that noise turned down: waves must not pass for bends.
fn straight_leg(points: &[[f64; 3]], noise: &NoiseModel) -> f64 {
    let far = points.iter().map(|p| p[1]).fold(0.0, f64::max);
    let near = points.iter().map(|p| p[1]).fold(f64::INFINITY, f64::min);
    let low = points.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min);
    let high = points
        .iter()
        .map(|p| p[0])
        .fold(f64::NEG_INFINITY, f64::max);
    let slices = ((far - near) / SLICE).floor() as usize;
    let waves = wave_variance(noise, (high - low) / 3.0);
    let mut leg = far;
    for cut in 0..slices.saturating_sub(LEAST_SLICES) {
        leg = far - cut as f64 * SLICE;
        let inside: Vec<&[f64; 3]> = points.iter().filter(|p| p[1] <= leg).collect();
        let rows: Vec<[f64; 4]> = inside
            .iter()
            .map(|p| [1.0, p[0], p[1], p[0] * p[1]])
            .collect();
        let values: Vec<f64> = inside.iter().map(|p| p[2]).collect();
        // The ruled surface of some thousand points is that of all.
        let every = rows.len().div_ceil(ENOUGH).max(1);
        let some: Vec<[f64; 4]> = rows.iter().step_by(every).copied().collect();
        let heights: Vec<f64> = values.iter().step_by(every).copied().collect();
        let Some((c, scale)) = robust::fit(&some, &heights, 0.01) else {
            return leg;
        };
        let n = ((leg - near) / SLICE).ceil().max(1.0) as usize;
        // In thirds along the junction too: where a face bends one way at one end and the other way at the other,
        // the mean section is straight.
        let mut sums = vec![(0.0, 0.0); 3 * n];
        for (r, v) in rows.iter().zip(&values) {
            let third = ((3.0 * (r[1] - low) / (high - low).max(1e-9)) as usize).min(2);
            let k = (((r[2] - near) / SLICE) as usize).min(n - 1) * 3 + third;
            let d = v - r.iter().zip(&c).map(|(a, b)| a * b).sum::<f64>();
            // Stray points do not speak for the section.
            if d.abs() < 8.0 * scale {
                sums[k].0 += d;
                sums[k].1 += 1.0;
            }
        }
        let bent = sums.iter().filter(|s| s.1 > 8.0).any(|s| {
            let white = scale * scale / s.1;
            let limit = (BENDS + SURE * white.sqrt()).max(SURE * (white + waves).sqrt());
            (s.0 / s.1).abs() > limit
        });
        if !bent {
            // Where it was cut the last slice may still hold the beginning of the bend, too little of it to be seen.
            return if cut > 0 { leg - SLICE } else { leg };
        }
    }
    leg
}

/// Variance that the correlated part of the noise leaves in the mean height of a slice `long` mm long, mm2.
fn wave_variance(noise: &NoiseModel, long: f64) -> f64 {
    let n = (long / SLICE).ceil().max(1.0) as usize;
    let apart = long / n as f64;
    let places: Vec<[f64; 3]> = (0..2 * n)
        .map(|k| {
            let across = if k % 2 == 0 { 0.25 } else { 0.75 };
            [apart * (k / 2) as f64, SLICE * across, 0.0]
        })
        .collect();
    let mean = Lagged::of_places(&places, &vec![0.5 / n as f64; 2 * n]);
    noise.mean_variance(&Lagged { white: 0.0, ..mean })
}

/// The line of two planes: its point nearest to `near`, and its direction.
fn meet(a: &geom::Plane, b: &geom::Plane, near: &Point) -> Option<(Point, Unit)> {
    let e = Unit::try_new(a.normal.cross(&b.normal), 0.02)?;
    let m =
        nalgebra::Matrix3::from_rows(&[a.normal.transpose(), b.normal.transpose(), e.transpose()]);
    let d = Vector::new(-a.distance(near), -b.distance(near), 0.0);
    Some((near + m.try_inverse()? * d, e))
}

fn figures(
    pick: &JunctionPick,
    fit: &JunctionFit,
    cleaned: &Cleaned,
    noise: &NoiseModel,
    flatness_mm: f64,
) -> MeasuredJunction {
    let [from, to] = fit.range;
    let length = to - from;
    let width = fit.widths[0].min(fit.widths[1]);
    let mut findings = Vec::new();
    let windows = (length / width.max(1.0)).round().clamp(3.0, MOST_WINDOWS) as usize;
    let lack = fit.lack_of_fit(noise, windows);
    let ruled_p = lack.map_or(1.0, |l| l.p);
    let ruled = ruled_p >= RULED_P;
    let floor = floor(noise, flatness_mm, fit.widths);
    let place = place_uncertainty(cleaned, noise);
    let start_u = cleaned.grids[0].size.max(cleaned.grids[1].size) / 12f64.sqrt();
    let (mut long, mut sensitive) = (false, false);
    let mut stations = Vec::new();
    for (place_name, share) in places(pick, length) {
        let s = from + share * length;
        let (angle, u) = if ruled {
            (fit.angle(s), fit.angle_uncertainty(s, noise, start_u))
        } else {
            let half = 0.5 * length / windows as f64;
            let middle = s.clamp(from + half, to - half);
            match fit.local([middle - half, middle + half]) {
                Ok(l) => (l.angle, noise.uncertainty(&l.lagged)),
                Err(_) => continue,
            }
        };
        long |= u.cannot_tell();
        let mut u = u.at_least(floor);
        let mut source = Source::Noise;
        if let Some(p) = place {
            if p.s > u.s {
                source = Source::Place;
                sensitive = true;
            }
            u = Uncertain::combined(&[u, p]);
        }
        stations.push(StationAngle {
            place: place_name,
            share,
            from_start_mm: s - from,
            angle: angle_figure(pick.through, angle, &u, source),
            at: fit.point(s),
        });
    }
    if long {
        findings.push(cannot_tell(&pick.id.to_string()));
    }
    if !ruled {
        findings.push(finding(
            Code::JunctionNotRuled,
            Severity::Note,
            pick,
            "the angle does not change evenly along the junction: the angles of its pieces are given",
            "read every station, not only the ends",
        ));
    }
    if sensitive {
        findings.push(finding(
            Code::PlaceSensitive,
            Severity::Doubt,
            pick,
            "the faces are curved: the angle depends on where along them it is taken",
            "say where the part will sit, and take both sides at the same distance from the junction",
        ));
    }
    if !fit.sides_agree {
        let mut f = finding(
            Code::SideLooksSwapped,
            Severity::Doubt,
            pick,
            "one of the two faces seems to be taken from the back of the metal",
            "pick both faces from the side the part will touch",
        );
        f.numbers.push(Number {
            name: "angle at mid length through the metal".to_owned(),
            value: fit.angle(0.5 * (from + to)).to_degrees(),
            quantity: Some(Quantity::Angle),
        });
        findings.push(f);
    }
    let sign = match pick.through {
        Through::Material => 1.0,
        Through::Air => -1.0,
    };
    let twist = noise.uncertainty(&fit.twist_lagged());
    let worse = usize::from(fit.flat_error(1) > fit.flat_error(0));
    let flat = noise.uncertainty(&fit.flat_error_lagged(worse));
    let plain = |value: f64, u: &Uncertain, quantity| Figure {
        value,
        u95: u.u95,
        nu: u.nu,
        source: Source::Noise,
        quantity,
    };
    MeasuredJunction {
        id: pick.id.clone(),
        through: pick.through,
        start: fit.point(from),
        end: fit.point(to),
        length_mm: length,
        stations,
        twist: plain(
            sign * (fit.twist() * 100.0).to_degrees(),
            &twist.scaled(100f64.to_degrees()),
            Quantity::TwistRate,
        ),
        flat_error: plain(fit.flat_error(worse), &flat, Quantity::Length),
        ruled,
        ruled_p,
        widths_mm: fit.widths,
        findings,
    }
}

fn angle_figure(through: Through, angle: f64, u: &Uncertain, source: Source) -> Figure {
    let material = angle.to_degrees();
    Figure {
        value: match through {
            Through::Material => material,
            Through::Air => TURN - material,
        },
        u95: u.u95.to_degrees(),
        nu: u.nu,
        source,
        quantity: Quantity::Angle,
    }
}

/// The least uncertainty of an angle that is believed of the instrument, where the noise rests on too few patches
/// or the waves are too long for the faces.
fn floor(noise: &NoiseModel, flatness_mm: f64, widths: [f64; 2]) -> Uncertain {
    if noise.patches >= 4 {
        return Uncertain::new(0.0, f64::INFINITY);
    }
    Uncertain::combined(&widths.map(|w| NoiseModel::floor(flatness_mm, w)))
}

/// What a shift of the faces by [`PLACE`] does to the angle, where their curvature is proven.
fn place_uncertainty(cleaned: &Cleaned, noise: &NoiseModel) -> Option<Uncertain> {
    let parts: Vec<Uncertain> = cleaned
        .grids
        .iter()
        .zip(&cleaned.covered)
        .filter_map(|(g, c)| Curvature::test(g, c, noise).ok())
        .filter(|c| c.p < CURVED_P)
        .map(|c| Uncertain::new(c.principal[0].abs() * PLACE / 3f64.sqrt(), f64::INFINITY))
        .collect();
    (!parts.is_empty()).then(|| Uncertain::combined(&parts))
}

/// Names and shares of the stations asked for.
fn places(pick: &JunctionPick, length: f64) -> Vec<(String, f64)> {
    match pick.stations {
        Stations::Quarters => vec![
            (pick.start_name.clone(), 0.0),
            ("1/4".to_owned(), 0.25),
            ("1/2".to_owned(), 0.5),
            ("3/4".to_owned(), 0.75),
            (pick.end_name.clone(), 1.0),
        ],
        Stations::Every(step) => {
            let n = (length / step.max(1.0)).floor() as usize;
            let mut all: Vec<_> = (0..=n)
                .map(|k| {
                    let s = k as f64 * step;
                    (format!("{s:.0} mm"), s / length)
                })
                .collect();
            if let Some(first) = all.first_mut() {
                first.0.clone_from(&pick.start_name);
            }
            all.push((pick.end_name.clone(), 1.0));
            all
        }
    }
}
