//! Further readings of openings: their mean is taken, and the scatter between them stands behind the give-or-take.
//!
//! Scatter between readings that were done anew holds whatever the correlation of the noise. It is pooled over all
//! figures of one kind in a visit, each against what the noise model says of it, so that wide and narrow faces go
//! together. From six degrees of freedom on it is used as it is; with fewer the larger of the two is given. The smaller is
//! never picked: that would hold in 80 % to 90 % of cases only.

use std::collections::BTreeMap;

use geom::{t_quantile, u95};
use record::{
    Code, Figure, Finding, Job, MeasuredHole, MeasuredJunction, Number, OpeningId, Scans, Severity,
    Source, VisitId,
};

use super::edge::{dense, measured_edge};
use super::opening::OpeningWork;
use super::visit_of;
use crate::compare::{Across, Again};

/// Degrees of freedom from which the scatter between readings stands alone.
const ENOUGH: f64 = 6.0;
/// Readings that agree this much better than the model says are one reading, written twice.
const SAME_READING: f64 = 0.1;

/// Scatter between readings against what the noise model says: nu times its square, and nu.
#[derive(Clone, Copy, Debug, Default)]
struct Pool {
    sum: f64,
    nu: f64,
    /// Whether further scans see the same wrong again, as where an edge is seen: then the larger doubt is given however many
    /// there are.
    shared: bool,
}

impl Pool {
    /// `ratio` is the square of the scatter over the square of the model, from `nu` differences.
    fn add(&mut self, ratio: f64, nu: f64) {
        if ratio.is_finite() && nu > 0.0 {
            self.sum += nu * ratio;
            self.nu += nu;
        }
    }

    /// One figure read several times: `offs` are the further readings less the first, `u` the model's standard uncertainty
    /// of one reading.
    fn add_readings(&mut self, offs: &[f64], u: f64) {
        let more = offs.len() as f64;
        let sum: f64 = offs.iter().sum();
        let about_mean = offs.iter().map(|d| d * d).sum::<f64>() - sum * sum / (more + 1.0);
        self.add(about_mean / (more * u * u), more);
    }

    fn times(&self) -> f64 {
        (self.sum / self.nu.max(1e-12)).sqrt()
    }

    fn enough(&self) -> bool {
        self.nu >= ENOUGH && !self.shared
    }

    /// Factor on the model's standard uncertainty for the mean of `readings`, the degrees of freedom, and whether they come
    /// from the repeats.
    fn scale(&self, model_nu: f64, readings: f64) -> (f64, f64, bool) {
        let model = (1.0 / readings.sqrt(), model_nu, false);
        if self.nu < 1.0 {
            return model;
        }
        let repeats = (self.times() / readings.sqrt(), self.nu, true);
        let u95 = |s: (f64, f64, bool)| s.0 * t_quantile(0.975, s.1);
        if self.enough() || u95(repeats) > u95(model) {
            repeats
        } else {
            model
        }
    }

    fn apply(&self, f: &mut Figure, readings: f64) {
        let u = standard(f);
        let (times, nu, repeats) = self.scale(f.nu, readings);
        f.u95 = u95(times * u, nu);
        f.nu = nu;
        if repeats {
            f.source = Source::Repeats;
        }
    }
}

fn standard(f: &Figure) -> f64 {
    f.u95 / t_quantile(0.975, f.nu)
}

/// The pools of a visit.
#[derive(Clone, Copy, Debug)]
struct Pools {
    angle: Pool,
    gap: Pool,
    flush: Pool,
    hole: Pool,
    diameter: Pool,
}

impl Default for Pools {
    fn default() -> Self {
        let pool = Pool::default();
        let shared = Pool {
            shared: true,
            ..pool
        };
        Self {
            angle: pool,
            gap: pool,
            flush: pool,
            hole: shared,
            diameter: shared,
        }
    }
}

impl Pools {
    fn named(&self) -> [(&'static str, &Pool); 5] {
        [
            ("angles", &self.angle),
            ("gaps", &self.gap),
            ("flush", &self.flush),
            ("places of holes", &self.hole),
            ("diameters of holes", &self.diameter),
        ]
    }
}

/// A first reading with its further ones.
struct Readings<'a> {
    first: &'a OpeningWork,
    further: Vec<(&'a OpeningWork, Option<Again>)>,
}

impl Readings<'_> {
    fn laid(&self) -> Option<Vec<&Again>> {
        self.further.iter().map(|f| f.1.as_ref()).collect()
    }

    fn pool(&self, into: &mut Pools) {
        for j in &self.first.measured.junctions {
            let all = self.junctions(j);
            if all.len() != self.further.len() {
                continue;
            }
            // The angle at mid length and the twist are independent of each other; the angles at the stations follow.
            if let Some((k, s)) = middle(j) {
                let offs: Vec<f64> = all
                    .iter()
                    .filter_map(|o| Some(o.stations.get(k)?.angle.value - s.value))
                    .collect();
                into.angle.add_readings(&offs, standard(&s));
            }
            let offs: Vec<f64> = all.iter().map(|o| o.twist.value - j.twist.value).collect();
            into.angle.add_readings(&offs, standard(&j.twist));
        }
        let Some(laid) = self.laid() else { return };
        for (pool, of) in [
            (
                &mut into.gap,
                laid.iter().map(|a| &a.gap).collect::<Vec<_>>(),
            ),
            (&mut into.flush, laid.iter().map(|a| &a.flush).collect()),
        ] {
            let (ratio, nu) = along_edge(&of);
            pool.add(ratio, nu);
        }
        for h in &self.first.measured.holes {
            let pairs: Vec<_> = laid
                .iter()
                .filter_map(|a| a.holes.iter().find(|p| p.id == h.id))
                .collect();
            if pairs.len() != self.further.len() {
                continue;
            }
            for of in [|p: &record::HolePair| p.right, |p: &record::HolePair| p.up] {
                let figures: Vec<Figure> = pairs.iter().map(|p| of(p)).collect();
                let offs: Vec<f64> = figures.iter().map(|f| f.value).collect();
                // The model gives the doubt of a difference, which is that of two readings.
                let u = mean(figures.iter().map(|f| standard(f).powi(2))).sqrt();
                into.hole.add_readings(&offs, u / 2f64.sqrt());
            }
            let offs: Vec<f64> = pairs
                .iter()
                .map(|p| p.b_diameter.value - p.a_diameter.value)
                .collect();
            into.diameter.add_readings(&offs, standard(&h.diameter));
        }
    }

    /// The same junction in the further readings, where it was found with the same stations.
    fn junctions(&self, j: &MeasuredJunction) -> Vec<&MeasuredJunction> {
        self.further
            .iter()
            .filter_map(|f| f.0.measured.junctions.iter().find(|o| o.id == j.id))
            .filter(|o| o.stations.len() == j.stations.len())
            .collect()
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (n, sum) = values.fold((0.0, 0.0), |(n, s), v| (n + 1.0, s + v));
    sum / f64::max(n, 1.0)
}

/// The angle nearest to mid length.
fn middle(j: &MeasuredJunction) -> Option<(usize, Figure)> {
    let off = |s: &record::StationAngle| (s.share - 0.5).abs();
    let best = j
        .stations
        .iter()
        .enumerate()
        .min_by(|a, b| off(a.1).total_cmp(&off(b.1)))?;
    Some((best.0, best.1.angle))
}

/// Square of the scatter over that of the model along an edge, and how many differences it is worth.
fn along_edge(all: &[&Across]) -> (f64, f64) {
    let more = all.len() as f64;
    let (mut seen, mut said) = (0.0, 0.0);
    for i in 0..all[0].off.len() {
        let offs: Option<Vec<f64>> = all
            .iter()
            .map(|a| a.off.get(i).copied().flatten())
            .collect();
        let Some(offs) = offs else { continue };
        let sum: f64 = offs.iter().sum();
        seen += offs.iter().map(|d| d * d).sum::<f64>() - sum * sum / (more + 1.0);
        // The variance of a difference is that of two readings.
        said += more * 0.5 * mean(all.iter().map(|a| a.var[i]));
    }
    (seen / said, more * mean(all.iter().map(|a| a.nu)))
}

/// Takes further readings into the first ones and the scatter between them into every figure of their visits. Nothing
/// changes in a job without further readings.
pub(super) fn with_repeats(
    job: &Job,
    scans: &Scans,
    work: Vec<OpeningWork>,
    findings: &mut Vec<Finding>,
) -> Vec<OpeningWork> {
    let of = |id: &OpeningId| work.iter().find(|w| w.measured.id == *id);
    let mut by_first: BTreeMap<OpeningId, Readings> = BTreeMap::new();
    for o in &job.openings {
        let Some(first) = &o.repeat_of else { continue };
        let (Some(a), Some(b)) = (of(first), of(&o.id)) else {
            continue;
        };
        let hash = |id: &OpeningId| {
            let o = job.openings.iter().find(|o| o.id == *id)?;
            scans.get(&o.scan).map(|p| &p.hash)
        };
        if hash(first) == hash(&o.id) {
            findings.push(same_file(&o.id.0));
            continue;
        }
        by_first
            .entry(first.clone())
            .or_insert_with(|| Readings {
                first: a,
                further: Vec::new(),
            })
            .further
            .push((b, Again::new(a, b)));
    }
    if by_first.is_empty() {
        return work;
    }
    let visit = |id: &OpeningId| -> Option<&VisitId> {
        visit_of(job, job.openings.iter().find(|o| o.id == *id)?)
    };
    let mut pools: BTreeMap<&VisitId, Pools> = BTreeMap::new();
    for (id, readings) in &by_first {
        if let Some(v) = visit(id) {
            readings.pool(pools.entry(v).or_default());
        }
    }
    pools.retain(|v, p| {
        let one = p.gap.nu > 0.0 && p.gap.times() < SAME_READING && p.flush.times() < SAME_READING;
        findings.push(if one {
            same_file(&v.0)
        } else {
            told(v, p, by_first.len())
        });
        !one
    });
    work.iter()
        .map(|w| {
            let id = &w.measured.id;
            match visit(id).and_then(|v| pools.get(v)) {
                Some(p) => applied(w, by_first.get(id), p),
                None => w.clone(),
            }
        })
        .collect()
}

/// An opening with its further readings taken in.
fn applied(w: &OpeningWork, readings: Option<&Readings>, p: &Pools) -> OpeningWork {
    let mut out = w.clone();
    let laid = readings.and_then(Readings::laid);
    if let (Some(fit), Some(spreads)) = (&w.fitted, &w.spreads) {
        let count = laid.as_ref().map_or(1.0, |l| 1.0 + l.len() as f64);
        let (gap, flush) = (p.gap.scale(w.nu, count), p.flush.scale(w.nu, count));
        let scaled = spreads.clone().scaled([gap.0, flush.0]);
        let averaged = laid.as_ref().and_then(|laid| {
            fit.moved_by(|share, _| {
                let mut sum = [0.0; 2];
                for [x, z] in laid.iter().map(|a| a.shift(share)) {
                    sum = [sum[0] + x, sum[1] + z];
                }
                sum.map(|s| s / count)
            })
        });
        let fit = averaged.unwrap_or_else(|| fit.clone());
        out.nu = gap.1.min(flush.1);
        // The axes stay those of the first reading: the picks of top and side are its own.
        let mut edge = measured_edge(&fit, &scaled, out.nu, &w.measured.part_from_scan, &|| true);
        if gap.2 {
            for f in edge
                .dimensions
                .iter_mut()
                .map(|d| &mut d.figure)
                .chain(edge.corners.iter_mut().map(|c| &mut c.radius))
            {
                f.source = Source::Repeats;
            }
        }
        out.measured.edge = Some(edge);
        out.dense = dense(&fit, |p| *p);
        out.spreads = Some(scaled);
        out.fitted = Some(fit);
    }
    for j in &mut out.measured.junctions {
        let all = readings.map_or_else(Vec::new, |r| r.junctions(j));
        let whole = readings.is_some_and(|r| all.len() == r.further.len());
        let all = if whole { all } else { Vec::new() };
        let count = 1.0 + all.len() as f64;
        let average = |first: f64, of: &dyn Fn(&MeasuredJunction) -> f64| {
            (first + all.iter().map(|o| of(o)).sum::<f64>()) / count
        };
        j.twist.value = average(j.twist.value, &|o| o.twist.value);
        p.angle.apply(&mut j.twist, count);
        j.flat_error.value = average(j.flat_error.value, &|o| o.flat_error.value);
        p.angle.apply(&mut j.flat_error, count);
        for (k, s) in j.stations.iter_mut().enumerate() {
            s.angle.value = average(s.angle.value, &|o| o.stations[k].angle.value);
            p.angle.apply(&mut s.angle, count);
        }
        if p.angle.enough() {
            // A second scan was what it asked for.
            j.findings.retain(|f| f.code != Code::FaceCannotTell);
        }
    }
    for h in &mut out.measured.holes {
        hole(h, readings, laid.as_deref(), p);
    }
    out
}

fn hole(h: &mut MeasuredHole, readings: Option<&Readings>, laid: Option<&[&Again]>, p: &Pools) {
    let further: Vec<_> = laid
        .unwrap_or_default()
        .iter()
        .filter_map(|a| a.holes.iter().find(|x| x.id == h.id))
        .collect();
    let whole = readings.is_some_and(|r| further.len() == r.further.len());
    let further = if whole { further } else { Vec::new() };
    let count = 1.0 + further.len() as f64;
    for x in &further {
        let off = x.b - x.a;
        // Across the hole only: along its axis the panel says more.
        h.centre += (off - h.axis.into_inner() * h.axis.dot(&off)) / count;
        h.diameter.value += (x.b_diameter.value - x.a_diameter.value) / count;
    }
    p.hole.apply(&mut h.centre_u95, count);
    p.diameter.apply(&mut h.diameter, count);
}

fn told(visit: &VisitId, p: &Pools, openings: usize) -> Finding {
    let used: Vec<_> = p.named().into_iter().filter(|k| k.1.nu >= 1.0).collect();
    let list = |of: &dyn Fn(&Pool) -> bool| -> Vec<&str> {
        used.iter().filter(|k| of(k.1)).map(|k| k.0).collect()
    };
    let mut parts = vec![format!("{openings} openings were scanned more than once")];
    for (names, says) in [
        (
            list(&|k| k.enough()),
            "what the scans differ by stands behind the give-or-take of",
        ),
        (
            list(&|k| k.shared),
            "two scans see an edge alike, so the larger give-or-take of the two is given for",
        ),
        (
            list(&|k| !k.shared && !k.enough()),
            "there are too few differences, so the larger give-or-take of the two is given for",
        ),
    ] {
        if !names.is_empty() {
            parts.push(format!("{says} {}", names.join(", ")));
        }
    }
    Finding {
        code: Code::Repeats,
        severity: Severity::Note,
        subject: format!("visit {visit}"),
        says: parts.join("; "),
        advice: String::new(),
        numbers: used
            .iter()
            .flat_map(|(name, k)| {
                let number = |name: String, value| Number {
                    name,
                    value,
                    quantity: None,
                };
                [
                    number(format!("{name}: differences"), k.nu),
                    number(format!("{name}: scatter over that of the model"), k.times()),
                ]
            })
            .collect(),
    }
}

fn same_file(subject: &str) -> Finding {
    Finding {
        code: Code::Repeats,
        severity: Severity::Doubt,
        subject: subject.to_owned(),
        says: "the further reading is the first one over again, so it says nothing new and was not used"
            .to_owned(),
        advice: "scan the opening once more, re-seated, and name that file".to_owned(),
        numbers: Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use record::Quantity;

    #[test]
    fn readings_are_pooled_about_their_own_mean() {
        let mut p = Pool::default();
        // 5.0 and 5.2; then 1.0, 1.3 and 1.6, as in the pooled scatter of `geom`.
        p.add_readings(&[0.2], 1.0);
        p.add_readings(&[0.3, 0.6], 1.0);
        assert_relative_eq!(p.times(), ((0.02 + 0.18) / 3.0_f64).sqrt(), epsilon = 1e-12);
        assert_relative_eq!(p.nu, 3.0);
    }

    #[test]
    fn few_differences_never_narrow_a_figure() {
        let figure = Figure {
            value: 1.0,
            u95: 0.196,
            nu: f64::INFINITY,
            source: Source::Noise,
            quantity: Quantity::Angle,
        };
        let with = |sum: f64, nu: f64| {
            let mut f = figure;
            let pool = Pool {
                sum,
                nu,
                shared: false,
            };
            pool.apply(&mut f, 2.0);
            f
        };
        // Two readings that happen to agree: their mean, with the model's doubt.
        let f = with(1e-4, 1.0);
        assert_relative_eq!(f.u95, 0.196 / 2f64.sqrt(), epsilon = 1e-9);
        assert_eq!(f.source, Source::Noise);
        // Enough of them stand alone, narrower or wider.
        for times in [0.5_f64, 3.0] {
            let f = with(12.0 * times.powi(2), 12.0);
            let s = 0.196 / t_quantile(0.975, f64::INFINITY);
            let wanted = times * s / 2f64.sqrt() * t_quantile(0.975, 12.0);
            assert_relative_eq!(f.u95, wanted, epsilon = 1e-9);
            assert_eq!((f.source, f.nu), (Source::Repeats, 12.0));
        }
        assert!(with(4.0 * 9.0, 4.0).u95 > 3.0 * 0.196 / 2f64.sqrt());
    }
}
