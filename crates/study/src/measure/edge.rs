//! From a fitted edge to the figures of an opening: stations, sizes, corners, gaps.

use geom::{ArcPath, Point, Polyline, Rigid, Unit, u95};
use nalgebra::{DMatrix, DVector, Point2};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use record::{
    CornerRadius, Dimension, EdgeGap, EdgeSpread, EdgeStation, Figure, MeasuredEdge, Quantity,
    Source,
};

use super::edge_fit::{FittedEdge, Spreads};

/// Lines and arcs keep within this of the edge, mm; where more than so many would be needed, within this many
/// standard uncertainties: closer they would follow the noise.
const PIECES_WITHIN: f64 = 0.1;
const PIECES_DOUBTS: f64 = 4.5;
const MOST_PIECES: usize = 16;
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
/// A narrower judgement of where it begins.
const CORNER_LESS: f64 = 0.6;
/// Places on a corner through which its circle is laid.
const PLACES: usize = 15;
/// Number of draws from which the surplus of a largest extent is worked out, and their seed.
const DRAWS: u64 = 200;
const DRAWS_SEED: u64 = 0x5350_414E;
/// Most times faster that the first noise is taken to raise a figure than the second.
const MOST_FASTER: f64 = 2.0;
/// Half the turn within which calipers look for the least width, radians.
const CALIPER_TURN: f64 = 0.10;

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
///
/// `spreads` is the doubt of the edge, `nu` its degrees of freedom. Once `go_on` says no, what it gives is worth nothing.
pub fn measured_edge(
    fitted: &FittedEdge,
    spreads: &Spreads,
    nu: f64,
    part_from_scan: &Rigid,
    go_on: geom::GoOn<'_>,
) -> MeasuredEdge {
    let shares = station_shares(fitted);
    let spread = spreads.at_shares(&shares, nu);
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
    let doubt = PIECES_DOUBTS * gap_u[gap_u.len() / 2];
    let (pieces, pieces_error_mm) = pieces(&flat, fitted.closed, doubt, go_on);
    let corners = corners(&pieces, spreads, nu, &curve, fitted.bias);
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

fn pieces(flat: &[Point2<f64>], closed: bool, doubt: f64, go_on: geom::GoOn<'_>) -> (ArcPath, f64) {
    let within: &[f64] = if doubt > PIECES_WITHIN {
        &[PIECES_WITHIN, doubt]
    } else {
        &[PIECES_WITHIN]
    };
    match geom::fit_few_arcs(flat, closed, within, MOST_PIECES, go_on) {
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
    let moved = Moved::new(stations, spread);
    let nu = spread.nu;
    let mut all = Vec::new();
    let mut add = |name: &str, figure| {
        all.push(Dimension {
            name: name.to_owned(),
            figure,
        });
    };
    for (name, angle) in [("width", 0.0), ("height", std::f64::consts::FRAC_PI_2)] {
        let (value, u) = moved.between_jaws(curve, angle, fitted.bias);
        add(name, figure(value, u, nu, Quantity::Length));
    }
    for (name, sign) in [
        ("diagonal, upper +X to lower -X", 1.0),
        ("diagonal, upper -X to lower +X", -1.0),
    ] {
        let (half_x, half_y) = half_extents(curve);
        let d = Point2::new(sign * half_x, half_y).coords.normalize();
        let (value, u) = moved.span(curve, d.x, d.y, fitted.bias);
        add(name, figure(value, u, nu, Quantity::Length));
    }
    if let Some(line) = Polyline::new(curve.iter().copied(), true) {
        let n = stations.len();
        let step = fitted.length / n as f64;
        let bias = fitted.bias / 2.0;
        let (value, u) = moved.round(line.length(), bias * std::f64::consts::TAU);
        add("perimeter", figure(value, u, nu, Quantity::Length));
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

/// Extent of places in the flat along a direction.
fn extent(places: impl Iterator<Item = (f64, f64)>, c: f64, s: f64) -> f64 {
    let (low, high) = places
        .map(|(x, y)| c * x + s * y)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
            (a.min(x), b.max(x))
        });
    high - low
}

/// The stations as they were read and moved within their doubt.
///
/// The jaws of a caliper rest on whatever noise stands out most, and noise makes an edge longer, so that both come out
/// too large. By how much is told by moving the edge within its doubt once more: B. Efron and R. J. Tibshirani, An
/// Introduction to the Bootstrap (1993), chapter 10 (bias).
struct Moved {
    read: Vec<Point>,
    draws: Vec<Vec<Point>>,
}

impl Moved {
    fn new(stations: &[EdgeStation], spread: &EdgeSpread) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(DRAWS_SEED);
        let mut normal = |f: &DMatrix<f64>| -> DVector<f64> {
            DVector::from_fn(f.ncols(), |_, _| StandardNormal.sample(&mut rng))
        };
        let draws = (0..DRAWS)
            .map(|_| {
                let (y, mut z) = (normal(&spread.gap), normal(&spread.flush));
                let last = |v: &DVector<f64>| v.len() - spread.shared;
                let from = last(&z);
                z.rows_mut(from, spread.shared)
                    .copy_from(&y.rows(last(&y), spread.shared));
                let (gap, flush) = (&spread.gap * y, &spread.flush * z);
                stations
                    .iter()
                    .enumerate()
                    .map(|(i, s)| {
                        s.at + s.gap_dir.into_inner() * gap[i] + s.flush_dir.into_inner() * flush[i]
                    })
                    .collect()
            })
            .collect();
        Self {
            read: stations.iter().map(|s| s.at).collect(),
            draws,
        }
    }

    /// By how much noise raises a figure of the edge, and the standard deviation of the figure, from the draws.
    ///
    /// The edge that is moved holds noise already, and noise on noise raises less than the first: the rise by a second
    /// move upon the first tells how fast that falls off, and one step back is taken at the same rate.
    fn surplus(&self, figure: impl Fn(&[Point]) -> f64) -> (f64, f64) {
        let read = figure(&self.read);
        let n = self.draws.len();
        let once: Vec<f64> = self.draws.iter().map(|d| figure(d) - read).collect();
        let twice = (0..n)
            .map(|i| {
                let (d, e) = (&self.draws[i], &self.draws[(i + 1) % n]);
                let moved: Vec<Point> =
                    (0..d.len()).map(|k| d[k] + (e[k] - self.read[k])).collect();
                figure(&moved) - read
            })
            .sum::<f64>()
            / n as f64;
        let mean = once.iter().sum::<f64>() / n as f64;
        let var = once.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n as f64 - 1.0);
        let second = twice - mean;
        let faster = if mean * second > 0.0 {
            (mean / second).clamp(1.0, MOST_FASTER)
        } else {
            1.0
        };
        let first = mean * faster;
        // As much as is taken off is doubtful.
        (first, var.sqrt().hypot(first))
    }

    /// The least distance of two parallel jaws near direction `angle`, less what noise changes in it, and its standard
    /// uncertainty.
    fn between_jaws(&self, curve: &[Point], angle: f64, bias: f64) -> (f64, f64) {
        let width = |p: &[Point]| {
            let flat: Vec<[f64; 2]> = p.iter().map(|p| [p.x, p.y]).collect();
            geom::caliper(&flat, angle, CALIPER_TURN).map_or(0.0, |c| c.0)
        };
        let (surplus, u) = self.surplus(width);
        (width(curve) - surplus, u.hypot(bias))
    }

    /// Extent of the edge along a direction, less what noise adds to it, and its standard uncertainty.
    fn span(&self, curve: &[Point], c: f64, s: f64, bias: f64) -> (f64, f64) {
        let flat = |p: &[Point]| extent(p.iter().map(|p| (p.x, p.y)), c, s);
        let (surplus, u) = self.surplus(flat);
        (flat(curve) - surplus, u.hypot(bias))
    }

    /// Length once round, `read` mm, less what noise adds to it, and its standard uncertainty.
    fn round(&self, read: f64, bias: f64) -> (f64, f64) {
        let (surplus, u) = self.surplus(|p| {
            let next = p.iter().cycle().skip(1);
            p.iter().zip(next).map(|(a, b)| (b - a).norm()).sum()
        });
        (read - surplus, u.hypot(bias))
    }
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
    spreads: &Spreads,
    nu: f64,
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
        if let Some(c) = corner(&line, spreads, nu, middle, length, turn, bias) {
            found.push(c);
        }
    }
    found
}

/// The circle through the middle part of a corner, and what the spread of the edge does to its radius.
fn corner(
    line: &Polyline,
    spreads: &Spreads,
    nu: f64,
    middle: f64,
    length: f64,
    turn: f64,
    bias: f64,
) -> Option<CornerRadius> {
    let places = |used: f64| -> Vec<f64> {
        (0..PLACES)
            .map(|k| line.wrap(middle + length * used * (k as f64 / (PLACES - 1) as f64 - 0.5)))
            .collect()
    };
    let on_line = |at: &[f64]| -> Vec<[f64; 2]> {
        at.iter()
            .map(|s| line.point_at(*s))
            .map(|p| [p.x, p.y])
            .collect()
    };
    let at = places(CORNER_USED);
    let on = on_line(&at);
    let circle = geom::fit_circle_2d(&on).ok()?;
    let points: Vec<Point2<f64>> = on.into_iter().map(Point2::from).collect();
    // Where a corner begins is a judgement: what another one would say is doubt as well.
    let less = geom::fit_circle_2d(&on_line(&places(CORNER_LESS))).ok()?;
    let judgement = (less.radius - circle.radius).abs() / 2.0;
    let centre = Point2::from(circle.centre);
    let rows = DMatrix::from_fn(PLACES, 3, |r, k| {
        let d = (points[r] - centre).normalize();
        [1.0, d.x, d.y][k]
    });
    let map = (rows.transpose() * &rows).try_inverse()? * rows.transpose();
    let shares: Vec<f64> = at.iter().map(|s| s / line.length()).collect();
    // A gap that grows inward makes the radius less.
    let u = (map.row(0) * spreads.gap(&shares))
        .norm()
        .hypot(bias)
        .hypot(judgement);
    Some(CornerRadius {
        place: String::new(),
        radius: figure(circle.radius, u, nu, Quantity::Length),
        arc_deg: turn,
        along_mm: line.wrap(middle),
    })
}
