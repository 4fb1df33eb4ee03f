//! Which points of a section belong to the sheet, step by step from the edge.
//!
//! Beside the outer face of a sheet the scan may hold its back, the other leg of a hem or a stand behind it. The walk
//! starts at the edge, where the sheet is known, and goes on as the sheet runs; of several layers the nearest to where
//! the sheet was going is kept.

/// How far a sheet may be from where it was going, mm.
const STRAYS: f64 = 2.0;
/// Layers are at least this far apart, mm: half of a thin sheet.
const LAYERS: f64 = 0.35;
/// Fewer points are no layer.
const FEWEST: usize = 6;

/// The points (along the edge, from the edge, out) of the sheet by step; `steps` are the ranges from the edge, in order.
/// Steps at which the sheet was not seen are empty; the walk goes on behind them.
pub(super) fn walk(points: &[[f64; 3]], steps: &[[f64; 2]]) -> Vec<Vec<[f64; 3]>> {
    let mut by_step: Vec<Vec<[f64; 3]>> = vec![Vec::new(); steps.len()];
    for p in points {
        if let Some(k) = steps.iter().position(|s| p[1] >= s[0] && p[1] < s[1]) {
            by_step[k].push(*p);
        }
    }
    // The sheet as it was last seen: where, how high, how steep.
    let (mut at, mut level, mut slope) = (0.0, 0.0, 0.0);
    for (step, all) in steps.iter().zip(&mut by_step) {
        let expected = |t: f64| level + slope * (t - at);
        let off = |p: &[f64; 3]| p[2] - expected(p[1]);
        let allowed = STRAYS + 0.05 * (step[0] - at);
        all.retain(|p| off(p).abs() <= allowed);
        let Some([low, high]) = layer(all.iter().map(off).collect()) else {
            all.clear();
            continue;
        };
        all.retain(|p| (low..=high).contains(&off(p)));
        let n = all.len() as f64;
        let (t, h) = (
            all.iter().map(|p| p[1]).sum::<f64>() / n,
            all.iter().map(|p| p[2]).sum::<f64>() / n,
        );
        slope = (h - level) / (t - at).max(1.0);
        (at, level) = (t, h);
    }
    by_step
}

/// The range of the layer nearest to 0 among distances off; `None` where there is none.
fn layer(mut off: Vec<f64>) -> Option<[f64; 2]> {
    off.sort_by(f64::total_cmp);
    let least = FEWEST.max(off.len() / 8);
    let layers = off.chunk_by(|a, b| b - a < LAYERS);
    layers
        .filter(|l| l.len() >= least)
        .map(|l| (l[l.len() / 2].abs(), [l[0], l[l.len() - 1]]))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|l| l.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps() -> Vec<[f64; 2]> {
        (0..8)
            .map(|k| [2.6 + 5.0 * f64::from(k), 7.6 + 5.0 * f64::from(k)])
            .collect()
    }

    /// A sheet falling away on a radius of 120 mm with its back 0.8 mm below, and a gap: the front is kept.
    #[test]
    fn the_front_of_a_bent_sheet_is_kept_over_a_gap() {
        let mut points = Vec::new();
        for k in 0..400 {
            let t = 0.1 * f64::from(k);
            let h = -t * t / 240.0;
            if !(12.0..19.0).contains(&t) {
                points.push([0.0, t, h]);
                points.push([1.0, t, h - 0.8]);
            }
        }
        let found = walk(&points, &steps());
        for (k, step) in found.iter().enumerate() {
            // 12.6 to 17.6 was not seen.
            assert_eq!(step.is_empty(), k == 2, "{k}");
            assert!(step.iter().all(|p| p[0] == 0.0), "{k}");
        }
    }

    #[test]
    fn a_step_away_is_another_thing() {
        let points: Vec<[f64; 3]> = (0..400)
            .map(|k| 0.1 * f64::from(k))
            .map(|t| [0.0, t, if t < 20.0 { 0.0 } else { -6.0 }])
            .collect();
        let found = walk(&points, &steps());
        assert!(!found[2].is_empty() && found[4..].iter().all(Vec::is_empty));
    }
}
