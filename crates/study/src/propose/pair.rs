//! Which opening of one side belongs to which of the other.

use record::Side;

use super::judge::Found;
use super::shape::{Flat, Laid, lay_mirrored};

/// Costs above this are no pair.
const TOO_UNLIKE: f64 = 1.0;

/// A pair of openings.
#[derive(Clone, Debug)]
pub(super) struct Pair {
    /// Index of the left one (or of the first, where sides are not known).
    pub a: usize,
    pub b: usize,
    pub laid: Laid,
    /// 0 to 1.
    pub sureness: f64,
}

/// How unlike two openings are, as left and mirrored right; 0 is alike.
pub(super) fn cost(a: &Found, b: &Found, fa: &Flat, laid: &Laid) -> f64 {
    let size = (a.perimeter / b.perimeter).ln().abs();
    let shape = laid.rest_mm / fa.mean_radius.max(1.0);
    let holes = a.holes.len().abs_diff(b.holes.len()) as f64;
    4.0 * size + 8.0 * shape + 0.08 * holes
}

/// Pairs the openings: never two of the same known side, those likest first. How sure a pair is hangs on how alike the
/// two are and on how much worse the next best would have been.
pub(super) fn pairs(found: &[Found], sides: &[Side], flats: &[Flat]) -> Vec<Pair> {
    let mut all: Vec<(f64, usize, usize, Laid)> = Vec::new();
    for i in 0..found.len() {
        for j in i + 1..found.len() {
            let (a, b) = match (sides[i], sides[j]) {
                (Side::Centre, _)
                | (_, Side::Centre)
                | (Side::Left, Side::Left)
                | (Side::Right, Side::Right) => {
                    continue;
                }
                (Side::Right, _) | (_, Side::Left) => (j, i),
                _ => (i, j),
            };
            let laid = lay_mirrored(&flats[a], &flats[b]);
            let c = cost(&found[a], &found[b], &flats[a], &laid);
            if c < TOO_UNLIKE {
                all.push((c, a, b, laid));
            }
        }
    }
    all.sort_by(|x, y| x.0.total_cmp(&y.0).then((x.1, x.2).cmp(&(y.1, y.2))));
    let mut out: Vec<Pair> = Vec::new();
    for (c, a, b, laid) in &all {
        if out
            .iter()
            .any(|p| [p.a, p.b].contains(a) || [p.a, p.b].contains(b))
        {
            continue;
        }
        let rival = all
            .iter()
            .filter(|o| {
                (o.1, o.2) != (*a, *b) && ([o.1, o.2].contains(a) || [o.1, o.2].contains(b))
            })
            .map(|o| o.0)
            .fold(TOO_UNLIKE, f64::min);
        let alike = 1.0 - c / TOO_UNLIKE;
        let alone = ((rival - c) / (rival + c)).max(0.0);
        out.push(Pair {
            a: *a,
            b: *b,
            laid: laid.clone(),
            sureness: (0.5 * alike + 0.5 * alone).clamp(0.05, 0.98),
        });
    }
    out
}
