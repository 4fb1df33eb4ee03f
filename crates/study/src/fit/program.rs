//! The rows of the placement about one pose.

use geom::{Minimax, Outcome, Point, Vector};

use super::{FitFastener, FitSlot, Limits, Seat};

/// Sides of the polygon inside the circle of play: never claims a fit that is not there, costs at most 0.5 %.
const SIDES: usize = 32;

/// How the errors at a station change with the six motions (three shifts, three turns about the middle).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LinearStation {
    /// Of the gap error.
    pub gap: [f64; 6],
    /// Of the flush error.
    pub flush: [f64; 6],
}

/// How the place of a part's hole over the body's changes with the six motions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LinearFastener {
    /// Along the first direction across the axis, the second, and the axis.
    pub rows: [[f64; 6]; 3],
}

/// A placement about one pose.
#[derive(Clone, Debug, PartialEq)]
pub struct Linear {
    /// Point about which turns are taken.
    pub middle: Point,
    /// Stations.
    pub stations: Vec<LinearStation>,
    /// Fasteners.
    pub fasteners: Vec<LinearFastener>,
}

/// Errors at that pose.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Starts {
    /// Gap errors by station, mm, + too wide.
    pub gap: Vec<f64>,
    /// Flush errors by station, mm, + proud.
    pub flush: Vec<f64>,
    /// Part's hole less body's hole: across, across, along the axis; mm.
    pub holes: Vec<[f64; 3]>,
}

/// What a row of the program stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spot {
    /// Gap of a station, by place in the list; too wide or too tight.
    Gap(usize, Over),
    /// Gap of one station against that of another.
    Taper(usize, usize, Over),
    /// Flush of a station; proud or shy.
    Flush(usize, Over),
    /// A side of the polygon of play of a fastener.
    Play(usize, usize),
    /// Slot travel of a fastener.
    Travel(usize),
    /// Stand-off of a fastener; too much or too little.
    Seat(usize, Over),
}

/// On which side a limit is met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// At the positive end.
    Above,
    /// At the negative end.
    Below,
}

/// What the fasteners of a program are held by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Radius of play, mm.
    pub play: f64,
    /// Slot: direction across the axis and extra length.
    pub slot: Option<([f64; 2], f64)>,
    /// Stand-off.
    pub seat: Seat,
}

impl From<&FitFastener> for Held {
    fn from(f: &FitFastener) -> Self {
        Self {
            play: f.play,
            slot: f.slot.map(|s: FitSlot| (in_plane(f, &s.along), s.extra)),
            seat: f.seat,
        }
    }
}

/// A direction laid into the plane of a hole; part X where it stands upright.
pub(super) fn in_plane(f: &FitFastener, v: &Vector) -> [f64; 2] {
    let [x, y] = f.across();
    let d = [x.dot(v), y.dot(v)];
    let n = d[0].hypot(d[1]);
    if n > 1e-9 {
        [d[0] / n, d[1] / n]
    } else {
        [1.0, 0.0]
    }
}

/// Outward direction of the k-th side of the polygon of play; its corners lie on the axes.
pub(super) fn side(k: usize) -> [f64; 2] {
    let a = (k as f64 + 0.5) * std::f64::consts::TAU / SIDES as f64;
    [a.cos(), a.sin()]
}

/// Share of the radius at which a side of the polygon lies.
pub(super) fn apothem() -> f64 {
    (std::f64::consts::PI / SIDES as f64).cos()
}

/// What the program minimises.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Aim<'a> {
    /// The share of what is allowed.
    Share,
    /// The addition to the radius of play of the fasteners marked, everything else within what is allowed.
    Oversize(&'a [bool]),
    /// The extra length of slots along these directions, where given.
    Slot(&'a [Option<[f64; 2]>]),
    /// The stand-off above (`true`) or below the seats marked.
    Shim(&'a [bool], bool),
    /// The share of what is allowed for evenness, the width of the gap free.
    Even(&'a Even),
}

/// What the eye asks of the gap at the stations.
#[derive(Clone, Debug, PartialEq)]
pub struct Even {
    /// How far it may be off its mean, mm.
    pub within: f64,
    /// Places whose gaps are set against each other, and by how much they may differ, mm.
    pub pairs: Vec<(usize, usize, f64)>,
}

/// The program that minimises the share `t`, and what its rows stand for. The unknowns are the six motions, then the
/// travel of each slot.
pub fn program(
    linear: &Linear,
    starts: &Starts,
    limits: &Limits,
    held: &[Held],
) -> (Minimax, Vec<Spot>) {
    build(linear, starts, limits, held, Aim::Share)
}

pub(super) fn build(
    linear: &Linear,
    starts: &Starts,
    limits: &Limits,
    held: &[Held],
    aim: Aim<'_>,
) -> (Minimax, Vec<Spot>) {
    let slot_of = |j: usize, h: &Held| match aim {
        Aim::Slot(along) => along[j]
            .map(|d| (d, 0.0, 0.5))
            .or(h.slot.map(|(d, e)| (d, 0.5 * e, 0.0))),
        _ => h.slot.map(|(d, e)| (d, 0.5 * e, 0.0)),
    };
    let slots = held
        .iter()
        .enumerate()
        .filter(|(j, h)| slot_of(*j, h).is_some())
        .count();
    // One unknown more for the free width of the gap.
    let mean = usize::from(matches!(aim, Aim::Even(_)));
    let rows = 4 * linear.stations.len() + (SIDES + 4) * held.len();
    // Room for a fence round the motions as well.
    let mut p = Minimax::with_room(6 + slots + mean, rows + 12, 7);
    let mut spots = Vec::with_capacity(rows);
    if let Aim::Even(even) = aim {
        even_rows(&mut p, &mut spots, linear, starts, even, 6 + slots);
    }
    // With another aim the share is fixed at 1: the allowance goes into the bound.
    let soft = |p: &mut Minimax, g: &[f64], start: f64, low: f64, high: f64| {
        if aim == Aim::Share {
            p.within(g, start, low, high);
        } else {
            between(p, g, -low - start, high - start, 0.0, 0.0);
        }
    };
    let placed = if mean == 0 {
        linear.stations.as_slice()
    } else {
        &[]
    };
    for (i, s) in placed.iter().enumerate() {
        soft(&mut p, &s.gap, starts.gap[i], limits.tight, limits.wide);
        soft(&mut p, &s.flush, starts.flush[i], limits.shy, limits.proud);
        spots.extend([Over::Above, Over::Below].map(|o| Spot::Gap(i, o)));
        spots.extend([Over::Above, Over::Below].map(|o| Spot::Flush(i, o)));
    }
    let mut travel = 6;
    for (j, (f, h)) in linear.fasteners.iter().zip(held).enumerate() {
        let start = starts.holes[j];
        let slot = slot_of(j, h);
        let grow = matches!(aim, Aim::Oversize(which) if which[j]);
        let mut g = vec![0.0; 6 + slots];
        for k in 0..SIDES {
            let d = side(k);
            for (m, v) in g.iter_mut().take(6).enumerate() {
                *v = d[0] * f.rows[0][m] + d[1] * f.rows[1][m];
            }
            if let Some((s, ..)) = slot {
                g[travel] = -(d[0] * s[0] + d[1] * s[1]);
            }
            let bound = h.play * apothem() - d[0] * start[0] - d[1] * start[1];
            p.at_most(&g, bound, if grow { apothem() } else { 0.0 });
            spots.push(Spot::Play(j, k));
        }
        if let Some((_, half, growing)) = slot {
            let mut g = vec![0.0; 6 + slots];
            g[travel] = 1.0;
            between(&mut p, &g, -half, half, growing, growing);
            spots.extend([Spot::Travel(j); 2]);
            travel += 1;
        }
        match (h.seat, aim) {
            (Seat::Bare, Aim::Shim(which, up)) if which[j] => {
                seat(&mut p, &f.rows[2], start[2], (0.0, 0.0), Some(up));
            }
            (Seat::Range(low, high), Aim::Shim(which, up)) if which[j] => {
                seat(
                    &mut p,
                    &f.rows[2],
                    start[2],
                    (low.max(0.0).min(high), low.max(0.0).min(high)),
                    Some(up),
                );
            }
            (Seat::Range(low, high), _) => seat(&mut p, &f.rows[2], start[2], (low, high), None),
            (Seat::Bare, _) => soft(&mut p, &f.rows[2], start[2], limits.shy, limits.proud),
        }
        spots.extend([Over::Above, Over::Below].map(|o| Spot::Seat(j, o)));
    }
    (p, spots)
}

/// `|gap - mean| <= t within` at every station, `|gap - gap there| <= t allowed` for every pair.
fn even_rows(
    p: &mut Minimax,
    spots: &mut Vec<Spot>,
    linear: &Linear,
    starts: &Starts,
    even: &Even,
    mean: usize,
) {
    let mut g = vec![0.0; mean + 1];
    g[mean] = -1.0;
    for (i, s) in linear.stations.iter().enumerate() {
        g[..6].copy_from_slice(&s.gap);
        p.within(&g, starts.gap[i], even.within, even.within);
        spots.extend([Over::Above, Over::Below].map(|o| Spot::Gap(i, o)));
    }
    for (i, j, allowed) in &even.pairs {
        let (a, b) = (&linear.stations[*i].gap, &linear.stations[*j].gap);
        let rows: Vec<f64> = a.iter().zip(b).map(|(a, b)| a - b).collect();
        p.within(&rows, starts.gap[*i] - starts.gap[*j], *allowed, *allowed);
        spots.extend([Over::Above, Over::Below].map(|o| Spot::Taper(*i, *j, o)));
    }
}

/// The least share of what is allowed for evenness about one pose, how much wider than agreed the gap is there, and how the
/// share follows the gap errors. `None` where the fasteners cannot be started.
pub fn evenness(
    linear: &Linear,
    starts: &Starts,
    limits: &Limits,
    held: &[Held],
    even: &Even,
) -> Option<(f64, f64, Vec<f64>)> {
    let (p, spots) = build(linear, starts, limits, held, Aim::Even(even));
    let Outcome::Optimal(o) = p.solve() else {
        return None;
    };
    let mut pull = vec![0.0; linear.stations.len()];
    let sign = |o: Over| if o == Over::Above { 1.0 } else { -1.0 };
    for a in &o.active {
        match spots[a.row] {
            Spot::Gap(i, over) => pull[i] += a.multiplier * sign(over),
            Spot::Taper(i, j, over) => {
                pull[i] += a.multiplier * sign(over);
                pull[j] -= a.multiplier * sign(over);
            }
            _ => {}
        }
    }
    Some((o.value, o.x.last().copied().unwrap_or(0.0), pull))
}

fn seat(p: &mut Minimax, g: &[f64], start: f64, range: (f64, f64), grows_up: Option<bool>) {
    let up = if grows_up == Some(true) { 1.0 } else { 0.0 };
    let down = if grows_up == Some(false) { 1.0 } else { 0.0 };
    between(p, g, range.0 - start, range.1 - start, down, up);
}

/// `low - down s <= g.x <= high + up s`, upper row first.
fn between(p: &mut Minimax, g: &[f64], low: f64, high: f64, down: f64, up: f64) {
    p.at_most(g, high, up);
    let minus: Vec<f64> = g.iter().map(|v| -v).collect();
    p.at_most(&minus, -low, down);
}

/// The bounds of [`program`] for other starting errors of the same rows, written over `out`.
pub fn bounds(starts: &Starts, held: &[Held], out: &mut Vec<f64>) {
    out.clear();
    for (g, f) in starts.gap.iter().zip(&starts.flush) {
        out.extend([-g, *g, -f, *f]);
    }
    for (start, h) in starts.holes.iter().zip(held) {
        for k in 0..SIDES {
            let d = side(k);
            out.push(h.play * apothem() - d[0] * start[0] - d[1] * start[1]);
        }
        if let Some((_, extra)) = h.slot {
            out.extend([0.5 * extra; 2]);
        }
        let (low, high) = match h.seat {
            Seat::Bare => (0.0, 0.0),
            Seat::Range(low, high) => (low, high),
        };
        out.extend([high - start[2], start[2] - low]);
    }
}
