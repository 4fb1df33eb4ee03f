//! From a fitted edge to the figures of an opening: stations, sizes, corners, gaps.

use geom::{ArcPath, Point, Polyline, Rigid, Unit, u95};
use nalgebra::{DMatrix, DVector, Point2};
use record::{
    CornerRadius, Dimension, EdgeGap, EdgeSpread, EdgeStation, Figure, MeasuredEdge, Quantity,
    Source,
};

use super::edge_fit::FittedEdge;
use super::strip_noise::StripNoise;

/// Lines and arcs keep within this of the edge, mm, or within this many standard uncertainties: closer they would
/// follow the noise.
const PIECES_WITHIN: f64 = 0.1;
const PIECES_DOUBTS: f64 = 4.5;
/// Distance of stations aimed at, and their number, mm.
const STATION_STEP: f64 = 5.0;
const FEWEST: f64 = 64.0;
const MOST: f64 = 200.0;
/// Arcs that turn less than this are no corners, degrees.
const CORNER_TURN: f64 = 35.0;
/// Arcs of a radius above this share of the length of the edge are sides, not corners.
const LARGEST_CORNER: f64 = 0.17;
/// Share of a corner that is used for its radius: its ends run into the sides.
const CORNER_USED: f64 = 0.75;
/// Half the turn within which calipers look for the least width, radians, and the number of tries.
const CALIPER_TURN: f64 = 0.10;
const CALIPER_TRIES: i32 = 20;

/// The stations of `fitted` as a share of its length.
pub fn station_shares(fitted: &FittedEdge) -> Vec<f64> {
    let n = (fitted.length / STATION_STEP).round().clamp(FEWEST, MOST) as usize;
    if fitted.closed {
        (0..n).map(|i| i as f64 / n as f64).collect()
    } else {
        (0..n).map(|i| i as f64 / (n - 1) as f64).collect()
    }
}

/// The edge dense, in order, in the axes given; about 0.8 mm apart.
pub fn dense(fitted: &FittedEdge, a_from_scan: impl Fn(&Point) -> Point) -> Vec<Point> {
    let n = (fitted.length / 0.8).ceil().max(64.0) as usize;
    let count = if fitted.closed { n } else { n + 1 };
    (0..count)
        .map(|i| a_from_scan(&fitted.station(i as f64 / n as f64).p))
        .collect()
}

/// A length that is a sum of station moves: weights on gap moves.
struct Linear<'a> {
    spread: &'a EdgeSpread,
}

impl Linear<'_> {
    /// Standard uncertainty of the sum of `weight` x move along the gap direction at stations.
    fn gap(&self, weights: &[(usize, f64)]) -> f64 {
        let mut row = DVector::zeros(self.spread.gap.ncols());
        for (i, w) in weights {
            row += self.spread.gap.row(*i).transpose() * *w;
        }
        row.norm()
    }

    fn flush(&self, weights: &[(usize, f64)]) -> f64 {
        let mut row = DVector::zeros(self.spread.flush.ncols());
        for (i, w) in weights {
            row += self.spread.flush.row(*i).transpose() * *w;
        }
        row.norm()
    }
}

/// All figures of an edge in part axes.
pub fn measured_edge(
    fitted: &FittedEdge,
    noise: &StripNoise,
    part_from_scan: &Rigid,
) -> MeasuredEdge {
    let shares = station_shares(fitted);
    let (gap, flush) = fitted.spread(noise, &shares);
    let spread = EdgeSpread {
        gap,
        flush,
        nu: noise.nu,
    };
    let turn = |d: &Unit| part_from_scan.rotation * d;
    let stations: Vec<EdgeStation> = shares
        .iter()
        .enumerate()
        .map(|(i, share)| {
            let s = fitted.station(*share);
            EdgeStation {
                along_mm: s.s,
                at: part_from_scan * s.p,
                tangent: turn(&s.along),
                gap_dir: turn(&s.inward),
                flush_dir: turn(&s.out),
                gap_u_mm: spread.gap.row(i).norm().hypot(fitted.bias / 2.0),
                flush_u_mm: spread.flush.row(i).norm(),
                seen: s.seen,
            }
        })
        .collect();
    let curve = dense(fitted, |p| part_from_scan * p);
    let flat: Vec<Point2<f64>> = curve
        .iter()
        .step_by(2)
        .map(|p| Point2::new(p.x, p.y))
        .collect();
    let mut gap_u: Vec<f64> = stations.iter().map(|s| s.gap_u_mm).collect();
    gap_u.sort_by(f64::total_cmp);
    let within = PIECES_WITHIN.max(PIECES_DOUBTS * gap_u[gap_u.len() / 2]);
    let (pieces, pieces_error_mm) = pieces(&flat, fitted.closed, within);
    let corners = corners(&pieces, &stations, &spread, &curve, fitted.bias);
    MeasuredEdge {
        kind: fitted.kind,
        closed: fitted.closed,
        dimensions: dimensions(fitted, &stations, &curve, &spread),
        stations,
        gaps: fitted
            .gaps()
            .into_iter()
            .map(|(from_mm, length_mm)| EdgeGap { from_mm, length_mm })
            .collect(),
        pieces,
        pieces_error_mm,
        corners,
        edge_bias_mm: fitted.bias,
        spread,
    }
}

fn pieces(flat: &[Point2<f64>], closed: bool, within: f64) -> (ArcPath, f64) {
    match geom::fit_arcs(flat, closed, within) {
        Some(fit) => (fit.path, fit.error_mm),
        None => (ArcPath::default(), f64::INFINITY),
    }
}

fn figure(value: f64, u: f64, nu: f64, quantity: Quantity) -> Figure {
    Figure {
        value,
        u95: u95(u, nu),
        nu,
        source: Source::Noise,
        quantity,
    }
}

/// Width, height, diagonals, perimeter, area, twist.
fn dimensions(
    fitted: &FittedEdge,
    stations: &[EdgeStation],
    curve: &[Point],
    spread: &EdgeSpread,
) -> Vec<Dimension> {
    if !fitted.closed {
        return vec![Dimension {
            name: "length of edge".to_owned(),
            figure: figure(
                fitted.length,
                f64::from(fitted.bias > 0.0) * fitted.bias,
                spread.nu,
                Quantity::Length,
            ),
        }];
    }
    let linear = Linear { spread };
    let nu = spread.nu;
    let mut all = Vec::new();
    let mut add = |name: &str, figure| {
        all.push(Dimension {
            name: name.to_owned(),
            figure,
        });
    };
    for (name, angle) in [("width", 0.0), ("height", std::f64::consts::FRAC_PI_2)] {
        let (value, u) = caliper(curve, stations, &linear, angle, fitted.bias);
        add(name, figure(value, u, nu, Quantity::Length));
    }
    for (name, sign) in [
        ("diagonal, upper +X to lower -X", 1.0),
        ("diagonal, upper -X to lower +X", -1.0),
    ] {
        let (half_x, half_y) = half_extents(curve);
        let d = Point2::new(sign * half_x, half_y).coords.normalize();
        let (value, u) = span(curve, stations, &linear, d.x, d.y, fitted.bias);
        add(name, figure(value, u, nu, Quantity::Length));
    }
    if let Some(line) = Polyline::new(curve.iter().copied(), true) {
        let n = stations.len();
        let step = fitted.length / n as f64;
        // The perimeter shrinks by the turn of the edge where it moves in; the area by the length.
        let turns: Vec<(usize, f64)> = (0..n)
            .map(|i| {
                let (a, b) = (
                    &stations[(i + n - 1) % n].tangent,
                    &stations[(i + 1) % n].tangent,
                );
                (i, -0.5 * a.cross(b).dot(&stations[i].flush_dir))
            })
            .collect();
        let bias = fitted.bias / 2.0;
        let u = linear.gap(&turns).hypot(bias * std::f64::consts::TAU);
        add("perimeter", figure(line.length(), u, nu, Quantity::Length));
        let strips: Vec<(usize, f64)> = (0..n).map(|i| (i, -step)).collect();
        let u = linear.gap(&strips).hypot(bias * line.length());
        add("area", figure(line.area_xy().abs(), u, nu, Quantity::Area));
    }
    let (value, u) = twist(stations, &linear);
    add(
        "twist out of its flat",
        figure(value.to_degrees(), u.to_degrees(), nu, Quantity::Angle),
    );
    all
}

fn half_extents(curve: &[Point]) -> (f64, f64) {
    let b = geom::Aabb::of(curve);
    let s = b.size();
    (s.x / 2.0, s.y / 2.0)
}

/// The least distance of two parallel jaws near direction `angle`.
fn caliper(
    curve: &[Point],
    stations: &[EdgeStation],
    linear: &Linear,
    angle: f64,
    bias: f64,
) -> (f64, f64) {
    (-CALIPER_TRIES..=CALIPER_TRIES)
        .map(|k| {
            let a = angle + CALIPER_TURN * f64::from(k) / f64::from(CALIPER_TRIES);
            span(curve, stations, linear, a.cos(), a.sin(), bias)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or((0.0, f64::INFINITY))
}

/// Extent along a direction and its standard uncertainty from the stations that touch the jaws.
fn span(
    curve: &[Point],
    stations: &[EdgeStation],
    linear: &Linear,
    c: f64,
    s: f64,
    bias: f64,
) -> (f64, f64) {
    let along = |p: &Point| c * p.x + s * p.y;
    let low = curve.iter().map(along).fold(f64::INFINITY, f64::min);
    let high = curve.iter().map(along).fold(f64::NEG_INFINITY, f64::max);
    let nearest = |target: f64| {
        (0..stations.len()).min_by(|a, b| {
            let d = |i: usize| (along(&stations[i].at) - target).abs();
            d(*a).total_cmp(&d(*b))
        })
    };
    let (Some(i), Some(j)) = (nearest(low), nearest(high)) else {
        return (high - low, f64::INFINITY);
    };
    let part = |i: usize| c * stations[i].gap_dir.x + s * stations[i].gap_dir.y;
    let u = linear.gap(&[(i, -part(i)), (j, part(j))]);
    (high - low, u.hypot(bias))
}

/// Twist of the edge out of its flat: slope of height over x y, times the height of the opening, radians.
fn twist(stations: &[EdgeStation], linear: &Linear) -> (f64, f64) {
    let n = stations.len();
    let rows = DMatrix::from_fn(n, 4, |i, k| {
        let p = stations[i].at;
        [1.0, p.x, p.y, p.x * p.y][k]
    });
    let z = DVector::from_fn(n, |i, _| stations[i].at.z);
    let height = {
        let y = stations.iter().map(|s| s.at.y);
        y.clone().fold(f64::NEG_INFINITY, f64::max) - y.fold(f64::INFINITY, f64::min)
    };
    let Some(inverse) = (rows.transpose() * &rows).try_inverse() else {
        return (0.0, f64::INFINITY);
    };
    let map = inverse * rows.transpose();
    let k = (map.row(3) * z)[0];
    let weights: Vec<(usize, f64)> = (0..n)
        .map(|i| (i, map[(3, i)] * stations[i].flush_dir.z))
        .collect();
    (k * height, linear.flush(&weights) * height)
}

/// Circles through the edge at every corner: neighbouring arcs that turn the same way and far enough together.
fn corners(
    pieces: &ArcPath,
    stations: &[EdgeStation],
    spread: &EdgeSpread,
    curve: &[Point],
    bias: f64,
) -> Vec<CornerRadius> {
    let Some(line) = Polyline::new(
        curve.iter().map(|p| Point::new(p.x, p.y, 0.0)),
        pieces.end.is_none(),
    ) else {
        return Vec::new();
    };
    let largest = LARGEST_CORNER * line.length();
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut way = 0.0;
    let mut along = 0.0;
    for s in pieces.segments() {
        let (from, length) = (along, s.length());
        along += length;
        let round = s.circle().is_some_and(|c| c.1 < largest);
        let sign = if round { s.sweep().signum() } else { 0.0 };
        if sign != 0.0 && sign == way {
            if let Some(run) = runs.last_mut() {
                run.push((from, s.sweep()));
            }
        } else if sign != 0.0 {
            runs.push(vec![(from, s.sweep())]);
        }
        way = sign;
    }
    let segments = pieces.segments();
    let mut found = Vec::new();
    for run in runs {
        let turn: f64 = run.iter().map(|r| r.1.abs()).sum::<f64>().to_degrees();
        if turn < CORNER_TURN {
            continue;
        }
        let length: f64 = segments
            .iter()
            .scan(0.0, |a, s| {
                let from = *a;
                *a += s.length();
                Some((from, s.length()))
            })
            .filter(|(from, _)| run.iter().any(|r| (r.0 - from).abs() < 1e-9))
            .map(|s| s.1)
            .sum();
        // The path may begin elsewhere than the curve.
        let Some(top) = pieces.point_at(run[0].0 + length / 2.0) else {
            continue;
        };
        let middle = line.nearest(&Point::new(top.x, top.y, 0.0)).s;
        if let Some(c) = corner(&line, stations, spread, middle, length, turn, bias) {
            found.push(c);
        }
    }
    found
}

/// The circle through the middle part of a corner, and what the spread of the stations does to its radius.
fn corner(
    line: &Polyline,
    stations: &[EdgeStation],
    spread: &EdgeSpread,
    middle: f64,
    length: f64,
    turn: f64,
    bias: f64,
) -> Option<CornerRadius> {
    const PLACES: usize = 15;
    let at: Vec<f64> = (0..PLACES)
        .map(|k| line.wrap(middle + length * CORNER_USED * (k as f64 / (PLACES - 1) as f64 - 0.5)))
        .collect();
    let points: Vec<Point2<f64>> = at
        .iter()
        .map(|s| line.point_at(*s))
        .map(|p| Point2::new(p.x, p.y))
        .collect();
    let circle =
        geom::fit_circle_2d(&points.iter().map(|p| [p.x, p.y]).collect::<Vec<_>>()).ok()?;
    let centre = Point2::from(circle.centre);
    let rows = DMatrix::from_fn(PLACES, 3, |r, k| {
        let d = (points[r] - centre).normalize();
        [1.0, d.x, d.y][k]
    });
    let map = (rows.transpose() * &rows).try_inverse()? * rows.transpose();
    // The spread between two stations, in proportion.
    let n = stations.len() as f64;
    let mut weights = Vec::new();
    for (r, s) in at.iter().enumerate() {
        let x = s / line.length() * n;
        let (i, f) = (x.floor(), x - x.floor());
        let w = -map[(0, r)];
        weights.push((i as usize % stations.len(), w * (1.0 - f)));
        weights.push(((i as usize + 1) % stations.len(), w * f));
    }
    let u = Linear { spread }.gap(&weights).hypot(bias);
    Some(CornerRadius {
        place: String::new(),
        radius: figure(circle.radius, u, spread.nu, Quantity::Length),
        arc_deg: turn,
        along_mm: line.wrap(middle),
    })
}
