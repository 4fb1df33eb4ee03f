//! One comparison: b's edge laid on a's, and every difference with its uncertainty.

use geom::{Improper, Mirror, Point, Polyline, Rigid, Vector, u95};
use nalgebra::{DMatrix, DVector};
use record::{
    Code, Compare, EdgeSpread, Figure, Finding, LengthUnit, LocalRest, MeasuredCompare, ModeKind,
    Number, PairStation, Quantity, Relation, Severity, ShapeMode, Side, Source,
};

use super::angle_rows::angles;
use super::hole_pairs::{holes, own_image_holes};
use super::lay::{self, Laid, Station};
use super::modes::{self, ModeStation};
use super::place_name::{SideWords, place_name, side_words};
use super::smoother::Smoother;
use crate::measure::{OpeningWork, station_shares};

/// Edges that lie farther than this from each other after laying are not the same opening, mm.
const UNLIKE: f64 = 6.0;
/// Two openings are of one side if, as they are, they fit this much better than turned over, and that badly, mm.
const SWAPPED_SHARE: f64 = 0.4;
/// Lengths of edges whose ratio is that of two units within this are of one opening in unlike units.
const UNIT_WITHIN: f64 = 0.02;
const SWAPPED_LEAST: f64 = 1.0;

/// Compares two measured openings (or one with its own mirror image).
pub fn compare(compare: &Compare, a: &OpeningWork, b: Option<&OpeningWork>) -> MeasuredCompare {
    let other = if compare.relation == Relation::Itself {
        Some(a)
    } else {
        b
    };
    let mut out = MeasuredCompare {
        id: compare.id.clone(),
        relation: compare.relation,
        part: compare.part.clone(),
        a: compare.a.clone(),
        b: compare.b.clone(),
        sides: [
            a.measured.side,
            other.map_or(Side::NotSaid, |o| o.measured.side),
        ],
        b_on_a: None,
        stations: Vec::new(),
        a_spread: None,
        b_spread: None,
        a_curve: Vec::new(),
        b_curve: Vec::new(),
        closed: false,
        modes: Vec::new(),
        rest: None,
        angles: Vec::new(),
        holes: Vec::new(),
        findings: Vec::new(),
    };
    let itself = compare.relation == Relation::Itself;
    out.angles = angles(a, other.filter(|_| !itself));
    let Some(other) = other else {
        out.findings.push(Finding {
            code: Code::OtherSideNotMeasured,
            severity: Severity::Doubt,
            subject: a.measured.name.clone(),
            says: "the other side was not measured".to_owned(),
            advice: "measure the other side before a mirrored part is cut".to_owned(),
            numbers: Vec::new(),
        });
        return out;
    };
    if a.fitted.is_some() && other.fitted.is_some() {
        edges(&mut out, a, other, compare.relation);
    } else if a.edge_asked || other.edge_asked {
        let lost = if a.fitted.is_none() { a } else { other };
        out.findings.push(Finding {
            code: Code::PickNotFound,
            severity: Severity::Stop,
            subject: lost.measured.name.clone(),
            says: if lost.by_hand {
                "its readings do not hold its edge yet, so nothing can be said of the fit"
            } else {
                "its opening edge was not found, so nothing can be said of the fit"
            }
            .to_owned(),
            advice: if lost.by_hand {
                "fill in the boxes of its points: each is tied to four others or more"
            } else {
                "pick the edge again, or measure it by hand"
            }
            .to_owned(),
            numbers: Vec::new(),
        });
    }
    out
}

/// a's part axes from b's part axes before laying: as it is, or turned over left to right.
fn start(relation: Relation) -> Improper {
    match relation {
        Relation::Same => Improper::proper(Rigid::identity()),
        Relation::Mirrored | Relation::Itself => Improper {
            mirror: Some(Mirror::through(&Point::origin(), Vector::x_axis())),
            rigid: Rigid::identity(),
        },
    }
}

fn edges(out: &mut MeasuredCompare, a: &OpeningWork, b: &OpeningWork, relation: Relation) {
    let (Some(fit_a), Some(fit_b)) = (&a.fitted, &b.fitted) else {
        return;
    };
    let shares = station_shares(fit_a);
    let a_map = a.measured.part_from_scan;
    let stations: Vec<Station> = shares
        .iter()
        .map(|f| {
            let s = fit_a.station(*f);
            Station {
                p: a_map * s.p,
                along: a_map.rotation * s.along,
                inward: a_map.rotation * s.inward,
                out: a_map.rotation * s.out,
                weight: if s.seen { 1.0 } else { 0.0 },
            }
        })
        .collect();
    let turn = start(relation);
    let b_map = b.measured.part_from_scan;
    let b_start: Vec<Point> = b.dense.iter().map(|p| turn.point(&(b_map * p))).collect();
    let Some(b_line) = Polyline::new(b_start.iter().copied(), fit_b.closed) else {
        return;
    };
    let seen = |share: f64| fit_b.station(share).seen;
    let laid = lay::lay_from_any_turn(&stations, &b_line, seen);
    if relation == Relation::Mirrored {
        out.findings
            .extend(looks_swapped(a, &stations, laid.as_ref(), b, &b_map));
    }
    let Some(laid) = laid.filter(|l| l.left_over < UNLIKE) else {
        out.findings
            .extend(unlike_units(a, fit_a.length, b, fit_b.length));
        out.findings.push(Finding {
            code: Code::PlacementPoor,
            severity: Severity::Stop,
            subject: a.measured.name.clone(),
            says: "the two opening edges are too unlike, or too little of them was seen, to be laid on each other"
                .to_owned(),
            advice: "check that both picks are on the same opening, and the clicked tops".to_owned(),
            numbers: Vec::new(),
        });
        return;
    };
    let used: Vec<usize> = (0..stations.len())
        .filter(|i| laid.crossings[*i].is_some())
        .collect();
    let a_shares: Vec<f64> = used.iter().map(|i| shares[*i]).collect();
    let b_shares: Vec<f64> = used
        .iter()
        .filter_map(|i| laid.crossings[*i].map(|c| c.share))
        .collect();
    let spread = |w: &OpeningWork, shares: &[f64]| {
        let spreads = w.spreads.as_ref();
        spreads.map(|s| s.at_shares(shares, w.nu))
    };
    let (Some(a_spread), Some(b_spread)) = (spread(a, &a_shares), spread(b, &b_shares)) else {
        return;
    };
    let Some(smoother) = Smoother::new(&a_shares, fit_a.length, fit_a.closed) else {
        return;
    };
    let laid = smoother.smoothed(&stations, &used, &laid);
    let (a_spread, b_spread) = (smoother.spread(&a_spread), smoother.spread(&b_spread));
    let words = side_words(a.outward_in_part, a.measured.side);
    let pair = Pair::new(&stations, &used, &laid, &a_spread, &b_spread);
    out.stations = pair.stations(&shares, words);
    pair.shape(out, words);
    let rigid = laid.shift * turn.rigid;
    let b_in_a = |p: &Point| rigid * turn.mirror.map_or(*p, |m| m.point(p));
    out.b_on_a = Some(Improper {
        mirror: turn.mirror.map(|m| m.moved(&b_map.inverse())),
        rigid: rigid * b_map,
    });
    out.a_curve = a.dense.iter().map(|p| a_map * p).collect();
    out.b_curve = smoother.moved(&stations, &shares, &laid, &out.a_curve);
    out.closed = fit_a.closed && fit_b.closed;
    out.a_spread = Some(a_spread);
    out.b_spread = Some(b_spread);
    let laid_var = |p: &Point, along: &Vector| pair.placement_var(p, along);
    out.holes = if relation == Relation::Itself {
        own_image_holes(a, b_in_a, &laid_var)
    } else {
        holes(a, b, b_in_a, &laid_var)
    };
}

fn plural(unit: LengthUnit) -> &'static str {
    match unit {
        LengthUnit::Inch => "inches",
        LengthUnit::Foot => "feet",
        LengthUnit::Millimetre | LengthUnit::Centimetre | LengthUnit::Metre => unit.word(),
    }
}

/// That one edge is longer than the other by just what the unit of one scan taken for another would make.
fn unlike_units(a: &OpeningWork, long_a: f64, b: &OpeningWork, long_b: f64) -> Option<Finding> {
    let (long, short, ratio) = if long_a >= long_b {
        (a, b, long_a / long_b)
    } else {
        (b, a, long_b / long_a)
    };
    let all = LengthUnit::ALL;
    let (is, taken) = all
        .iter()
        .flat_map(|u| all.iter().map(move |v| (u, v)))
        .filter(|(u, v)| u.in_mm() > 1.5 * v.in_mm())
        .find(|(u, v)| (ratio * v.in_mm() / u.in_mm() - 1.0).abs() < UNIT_WITHIN)?;
    Some(Finding {
        code: Code::UnitDoubt,
        severity: Severity::Stop,
        subject: short.measured.name.clone(),
        says: format!(
            "the edge of {} is {ratio:.1} times as long as that of {}, as if a scan in {} had been read in {}",
            long.measured.id,
            short.measured.id,
            plural(*is),
            plural(*taken)
        ),
        advice: "tape one length on each body and enter it with its two ends: it settles the unit"
            .to_owned(),
        numbers: vec![Number {
            name: "one length over the other".to_owned(),
            value: ratio,
            quantity: None,
        }],
    })
}

/// Whether b fits a far better as it is than turned over: then both are of one side.
fn looks_swapped(
    a: &OpeningWork,
    stations: &[Station],
    laid: Option<&Laid>,
    b: &OpeningWork,
    b_map: &Rigid,
) -> Option<Finding> {
    let as_it_is = Polyline::new(b.dense.iter().map(|p| b_map * p), true)?;
    let other = lay::lay_from_any_turn(stations, &as_it_is, |_| true)?.left_over;
    let mirrored = laid.map_or(f64::INFINITY, |l| l.left_over);
    (mirrored > SWAPPED_LEAST && other < SWAPPED_SHARE * mirrored).then(|| Finding {
        code: Code::SideLooksSwapped,
        severity: Severity::Stop,
        subject: a.measured.name.clone(),
        says: format!(
            "the other opening fits this one as it is ({other:.1} mm) far better than turned over ({mirrored:.1} mm): \
             both look like one side"
        ),
        advice: "check which scan is left and which is right".to_owned(),
        numbers: Vec::new(),
    })
}

/// Data of a laid pair: rows gap then flush of the stations used.
pub(super) struct Pair<'a> {
    all: &'a [Station],
    used: &'a [usize],
    laid: &'a Laid,
    data: DVector<f64>,
    /// Factors of a and b side by side, before the placement is taken out.
    factors: DMatrix<f64>,
    /// Factors of the six placements.
    placement: DMatrix<f64>,
    nu: f64,
}

impl<'a> Pair<'a> {
    pub(super) fn new(
        all: &'a [Station],
        used: &'a [usize],
        laid: &'a Laid,
        a: &EdgeSpread,
        b: &EdgeSpread,
    ) -> Self {
        let n = used.len();
        let crossing = |k: usize| laid.crossings[used[k]];
        let data = DVector::from_fn(2 * n, |i, _| {
            let c = crossing(i % n);
            c.map_or(0.0, |c| if i < n { c.gap } else { c.flush })
        });
        let own =
            |m: &DMatrix<f64>, s: &EdgeSpread| m.columns(0, m.ncols() - s.shared).into_owned();
        let last = |m: &DMatrix<f64>, s: &EdgeSpread| {
            m.columns(m.ncols() - s.shared, s.shared).into_owned()
        };
        // Matrix, first row, columns on from the one before or, for what gap and flush share, beside it.
        let parts = [
            (own(&a.gap, a), 0, -1.0, true),
            (own(&b.gap, b), 0, 1.0, true),
            (own(&a.flush, a), n, 1.0, true),
            (own(&b.flush, b), n, -1.0, true),
            (last(&a.gap, a), 0, -1.0, false),
            (last(&a.flush, a), n, 1.0, true),
            (last(&b.gap, b), 0, 1.0, false),
            (last(&b.flush, b), n, -1.0, true),
        ];
        let columns: usize = parts.iter().filter(|p| p.3).map(|p| p.0.ncols()).sum();
        let mut factors = DMatrix::zeros(2 * n, columns);
        let mut first = 0;
        for (f, row, sign, on) in parts {
            let wide = f.ncols();
            factors
                .view_mut((row, first), (n, wide))
                .copy_from(&(f * sign));
            first += if on { wide } else { 0 };
        }
        let placement = lay::placement_factors(&laid.design, &factors);
        Self {
            all,
            used,
            laid,
            data,
            factors,
            placement,
            nu: a.nu.min(b.nu),
        }
    }

    /// Variance, mm2, with which place `p` of b was laid along a direction: the doubt of the edges by which it was done.
    pub(super) fn placement_var(&self, p: &Point, along: &Vector) -> f64 {
        (lay::row(along, p, &self.laid.centre).transpose() * &self.placement).norm_squared()
    }

    /// Factors of what is left once the placement is taken out; rows gap then flush.
    pub(super) fn left_factors(&self) -> DMatrix<f64> {
        lay::projected(&self.laid.design, &self.factors)
    }

    fn length(&self, value: f64, u: f64) -> Figure {
        Figure {
            value,
            u95: u95(u, self.nu),
            nu: self.nu,
            source: Source::Noise,
            quantity: Quantity::Length,
        }
    }

    fn half(&self) -> (f64, f64) {
        modes::half_sizes(self.all.iter().map(|s| s.p)).unwrap_or((1.0, 1.0))
    }

    fn stations(&self, shares: &[f64], words: SideWords) -> Vec<PairStation> {
        let n = self.used.len();
        let left = self.left_factors();
        let half = self.half();
        self.used
            .iter()
            .enumerate()
            .filter_map(|(k, i)| {
                let (s, c) = (&self.all[*i], self.laid.crossings[*i]?);
                Some(PairStation {
                    place: place_name(&s.p, half, words),
                    share: shares[*i],
                    a: s.p,
                    b: c.p,
                    tangent: s.along,
                    gap_dir: s.inward,
                    flush_dir: s.out,
                    gap: self.length(c.gap, left.row(k).norm()),
                    flush: self.length(c.flush, left.row(n + k).norm()),
                    seen: true,
                })
            })
            .collect()
    }

    /// Named modes and the rest.
    fn shape(&self, out: &mut MeasuredCompare, words: SideWords) {
        let stations: Vec<ModeStation> = self
            .used
            .iter()
            .map(|i| ModeStation {
                p: self.all[*i].p,
                inward: self.all[*i].inward,
                out: self.all[*i].out,
            })
            .collect();
        let Some(m) = modes::fit(&stations, &self.laid.design, &self.data) else {
            return;
        };
        for (kind, amount, row) in &m.amounts {
            let u = (row.transpose() * &self.factors).norm();
            let mut figure = self.length(*amount, u);
            if *kind == ModeKind::Twist {
                figure.value = figure.value.to_degrees();
                figure.u95 = figure.u95.to_degrees();
                figure.quantity = Quantity::Angle;
            }
            out.modes.push(ShapeMode {
                kind: *kind,
                amount: figure,
            });
        }
        let factors = &self.factors - &m.design * (&m.map * &self.factors);
        let n = self.used.len();
        let Some(worst) = (0..2 * n).max_by(|a, b| m.rest[*a].abs().total_cmp(&m.rest[*b].abs()))
        else {
            return;
        };
        out.rest = Some(LocalRest {
            rms_mm: (m.rest.norm_squared() / (2.0 * n as f64)).sqrt(),
            place: place_name(&stations[worst % n].p, self.half(), words),
            worst: self.length(m.rest[worst], factors.row(worst).norm()),
        });
    }
}
