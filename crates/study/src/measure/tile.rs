//! Square tiles of smooth metal that speak for the noise of a visit.

use geom::{NoisePatch, Point, Removed, SurfaceFit, Unit};

use super::face::fit_grown;
use super::face_grow;
use super::surface::Surface;

/// The largest side of a tile, mm: longer waves of a face are its form.
const LARGEST: f64 = 60.0;
/// How far a tile beside an edge reaches from its seed, mm.
const REACH: f64 = 17.0;
/// A tile whose mean square is this many times the median of all holds form, not noise.
const TOO_ROUGH: f64 = 5.0;

/// A tile and the scatter of single points on it.
#[derive(Clone, Debug)]
pub struct Tile {
    patch: NoisePatch,
    scatter: f64,
}

impl Tile {
    /// The tiles of a fitted face.
    pub fn of_face(fit: &SurfaceFit) -> impl Iterator<Item = Self> {
        let side = NoisePatch::side_for(&fit.cells).min(LARGEST);
        let scatter = fit.scatter;
        NoisePatch::tiles(&fit.cells, side, Removed::Cubic)
            .into_iter()
            .map(move |patch| Self { patch, scatter })
    }

    /// Tiles of panel at seeds beside an edge.
    pub fn beside(surface: &Surface, seeds: &[(Point, Unit)]) -> Vec<Self> {
        seeds
            .iter()
            .filter_map(|(p, out)| {
                let grown =
                    face_grow::grow(surface, p, Some(out.into_inner()), Some(REACH)).ok()?;
                fit_grown(surface, &grown).ok()
            })
            .flat_map(|fit| Self::of_face(&fit).collect::<Vec<_>>())
            .collect()
    }

    fn mean_square(&self) -> f64 {
        let cells = &self.patch.cells;
        cells.iter().map(|c| c.mean * c.mean).sum::<f64>() / cells.len() as f64
    }

    /// The patches of the tiles that hold no form, and the median scatter of single points on them, mm.
    pub fn smooth(tiles: Vec<Self>) -> (Vec<NoisePatch>, f64) {
        let median = |mut v: Vec<f64>| {
            v.sort_by(f64::total_cmp);
            v.get(v.len() / 2).copied().unwrap_or(0.0)
        };
        let limit = TOO_ROUGH * median(tiles.iter().map(Self::mean_square).collect());
        let kept: Vec<Self> = tiles
            .into_iter()
            .filter(|t| t.mean_square() <= limit)
            .collect();
        let scatter = median(kept.iter().map(|t| t.scatter).collect());
        (kept.into_iter().map(|t| t.patch).collect(), scatter)
    }
}
