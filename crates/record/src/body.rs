//! Cars, visits and the state the body was in.

use geom::Point;

use crate::{LengthUnit, Region, ScanId, Side, VisitId};

/// A vehicle.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Car {
    /// Short name, unique in the job.
    pub name: String,
    /// Free words.
    pub note: String,
}

/// What the body stood on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Mounting {
    /// Not written down.
    #[default]
    NotNoted,
    /// On its own mounts, loaded as on the road.
    OnMounts,
    /// On stands.
    OnStands,
}

/// What the metal was covered with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Surface {
    /// Not written down.
    #[default]
    NotNoted,
    /// Bare metal.
    Bare,
    /// Primer.
    Primed,
    /// Finished paint.
    Painted,
}

/// The state of the body while it was measured. Unlike states are never mixed silently.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct BodyState {
    /// What it stood on.
    pub mounting: Mounting,
    /// What covered the left side.
    pub left: Surface,
    /// What covered the right side.
    pub right: Surface,
    /// Film thickness on the left, micrometres, if measured.
    pub left_film_um: Option<f64>,
    /// Film thickness on the right, micrometres, if measured.
    pub right_film_um: Option<f64>,
    /// Give-or-take (95 %) of the film on the left over the places that count, micrometres, if known.
    pub left_film_u95_um: Option<f64>,
    /// The same on the right.
    pub right_film_u95_um: Option<f64>,
    /// Whether the doors were hung and sealed; `None` if not written down.
    pub doors_hung: Option<bool>,
    /// Temperature, degrees Celsius, if noted.
    pub temperature_c: Option<f64>,
}

/// A date of measuring: one instrument, one operator, one state of the body. The noise model belongs to it.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// Its name.
    pub id: VisitId,
    /// The car, by name.
    pub car: String,
    /// Date as written by the person.
    pub date: String,
    /// Who measured.
    pub operator: String,
    /// With what.
    pub instrument: String,
    /// How flat the instrument sees a flat face over the length of a face, mm; the floor of face figures.
    pub flatness_mm: f64,
    /// The body.
    pub state: BodyState,
    /// Free words.
    pub note: String,
}

/// How the unit of a scan is known.
#[derive(Clone, Debug, PartialEq)]
pub enum UnitSource {
    /// The person said so.
    Stated,
    /// Guessed from the size of what was scanned; printed as "not checked".
    Guessed,
    /// Checked against a length taped on the body.
    Checked {
        /// One end, scan coordinates in mm.
        from: Point,
        /// Other end, scan coordinates in mm.
        to: Point,
        /// What the tape said, mm.
        taped_mm: f64,
    },
}

/// A scan file that belongs to the job. Its points are not in the job.
#[derive(Clone, Debug, PartialEq)]
pub struct ScanRef {
    /// Its name.
    pub id: ScanId,
    /// The visit it belongs to.
    pub visit: VisitId,
    /// Path, relative to the job file where possible.
    pub path: std::path::PathBuf,
    /// BLAKE3 of the file when it was brought in, hex; checked at every reading.
    pub hash: Option<String>,
    /// The unit of its coordinates.
    pub unit: LengthUnit,
    /// How that is known.
    pub unit_source: UnitSource,
    /// The side of the car it shows, if a person said so; openings have sides of their own.
    pub side: Side,
    /// If any, only points in one of these are used.
    pub keep: Vec<Region>,
    /// Points in any of these are not used.
    pub aside: Vec<Region>,
    /// Whether only the largest connected piece is used.
    pub largest_piece_only: bool,
    /// Free words.
    pub note: String,
}
