//! A surface laid on what it was before it was worked: what was worked must not pull.

use std::collections::BTreeSet;

use super::change_map::ChangeMap;
use super::cubes::{around, voxel};
use super::refine::{NoRefine, Refined, refine};
use super::surface::JoinSurface;
use crate::{Point, Rigid};

/// Rounds in which what moved is found and set aside.
const ROUNDS: usize = 6;
/// A later round starts so near, in distances between neighbours.
const CLOSE: f64 = 3.0;

/// A surface laid on its former self, and where it moved.
#[derive(Clone, Debug, PartialEq)]
pub struct LaidUnworked {
    /// The pose and its doubt, from what was not worked.
    pub refined: Refined,
    /// Heights of the surface over its former self.
    pub map: ChangeMap,
    /// Share of the points that were set aside as worked or moved, 0 to 1.
    pub aside: f64,
    /// Rounds it took until what moved stayed the same.
    pub rounds: usize,
}

/// Lays `after` on `before` (axes of `before` from those of `after`), from `start`, which may be off by `reach` (mm), and finds
/// what moved by up to `most` (mm).
///
/// Points for which `worked` holds (axes of `before`) do not bear on the pose. Of the rest those that moved are found and set
/// aside in turn, until they stay the same: the pose then rests on metal that did not move against itself. More than half of it must
/// not have moved as one piece, or the roles change. The result does not depend on the number of threads.
///
/// # Errors
/// As [`refine`].
pub fn lay_unworked(
    after: &JoinSurface,
    before: &JoinSurface,
    start: &Rigid,
    (reach, most): (f64, f64),
    worked: &dyn Fn(&Point) -> bool,
    go_on: &dyn Fn() -> bool,
) -> Result<LaidUnworked, NoRefine> {
    let (mut pose, mut reach) = (*start, reach);
    let mut moved: BTreeSet<[i64; 3]> = BTreeSet::new();
    let mut size = 1.0;
    for round in 1..=ROUNDS {
        let set_aside = |p: &Point| worked(p) || moved.contains(&voxel(p, size));
        let quiet = after.without(|p| set_aside(&(pose * p)));
        let refined = refine(&quiet, before, &pose, reach, go_on)?;
        let map = ChangeMap::of(
            after,
            before,
            &refined.to_from,
            &refined.doubt,
            most,
            &set_aside,
        )
        .ok_or(NoRefine::TooLittle)?;
        size = map.cell;
        let now: BTreeSet<[i64; 3]> = map
            .areas
            .iter()
            .flat_map(|a| &a.cells)
            .flat_map(|&c| around(voxel(&map.cells[c].at, size), 1))
            .collect();
        pose = refined.to_from;
        reach = CLOSE * before.spacing;
        if now == moved || round == ROUNDS {
            return Ok(LaidUnworked {
                aside: quiet.aside(),
                refined,
                map,
                rounds: round,
            });
        }
        moved = now;
    }
    Err(NoRefine::TooLittle)
}
