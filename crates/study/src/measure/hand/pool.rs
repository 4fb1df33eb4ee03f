//! Repeats of one reading made into one, with what their scatter says.

use std::collections::BTreeMap;

use geom::{t_quantile, welch_satterthwaite};
use record::{
    Code, Finding, HandInstrument, HandKind, HandReading, HandTable, Job, Opening, Severity,
};

/// Degrees of freedom from which the scatter of an instrument stands alone; with fewer the larger doubt is given.
const ENOUGH: f64 = 6.0;
/// Repeats that differ by more than this many standard deviations of a reading are not one reading: each goes into the
/// network by itself, so that the wrong one can be told.
const APART: f64 = 4.65;

/// What was read of one thing, repeats taken together.
#[derive(Clone, Debug)]
pub struct Pooled {
    /// What it is.
    pub kind: HandKind,
    /// As in the rows.
    pub from: Vec<String>,
    /// As in the rows.
    pub to: Vec<String>,
    /// As in the rows.
    pub station: String,
    /// Difference of the pointer lengths of a tram bar, mm.
    pub drop: f64,
    /// Mean, mm or degrees.
    pub value: f64,
    /// Standard uncertainty of the instrument itself.
    pub own: f64,
    /// Standard uncertainty of the mean by the readings.
    pub reading: f64,
    /// Degrees of freedom of both together.
    pub nu: f64,
    /// Lines of the table it came from.
    pub lines: Vec<u32>,
    /// As it was written, if one row.
    pub written: String,
    /// How many rows it is the mean of.
    pub count: usize,
}

impl Pooled {
    /// Standard uncertainty.
    pub fn sigma(&self) -> f64 {
        self.own.hypot(self.reading)
    }
}

/// What a reading is of, so that its repeats are found: a length read backwards is the same length.
fn key(r: &HandReading) -> (HandKind, Vec<String>, Vec<String>, String, String, String) {
    let (mut from, mut to) = (r.from.clone(), r.to.clone());
    if matches!(r.kind, HandKind::Length | HandKind::Level) && to < from {
        std::mem::swap(&mut from, &mut to);
    }
    if r.kind == HandKind::CornerAngle {
        to.sort();
    }
    let pointers = r
        .pointers_mm
        .map_or_else(String::new, |p| format!("{:.3}", (p[0] - p[1]).abs()));
    let tool = tool(r).to_lowercase();
    let place = r.station.to_lowercase();
    (r.kind, from, to, place, pointers, tool)
}

fn tool(r: &HandReading) -> &str {
    if r.instrument.is_empty() {
        HandInstrument::usual_for(r.kind)
    } else {
        &r.instrument
    }
}

/// Scatter between repeats by instrument: sum of squares about the means, and degrees of freedom.
#[derive(Clone, Debug, Default)]
pub struct Pools(BTreeMap<String, (f64, f64)>);

impl Pools {
    /// Of all tables of the visit of a table.
    pub fn of_visit(job: &Job, table: &HandTable) -> Self {
        let mut pools: BTreeMap<String, (f64, f64)> = BTreeMap::new();
        for t in job.hand.iter().filter(|t| t.visit == table.visit) {
            let mut groups: BTreeMap<_, Vec<f64>> = BTreeMap::new();
            for r in t.readings.iter().filter(|r| !r.kind.is_word()) {
                let key = (r.opening.to_lowercase(), key(r));
                groups.entry(key).or_default().push(r.value);
            }
            for ((_, key), values) in groups {
                let Some(i) = t.instrument(&key.5) else {
                    continue;
                };
                if values.len() < 2 || apart(&values, i.reading_sd()) {
                    continue;
                }
                let mean = values.iter().sum::<f64>() / values.len() as f64;
                let pool = pools.entry(key.5).or_default();
                pool.0 += values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
                pool.1 += values.len() as f64 - 1.0;
            }
        }
        Self(pools)
    }

    /// Standard deviation of one reading against the next and its degrees of freedom: the scatter where there are repeats
    /// enough, else the larger of the two.
    fn reading(&self, tool: &str, said: f64) -> (f64, f64) {
        let Some((sum, nu)) = self.0.get(&tool.to_lowercase()).copied() else {
            return (said, f64::INFINITY);
        };
        let seen = (sum / nu).sqrt();
        let larger = seen * t_quantile(0.975, nu) > said * t_quantile(0.975, f64::INFINITY);
        if nu >= ENOUGH && seen > 0.0 || larger {
            (seen, nu)
        } else {
            (said, f64::INFINITY)
        }
    }
}

fn apart(values: &[f64], sd: f64) -> bool {
    let (low, high) = values
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| {
            (l.min(*v), h.max(*v))
        });
    high - low > APART * sd
}

/// The readings of an opening. Rows with an instrument that nobody described are left out, and said.
pub fn pooled(
    opening: &Opening,
    table: &HandTable,
    pools: &Pools,
    findings: &mut Vec<Finding>,
) -> Vec<Pooled> {
    let mut order: Vec<_> = Vec::new();
    let mut groups: BTreeMap<_, Vec<&HandReading>> = BTreeMap::new();
    for r in table.readings.iter().filter(|r| r.is_of(opening)) {
        let k = key(r);
        if !groups.contains_key(&k) {
            order.push(k.clone());
        }
        groups.entry(k).or_default().push(r);
    }
    let mut all = Vec::new();
    for k in order {
        let rows = &groups[&k];
        let Some(tool) = table.instrument(&k.5) else {
            findings.push(Finding {
                code: Code::HandRowNotUsed,
                severity: Severity::Doubt,
                subject: opening.name.clone(),
                says: format!(
                    "line {}: no instrument is called \"{}\", so its give-or-take is not known",
                    rows[0].line, k.5
                ),
                advice: "name a usual one (tape, rule, trammel, caliper, protractor, bevel, feeler, plumb, radius-gauge), give the \
                         row a give-or-take, or describe the instrument in the job"
                    .to_owned(),
                numbers: Vec::new(),
            });
            continue;
        };
        let (sd, nu) = pools.reading(&tool.name, tool.reading_sd());
        let values: Vec<f64> = rows.iter().map(|r| r.value).collect();
        if !k.0.is_word() && values.len() > 1 && apart(&values, tool.reading_sd().max(sd)) {
            all.extend(rows.iter().map(|r| one(&[r], &tool, sd, nu)));
        } else {
            all.push(one(rows, &tool, sd, nu));
        }
    }
    all
}

fn one(rows: &[&HandReading], tool: &HandInstrument, sd: f64, nu: f64) -> Pooled {
    let first = rows[0];
    let k = rows.len() as f64;
    let value = rows.iter().map(|r| r.value).sum::<f64>() / k;
    let said = rows
        .iter()
        .filter_map(|r| r.give_or_take)
        .fold(None, |a: Option<f64>, b| Some(a.map_or(b, |a| a.max(b))));
    let (own, reading, nu) = match said {
        // What was said is all of it.
        Some(g) => (0.0, g / 1.96 / k.sqrt(), f64::INFINITY),
        None => (tool.own_sd(value), sd / k.sqrt(), nu),
    };
    let (_, nu) = welch_satterthwaite(&[(own, f64::INFINITY), (reading, nu)]);
    Pooled {
        kind: first.kind,
        from: first.from.clone(),
        to: first.to.clone(),
        station: first.station.clone(),
        drop: first.pointers_mm.map_or(0.0, |p| p[0] - p[1]),
        value,
        own,
        reading,
        nu,
        lines: rows.iter().map(|r| r.line).collect(),
        written: if rows.len() == 1 {
            first.written.clone()
        } else {
            String::new()
        },
        count: rows.len(),
    }
}
