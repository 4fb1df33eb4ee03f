//! Two sets of axes made one: the pose of one scan in the axes of another, and how well it is known.
//!
//! - `pose_doubt`: the doubt of a pose, and what it does to places and directions.
//! - `matching_places`: the pose from places named in both.
//! - `odd_target`: the place that does not go with the others.
//! - `surface`, `matches`: points with normals, and which lie against which.
//! - `refine`: one surface laid on another; `weak`: in which ways it is held; `patches`: how well it is known.
//! - `with_places`: places and surfaces together.
//! - `unworked`: a surface laid on its former self by what was not worked; `change_map`, `changed_area`: where it moved; `cubes`: what lies about a place.

mod change_map;
mod changed_area;
mod cubes;
mod matches;
mod matching_places;
mod odd_target;
mod patches;
mod pose_doubt;
mod refine;
mod surface;
#[cfg(test)]
mod tests;
mod unworked;
mod weak;
mod with_places;

pub use change_map::{ChangeCell, ChangeMap};
pub use changed_area::ChangedArea;
pub(crate) use matches::matching_share;
pub use matching_places::{JoinedPlace, PlaceJoin, TwicePlace, join_places};
pub use pose_doubt::{DoubtPart, PoseDoubt};
pub(crate) use refine::refine_by;
pub use refine::{NoRefine, Refined, WeakMotion, refine};
pub use surface::JoinSurface;
pub use unworked::{LaidUnworked, lay_unworked};
pub use with_places::BothJoin;
