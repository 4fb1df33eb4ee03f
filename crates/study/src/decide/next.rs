//! The readings that would settle an open verdict best.

use record::{NextReading, OptionKind, OptionResult, Side, Verdict};

use super::options::Plan;
use super::pairing::Pairing;
use super::task::{Task, pulled};

/// Standard uncertainty of three feeler readings of 0.05 mm, mm.
const FEELER: f64 = 0.05 / 1.732;
/// Standard uncertainty of three bevel readings of 0.1 degree.
const BEVEL: f64 = 0.1 / 1.732;
/// Standard uncertainty of a hole's place by caliper, mm.
const CALIPER: f64 = 0.05;
/// Readings named per comparison.
const NAMED: usize = 5;

fn word(s: Side) -> &'static str {
    match s {
        Side::Left => "left ",
        Side::Right => "right ",
        Side::Centre | Side::NotSaid => "",
    }
}

/// Readings ranked by how much of the doubt of the share they would remove; only while something is not proven.
pub(super) fn next(p: &Pairing<'_>, plan: &Plan, results: &[OptionResult]) -> Vec<NextReading> {
    let mut out: Vec<NextReading> = Vec::new();
    for r in results.iter().filter(|r| r.verdict == Verdict::NotProven) {
        let Some(o) = plan.options.iter().find(|o| o.kind == r.kind) else {
            continue;
        };
        let Some(t) = plan.deciding(o) else { continue };
        for reading in of_task(p, &plan.tasks[t], r.kind) {
            if !out.iter().any(|n| n.what == reading.what) {
                out.push(reading);
            }
        }
    }
    out.sort_by(|a, b| {
        b.settles
            .total_cmp(&a.settles)
            .then_with(|| a.what.cmp(&b.what))
    });
    out.truncate(NAMED);
    out
}

fn of_task(p: &Pairing<'_>, task: &Task, option: OptionKind) -> Vec<NextReading> {
    let side = p.side(task.side);
    let opening = p.names[task.side].to_lowercase();
    let opening = match side {
        // The name may carry its side already.
        Side::Left | Side::Right if opening.contains(word(side).trim()) => opening,
        _ => format!("{}{opening}", word(side)),
    };
    let mut out = Vec::new();
    let mut add = |what: String, gain: f64, whole: f64| {
        if whole > 0.0 && gain > 0.0 {
            out.push(NextReading {
                what,
                side,
                option: Some(option),
                // Share of the standard uncertainty that goes.
                settles: 1.0 - (1.0 - (gain / whole).min(1.0)).sqrt(),
            });
        }
    };
    if task.angle_share() > task.edge_share {
        let Some(k) = (0..task.angles.len())
            .max_by(|&i, &j| task.angles[i].abs().total_cmp(&task.angles[j].abs()))
        else {
            return out;
        };
        let (u, _) = p.angles[k].u[task.side];
        let whole = u * u;
        add(
            format!(
                "take the angle at {} of the {opening} with the bevel, three times",
                p.angles[k].name
            ),
            whole * whole / (whole + BEVEL * BEVEL),
            whole,
        );
        add(
            format!("scan the {opening} once more, re-seated"),
            0.5 * whole,
            whole,
        );
        return out;
    }
    let Some(pull) = &task.pull else { return out };
    let doubt = &p.doubt[task.side];
    let z = pulled(pull, doubt);
    let edge = z.norm_squared();
    let bias = (p.bias * pull.gap.iter().sum::<f64>()).powi(2);
    let hole = |j: usize| {
        let y = pull.holes[j];
        p.hole_u(j, task.side).powi(2) * (y[0] * y[0] + y[1] * y[1] + y[2] * y[2])
    };
    let whole = edge + bias + (0..p.holes.len()).map(hole).sum::<f64>();
    add(
        format!("scan the {opening} once more, re-seated"),
        0.5 * edge,
        whole,
    );
    // A reading with standard uncertainty r along a row of the edge takes (y'Ve)^2 / (e'Ve + r^2) out of y'Vy.
    let mut places: Vec<(f64, String)> = Vec::new();
    for (k, &i) in p.seen.iter().enumerate() {
        let station = &p.compare.stations[i];
        for (y, row, how) in [
            (pull.gap[k], doubt.gap.row(k), "three feeler readings"),
            (
                pull.flush[k],
                doubt.flush.row(k),
                "three readings of the flush with a straight edge and feelers",
            ),
        ] {
            if y != 0.0 {
                let v = row.norm_squared();
                let shared = (row * &z)[0];
                places.push((
                    shared * shared / (v + FEELER * FEELER),
                    format!(
                        "measure the {opening} again at the {}: {how} at station {}",
                        station.place,
                        i + 1
                    ),
                ));
            }
        }
    }
    places.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    for (gain, what) in places.into_iter().take(3) {
        add(what, gain, whole);
    }
    for (j, (_, h)) in p.holes.iter().enumerate() {
        let u2 = p.hole_u(j, task.side).powi(2);
        let gain = if u2 > 0.0 {
            hole(j) * u2 / (u2 + CALIPER * CALIPER)
        } else {
            0.0
        };
        add(
            format!(
                "measure hole {} of the {opening} again from two edges, with the caliper",
                h.id
            ),
            gain,
            whole,
        );
    }
    out
}
