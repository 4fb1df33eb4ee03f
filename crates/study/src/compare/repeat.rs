//! A further reading of an opening laid on the first one.

use geom::{Point, Polyline, Spline, SplineBasis, SplineFit};
use record::HolePair;

use super::hole_pairs::holes;
use super::lay::{self, Station};
use super::pair::Pair;
use crate::measure::OpeningWork;

/// Distance of the places at which two readings are compared, mm.
const STEP: f64 = 2.0;
/// Knot distances of their difference that are tried, mm: as fine as the edges themselves where they were seen.
const KNOTS: [f64; 3] = [6.0, 12.0, 25.0];

/// One direction across the edge.
#[derive(Clone, Debug)]
pub struct Across {
    /// Second reading less first by place, mm; `None` where one of them was not seen.
    pub off: Vec<Option<f64>>,
    /// What the noise model says the variance of that is, mm2; 0 where not seen.
    pub var: Vec<f64>,
    /// How many differences of equal variance would say as much (Welch 1938, Satterthwaite 1946): tr(V)^2 / tr(V^2).
    pub nu: f64,
    curve: Spline<1>,
}

/// A further reading against the first.
#[derive(Clone, Debug)]
pub struct Again {
    /// Towards the inside of the opening.
    pub gap: Across,
    /// Out of the panel.
    pub flush: Across,
    /// Holes of both, the further reading laid on the first in the first one's part axes.
    pub holes: Vec<HolePair>,
    length: f64,
}

impl Again {
    /// Lays the edge of `further` on that of `first` by the edges alone. `None` where one has no edge or they do not lie on
    /// each other.
    pub fn new(first: &OpeningWork, further: &OpeningWork) -> Option<Self> {
        let (fit, other) = (first.fitted.as_ref()?, further.fitted.as_ref()?);
        let to_part = first.measured.part_from_scan;
        let n = (fit.length / STEP).ceil().max(32.0) as usize;
        let last = if fit.closed { n } else { n - 1 };
        let shares: Vec<f64> = (0..n).map(|i| i as f64 / last as f64).collect();
        let stations: Vec<Station> = shares
            .iter()
            .map(|f| {
                let s = fit.station(*f);
                Station {
                    p: to_part * s.p,
                    along: to_part.rotation * s.along,
                    inward: to_part.rotation * s.inward,
                    out: to_part.rotation * s.out,
                    weight: if s.seen { 1.0 } else { 0.0 },
                }
            })
            .collect();
        let from_part = further.measured.part_from_scan;
        let line = Polyline::new(further.dense.iter().map(|p| from_part * p), other.closed)?;
        let laid = lay::lay_from_any_turn(&stations, &line, |share| other.station(share).seen)?;
        let used: Vec<usize> = (0..n).filter(|i| laid.crossings[*i].is_some()).collect();
        let at = |i: &usize| laid.crossings[*i];
        let first_shares: Vec<f64> = used.iter().map(|i| shares[*i]).collect();
        let other_shares: Vec<f64> = used.iter().filter_map(at).map(|c| c.share).collect();
        let a = first.spreads.as_ref()?.at_shares(&first_shares, first.nu);
        let b = further
            .spreads
            .as_ref()?
            .at_shares(&other_shares, further.nu);
        let pair = Pair::new(&stations, &used, &laid, &a, &b);
        let rows = pair.left_factors();
        let along: Vec<f64> = first_shares.iter().map(|f| f * fit.length).collect();
        let curves = KNOTS.into_iter().find_map(|knots| {
            SplineFit::new(
                SplineBasis::every(fit.length, knots, fit.closed),
                &along,
                &[],
                0.0,
            )
        })?;
        let across = |first_row: usize, value: fn(&lay::Crossing) -> f64| {
            let mut off = vec![None; n];
            let mut var = vec![0.0; n];
            let block = rows.rows(first_row, used.len());
            for (k, i) in used.iter().enumerate() {
                off[*i] = laid.crossings[*i].as_ref().map(value);
                var[*i] = block.row(k).norm_squared();
            }
            let values: Vec<f64> = off.iter().flatten().copied().collect();
            // tr(V) and tr(V^2) of V = F F' from the smaller F'F.
            let small = block.transpose() * block;
            let (trace, square) = (small.trace(), small.norm_squared());
            Across {
                off,
                var,
                nu: if square > 0.0 {
                    trace * trace / square
                } else {
                    0.0
                },
                curve: curves.function(&values),
            }
        };
        let rigid = laid.shift;
        let laid_var = |p: &Point, d: &geom::Vector| pair.placement_var(p, d);
        Some(Self {
            gap: across(0, |c| c.gap),
            flush: across(used.len(), |c| -c.flush),
            holes: holes(first, further, |p| rigid * p, &laid_var),
            length: fit.length,
        })
    }

    /// By how much the further reading lies inside and out of the first at a share of its edge, mm.
    pub fn shift(&self, share: f64) -> [f64; 2] {
        let s = share * self.length;
        [&self.gap, &self.flush].map(|a| a.curve.at(s)[0])
    }
}
