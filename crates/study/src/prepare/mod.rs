//! A scan as read becomes a scan ready for search, picking, drawing and measuring.

mod pieces;
mod spacing;
#[cfg(test)]
mod tests;
mod triangles;
mod watch;

use geom::{Blocks, boundaries};
use record::{
    BoundaryLoop, Cancelled, Code, Finding, LengthUnit, Number, Prepared, Progress, RawScan,
    Severity,
};

pub(crate) use pieces::largest;
pub use spacing::median_spacing;
pub(crate) use triangles::rewrite;
pub(crate) use watch::Watch;

/// Puts a scan in order. `raw` is taken by value and given back piece by piece, so that the peak stays low: about
/// 30 bytes a point above what the scan held already. Coordinates are scaled by `unit` in f64. Points with a
/// coordinate that is no finite number are left out and noted. The result does not depend on the number of threads.
///
/// # Errors
/// [`Cancelled`] if `at` says so; it is asked at least every few milliseconds.
pub fn prepare(raw: RawScan, unit: LengthUnit, at: &dyn Progress) -> Result<Prepared, Cancelled> {
    let n = raw.points.len();
    let watch = Watch::new(at, n);
    let mut notes = raw.notes;
    let given_normals = raw.normals.len() == n && n > 0;
    let blocks = Blocks::build(raw.points, unit.in_mm(), raw.colours, raw.normals, &|| {
        watch.go_on()
    })
    .ok_or(Cancelled)?;
    watch.reached(n / 2)?;
    if blocks.len() < n {
        notes.push(counted(
            &raw.name,
            n - blocks.len(),
            "points without finite coordinates were left out",
        ));
    }
    let mut prepared = Prepared {
        name: raw.name,
        format: raw.format,
        hash: raw.hash,
        blocks,
        triangles: raw.triangles,
        loops: Vec::new(),
        spacing_mm: 0.0,
        notes,
    };
    if !prepared.triangles.is_empty() {
        triangles::to_slots(&mut prepared.triangles, &prepared.blocks, n, &watch)?;
        watch.reached(n * 6 / 10)?;
        find_loops(&mut prepared, true, &watch)?;
        watch.reached(n * 8 / 10)?;
        if !given_normals {
            let normals = triangles::vertex_normals(&prepared.triangles, &prepared.blocks, &watch)?;
            prepared
                .blocks
                .set_normals(&normals, &|| watch.go_on())
                .ok_or(Cancelled)?;
        }
    }
    watch.reached(n * 9 / 10)?;
    prepared.spacing_mm = median_spacing(&prepared.blocks);
    watch.reached(n)?;
    Ok(prepared)
}

/// Fills `loops`, after welding border vertices that lie in the same place; notes what is wrong with the mesh.
pub(crate) fn find_loops(
    prepared: &mut Prepared,
    note: bool,
    watch: &Watch,
) -> Result<(), Cancelled> {
    let n = prepared.blocks.len();
    let go_on = || watch.go_on();
    let mut found = boundaries(&prepared.triangles, n, &go_on).ok_or(Cancelled)?;
    if triangles::weld_borders(&mut prepared.triangles, &prepared.blocks, &found) {
        found = boundaries(&prepared.triangles, n, &go_on).ok_or(Cancelled)?;
    }
    if note {
        let odd = [
            (
                found.many_triangles,
                "edges are shared by more than two triangles",
            ),
            (
                found.unlike_winding,
                "edges have triangles that disagree on which side is the front",
            ),
            (
                found.pinches,
                "border points belong to two borders at once; they were taken apart",
            ),
        ];
        for (count, says) in odd {
            if count > 0 {
                prepared.notes.push(counted(&prepared.name, count, says));
            }
        }
    }
    prepared.loops = found
        .chains
        .into_iter()
        .map(|c| BoundaryLoop {
            slots: c.vertices,
            closed: c.closed,
        })
        .collect();
    Ok(())
}

fn counted(scan: &str, count: usize, says: &str) -> Finding {
    Finding {
        code: Code::ReadingNote,
        severity: Severity::Note,
        subject: scan.to_owned(),
        says: format!("{count} {says}."),
        advice: String::new(),
        numbers: vec![Number {
            name: "count".to_owned(),
            value: count as f64,
            quantity: None,
        }],
    }
}
