//! Every step of every section of a pair on both sides, and the map they make.

use geom::{GoOn, Lagged, Uncertain, Unit, Vector, fit_two_sheets, u95};
use nalgebra::{DMatrix, DVector, Matrix6, Vector6};
use rayon::prelude::*;
use record::{
    Figure, JointVerdict, Measured, MeasuredCompare, PairPanel, PanelBand, Quantity, Section,
    SectionPlan, SectionStep, SheetAxes, SheetKind, Source, WorstPanel,
};

use super::odds::{Odds, doubts, factor, odds};
use super::profile::walk;
use super::view::View;
use crate::positions::{Spot, pose_covariance};

/// Width beside the bend that is left out, mm: it holds the bend radius and softened edges.
const BAND: f64 = 2.6;
/// The most steps of a pair; sections of longer edges stand farther apart.
const MOST_STEPS: usize = 600;
/// How far the flange is looked at, mm, and from where its direction is taken.
const FLANGE: f64 = 12.6;
/// A step is at least this many spacings of the scan long.
const COARSEST: f64 = 3.0;
/// Means of neighbouring steps are weighed beside the steps themselves where so many were seen.
const FEWEST_TOGETHER: usize = 5;
/// Readings of a step, as far as the noise that neighbours share hangs on their number.
const READINGS: f64 = 50.0;
/// Widths of bands, mm, are such numbers times a power of ten.
const WIDTHS: [f64; 3] = [1.0, 2.0, 5.0];

/// A place whose difference counts, with its doubt.
struct Place {
    /// Index into the steps.
    step: usize,
    /// Number of its section, and of its step along it.
    at: [usize; 2],
    value: f64,
    /// Doubt by noise alone.
    noise: Uncertain,
    /// Where it is, part axes of a.
    p: geom::Point,
    out: Unit,
}

/// What a section gives.
struct Cut {
    section: Section,
    steps: Vec<(SectionStep, Option<Place>)>,
}

/// The panel of a pair; `None` where the edges have no stations or nothing of the panel was seen.
#[allow(clippy::too_many_arguments)] // One call, from one place; a type of their own would name nothing.
pub(super) fn pair(
    measured: &Measured,
    compare: &MeasuredCompare,
    a: &View<'_>,
    b: &View<'_>,
    plan: SectionPlan,
    seed: u64,
    draws: u32,
    go_on: GoOn<'_>,
) -> Option<PairPanel> {
    let name = measured
        .openings
        .iter()
        .find(|o| o.id == compare.a)
        .map_or(&compare.a.0, |o| &o.name);
    let coarsest = COARSEST * a.spacing().max(b.spacing());
    let step_mm = plan.step_mm.max(coarsest);
    let count = ((plan.width_mm - BAND) / step_mm + 1e-9).floor().max(0.0) as u32;
    let ranges: Vec<[f64; 2]> = (0..count)
        .map(|k| BAND + step_mm * f64::from(k))
        .map(|from| [from, from + step_mm])
        .collect();
    let length = edge_length(compare);
    let most = (MOST_STEPS / ranges.len().max(1)).max(8) as f64;
    let plan = SectionPlan {
        width_mm: plan.width_mm,
        step_mm,
        every_mm: plan.every_mm.max(coarsest).max(length / most),
    };
    let sections = stations(compare, length, plan.every_mm);
    let placed = Laying::of(compare)?;
    let cuts: Vec<Cut> = sections
        .into_par_iter()
        .enumerate()
        .map(|(k, s)| {
            if go_on() {
                cut(k, s, a, b, plan, &ranges)
            } else {
                Cut {
                    section: s,
                    steps: Vec::new(),
                }
            }
        })
        .collect();
    if !go_on() {
        return None;
    }
    let mut out = PairPanel {
        compare: compare.id.clone(),
        name: name.clone(),
        relation: compare.relation,
        sides: compare.sides,
        plan,
        closed: compare.closed,
        sections: Vec::new(),
        steps: Vec::new(),
        worst: None,
        joint: None,
        bands: Vec::new(),
        not_seen: 1.0,
    };
    let mut places = Vec::new();
    let asked = cuts.len() * ranges.len();
    for c in cuts {
        for (step, place) in c.steps {
            if let Some(mut place) = place {
                place.step = out.steps.len();
                places.push(place);
            }
            out.steps.push(step);
        }
        out.sections.push(c.section);
    }
    out.not_seen = 1.0 - places.len() as f64 / asked.max(1) as f64;
    weigh(&mut out, &places, &placed, a, b, seed, draws);
    Some(out)
}

/// Length of a's edge, as far as its stations go, mm.
fn edge_length(compare: &MeasuredCompare) -> f64 {
    let s = &compare.stations;
    let open: f64 = s.windows(2).map(|w| (w[1].a - w[0].a).norm()).sum();
    match (s.first(), s.last()) {
        (Some(first), Some(last)) if compare.closed => open + (first.a - last.a).norm(),
        _ => open,
    }
}

/// Sections at stations of the comparison, `every` mm apart or a little more.
fn stations(compare: &MeasuredCompare, length: f64, every: f64) -> Vec<Section> {
    let mut found: Vec<Section> = Vec::new();
    let (mut along, mut before) = (0.0, None::<geom::Point>);
    for s in &compare.stations {
        if let Some(p) = before {
            along += (s.a - p).norm();
        }
        before = Some(s.a);
        let last = found.last().map(|f| f.along_mm);
        let round = compare.closed && found.len() > 1 && length - along < 0.8 * every;
        if last.is_some_and(|l| along - l < every - 0.05) || round {
            continue;
        }
        found.push(Section {
            place: s.place.clone(),
            share: s.share,
            along_mm: along,
            edge: s.a,
            tangent: s.tangent,
            panel: SheetAxes {
                along: -s.gap_dir,
                out: s.flush_dir,
            },
            flange: None,
        });
    }
    found
}

/// The doubt of laying b on a by their edges.
struct Laying {
    /// Covariance of shift and turn about the origin of a's part axes.
    covariance: Matrix6<f64>,
    nu: f64,
}

impl Laying {
    fn of(compare: &MeasuredCompare) -> Option<Self> {
        let spots: Vec<Spot> = compare
            .stations
            .iter()
            .map(|s| (s.a, s.gap_dir, s.flush_dir))
            .collect();
        let spreads = [compare.a_spread.as_ref()?, compare.b_spread.as_ref()?];
        let mut covariance = Matrix6::zeros();
        for spread in spreads {
            covariance += pose_covariance(&spots, spread)?;
        }
        Some(Self {
            covariance,
            nu: spreads[0].nu.min(spreads[1].nu),
        })
    }

    /// How far a place goes outward with the six motions.
    fn row(p: &Place) -> Vector6<f64> {
        let turn = p.p.coords.cross(&p.out);
        Vector6::new(p.out.x, p.out.y, p.out.z, turn.x, turn.y, turn.z)
    }

    fn of_place(&self, p: &Place) -> Uncertain {
        let row = Self::row(p);
        let var = (row.transpose() * self.covariance * row)[0];
        Uncertain::new(var.max(0.0).sqrt(), self.nu)
    }
}

/// One section on both sides.
fn cut(
    index: usize,
    mut section: Section,
    a: &View<'_>,
    b: &View<'_>,
    plan: SectionPlan,
    ranges: &[[f64; 2]],
) -> Cut {
    let mut steps = sheet(
        index,
        &section,
        section.panel,
        SheetKind::Panel,
        [a, b],
        plan,
        ranges,
    );
    section.flange = flange(&section, a, plan);
    if let Some(axes) = section.flange {
        let down: Vec<[f64; 2]> = ranges
            .iter()
            .copied()
            .take_while(|r| r[1] <= FLANGE + 1e-9)
            .collect();
        // Flanges are for the drawing: the map is of the panel.
        let of_flange = sheet(
            index,
            &section,
            axes,
            SheetKind::Flange,
            [a, b],
            plan,
            &down,
        );
        steps.extend(of_flange.into_iter().map(|(step, _)| (step, None)));
    }
    Cut { section, steps }
}

/// The direction of a's return flange in the section plane, from its points 3 mm to 10 mm down.
fn flange(section: &Section, a: &View<'_>, plan: SectionPlan) -> Option<SheetAxes> {
    let straight = SheetAxes {
        along: -section.panel.out,
        out: -section.panel.along,
    };
    let mut points = a.strip(
        &section.edge,
        &section.tangent,
        &straight,
        plan.every_mm / 2.0,
        [BAND, FLANGE],
    );
    // Not the far side of the opening, nor a lip under it.
    points.retain(|p| p[2].abs() < 1.0 + 0.5 * p[1]);
    if points.len() < 12 {
        return None;
    }
    let n = points.len() as f64;
    let mean = |k: usize| points.iter().map(|p| p[k]).sum::<f64>() / n;
    let (t, h) = (mean(1), mean(2));
    let (mut tt, mut th) = (0.0, 0.0);
    for p in &points {
        tt += (p[1] - t).powi(2);
        th += (p[1] - t) * (p[2] - h);
    }
    if tt < n {
        return None;
    }
    let slope = th / tt;
    let along =
        Unit::new_normalize(straight.along.into_inner() + straight.out.into_inner() * slope);
    Some(SheetAxes {
        along,
        out: Unit::new_normalize(straight.out.into_inner() - straight.along.into_inner() * slope),
    })
}

/// The steps of one sheet of a section.
fn sheet(
    index: usize,
    section: &Section,
    axes: SheetAxes,
    kind: SheetKind,
    views: [&View<'_>; 2],
    plan: SectionPlan,
    ranges: &[[f64; 2]],
) -> Vec<(SectionStep, Option<Place>)> {
    let (Some(first), Some(last)) = (ranges.first(), ranges.last()) else {
        return Vec::new();
    };
    let half = [plan.every_mm / 2.0, plan.step_mm / 2.0];
    let walked = views.map(|v| {
        let all = v.strip(
            &section.edge,
            &section.tangent,
            &axes,
            half[0],
            [first[0], last[1]],
        );
        walk(&all, ranges)
    });
    ranges
        .iter()
        .enumerate()
        .map(|(k, range)| {
            let middle = f64::midpoint(range[0], range[1]);
            let about = |p: &[f64; 3]| [p[0], p[1] - middle, p[2]];
            let [x, y] = [0, 1].map(|i: usize| walked[i][k].iter().map(about).collect::<Vec<_>>());
            let mut step = SectionStep {
                section: index,
                sheet: kind,
                from_edge_mm: middle,
                a: None,
                b: None,
                difference: None,
                proven: false,
            };
            let Some(two) = fit_two_sheets([&x, &y], half) else {
                return (step, None);
            };
            let level = |i: usize| {
                two.levels[i].as_ref().map(|l| {
                    let film = Uncertain::new(views[i].film.u_mm, f64::INFINITY);
                    let own = Uncertain::combined(&[views[i].noise.uncertainty(&l.of), film]);
                    figure(l.height, &own, Source::Noise)
                })
            };
            (step.a, step.b) = (level(0), level(1));
            let place = two.apart.map(|apart| {
                let [s, t] = two.slope;
                // Two sheets one above the other are nearer to each other than their heights are.
                let lean = 1.0 / (1.0 + s * s + t * t).sqrt();
                let height = step
                    .a
                    .zip(step.b)
                    .map_or(0.0, |(a, b)| f64::midpoint(a.value, b.value));
                let p = section.edge
                    + axes.along.into_inner() * middle
                    + axes.out.into_inner() * height;
                let out: Vector = axes.out.into_inner()
                    - section.tangent.into_inner() * s
                    - axes.along.into_inner() * t;
                Place {
                    step: 0,
                    at: [index, k],
                    value: apart * lean,
                    noise: noise(views, &two.apart_of).scaled(lean),
                    p,
                    out: Unit::new_normalize(out),
                }
            });
            (step, place)
        })
        .collect()
}

/// Doubt of a difference by the noise of both sides; of one visit the two are of one noise.
fn noise(views: [&View<'_>; 2], of: &[Lagged; 2]) -> Uncertain {
    if views[0].visit == views[1].visit {
        return views[0].noise.uncertainty(&of[0].clone().plus(&of[1]));
    }
    let each = [0, 1].map(|i: usize| views[i].noise.uncertainty(&of[i]));
    Uncertain::combined(&each)
}

fn figure(value: f64, own: &Uncertain, source: Source) -> Figure {
    Figure {
        value,
        u95: own.u95,
        nu: own.nu,
        source,
        quantity: Quantity::Length,
    }
}

/// Gives every difference its give-or-take, weighs all of them together and makes the map.
fn weigh(
    out: &mut PairPanel,
    places: &[Place],
    laid: &Laying,
    a: &View<'_>,
    b: &View<'_>,
    seed: u64,
    draws: u32,
) {
    if places.is_empty() {
        return;
    }
    let film = Uncertain::new(a.film.u_mm.hypot(b.film.u_mm), f64::INFINITY);
    let mut nu = f64::INFINITY;
    for p in places {
        let by_laying = laid.of_place(p);
        let all = Uncertain::combined(&[p.noise, by_laying, film]);
        nu = nu.min(p.noise.nu);
        let source = if by_laying.s > p.noise.s {
            Source::EdgeSight
        } else {
            Source::Noise
        };
        out.steps[p.step].difference = Some(figure(p.value, &all, source));
    }
    let rows = doubt(places, laid, film.s, [a, b], out.plan);
    let values = DVector::from_iterator(places.len(), places.iter().map(|p| p.value));
    let areas = together(places, out.sections.len(), out.closed);
    let mean = DMatrix::from_fn(areas.len(), places.len(), |i, j| {
        if areas[i].of.contains(&j) {
            1.0 / areas[i].of.len() as f64
        } else {
            0.0
        }
    });
    // What the edges lay, and what is left once the panels themselves are laid on each other: a bulge that is lost in the
    // doubt of the edges stands out there.
    let (left, left_rows) = left_over(places, &values, &rows);
    let (n, m) = (places.len(), areas.len());
    let mut d: Vec<f64> = Vec::with_capacity(2 * (n + m));
    let mut all = DMatrix::zeros(2 * (n + m), rows.ncols());
    for (k, (v, r)) in [(&values, &rows), (&left, &left_rows)]
        .into_iter()
        .enumerate()
    {
        d.extend(v.iter());
        d.extend((&mean * v).iter());
        all.rows_mut(k * (n + m), n).copy_from(r);
        all.rows_mut(k * (n + m) + n, m).copy_from(&(&mean * r));
    }
    let found = odds(&d, &all, nu, seed, draws);
    let u = doubts(&all);
    let sure = |i: usize, o: &Odds| o.p < 0.05 && d[i].abs() > o.limit * u[i];
    if let Some(o) = &found {
        for (i, p) in places.iter().enumerate() {
            // Where both are sure of opposite signs it is the shown one that counts.
            let alike = d[i] * d[i + n + m] > 0.0;
            out.steps[p.step].proven = sure(i, o) || (alike && sure(i + n + m, o));
        }
    }
    // Of what is proven the one that is most beyond its give-or-take, as the edges lay it before what is left over; else
    // the one that comes nearest to being proven.
    let limit = found.as_ref().map_or(2.0, |o| o.limit);
    let beyond = |i: usize| d[i].abs() - limit * u[i];
    let share = |i: usize| d[i].abs() / u[i];
    let proven = found
        .as_ref()
        .is_some_and(|o| (0..d.len()).any(|i| sure(i, o)));
    let by_edges = found
        .as_ref()
        .is_none_or(|o| !proven || (0..n + m).any(|i| sure(i, o)));
    let asked = if by_edges {
        0..n + m
    } else {
        n + m..2 * (n + m)
    };
    let score = |i: usize| if proven { beyond(i) } else { share(i) };
    let Some(worst) = asked.max_by(|i, j| score(*i).total_cmp(&score(*j))) else {
        return;
    };
    let (centre, over) = match (worst % (n + m)).checked_sub(n) {
        None => (worst % (n + m), [out.plan.every_mm, out.plan.step_mm]),
        Some(k) => (
            areas[k].centre,
            [3.0 * out.plan.every_mm, 3.0 * out.plan.step_mm],
        ),
    };
    let step = &out.steps[places[centre].step];
    let place = out.sections[step.section].place.clone();
    let own = Figure {
        value: d[worst],
        u95: u95(u[worst], nu),
        nu,
        source: step.difference.map_or(Source::Noise, |f| f.source),
        quantity: Quantity::Length,
    };
    out.joint = found.as_ref().map(|o| JointVerdict {
        proven: o.p < 0.05,
        p: o.p,
        largest: format!("panel, {place}, {:.0} mm from the edge", step.from_edge_mm),
        figures: d.len(),
        within_mm: Some(
            o.limit
                * u.iter()
                    .copied()
                    .filter(|u| u.is_finite())
                    .fold(0.0, f64::max),
        ),
    });
    out.worst = Some(WorstPanel {
        section: step.section,
        from_edge_mm: step.from_edge_mm,
        place,
        over_mm: over,
        difference: own,
        local: !by_edges,
        proven,
    });
    out.bands = bands(out);
}

/// What is left of the differences once the panels are laid on each other by least squares, and its doubt. That of laying
/// them by their edges is gone from it.
fn left_over(
    places: &[Place],
    values: &DVector<f64>,
    rows: &DMatrix<f64>,
) -> (DVector<f64>, DMatrix<f64>) {
    let mut design = DMatrix::from_fn(places.len(), 6, |i, m| Laying::row(&places[i])[m]);
    // Columns of like size, so that the rank is told from shapes and not from units.
    for mut c in design.column_iter_mut() {
        let norm = c.norm();
        if norm > 0.0 {
            c /= norm;
        }
    }
    let svd = design.svd(true, false);
    let Some(basis) = svd.u else {
        return (values.clone(), rows.clone());
    };
    let kept: Vec<usize> = (0..svd.singular_values.len())
        .filter(|&k| svd.singular_values[k] > 1e-4)
        .collect();
    let basis = basis.select_columns(&kept);
    (
        values - &basis * (basis.tr_mul(values)),
        rows - &basis * (basis.tr_mul(rows)),
    )
}

/// The joint doubt of all differences as rows of factors: noise, which neighbours share, the laying of b on a, which all
/// share, and the film.
fn doubt(
    places: &[Place],
    laid: &Laying,
    film: f64,
    views: [&View<'_>; 2],
    plan: SectionPlan,
) -> DMatrix<f64> {
    let n = places.len();
    let side = (plan.every_mm * plan.step_mm).sqrt();
    let cells = views.map(|v| v.cells.of_cells(side, READINGS));
    let mut c = DMatrix::zeros(n, n);
    for i in 0..n {
        c[(i, i)] = places[i].noise.s.powi(2);
        for j in 0..i {
            let apart = (places[i].p - places[j].p).norm();
            let shared: f64 = cells
                .iter()
                .filter(|c| apart < c.reach)
                .map(|c| c.between(apart))
                .sum();
            // No two of them are more alike than each is with itself.
            let most = 0.95 * places[i].noise.s * places[j].noise.s;
            c[(i, j)] = shared.min(most);
            c[(j, i)] = c[(i, j)];
        }
    }
    let noise = factor(&c);
    let laying = geom::covariance_factor(&DMatrix::from_fn(6, 6, |i, j| laid.covariance[(i, j)]));
    let six = DMatrix::from_fn(n, 6, |i, m| Laying::row(&places[i])[m]);
    let by_laying = six * laying;
    let (w, l) = (noise.ncols(), by_laying.ncols());
    let mut rows = DMatrix::zeros(n, w + l + 1);
    rows.columns_mut(0, w).copy_from(&noise);
    rows.columns_mut(w, l).copy_from(&by_laying);
    rows.column_mut(w + l).fill(film);
    rows
}

/// Neighbouring places taken together.
struct Area {
    /// Index of the one in the middle.
    centre: usize,
    of: Vec<usize>,
}

/// Every place with its neighbours along the edge and away from it, where enough of them were seen.
fn together(places: &[Place], sections: usize, closed: bool) -> Vec<Area> {
    let index = |at: [usize; 2]| places.iter().position(|p| p.at == at);
    let mut found = Vec::new();
    for (centre, p) in places.iter().enumerate() {
        let mut of = Vec::new();
        for ds in 0..3 {
            let s = p.at[0] + ds;
            let s = match s {
                0 if closed => sections - 1,
                0 => continue,
                s if s > sections && closed => 0,
                s if s > sections => continue,
                s => s - 1,
            };
            for dt in 0..3 {
                if let Some(t) = (p.at[1] + dt).checked_sub(1) {
                    of.extend(index([s, t]));
                }
            }
        }
        if of.len() >= FEWEST_TOGETHER {
            found.push(Area { centre, of });
        }
    }
    found
}

/// A few flat bands that hold all differences, from the lowest; one of them lies about zero.
fn bands(panel: &PairPanel) -> Vec<PanelBand> {
    let found: Vec<(f64, bool)> = panel
        .steps
        .iter()
        .filter(|s| s.sheet == SheetKind::Panel)
        .filter_map(|s| Some((s.difference?.value, s.proven)))
        .collect();
    let most = found.iter().map(|f| f.0.abs()).fold(0.0, f64::max);
    // The middle band reaches half a width to either side of zero, and there are at most three beyond it.
    let wanted = most / 3.5;
    let decade = 10f64.powi(wanted.max(1e-3).log10().floor() as i32);
    let width = WIDTHS
        .iter()
        .map(|w| w * decade)
        .find(|w| *w >= wanted)
        .unwrap_or(10.0 * decade);
    let band = |v: f64| (v / width).round() as i32;
    let reach = found.iter().map(|f| band(f.0).abs()).max().unwrap_or(0);
    let n = found.len().max(1) as f64;
    (-reach..=reach)
        .map(|k| {
            let of = found.iter().filter(|f| band(f.0) == k);
            PanelBand {
                from_mm: (f64::from(k) - 0.5) * width,
                to_mm: (f64::from(k) + 0.5) * width,
                share: of.clone().count() as f64 / n,
                proven_share: of.filter(|f| f.1).count() as f64 / n,
            }
        })
        .collect()
}
