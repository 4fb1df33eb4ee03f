//! A gap between two panels, station by station: how wide, and which panel stands proud.
//!
//! In the section plane of a station both panels are followed away from the gap. The step between them is taken in the
//! middle of the gap, both panels carried on to there with one bend for both, so that the crown of the body is not taken
//! for a step. The gap is the distance of the walls (return flanges) a little below the panels, where a gauge sits; where
//! no walls were seen it is the distance of the ends of the panels.

use geom::{Lagged, NoiseModel, Point, Polyline, Uncertain, Unit, Vector, t_sf};
use nalgebra::{SMatrix, SVector};
use record::{
    Code, Figure, Finding, GapDifference, GapPick, GapStation, GapTrack, Job, Measured, PanelGap,
    Quantity, Scans, Severity, Source,
};

use crate::measure::{Surface, assumed_noise};

/// Width beside the end of a panel that is left out, mm: it holds the bend radius and softened edges.
const BAND: f64 = 3.0;
/// A section takes in at most this much to either side of its plane, mm.
const HALF: f64 = 6.0;
/// A normal is that of a panel within this cosine of the outward direction.
const PANEL: f64 = 0.8;
/// A normal is that of a wall from this cosine on with the direction across the gap.
const WALL: f64 = 0.8;
/// Walls are taken from this depth below the panel to that, mm, and the gap is given at the one between.
const DEPTHS: [f64; 2] = [1.5, 6.5];
const AT_DEPTH: f64 = 3.0;
/// The widest gap, mm.
const WIDEST: f64 = 30.0;
/// Fewer points do not speak for a panel or a wall.
const FEWEST: usize = 12;
/// Points more than this many scales off are left out.
const CUT: f64 = 3.5;
/// Terms of a panel: height and slope across of either, one slope along, one bend.
const TERMS: usize = 6;

/// A gap of the job on both sides, with what has to be said of it.
pub(super) fn gap(
    job: &Job,
    scans: &Scans,
    measured: &Measured,
    pick: &GapPick,
    findings: &mut Vec<Finding>,
) -> PanelGap {
    let mut side = |track: Option<&GapTrack>, word: &str| {
        let Some(track) = track else {
            return Vec::new();
        };
        let found = follow(job, scans, measured, pick, track);
        let lost = found
            .iter()
            .filter(|s| s.gap.is_none() || s.flush.is_none())
            .count();
        if found.is_empty() || lost > 0 {
            findings.push(not_seen(pick, word, lost, found.len()));
        }
        found
    };
    let left = side(pick.left.as_ref(), "left");
    let right = side(pick.right.as_ref(), "right");
    PanelGap {
        name: pick.name.clone(),
        panels: [pick.first.clone(), pick.second.clone()],
        differences: differences(&left, &right),
        left,
        right,
    }
}

fn not_seen(pick: &GapPick, side: &str, lost: usize, of: usize) -> Finding {
    Finding {
        code: Code::GapNotSeen,
        severity: if 2 * lost >= of {
            Severity::Doubt
        } else {
            Severity::Note
        },
        subject: pick.name.clone(),
        says: if of == 0 {
            format!(
                "{}, {side}: no gap was found along the points picked",
                pick.name
            )
        } else {
            format!(
                "{}, {side}: at {lost} of {of} places the gap or one of its panels was not seen; nothing is guessed there",
                pick.name
            )
        },
        advice: "pick more points along the gap, or scan both panels 25 mm wide beside it"
            .to_owned(),
        numbers: Vec::new(),
    }
}

/// The stations of one side; empty where its scan is not there or the points picked make no line.
fn follow(
    job: &Job,
    scans: &Scans,
    measured: &Measured,
    pick: &GapPick,
    track: &GapTrack,
) -> Vec<GapStation> {
    let Some(scan) = scans.get(&track.scan) else {
        return Vec::new();
    };
    let Some(line) = Polyline::new(track.along.iter().copied(), false) else {
        return Vec::new();
    };
    let visit = job
        .scans
        .iter()
        .find(|s| s.id == track.scan)
        .map(|s| &s.visit);
    let known = measured.noise.iter().find(|n| Some(&n.visit) == visit);
    let noise = known.map_or_else(assumed_noise, |n| n.model.clone());
    let surface = Surface::new(scan);
    let length = line.length();
    let count = (length / pick.every_mm).floor().max(1.0) as usize;
    let half = HALF.min(length / count as f64 / 2.0);
    let mut towards_second: Option<Vector> = None;
    (0..=count)
        .map(|k| {
            // Half a section inside either end.
            let share = k as f64 / count as f64;
            let s = (share * length).clamp(half, (length - half).max(half));
            let mut station = GapStation {
                share,
                from_start_mm: s,
                gap: None,
                flush: None,
                by_walls: false,
                at: line.point_at(s),
            };
            let tangent = line.chord_at(s, half);
            let Some(place) = Place::at(&surface, station.at, tangent, pick, track, towards_second)
            else {
                return station;
            };
            towards_second = Some(place.across.into_inner());
            place.measure(&surface, half, pick.reach_mm, &noise, 2, &mut station);
            station
        })
        .collect()
}

/// A station with its directions.
struct Place {
    at: Point,
    along: Unit,
    /// From the first panel to the second.
    across: Unit,
    out: Unit,
}

impl Place {
    /// The outward direction is that of the panels round the station.
    fn at(
        surface: &Surface,
        at: Point,
        along: Unit,
        pick: &GapPick,
        track: &GapTrack,
        before: Option<Vector>,
    ) -> Option<Self> {
        let mut points: Vec<Point> = Vec::new();
        let mut normals = Vector::zeros();
        surface.in_ball(&at, pick.reach_mm, |slot, p| {
            points.push(p);
            normals += surface.normal(slot);
        });
        if points.len() < 3 * FEWEST {
            return None;
        }
        let middle =
            Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / points.len() as f64);
        let spread: nalgebra::Matrix3<f64> = points
            .iter()
            .map(|p| (p - middle) * (p - middle).transpose())
            .sum();
        let eigen = nalgebra::SymmetricEigen::new(spread);
        let flat = eigen
            .eigenvectors
            .column(eigen.eigenvalues.imin())
            .into_owned();
        let wanted = match (track.outward, surface.oriented) {
            (Some(v), _) => v,
            (None, true) => normals,
            (None, false) => return None,
        };
        let flat = if flat.dot(&wanted) < 0.0 { -flat } else { flat };
        let along = Unit::try_new(along.into_inner() - flat * flat.dot(&along), 1e-6)?;
        let out = Unit::try_new(flat, 1e-9)?;
        let across = out.cross(&along);
        let first = before.map_or_else(|| track.on_first - at, |b| -b);
        let across = if across.dot(&first) > 0.0 {
            -across
        } else {
            across
        };
        Some(Self {
            at,
            along,
            across: Unit::try_new(across, 1e-9)?,
            out,
        })
    }

    /// Measures the station; the directions are set square to the panels so many times before.
    fn measure(
        &self,
        surface: &Surface,
        half: f64,
        reach: f64,
        noise: &NoiseModel,
        again: u8,
        station: &mut GapStation,
    ) {
        let mut panel: Vec<[f64; 3]> = Vec::new();
        let mut walls: [Vec<[f64; 3]>; 2] = [Vec::new(), Vec::new()];
        let radius = (reach + WIDEST / 2.0).hypot(half) + 2.0;
        surface.in_ball(&self.at, radius, |slot, p| {
            let d = p - self.at;
            let (s, x, h) = (d.dot(&self.along), d.dot(&self.across), d.dot(&self.out));
            if s.abs() > half {
                return;
            }
            let n = surface.normal(slot);
            if surface.agreement(&n, &self.out) >= PANEL {
                panel.push([s, x, h]);
            }
            // The wall of the first panel faces the second.
            let faces = n.dot(&self.across);
            if faces.abs() >= WALL {
                let first = if surface.oriented { faces > 0.0 } else { true };
                if first {
                    walls[0].push([s, x, h]);
                }
                if !first || !surface.oriented {
                    walls[1].push([s, x, h]);
                }
            }
        });
        let Some([low, high]) = between(&panel) else {
            return;
        };
        let middle = f64::midpoint(low, high);
        let Some(step) = Step::fit(&panel, [low, high], middle, reach) else {
            return;
        };
        // Out is square to both panels where they would meet: a step between them does not lean it.
        if again > 0 {
            let lean = f64::midpoint(step.slope[0], step.slope[1]);
            let out = self.out.into_inner()
                - self.across.into_inner() * lean
                - self.along.into_inner() * step.along;
            let out = Unit::new_normalize(out);
            let along = self.along.into_inner() - out.into_inner() * out.dot(&self.along);
            let along = Unit::new_normalize(along);
            let across = out.cross(&along);
            let across = if across.dot(&self.across) < 0.0 {
                -across
            } else {
                across
            };
            let level = Self {
                at: self.at,
                along,
                across: Unit::new_normalize(across),
                out,
            };
            level.measure(surface, half, reach, noise, again - 1, station);
            return;
        }
        station.at = self.at
            + self.across.into_inner() * middle
            + self.out.into_inner() * f64::midpoint(step.heights[0], step.heights[1]);
        station.flush = Some(length(
            step.heights[0] - step.heights[1],
            noise.uncertainty(&step.of),
            Source::Noise,
        ));
        let found = [0, 1].map(|k: usize| {
            let end = if k == 0 { low } else { high };
            let level = step.heights[k];
            let depth = |p: &[f64; 3]| level + step.slope[k] * (p[1] - middle) - p[2];
            let near: Vec<[f64; 3]> = walls[k]
                .iter()
                .filter(|p| {
                    let inside = if k == 0 {
                        p[1] < middle + 0.5
                    } else {
                        p[1] > middle - 0.5
                    };
                    inside && (p[1] - end).abs() < 4.0 && (DEPTHS[0]..DEPTHS[1]).contains(&depth(p))
                })
                .map(|p| [p[0], depth(p), p[1]])
                .collect();
            wall(&near)
        });
        let (gap, doubt) = if let [Some((a, of_a)), Some((b, of_b))] = found {
            station.by_walls = true;
            (b - a, noise.uncertainty(&of_a.plus(&of_b)))
        } else {
            // Each end lies up to a spacing behind the last point, evenly spread (JCGM 100:2008, 4.3.7).
            let spacing = surface.spacing();
            let u = spacing / 12_f64.sqrt() * 2_f64.sqrt();
            (high - low - spacing, Uncertain::new(u, f64::INFINITY))
        };
        let source = if station.by_walls {
            Source::Noise
        } else {
            Source::EdgeSight
        };
        if gap > 0.0 {
            station.gap = Some(length(gap, doubt, source));
        }
    }
}

fn length(value: f64, own: Uncertain, source: Source) -> Figure {
    Figure {
        value,
        u95: own.u95,
        nu: own.nu,
        source,
        quantity: Quantity::Length,
    }
}

/// The widest stretch across without panel round the station; `None` where there is none or it is not a gap.
fn between(panel: &[[f64; 3]]) -> Option<[f64; 2]> {
    let mut x: Vec<f64> = panel.iter().map(|p| p[1]).collect();
    x.sort_by(f64::total_cmp);
    // Single strays in the gap part it no more than they should: a run of few points is passed over.
    let mut best: Option<[f64; 2]> = None;
    for w in x.windows(2) {
        let near = w[0] < WIDEST / 2.0 && w[1] > -WIDEST / 2.0;
        if near && best.is_none_or(|b| w[1] - w[0] > b[1] - b[0]) {
            best = Some([w[0], w[1]]);
        }
    }
    let count = |keep: &dyn Fn(f64) -> bool| x.iter().filter(|v| keep(**v)).count();
    best.filter(|[low, high]| {
        (0.4..WIDEST).contains(&(high - low))
            && count(&|v| v <= *low) >= FEWEST
            && count(&|v| v >= *high) >= FEWEST
    })
}

/// Both panels carried on to the middle of the gap.
struct Step {
    heights: [f64; 2],
    slope: [f64; 2],
    along: f64,
    /// What the variance of their difference needs to know.
    of: Lagged,
}

impl Step {
    fn fit(panel: &[[f64; 3]], [low, high]: [f64; 2], middle: f64, reach: f64) -> Option<Self> {
        let mut rows: Vec<(SVector<f64, TERMS>, f64, [f64; 3])> = panel
            .iter()
            .filter_map(|p| {
                let k = usize::from(p[1] > middle);
                let beside = if k == 0 { low - p[1] } else { p[1] - high };
                let x = (p[1] - middle) / reach;
                (BAND..reach).contains(&beside).then(|| {
                    let mut r = SVector::zeros();
                    r[2 * k] = 1.0;
                    r[2 * k + 1] = x;
                    r[4] = p[0] / reach;
                    r[5] = x * x;
                    (r, p[2], *p)
                })
            })
            .collect();
        for round in 0..5 {
            let enough = |k: usize| rows.iter().filter(|r| r.0[2 * k] > 0.0).count() >= FEWEST;
            if !enough(0) || !enough(1) {
                return None;
            }
            let mut m = SMatrix::<f64, TERMS, TERMS>::zeros();
            let mut v = SVector::<f64, TERMS>::zeros();
            for (r, h, _) in &rows {
                m += r * r.transpose();
                v += r * *h;
            }
            let normal = m.cholesky()?;
            let solved = normal.solve(&v);
            let off = |r: &(SVector<f64, TERMS>, f64, [f64; 3])| (r.1 - r.0.dot(&solved)).abs();
            let mut size: Vec<f64> = rows.iter().map(off).collect();
            let half = size.len() / 2;
            let scale = 1.4826 * *size.select_nth_unstable_by(half, f64::total_cmp).1;
            let before = rows.len();
            let kept: Vec<_> = rows
                .iter()
                .filter(|r| off(r) <= CUT * scale.max(1e-6))
                .copied()
                .collect();
            if kept.len() == before || round == 4 {
                let g = SVector::from([1.0, 0.0, -1.0, 0.0, 0.0, 0.0]);
                let g = normal.solve(&g);
                let places: Vec<[f64; 3]> = rows.iter().map(|r| r.2).collect();
                let b: Vec<f64> = rows.iter().map(|r| r.0.dot(&g)).collect();
                return Some(Self {
                    heights: [solved[0], solved[2]],
                    slope: [solved[1] / reach, solved[3] / reach],
                    along: solved[4] / reach,
                    of: Lagged::of_places(&places, &b),
                });
            }
            rows = kept;
        }
        None
    }
}

/// Where a wall stands across the gap at [`AT_DEPTH`], from points (along, depth, across).
fn wall(points: &[[f64; 3]]) -> Option<(f64, Lagged)> {
    if points.len() < FEWEST {
        return None;
    }
    let mut kept: Vec<[f64; 3]> = points.to_vec();
    for _ in 0..20 {
        let mut m = SMatrix::<f64, 3, 3>::zeros();
        let mut v = SVector::<f64, 3>::zeros();
        let row = |p: &[f64; 3]| SVector::from([1.0, p[1] - AT_DEPTH, p[0]]);
        for p in &kept {
            let r = row(p);
            m += r * r.transpose();
            v += r * p[2];
        }
        let normal = m.cholesky()?;
        let solved = normal.solve(&v);
        let off = |p: &[f64; 3]| (p[2] - row(p).dot(&solved)).abs();
        let mut size: Vec<f64> = kept.iter().map(off).collect();
        let half = size.len() / 2;
        let scale = 1.4826 * *size.select_nth_unstable_by(half, f64::total_cmp).1;
        let next: Vec<[f64; 3]> = points
            .iter()
            .filter(|p| off(p) <= CUT * scale.max(1e-6))
            .copied()
            .collect();
        if next.len() == kept.len() {
            let g = normal.solve(&SVector::from([1.0, 0.0, 0.0]));
            let b: Vec<f64> = kept.iter().map(|p| row(p).dot(&g)).collect();
            return Some((solved[0], Lagged::of_places(&kept, &b)));
        }
        if next.len() < FEWEST {
            return None;
        }
        kept = next;
    }
    None
}

/// Left minus right by share of the length; both have the same shares where both have as many stations, else the nearest
/// of the right is taken. Proven holds for all figures of the gap together (Holm's steps at 5 %).
fn differences(left: &[GapStation], right: &[GapStation]) -> Vec<GapDifference> {
    let mut found: Vec<GapDifference> = Vec::new();
    for l in left {
        let near = right.iter().min_by(|a, b| {
            (a.share - l.share)
                .abs()
                .total_cmp(&(b.share - l.share).abs())
        });
        let Some(r) = near else { continue };
        let minus = |a: Option<Figure>, b: Option<Figure>| {
            let (a, b) = (a?, b?);
            let own = |f: &Figure| {
                let t = geom::t_quantile(0.975, f.nu);
                Uncertain::new(f.u95 / t, f.nu)
            };
            let both = Uncertain::combined(&[own(&a), own(&b)]);
            let source = if a.u95 > b.u95 { a.source } else { b.source };
            Some(length(a.value - b.value, both, source))
        };
        found.push(GapDifference {
            share: l.share,
            gap: minus(l.gap, r.gap),
            flush: minus(l.flush, r.flush),
            proven: [false; 2],
        });
    }
    let chance = |f: &Figure| {
        let u = f.u95 / geom::t_quantile(0.975, f.nu);
        2.0 * t_sf(f.value.abs() / u, f.nu)
    };
    let mut order: Vec<(f64, usize, usize)> = Vec::new();
    for (i, d) in found.iter().enumerate() {
        for (k, f) in [d.gap, d.flush].into_iter().enumerate() {
            order.extend(f.map(|f| (chance(&f), i, k)));
        }
    }
    order.retain(|o| o.0.is_finite());
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (step, (p, i, k)) in order.iter().enumerate() {
        if *p > 0.05 / (order.len() - step) as f64 {
            break;
        }
        found[*i].proven[*k] = true;
    }
    found
}

#[cfg(test)]
mod tests;
