//! The axes of one scan, and where the others lie in them.

use std::collections::BTreeMap;

use geom::{Rigid, Uncertain};
use nalgebra::Vector6;
use record::{JoinedScan, ScanId};

/// Scans that lie in the axes of one of them.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct CommonAxes {
    /// The scan whose axes they are.
    pub base: ScanId,
    from: BTreeMap<ScanId, Rigid>,
}

impl CommonAxes {
    /// The axes in which `scan` lies with everything that is joined to the same scan in the end.
    pub fn of(joins: &[JoinedScan], scan: &ScanId) -> Self {
        Self::with(joins, scan, None)
    }

    /// The same with one join off by a small motion about its middle.
    pub fn off(joins: &[JoinedScan], scan: &ScanId, which: usize, by: &Vector6<f64>) -> Self {
        Self::with(joins, scan, Some((which, by)))
    }

    fn with(joins: &[JoinedScan], scan: &ScanId, off: Option<(usize, &Vector6<f64>)>) -> Self {
        // A ring is refused when the job is checked; a chain is no longer than the list.
        let to_base = |scan: &ScanId| {
            let (mut at, mut map) = (scan.clone(), Rigid::identity());
            for _ in 0..joins.len() {
                let Some(k) = joins.iter().position(|j| j.scan == at) else {
                    break;
                };
                let join = &joins[k];
                let pose = match off {
                    Some((which, by)) if which == k => join.doubt.moved(&join.to_from, by),
                    _ => join.to_from,
                };
                map = pose * map;
                at = join.to.clone();
            }
            (at, map)
        };
        let (base, _) = to_base(scan);
        let mut from: BTreeMap<ScanId, Rigid> = joins
            .iter()
            .filter_map(|j| {
                let (root, map) = to_base(&j.scan);
                (root == base).then(|| (j.scan.clone(), map))
            })
            .collect();
        from.insert(base.clone(), Rigid::identity());
        Self { base, from }
    }

    /// The common axes from those of `scan`, if it lies in them.
    pub fn from(&self, scan: &ScanId) -> Option<&Rigid> {
        self.from.get(scan)
    }

    /// The scans other than the base.
    pub fn joined(&self) -> Vec<ScanId> {
        let others = self.from.keys().filter(|s| **s != self.base);
        others.cloned().collect()
    }
}

/// Every small motion by which a join may be off, in turn.
pub(crate) struct JoinMotion {
    /// The join, by its place in the list.
    pub join: usize,
    /// Which source of doubt it belongs to; those of one have one number.
    pub part: usize,
    /// The motion, one standard uncertainty.
    pub by: Vector6<f64>,
    /// Degrees of freedom; `None` where nothing holds the motion.
    pub nu: Option<f64>,
}

/// The motions of all joins.
pub(crate) fn motions(joins: &[JoinedScan]) -> Vec<JoinMotion> {
    let mut out = Vec::new();
    let mut part = 0;
    for (join, j) in joins.iter().enumerate() {
        for p in &j.doubt.parts {
            for (by, nu) in p.motions.iter().zip(&p.nu) {
                out.push(JoinMotion {
                    join,
                    part,
                    by: *by,
                    nu: Some(*nu),
                });
            }
            part += 1;
        }
        for by in &j.doubt.free {
            out.push(JoinMotion {
                join,
                part,
                by: *by,
                nu: None,
            });
        }
        part += 1;
    }
    out
}

/// A change below this for a motion of size one that nothing holds is rounding.
const ROUNDING: f64 = 1e-7;

/// The doubt of a figure that changes by `changes` with the motions, in their order; `None` if one that nothing holds
/// changes it.
pub(crate) fn doubt_of<M: std::borrow::Borrow<JoinMotion>>(
    motions: &[M],
    changes: &[f64],
) -> Option<Uncertain> {
    let mut parts: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    for (m, d) in motions.iter().map(std::borrow::Borrow::borrow).zip(changes) {
        match m.nu {
            Some(nu) => {
                let part = parts.entry(m.part).or_insert((0.0, 0.0));
                part.0 += d * d;
                part.1 += d * d / nu;
            }
            None if d.abs() > ROUNDING => return None,
            None => {}
        }
    }
    let parts: Vec<Uncertain> = parts
        .into_values()
        .map(|(var, by_nu)| {
            let nu = if by_nu > 0.0 {
                var / by_nu
            } else {
                f64::INFINITY
            };
            Uncertain::new(var.sqrt(), nu)
        })
        .collect();
    Some(Uncertain::combined(&parts))
}
