//! Square tiles of smooth metal that speak for the noise of a visit.

use geom::{CellGrid, LocalAxes, NoisePatch, Point, Removed, SurfaceFit};

use super::edge_fit::FittedEdge;
use super::face::fit_grown;
use super::face_grow::{self, GrownFace, Seed};
use super::surface::Surface;

/// The largest side of a tile, mm. What a cubic leaves of the form of a panel grows with the fourth power of the side:
/// over 60 mm it passes for waves under white noise, over 30 mm it is lost in it.
const LARGEST: f64 = 30.0;
/// The same on flat metal, which has no form to leave: the longer a tile, the longer the waves that it tells of.
const LARGEST_FLAT: f64 = 60.0;
/// Metal that bows by less than this over such a tile is flat, mm.
const FLAT: f64 = 0.1;
/// How far from an edge a tile beside it begins, mm.
const AWAY: f64 = 22.0;
/// How far a face beside an edge reaches from its seed, mm: the tile in it is whole, for what a shape leaves of a wave stands
/// most in the corners.
const REACH: f64 = 27.0;
/// Half the side of the square that is cut out of it, mm: room for the largest tile wherever the cells begin.
const HALF: f64 = LARGEST / 2.0 + 2.5;
/// Least side of a cell in spacings of the scan.
const FINEST: f64 = 1.4;
/// Points farther off the surface than this many times the scatter are none of it.
const STRAY: f64 = 4.0;
/// A tile whose mean square is this many times the median of those of its size holds form, not noise.
const TOO_ROUGH: f64 = 10.0;

/// A tile and the scatter of single points on its face.
#[derive(Clone, Debug)]
pub struct Tile {
    patch: NoisePatch,
    scatter: Scatter,
}

/// Scatter of single points about the quadric through a face.
#[derive(Clone, Copy, Debug, Default)]
pub struct Scatter {
    /// Standard deviation, mm.
    pub sd_mm: f64,
    /// Sides of the face, mm.
    pub size_mm: [f64; 2],
}

impl Scatter {
    /// Whether the faces are about as large.
    fn alike(&self, other: &Self) -> bool {
        std::iter::zip(self.size_mm, other.size_mm).all(|(a, b)| (0.8..=1.25).contains(&(a / b)))
    }
}

/// How far points reach along u and v, mm, as if they filled a rectangle evenly: by the places that one in a hundred lie beyond
/// on each side, so that a few points more or fewer at the border move next to nothing.
fn extents(axes: &LocalAxes, points: &[Point]) -> Option<[[f64; 2]; 2]> {
    let beyond = points.len() / 100;
    let last = points.len().checked_sub(1 + beyond)?;
    let share = beyond as f64 / points.len() as f64;
    let along = |k: usize| {
        let mut all: Vec<f64> = points.iter().map(|p| axes.local(p)[k]).collect();
        let low = *all.select_nth_unstable_by(beyond, f64::total_cmp).1;
        let high = *all.select_nth_unstable_by(last, f64::total_cmp).1;
        let more = (high - low) * share / (1.0 - 2.0 * share);
        [low - more, high + more]
    };
    Some([along(0), along(1)])
}

impl Tile {
    /// The tiles of a grown face and the surface fitted to it.
    pub fn of_face(surface: &Surface, grown: &GrownFace, fit: &SurfaceFit) -> Vec<Self> {
        // Ten cells of a few points each along a side.
        let finest = FINEST * surface.spacing();
        let [_, _, _, uu, _, vv] = fit.coefficients;
        let bow = uu.abs().max(vv.abs()) * (LARGEST_FLAT / 2.0).powi(2);
        let largest = if bow < FLAT { LARGEST_FLAT } else { LARGEST };
        let near = STRAY * fit.scatter;
        let mut points: Vec<Point> = grown
            .points
            .iter()
            .filter(|p| {
                let [u, v, h] = fit.axes.local(p);
                (h - fit.height(u, v)).abs() <= near
            })
            .copied()
            .collect();
        if surface.is_stopped() {
            return Vec::new();
        }
        let Some(extents) = extents(&fit.axes, &points) else {
            return Vec::new();
        };
        // A tile that is not full at its border would show less of a wave than a whole one.
        let wide = extents.map(|[low, high]| high - low);
        let whole = wide[0].min(wide[1]) - 2.0 * fit.cells.size;
        let side = whole.min(largest.max(10.0 * finest));
        let cell = (side / 10.0).max(finest);
        // A coarse cell is a fifth of a tile.
        if side < 5.0 * cell {
            return Vec::new();
        }
        // The cells begin at the first point: what juts out of the rest must not move them.
        points.retain(|p| {
            let at = fit.axes.local(p);
            (0..2).all(|k| (extents[k][0]..=extents[k][1]).contains(&at[k]))
        });
        let Ok(cells) = CellGrid::build(fit.axes, cell, &points) else {
            return Vec::new();
        };
        if surface.is_stopped() {
            return Vec::new();
        }
        let tile = |patch| Self {
            patch,
            scatter: Scatter {
                sd_mm: fit.scatter,
                size_mm: grown.size,
            },
        };
        let patches = NoisePatch::tiles(&cells, side, Removed::Cubic);
        patches.into_iter().map(tile).collect()
    }

    /// Tiles of panel beside an edge, cut along it.
    pub fn beside(surface: &Surface, edge: &FittedEdge) -> Vec<Self> {
        (0..8)
            .filter_map(|k| {
                let s = edge.station((f64::from(k) + 0.5) / 8.0);
                let seed = Seed {
                    near: &(s.p - s.inward.into_inner() * AWAY),
                    facing: Some(s.out.into_inner()),
                    along: Some(s.along),
                    reach_mm: Some(REACH),
                };
                let grown = face_grow::grow(surface, &seed)
                    .ok()?
                    .within(seed.near, HALF);
                let fit = fit_grown(surface, &grown).ok()?;
                Some(Self::of_face(surface, &grown, &fit))
            })
            .flatten()
            .collect()
    }

    /// Mean square of the cells as if each held one point.
    fn mean_square(&self) -> f64 {
        let cells = &self.patch.cells;
        cells.iter().map(|c| c.count * c.mean * c.mean).sum::<f64>() / cells.len() as f64
    }

    /// The patches of the tiles that hold no form, and the scatter of single points: the median over most of the faces
    /// that are about as large. Tiles are held against those of their own size: a larger one shows more of the waves.
    pub fn smooth(tiles: &[Self]) -> (Vec<NoisePatch>, Scatter) {
        let median = |mut v: Vec<f64>| {
            v.sort_by(f64::total_cmp);
            v.get(v.len() / 2).copied().unwrap_or(0.0)
        };
        let kept: Vec<Self> = tiles
            .iter()
            .filter(|t| {
                let alike = tiles.iter().filter(|o| {
                    let ratio = o.patch.side_mm / t.patch.side_mm;
                    (0.8..=1.25).contains(&ratio)
                });
                t.mean_square() <= TOO_ROUGH * median(alike.map(Self::mean_square).collect())
            })
            .cloned()
            .collect();
        let all: Vec<Scatter> = kept.iter().map(|t| t.scatter).collect();
        let alike = |of: &Scatter| -> Vec<Scatter> {
            all.iter().filter(|s| s.alike(of)).copied().collect()
        };
        let mut most = all
            .iter()
            .map(alike)
            .max_by_key(Vec::len)
            .unwrap_or_default();
        most.sort_by(|a, b| a.sd_mm.total_cmp(&b.sd_mm));
        let scatter = most.get(most.len() / 2).copied().unwrap_or_default();
        (kept.into_iter().map(|t| t.patch).collect(), scatter)
    }
}
