//! Where the eye rules: how even the gap can be made, whatever its width.

use geom::Point;
use record::{EvenGap, Figure, OptionResult, Quantity, Source};

use super::options::Plan;
use super::pairing::Pairing;
use super::task::pulled;
use crate::fit::{Even, Pull, evenness};

/// Length of edge over which a taper is judged, mm.
const OVER: f64 = 100.0;

/// Adds to every option how even its gap can be made, the worse of both sides; nothing where the part asks for none.
pub(super) fn even(p: &Pairing<'_>, plan: &Plan, results: &mut [OptionResult]) {
    let Some(even) = asked(p) else { return };
    for r in results {
        let Some(o) = plan.options.iter().find(|o| o.kind == r.kind) else {
            continue;
        };
        let sides = o.tasks.iter().filter_map(|&t| {
            let task = &plan.tasks[t];
            let (share, wider, gap) =
                evenness(&task.linear, &task.starts, &p.limits, &task.held, &even)?;
            let pull = Pull {
                flush: vec![0.0; gap.len()],
                holes: vec![[0.0; 3]; task.held.len()],
                gap,
            };
            let doubt = &p.doubt[task.side];
            let u = pulled(&pull, doubt).norm();
            Some((share, wider, u, doubt.nu))
        });
        r.even =
            sides
                .reduce(|a, b| if b.0 > a.0 { b } else { a })
                .map(|(share, wider_mm, u, nu)| EvenGap {
                    uses: Figure {
                        value: 100.0 * share,
                        u95: 100.0 * geom::u95(u, nu),
                        nu,
                        source: Source::EdgeSight,
                        quantity: Quantity::Percent,
                    },
                    wider_mm,
                });
    }
}

/// The rows of evenness: every place against the mean, and against the place 100 mm further on.
fn asked(p: &Pairing<'_>) -> Option<Even> {
    let asked = p.part.evenness?;
    let places: Vec<Point> = p.seen.iter().map(|&i| p.compare.stations[i].a).collect();
    let n = places.len();
    let mut pairs = Vec::new();
    for i in 0..n {
        let mut along = 0.0;
        for k in 1..n {
            let (from, to) = (i + k - 1, i + k);
            if to >= n && !p.compare.closed {
                break;
            }
            along += (places[to % n] - places[from % n]).norm();
            if along >= OVER {
                pairs.push((i, to % n, asked.taper_mm * along / OVER));
                break;
            }
        }
    }
    Some(Even {
        within: asked.within_mm,
        pairs,
    })
}
