//! Every figure in its box: is it real, does it matter.

use geom::conforming;
use record::{Box4, Dimension, Figure, Matters, Measured, MeasuredOpening, Quantity, Source};

use super::joint::{Edges, others, p_value};
use super::pairing::Pairing;

/// A figure before it is put in a box.
struct Weighed {
    name: String,
    difference: Figure,
    /// Allowed below and above zero.
    low: f64,
    high: f64,
    p: f64,
    shown: bool,
}

/// Places shown per direction of the edge.
const SHOWN: usize = 8;

pub(super) fn boxes(measured: &Measured, p: &Pairing<'_>, edges: Option<&Edges>) -> Vec<Box4> {
    if !p.measured {
        return Vec::new();
    }
    let mut all = figures(p);
    all.extend(sizes(measured, p));
    all.extend(edges.map_or_else(Vec::new, |e| edge(p, e)));
    let real = holm(&all);
    all.into_iter()
        .zip(real)
        .filter(|(w, _)| w.shown)
        .map(|(w, real)| boxed(p, &w, real))
        .collect()
}

fn figure(
    p: &Pairing<'_>,
    value: f64,
    (u, nu): (f64, f64),
    quantity: Quantity,
    source: Source,
) -> Figure {
    Figure {
        value,
        u95: p.u95(u, nu),
        nu,
        source,
        quantity,
    }
}

fn figures(p: &Pairing<'_>) -> Vec<Weighed> {
    let allowed = p.part.allowed;
    others(p)
        .into_iter()
        .enumerate()
        .map(|(i, (name, d, u, nu))| {
            let angle = i < p.angles.len();
            let (quantity, limit) = if angle {
                (Quantity::Angle, allowed.angle_deg)
            } else {
                // A hole off by more than the play cannot be started.
                let play = p.least_play();
                (
                    Quantity::Length,
                    if play.is_finite() {
                        play
                    } else {
                        allowed.tight_mm.min(allowed.wide_mm)
                    },
                )
            };
            Weighed {
                name,
                p: p_value(d, u, nu),
                difference: figure(p, d, (u, nu), quantity, Source::Noise),
                low: limit,
                high: limit,
                shown: true,
            }
        })
        .collect()
}

/// Width and height: what is allowed at two edges.
fn sizes(measured: &Measured, p: &Pairing<'_>) -> Vec<Weighed> {
    let find =
        |id: Option<&record::OpeningId>| measured.openings.iter().find(|o| Some(&o.id) == id);
    let (Some(a), Some(b)) = (find(Some(&p.compare.a)), find(p.compare.b.as_ref())) else {
        return Vec::new();
    };
    let size = |o: &MeasuredOpening, name: &str| -> Option<Dimension> {
        o.edge
            .as_ref()?
            .dimensions
            .iter()
            .find(|d| d.name == name)
            .cloned()
    };
    ["width", "height"]
        .into_iter()
        .filter_map(|name| {
            let (x, y) = (size(a, name)?.figure, size(b, name)?.figure);
            let (u, nu) =
                geom::welch_satterthwaite(&[(p.standard(&x), x.nu), (p.standard(&y), y.nu)]);
            let d = x.value - y.value;
            (u > 0.0).then(|| Weighed {
                name: name.to_owned(),
                difference: figure(p, d, (u, nu), Quantity::Length, Source::EdgeSight),
                low: 2.0 * p.limits.wide,
                high: 2.0 * p.limits.tight,
                p: p_value(d, u, nu),
                shown: true,
            })
        })
        .collect()
}

/// Every station counts; of each place that has a name the largest is shown.
fn edge(p: &Pairing<'_>, e: &Edges) -> Vec<Weighed> {
    let n = p.seen.len();
    let nu = e.nu();
    // Of the many stations all have the same factor.
    let per_u = p.u95(1.0, nu);
    let mut out: Vec<Weighed> = (0..2 * n)
        .filter(|&i| e.counts(i))
        .map(|i| {
            let gap = i < n;
            let l = &p.limits;
            Weighed {
                name: format!(
                    "{}, {}",
                    if gap { "gap" } else { "flush" },
                    p.compare.stations[p.seen[i % n]].place
                ),
                difference: Figure {
                    value: e.d[i],
                    u95: per_u * e.u[i],
                    nu,
                    source: Source::EdgeSight,
                    quantity: Quantity::Length,
                },
                // a wider: a's part is too tight in b. a proud: a's part stands proud on b.
                low: if gap { l.wide } else { l.shy },
                high: if gap { l.tight } else { l.proud },
                p: p_value(e.d[i], e.u[i], nu),
                shown: false,
            }
        })
        .collect();
    for what in ["gap", "flush"] {
        let mut order: Vec<usize> = (0..out.len())
            .filter(|&i| out[i].name.starts_with(what))
            .collect();
        order.sort_by(|&i, &j| {
            let size = |k: usize| out[k].difference.value.abs();
            size(j).total_cmp(&size(i)).then(i.cmp(&j))
        });
        let mut named: Vec<String> = Vec::new();
        for i in order {
            if named.len() < SHOWN && !named.contains(&out[i].name) {
                named.push(out[i].name.clone());
                out[i].shown = true;
            }
        }
    }
    out
}

/// Holm's step-down at 5 % over all figures of the pair.
fn holm(all: &[Weighed]) -> Vec<bool> {
    let mut order: Vec<usize> = (0..all.len()).collect();
    order.sort_by(|&i, &j| all[i].p.total_cmp(&all[j].p).then(i.cmp(&j)));
    let mut real = vec![false; all.len()];
    for (k, &i) in order.iter().enumerate() {
        if all[i].p > 0.05 / (all.len() - k) as f64 {
            break;
        }
        real[i] = true;
    }
    real
}

/// The one-sided 95 % rule of JCGM 106 (ISO 14253-1).
fn boxed(p: &Pairing<'_>, w: &Weighed, real: bool) -> Box4 {
    let f = &w.difference;
    let u = p.standard(f);
    let g = p.t_quantile(0.95, f.nu);
    let allowed = if f.value < 0.0 { w.low } else { w.high };
    Box4 {
        name: w.name.clone(),
        difference: *f,
        allowed,
        real,
        matters: if f.value.abs() + g * u <= allowed {
            Matters::Harmless
        } else if f.value.abs() - g * u > allowed {
            Matters::Matters
        } else {
            Matters::Open
        },
        conforming: conforming(f.value, u, f.nu, -w.low, w.high),
    }
}
