//! An opening edge from the points beside it.

use geom::{Point, Polyline, SplineBasis, SplineFit, Unit, Vector, covariance_factor};
use nalgebra::DMatrix;
use record::{EdgeKind, EdgeSpread};

use super::edge_line::{Beside, EdgeLine, Place, SHEETS};
use super::edge_trace::{BAND, Trace};
use super::films::Film;
use super::strip_fit::{Reading, Sheet, StripFit};
use super::strip_noise::StripNoise;
use super::surface::Surface;

/// How far panel and flange are used across the edge, mm.
const PANEL_REACH: f64 = 15.0;
const FLANGE_REACH: f64 = 13.0;
/// Points of the first rounds, which only bring the line near, are about this far apart, mm.
const APART: f64 = 1.0;
/// Knot distance of a free edge, mm.
const FREE_KNOTS: f64 = 10.0;
/// An edge is seen where at least this many points per mm lie on each strip (both sides of the place together).
const SEEN_DENSITY: f64 = 0.35;
/// Half the length over which that is judged, mm.
const SEEN_HALF: f64 = 4.0;
/// A stretch that is not seen counts as a gap from this length, mm.
const SHORTEST_GAP: f64 = 6.0;
/// Fewer points by hand do not make an edge.
const FEWEST_BY_HAND: usize = 8;
/// Standard uncertainty of a point taken by hand, mm (common practice for a tram gauge; no source).
const BY_HAND_SD: f64 = 0.3;

/// A station on a fitted edge, scan axes.
#[derive(Clone, Copy, Debug)]
pub struct FitStation {
    /// Length along the edge, mm.
    pub s: f64,
    /// Position, mm.
    pub p: Point,
    /// Along.
    pub along: Unit,
    /// In the panel, towards the inside.
    pub inward: Unit,
    /// Out of the panel.
    pub out: Unit,
    /// Whether it was seen.
    pub seen: bool,
}

/// A fitted edge, scan axes.
#[derive(Clone, Debug)]
pub struct FittedEdge {
    /// Which line it is.
    pub kind: EdgeKind,
    /// Whether it closes.
    pub closed: bool,
    /// Length, mm.
    pub length: f64,
    line: EdgeLine,
    panel: Along,
    edge: Along,
    unseen: Vec<(f64, f64)>,
    /// Half-width of what all stations share (sight of a free edge), mm.
    pub bias: f64,
    /// Standard uncertainty of a film that was taken off, mm; 0 where none was.
    film_u: f64,
    /// How many of the last factors of gap and flush are the same.
    shared: usize,
}

/// What fixes the edge in one direction across it.
#[derive(Clone, Debug)]
enum Along {
    /// A strip of sheet.
    Strip(StripFit),
    /// Single readings along it: the last points of a panel bin by bin, or points taken by hand.
    Readings { fit: SplineFit, sd: Vec<f64> },
    /// Places whose joint doubt is known.
    Places(DoubtTable),
}

/// Factors of the doubt across an edge at places along it.
#[derive(Clone, Debug)]
pub struct DoubtTable {
    /// Shares of the length in order, the first 0.
    pub shares: Vec<f64>,
    /// Places x factors, mm.
    pub rows: DMatrix<f64>,
}

impl DoubtTable {
    /// Linear between places; beyond the last towards the first (closed) or as the last.
    fn at(&self, share: f64, closed: bool) -> nalgebra::RowDVector<f64> {
        let n = self.shares.len();
        let i = self
            .shares
            .partition_point(|s| *s <= share)
            .clamp(1, n)
            .saturating_sub(1);
        let (next, to) = match self.shares.get(i + 1) {
            Some(to) => (i + 1, *to),
            None if closed => (0, 1.0),
            None => return self.rows.row(i).into_owned(),
        };
        let f = ((share - self.shares[i]) / (to - self.shares[i]).max(1e-12)).clamp(0.0, 1.0);
        self.rows.row(i) * (1.0 - f) + self.rows.row(next) * f
    }
}

impl Along {
    fn spread(&self, noise: &StripNoise) -> Spread {
        match self {
            Self::Strip(f) => Spread::of(f.basis(), &f.covariance(noise)),
            Self::Readings { fit, sd } => Spread::Curve {
                basis: fit.basis(),
                factor: fit.spread_independent(sd),
            },
            Self::Places(table) => Spread::Places(table.clone()),
        }
    }
}

/// How a fitted edge moves in one direction across it within its doubt.
#[derive(Clone, Debug)]
enum Spread {
    /// By the coefficients of a curve over its length.
    Curve {
        basis: SplineBasis,
        factor: DMatrix<f64>,
    },
    /// Place by place.
    Places(DoubtTable),
}

impl Spread {
    fn of(basis: SplineBasis, covariance: &DMatrix<f64>) -> Self {
        Self::Curve {
            basis,
            factor: covariance_factor(covariance),
        }
    }

    /// Factors at shares of the length.
    fn at(&self, shares: &[f64], closed: bool) -> DMatrix<f64> {
        match self {
            Self::Curve { basis, factor } => {
                let length = basis.range().1;
                let at: Vec<f64> = shares.iter().map(|f| f * length).collect();
                basis.rows(&at, 0) * factor
            }
            Self::Places(table) => {
                let mut rows = DMatrix::zeros(shares.len(), table.rows.ncols());
                for (i, share) in shares.iter().enumerate() {
                    rows.row_mut(i).copy_from(&table.at(*share, closed));
                }
                rows
            }
        }
    }

    fn scale(&mut self, by: f64) {
        match self {
            Self::Curve { factor, .. } => *factor *= by,
            Self::Places(table) => table.rows *= by,
        }
    }
}

/// How a fitted edge moves within its doubt, anywhere along it.
#[derive(Clone, Debug)]
pub struct Spreads {
    gap: Spread,
    flush: Spread,
    film: Option<FilmDoubt>,
    /// How many of the last factors of both are the same, without that of a film.
    shared: usize,
    closed: bool,
}

/// The doubt of a film that was taken off: it moves all of the edge at once, across and out.
#[derive(Clone, Debug)]
struct FilmDoubt {
    u: f64,
    line: EdgeLine,
    kind: EdgeKind,
}

impl Spreads {
    /// Factors (places x factors) along the gap direction at shares of the length; the last are those of the film.
    pub fn gap(&self, shares: &[f64]) -> DMatrix<f64> {
        self.with_film(&self.gap, shares, 0)
    }

    /// The same along the flush direction.
    pub fn flush(&self, shares: &[f64]) -> DMatrix<f64> {
        self.with_film(&self.flush, shares, 1)
    }

    /// Both at shares of the length, with the degrees of freedom of their scale.
    pub fn at_shares(&self, shares: &[f64], nu: f64) -> EdgeSpread {
        EdgeSpread {
            gap: self.gap(shares),
            flush: self.flush(shares),
            shared: self.shared + usize::from(self.film.is_some()),
            nu,
        }
    }

    /// The doubt of noise along gap and flush larger or smaller by these factors; that of a film stays.
    #[must_use]
    pub fn scaled(mut self, times: [f64; 2]) -> Self {
        self.gap.scale(times[0]);
        self.flush.scale(times[1]);
        self
    }

    fn with_film(&self, of: &Spread, shares: &[f64], way: usize) -> DMatrix<f64> {
        let noise = of.at(shares, self.closed);
        let Some(film) = &self.film else { return noise };
        let last = noise.ncols();
        let mut out = noise.insert_column(last, 0.0);
        for (i, f) in shares.iter().enumerate() {
            let place = film.line.at(f * film.line.length);
            out[(i, last)] = film.u * bare(&place, film.kind)[way];
        }
        out
    }
}

/// Where the edge of the bare metal lies from that of a film of thickness 1: towards the inside, and out of the panel.
/// Panel and flange both move into the metal by the film, a free edge moves back by it.
fn bare(place: &Place, kind: EdgeKind) -> [f64; 2] {
    if kind == EdgeKind::Free {
        return [-1.0, -1.0];
    }
    let (across, out) = (place.wall.dot(&place.inward), place.wall.dot(&place.out));
    // A flange that hardly turns away from the panel says little of where the edge lies.
    [-(1.0 - out) / across.max(0.2), -1.0]
}

impl FittedEdge {
    /// Fits the edge along a rough one. `None` when too little of it was seen.
    pub fn new(surface: &Surface, trace: &Trace) -> Option<Self> {
        let mut line = EdgeLine::of_trace(trace)?;
        let mut result = None;
        for apart in [APART, APART, 0.0] {
            let beside = line.beside(surface, PANEL_REACH + 3.0, apart);
            let strip = |readings: &[Reading], sheet| {
                StripFit::new(readings, line.length, trace.closed, sheet)
            };
            let across = || match trace.kind {
                EdgeKind::Free => free(&beside, &line, surface.spacing(), trace.closed),
                EdgeKind::Auto | EdgeKind::Bend => {
                    let flange = strip(&flange_readings(&beside), Sheet::Flange)?;
                    let f = flange.clone();
                    let shift: Shift = Box::new(move |s| (f.at_edge(s), f.slope(s)));
                    Some((Along::Strip(flange), shift, 0.0))
                }
            };
            let panel = || strip(&panel_readings(&beside, trace.kind), Sheet::Panel);
            let (panel, across) = rayon::join(panel, across);
            let (panel, (edge, shift, bias)) = (panel?, across?);
            let unseen = unseen(&panel, &edge, &line, &beside);
            let moved = moved(&line, &panel, &shift, &unseen, trace.closed)?;
            result = Some(Self {
                kind: trace.kind,
                closed: trace.closed,
                length: line.length,
                line: moved.clone(),
                panel: Along::Strip(panel),
                edge,
                unseen,
                bias,
                film_u: 0.0,
                shared: 0,
            });
            line = moved;
        }
        let mut fitted = result?;
        fitted.length = fitted.line.length;
        Some(fitted)
    }

    /// Through points taken by hand, in order; `out` is the outward side if known. Counter-clockwise order seen from
    /// outside is made where the points close and say otherwise. `None` with fewer than eight points.
    pub fn by_hand(points: &[Point], closed: bool, out: Option<&Vector>) -> Option<Self> {
        if points.len() < FEWEST_BY_HAND {
            return None;
        }
        let chain = Polyline::new(points.iter().copied(), closed)?;
        let mut points = points.to_vec();
        let area = chain.area_vector();
        let mut normal = Unit::try_new(area, 1e-9)?;
        if out.is_some_and(|o| o.dot(&normal) < 0.0) {
            points.reverse();
            normal = -normal;
        }
        let n = points.len();
        let places: Vec<_> = (0..n)
            .map(|i| {
                let (a, b) = (points[(i + n - 1) % n], points[(i + 1) % n]);
                let inward = Unit::new_normalize(normal.cross(&(b - a)));
                (points[i], normal, inward, 1.0)
            })
            .collect();
        let line = EdgeLine::through(&places, closed)?;
        let chain = Polyline::new(points.iter().copied(), closed)?;
        let at: Vec<f64> = (0..n).map(|i| chain.arc_of(i)).collect();
        let spacing = line.length / n as f64;
        let basis = SplineBasis::every(line.length, (2.0 * spacing).max(10.0), closed);
        let fit = SplineFit::new(basis, &at, &[], 0.0)?;
        let readings = Along::Readings {
            fit,
            sd: vec![BY_HAND_SD; n],
        };
        Some(Self {
            kind: EdgeKind::Free,
            closed,
            length: line.length,
            line,
            panel: readings.clone(),
            edge: readings,
            unseen: Vec::new(),
            bias: 0.0,
            film_u: 0.0,
            shared: 0,
        })
    }

    /// Through places in order, close together, whose joint doubt is known: counter-clockwise seen from the side of `out`
    /// where they close. `shared`: how many of the last factors of both tables are the same. `None` where they make no line.
    pub fn through_places(
        points: &[Point],
        out: Unit,
        closed: bool,
        [gap, flush]: [DoubtTable; 2],
        shared: usize,
    ) -> Option<Self> {
        let n = points.len();
        let places: Vec<_> = (0..n)
            .map(|i| {
                let (a, b) = if closed {
                    (points[(i + n - 1) % n], points[(i + 1) % n])
                } else {
                    (points[i.saturating_sub(1)], points[(i + 1).min(n - 1)])
                };
                let inward = Unit::new_normalize(out.cross(&(b - a)));
                (points[i], out, inward, 1.0)
            })
            .collect();
        let line = EdgeLine::through(&places, closed)?;
        Some(Self {
            kind: EdgeKind::Free,
            closed,
            length: line.length,
            line,
            panel: Along::Places(flush),
            edge: Along::Places(gap),
            unseen: Vec::new(),
            bias: 0.0,
            film_u: 0.0,
            shared,
        })
    }

    /// The station at `share` (0 to 1) of the length.
    pub fn station(&self, share: f64) -> FitStation {
        let s = share * self.length;
        let place = self.line.at(s);
        FitStation {
            s,
            p: place.p,
            along: place.along,
            inward: place.inward,
            out: place.out,
            seen: !self.unseen.iter().any(|(a, b)| s >= *a && s <= *b),
        }
    }

    /// Stretches that were not seen: start and length, mm.
    pub fn gaps(&self) -> Vec<(f64, f64)> {
        self.unseen
            .iter()
            .filter(|(a, b)| b - a >= SHORTEST_GAP)
            .map(|(a, b)| (*a, b - a))
            .collect()
    }

    /// Its joint uncertainty for the noise of the visit; `None` once `go_on` says no.
    pub fn spread(&self, noise: &StripNoise, go_on: geom::GoOn<'_>) -> Option<Spreads> {
        let (gap, flush) = match (&self.edge, &self.panel) {
            (Along::Strip(flange), Along::Strip(panel)) => {
                let across = flange.covariance(noise);
                if !go_on() {
                    return None;
                }
                let out = panel.covariance(noise);
                // A flange that leans carries the edge along it where the panel rises: x = a - b z.
                let lean = DMatrix::from_diagonal(&flange.slopes());
                let leaning = &lean * &out * &lean;
                let gap = go_on().then(|| Spread::of(flange.basis(), &(across + leaning)))?;
                (gap, Spread::of(panel.basis(), &out))
            }
            (edge, panel) => (edge.spread(noise), panel.spread(noise)),
        };
        let spreads = Spreads {
            gap,
            flush,
            film: (self.film_u > 0.0).then(|| FilmDoubt {
                u: self.film_u,
                line: self.line.clone(),
                kind: self.kind,
            }),
            shared: self.shared,
            closed: self.closed,
        };
        go_on().then_some(spreads)
    }

    /// The edge of the metal under a film. `None` where the edge would fold, which no film is thick enough for.
    pub fn without_film(&self, film: &Film) -> Option<Self> {
        let bared = self.moved_by(|_, place| {
            let [x, z] = bare(place, self.kind);
            [x * film.mm, z * film.mm]
        })?;
        Some(Self {
            film_u: film.u_mm,
            ..bared
        })
    }

    /// The edge moved at every place (share of its length) by so much towards the inside and out of the panel, mm.
    pub fn moved_by(&self, shift: impl Fn(f64, &Place) -> [f64; 2]) -> Option<Self> {
        let n = (self.length / 2.0).ceil().max(16.0) as usize;
        let count = if self.closed { n } else { n + 1 };
        let places: Vec<_> = (0..count)
            .map(|k| {
                let share = k as f64 / n as f64;
                let at = self.line.at(self.length * share);
                let [x, z] = shift(share, &at);
                let p = at.p + at.inward.into_inner() * x + at.out.into_inner() * z;
                (p, at.out, at.wall, 1.0)
            })
            .collect();
        let line = EdgeLine::through(&places, self.closed)?;
        let longer = line.length / self.length;
        Some(Self {
            length: line.length,
            line,
            unseen: self
                .unseen
                .iter()
                .map(|(a, b)| (a * longer, b * longer))
                .collect(),
            ..self.clone()
        })
    }
}

fn panel_readings(beside: &[Beside], kind: EdgeKind) -> Vec<Reading> {
    let band = if kind == EdgeKind::Free { 0.0 } else { BAND };
    beside
        .iter()
        .filter(|b| -b.x > band && -b.x < PANEL_REACH && b.on_panel > 0.86 && b.z.abs() < 2.5)
        .map(|b| Reading {
            s: b.s,
            t: -b.x,
            h: b.z,
        })
        .collect()
}

fn flange_readings(beside: &[Beside]) -> Vec<Reading> {
    beside
        .iter()
        .filter(|b| -b.z > BAND && -b.z < FLANGE_REACH && b.on_wall > 0.82 && b.x.abs() < SHEETS)
        .map(|b| Reading {
            s: b.s,
            t: -b.z,
            h: b.x,
        })
        .collect()
}

type Shift = Box<dyn Fn(f64) -> (f64, f64) + Send>;

/// The free edge: in each bin along it the last panel point, and the half spacing that it is short on average.
fn free(
    beside: &[Beside],
    line: &EdgeLine,
    spacing: f64,
    closed: bool,
) -> Option<(Along, Shift, f64)> {
    let bins = (line.length / (2.0 * spacing).max(1.0)).ceil().max(8.0) as usize;
    let mut ends = vec![f64::NEG_INFINITY; bins];
    for b in beside
        .iter()
        .filter(|b| b.on_panel > 0.8 && b.z.abs() < 1.5 && b.x < 6.0)
    {
        let i = ((b.s / line.length * bins as f64) as usize).min(bins - 1);
        ends[i] = ends[i].max(b.x);
    }
    let (mut at, mut values) = (Vec::new(), Vec::new());
    for (i, x) in ends.iter().enumerate() {
        if *x > -4.0 * spacing - 1.0 {
            at.push((i as f64 + 0.5) / bins as f64 * line.length);
            values.push(x + 0.4 * spacing);
        }
    }
    let basis = SplineBasis::every(line.length, FREE_KNOTS.max(4.0 * spacing), closed);
    let fit = SplineFit::new(basis, &at, &[], 0.0)?;
    let curve = fit.function(&values);
    let sum: f64 = at
        .iter()
        .zip(&values)
        .map(|(s, v)| (v - curve.at(*s)[0]).powi(2))
        .sum();
    let dof = (at.len() as f64 - fit.used()).max(1.0);
    let sd = vec![(sum / dof).sqrt().max(0.1 * spacing); at.len()];
    let shift: Shift = Box::new(move |s| (curve.at(s)[0], 0.0));
    Some((Along::Readings { fit, sd }, shift, 0.2 * spacing))
}

/// The line moved to where panel and flange meet.
fn moved(
    line: &EdgeLine,
    panel: &StripFit,
    edge: &Shift,
    unseen: &[(f64, f64)],
    closed: bool,
) -> Option<EdgeLine> {
    let n = (line.length / 2.0).ceil().max(16.0) as usize;
    let count = if closed { n } else { n + 1 };
    let places: Vec<_> = (0..count)
        .map(|k| {
            let s = line.length * k as f64 / n as f64;
            let at = line.at(s);
            // z = alpha - beta x on the panel, x = a - b z on the flange.
            let (alpha, beta) = (panel.at_edge(s), panel.slope(s));
            let (a, b) = edge(s);
            let x = (a - b * alpha) / (1.0 - b * beta);
            let z = alpha - beta * x;
            let hidden = unseen.iter().any(|(u, v)| s >= *u && s <= *v);
            let (x, z) = if hidden { (0.0, 0.0) } else { (x, z) };
            let into = at.inward.into_inner() - at.out.into_inner() * beta;
            let out = Unit::new_normalize(at.along.cross(&into));
            (
                at.p + at.inward.into_inner() * x + at.out.into_inner() * z,
                out,
                at.wall,
                if hidden { 0.05 } else { 1.0 },
            )
        })
        .collect();
    EdgeLine::through(&places, closed)
}

/// Stretches where panel or flange has too few points.
fn unseen(panel: &StripFit, edge: &Along, line: &EdgeLine, beside: &[Beside]) -> Vec<(f64, f64)> {
    const PIECE: f64 = 2.0;
    let n = (line.length / PIECE).ceil() as usize;
    let ends: Vec<f64> = beside
        .iter()
        .filter(|b| b.on_panel > 0.8 && b.z.abs() < 1.5 && b.x > -6.0)
        .map(|b| b.s)
        .collect();
    let blind: Vec<bool> = (0..n)
        .map(|k| {
            let s = (k as f64 + 0.5) / n as f64 * line.length;
            let across = match edge {
                Along::Strip(f) => f.density(s, SEEN_HALF),
                Along::Readings { .. } | Along::Places(_) => {
                    ends.iter().filter(|e| (*e - s).abs() <= SEEN_HALF).count() as f64
                        / (2.0 * SEEN_HALF)
                }
            };
            panel.density(s, SEEN_HALF) < SEEN_DENSITY || across < SEEN_DENSITY
        })
        .collect();
    let mut runs: Vec<(f64, f64)> = Vec::new();
    let width = line.length / n as f64;
    let mut k = 0;
    while k < n {
        if blind[k] {
            let from = k;
            while k < n && blind[k] {
                k += 1;
            }
            runs.push((from as f64 * width, k as f64 * width));
        } else {
            k += 1;
        }
    }
    runs
}
