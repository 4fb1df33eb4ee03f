//! Parts of a scan kept or put aside.

use std::sync::Arc;

use geom::{Point, Vector};
use record::{Cancelled, Prepared, Progress, Region, RegionShape, ScanRef};

use crate::prepare::{Watch, find_loops, largest, median_spacing, rewrite};

/// A shape ready for many questions.
enum Ready<'a> {
    Box(&'a Point, &'a Point),
    Lasso {
        origin: &'a Point,
        right: Vector,
        up: Vector,
        corners: &'a [[f64; 2]],
    },
    /// A lasso without a picture plane holds nothing.
    Nothing,
}

impl<'a> Ready<'a> {
    fn new(shape: &'a RegionShape) -> Self {
        match shape {
            RegionShape::Box { low, high } => Self::Box(low, high),
            RegionShape::Lasso {
                origin,
                right,
                up,
                corners,
            } => match (right.try_normalize(0.0), up.try_normalize(0.0)) {
                (Some(right), Some(up)) if corners.len() > 2 => Self::Lasso {
                    origin,
                    right,
                    up,
                    corners,
                },
                _ => Self::Nothing,
            },
        }
    }

    fn holds(&self, p: &Point) -> bool {
        match self {
            Self::Box(low, high) => (0..3).all(|i| low[i] <= p[i] && p[i] <= high[i]),
            Self::Lasso {
                origin,
                right,
                up,
                corners,
            } => {
                let d = p - *origin;
                inside(corners, d.dot(right), d.dot(up))
            }
            Self::Nothing => false,
        }
    }
}

/// Whether (x, y) lies inside a closed polygon: a ray to the right crosses its sides an odd number of times.
fn inside(corners: &[[f64; 2]], x: f64, y: f64) -> bool {
    let mut odd = false;
    let mut a = corners[corners.len() - 1];
    for &b in corners {
        if (a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
            odd = !odd;
        }
        a = b;
    }
    odd
}

/// Whether a point at `p` (scan axes, mm) is used: in one of `keep` if there are any, and in none of `aside`.
pub fn is_kept(keep: &[Region], aside: &[Region], p: &Point) -> bool {
    let within = |r: &Region| Ready::new(&r.shape).holds(p);
    (keep.is_empty() || keep.iter().any(within)) && !aside.iter().any(within)
}

/// The part of a prepared scan that `scan` asks for: its kept regions, without those put aside, and only the largest
/// connected piece of the rest if so wished. The same scan comes back where nothing is asked. Places in the file,
/// hash and notes stay; loops and spacing are found anew, so the cut itself is a border.
///
/// # Errors
/// [`Cancelled`] if `at` says so.
pub fn apply_regions(
    scan: &ScanRef,
    prepared: &Arc<Prepared>,
    at: &dyn Progress,
) -> Result<Arc<Prepared>, Cancelled> {
    let mut out = Arc::clone(prepared);
    let watch = Watch::new(at, prepared.blocks.len());
    if !scan.keep.is_empty() || !scan.aside.is_empty() {
        let keep: Vec<Ready> = scan.keep.iter().map(|r| Ready::new(&r.shape)).collect();
        let aside: Vec<Ready> = scan.aside.iter().map(|r| Ready::new(&r.shape)).collect();
        let wanted = |s: u32| {
            let p = out.blocks.point(s);
            (keep.is_empty() || keep.iter().any(|r| r.holds(&p)))
                && !aside.iter().any(|r| r.holds(&p))
        };
        out = Arc::new(only(&out, &wanted, &watch)?);
    }
    if scan.largest_piece_only {
        let in_it = largest(&out, &watch)?;
        out = Arc::new(only(&out, &|s| in_it[s as usize], &watch)?);
    }
    Ok(out)
}

fn only(
    scan: &Prepared,
    wanted: &(dyn Fn(u32) -> bool + Sync),
    watch: &Watch,
) -> Result<Prepared, Cancelled> {
    let (blocks, new_of) = scan
        .blocks
        .filtered(wanted, &|| watch.go_on())
        .ok_or(Cancelled)?;
    let mut triangles = scan.triangles.clone();
    rewrite(&mut triangles, &new_of, watch)?;
    let mut out = Prepared {
        name: scan.name.clone(),
        format: scan.format.clone(),
        hash: scan.hash.clone(),
        blocks,
        triangles,
        loops: Vec::new(),
        spacing_mm: 0.0,
        notes: scan.notes.clone(),
    };
    if !out.triangles.is_empty() {
        find_loops(&mut out, false, watch)?;
    }
    out.spacing_mm = median_spacing(&out.blocks);
    Ok(out)
}
