//! A comparison made ready: the stations that count, each side's doubt, holes with fasteners, angles.

use std::sync::{Mutex, OnceLock, PoisonError};

use geom::t_quantile;
use nalgebra::DMatrix;
use record::{
    EdgeSpread, Figure, Fixing, HolePair, Measured, MeasuredCompare, Part, Relation, Side,
};

use crate::fit::{EdgeCurve, FitFastener, FitProblem, FitSlot, FitStation, Limits, Seat};

/// Standard uncertainty of a figure.
pub(super) fn standard(f: &Figure) -> f64 {
    if f.u95 == 0.0 {
        0.0
    } else {
        f.u95 / t_quantile(0.975, f.nu)
    }
}

/// One side's doubt about its edge at the stations that count.
#[derive(Clone, Debug)]
pub(super) struct Doubt {
    /// Stations by factors, mm; a factor moves gap and flush together.
    pub gap: DMatrix<f64>,
    /// The same for flush.
    pub flush: DMatrix<f64>,
    /// Standard uncertainty of the gap by station, mm.
    pub gap_u: Vec<f64>,
    /// The same for flush.
    pub flush_u: Vec<f64>,
    /// Degrees of freedom of the scale.
    pub nu: f64,
}

/// An angle that counts.
#[derive(Clone, Debug)]
pub(super) struct Angle {
    /// What it is called.
    pub name: String,
    /// a minus b, degrees.
    pub d: f64,
    /// Standard uncertainty and degrees of freedom, of a and of b.
    pub u: [(f64, f64); 2],
}

/// A comparison made ready.
pub(super) struct Pairing<'a> {
    pub compare: &'a MeasuredCompare,
    pub part: &'a Part,
    pub limits: Limits,
    /// Numbers of the stations that count.
    pub seen: Vec<usize>,
    /// Doubts of a and of b.
    pub doubt: [Doubt; 2],
    /// Standard uncertainty of what rounds all edges alike, mm.
    pub bias: f64,
    /// Fasteners of the part with the holes they go through.
    pub holes: Vec<(usize, &'a HolePair)>,
    /// Angles that count.
    pub angles: Vec<Angle>,
    /// What the openings are called.
    pub names: [String; 2],
    /// Whether there is anything to compare with.
    pub measured: bool,
    /// The edges of a and of b as they are laid into the other side, made when first asked for.
    curves: [OnceLock<Option<EdgeCurve>>; 2],
    /// Quantiles worked out so far: probability and degrees of freedom (bits), value.
    quantiles: Mutex<Vec<(u64, u64, f64)>>,
}

impl<'a> Pairing<'a> {
    pub(super) fn new(measured: &Measured, compare: &'a MeasuredCompare, part: &'a Part) -> Self {
        let seen: Vec<usize> = (0..compare.stations.len())
            .filter(|&i| compare.stations[i].seen)
            .collect();
        let opening = |id| measured.openings.iter().find(|o| o.id == id);
        let a = opening(compare.a.clone());
        let b = compare.b.clone().and_then(opening).or(a);
        let bias = [a, b]
            .iter()
            .filter_map(|o| o.and_then(|o| o.edge.as_ref()))
            .map(|e| e.edge_bias_mm)
            .fold(0.0, f64::max);
        let holes = part
            .fasteners
            .iter()
            .enumerate()
            .filter_map(|(j, f)| Some((j, compare.holes.iter().find(|h| h.id == f.hole)?)))
            .collect();
        let b_spread = if compare.relation == Relation::Itself {
            compare.b_spread.as_ref().or(compare.a_spread.as_ref())
        } else {
            compare.b_spread.as_ref()
        };
        Self {
            compare,
            part,
            limits: Limits::from(&part.allowed),
            doubt: [
                doubt(compare.a_spread.as_ref(), &seen),
                doubt(b_spread, &seen),
            ],
            seen,
            // A half-width of a quantity that may lie anywhere within it.
            bias: bias / 3.0_f64.sqrt(),
            holes,
            angles: angles(compare),
            names: [a, b].map(|o| o.map_or_else(|| "opening".to_owned(), |o| o.name.clone())),
            measured: compare.b.is_some() || compare.relation == Relation::Itself,
            curves: [OnceLock::new(), OnceLock::new()],
            quantiles: Mutex::new(Vec::new()),
        }
    }

    /// Side of a (0) or b (1).
    pub(super) fn side(&self, which: usize) -> Side {
        self.compare.sides[which]
    }

    /// The shape of side `part` laid into the opening of side `into`.
    pub(super) fn problem(&self, part: usize, into: usize) -> FitProblem {
        let stations = self
            .seen
            .iter()
            .map(|&i| {
                let s = &self.compare.stations[i];
                FitStation {
                    opening: if into == 0 { s.a } else { s.b },
                    part: if part == 0 { s.a } else { s.b },
                    tangent: s.tangent,
                    gap_dir: s.gap_dir,
                    flush_dir: s.flush_dir,
                }
            })
            .collect();
        let fasteners = self
            .holes
            .iter()
            .map(|&(j, h)| FitFastener {
                part: if part == 0 { h.a } else { h.b },
                body: if into == 0 { h.a } else { h.b },
                axis: h.axis,
                play: self.play(j),
                slot: self.part.fasteners[j].slot.map(|s| FitSlot {
                    along: geom::Vector::new(s.along[0], s.along[1], 0.0),
                    extra: s.extra_mm,
                }),
                seat: self.seat(j),
            })
            .collect();
        FitProblem {
            stations,
            curve: if part == into { None } else { self.curve(part) },
            fasteners,
            limits: self.limits,
        }
    }

    /// [`geom::t_quantile`], worked out once for all figures with as many degrees of freedom.
    pub(super) fn t_quantile(&self, p: f64, nu: f64) -> f64 {
        let key = (p.to_bits(), nu.to_bits());
        let mut known = self
            .quantiles
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        if let Some(k) = known.iter().find(|k| (k.0, k.1) == key) {
            return k.2;
        }
        let value = t_quantile(p, nu);
        known.push((key.0, key.1, value));
        value
    }

    /// [`standard`] with quantiles that are known already.
    pub(super) fn standard(&self, f: &Figure) -> f64 {
        if f.u95 == 0.0 {
            0.0
        } else {
            f.u95 / self.t_quantile(0.975, f.nu)
        }
    }

    /// [`geom::u95`] with quantiles that are known already.
    pub(super) fn u95(&self, u: f64, nu: f64) -> f64 {
        if u == 0.0 {
            0.0
        } else {
            self.t_quantile(0.975, nu) * u
        }
    }

    /// The edge of side `which`; copies share it.
    fn curve(&self, which: usize) -> Option<EdgeCurve> {
        let points = if which == 0 {
            &self.compare.a_curve
        } else {
            &self.compare.b_curve
        };
        self.curves[which]
            .get_or_init(|| EdgeCurve::new(points, self.compare.closed))
            .clone()
    }

    /// The least play of all fasteners, mm; infinite without any.
    pub(super) fn least_play(&self) -> f64 {
        let all = self.holes.iter().map(|&(j, _)| self.play(j));
        all.fold(f64::INFINITY, f64::min)
    }

    /// (H - F)/2 where the body holds the fastener, the sum over both holes where it floats (ASME Y14.5, fastener
    /// formulas).
    fn play(&self, fastener: usize) -> f64 {
        let f = &self.part.fasteners[fastener];
        let one = |hole: f64| 0.5 * (hole - f.fastener_mm);
        match f.fixing {
            Fixing::Fixed => one(f.part_hole_mm),
            Fixing::Floating => one(f.part_hole_mm) + one(f.body_hole_mm),
        }
    }

    /// Shims and gasket together; the part is drawn with the gasket in the middle of its working range.
    fn seat(&self, fastener: usize) -> Seat {
        let (low, high) = self.part.fasteners[fastener].shim_mm;
        let gasket = self
            .part
            .gasket
            .map_or(0.0, |g| 0.5 * g.thickness_mm * (g.most - g.least).max(0.0));
        if high <= low && gasket == 0.0 {
            Seat::Bare
        } else {
            Seat::Range(low - gasket, high.max(low) + gasket)
        }
    }

    /// Standard uncertainty of a hole's place on a side, mm.
    pub(super) fn hole_u(&self, which: usize, side: usize) -> f64 {
        let h = self.holes[which].1;
        if side == 0 { h.a_u_mm } else { h.b_u_mm }
    }
}

fn doubt(spread: Option<&EdgeSpread>, seen: &[usize]) -> Doubt {
    let Some(s) = spread else {
        return Doubt {
            gap: DMatrix::zeros(seen.len(), 0),
            flush: DMatrix::zeros(seen.len(), 0),
            gap_u: vec![0.0; seen.len()],
            flush_u: vec![0.0; seen.len()],
            nu: f64::INFINITY,
        };
    };
    // Factors of the gap, of the flush, and those they share, in this order.
    let (gap, flush) = (s.gap.ncols() - s.shared, s.flush.ncols() - s.shared);
    let rows = |m: &DMatrix<f64>, own: usize, from: usize| {
        let mut out = DMatrix::zeros(seen.len(), gap + flush + s.shared);
        for k in 0..own + s.shared {
            let to = if k < own {
                from + k
            } else {
                gap + flush + k - own
            };
            let column = m.column(k);
            for (v, &i) in out.column_mut(to).iter_mut().zip(seen) {
                *v = column[i];
            }
        }
        out
    };
    let (gap, flush) = (rows(&s.gap, gap, 0), rows(&s.flush, flush, gap));
    Doubt {
        gap_u: row_norms(&gap),
        flush_u: row_norms(&flush),
        gap,
        flush,
        nu: s.nu,
    }
}

/// Lengths of all rows, summed up in the order of the columns.
pub(super) fn row_norms(m: &DMatrix<f64>) -> Vec<f64> {
    let mut sums = vec![0.0; m.nrows()];
    for column in m.as_slice().chunks_exact(m.nrows().max(1)) {
        for (s, v) in sums.iter_mut().zip(column) {
            *s += v * v;
        }
    }
    sums.into_iter().map(f64::sqrt).collect()
}

/// Angles seen on both sides: of each junction the independent ones, or all where none is marked.
fn angles(compare: &MeasuredCompare) -> Vec<Angle> {
    compare
        .angles
        .iter()
        .filter(|r| {
            let marked = compare
                .angles
                .iter()
                .any(|o| o.junction == r.junction && o.independent && o.difference.is_some());
            r.independent || !marked
        })
        .filter_map(|r| {
            let (a, b, d) = (r.a?, r.b?, r.difference?);
            Some(Angle {
                name: format!("{}, {}", r.junction, r.place),
                d: d.value,
                u: [(standard(&a), a.nu), (standard(&b), b.nu)],
            })
        })
        .collect()
}
