//! How far apart and how rough the points of a file are, in its own unit, and whether they were seen from one place.

use std::collections::HashMap;

use geom::{LocalPlane, Point, RawPoints, Vector};

/// Places looked at.
const PLACES: usize = 240;
/// Neighbours through which a plane is laid.
const NEIGHBOURS: usize = 32;
/// Neighbours remembered of a place, the nearest, so that a heap of points costs no more than a fine scan.
const MOST: usize = 1024;
/// A plane counts as smooth up to this roughness, as a share of its shorter spread.
const SMOOTH: f64 = 0.3;
/// Least share of the points in each of the eight directions about the origin for "all round"; even would be 1/8.
const ROUND_SHARE: f64 = 0.04;
/// How strongly the distance of neighbours follows the distance from the origin (a correlation of logarithms) where
/// points were seen from there: equal angles give 1, an even sweep of the surface 0.
const FOLLOWS: f64 = 0.4;

/// What a file says of its own fineness; lengths in the unit of the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fineness {
    /// Largest side of the box.
    pub largest: f64,
    /// Median distance between neighbouring points; `None` where too few places have neighbours.
    pub spacing: Option<f64>,
    /// Scatter of the points about smooth places: the lower quarter over the places.
    pub rough: Option<f64>,
    /// Distance from the origin within which three quarters of the points lie, if they look as if seen from there, all
    /// round. Three quarters: rays that met nothing may stand as a heap about the scanner.
    pub standpoint: Option<f64>,
}

impl Fineness {
    /// Looks at a fixed sample of places; one pass over the points for their neighbours. Points that are no finite numbers
    /// are passed over.
    pub fn of(points: &RawPoints) -> Self {
        let n = points.len();
        let finite = |i: usize| {
            let p = points.get(i);
            p.iter().all(|c| c.is_finite()).then_some(p)
        };
        let mut low = Vector::repeat(f64::INFINITY);
        let mut high = Vector::repeat(f64::NEG_INFINITY);
        let mut octants = [0_usize; 8];
        let mut count = 0_usize;
        for p in (0..n).filter_map(finite) {
            low = low.inf(&p.coords);
            high = high.sup(&p.coords);
            octants[usize::from(p.x > 0.0)
                + 2 * usize::from(p.y > 0.0)
                + 4 * usize::from(p.z > 0.0)] += 1;
            count += 1;
        }
        let mut out = Self {
            largest: 0.0,
            spacing: None,
            rough: None,
            standpoint: None,
        };
        if count < 4 * NEIGHBOURS {
            if count > 0 {
                out.largest = (high - low).amax();
            }
            return out;
        }
        let size = high - low;
        out.largest = size.amax();
        let middle = size.sum() - size.amax() - size.amin();
        // As if the points lay evenly on a sheet of the size of the box; the reach is several times that.
        let reach = 8.0 * (out.largest * middle.max(1e-3 * out.largest) / count as f64).sqrt();
        let seen = neighbourhoods(points, reach, &finite);
        let mut spacings: Vec<f64> = seen.iter().map(|s| s.nearest).collect();
        if spacings.len() < 12 {
            return out;
        }
        let all_round = octants
            .iter()
            .all(|o| *o as f64 >= ROUND_SHARE * count as f64);
        if all_round && follows(&seen) > FOLLOWS {
            let mut far: Vec<f64> = seen.iter().map(|s| s.at.coords.norm()).collect();
            out.standpoint = Some(quantile(&mut far, 0.75));
        }
        out.spacing = Some(quantile(&mut spacings, 0.5));
        let mut rough: Vec<f64> = seen.iter().filter_map(|s| s.rough).collect();
        if rough.len() >= 12 {
            out.rough = Some(quantile(&mut rough, 0.25));
        }
        out
    }
}

fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * share) as usize]
}

/// A place with what its neighbours say.
struct Seen {
    at: Point,
    nearest: f64,
    rough: Option<f64>,
}

/// Correlation of the logarithms of distance from the origin and distance of neighbours.
fn follows(seen: &[Seen]) -> f64 {
    let pairs: Vec<(f64, f64)> = seen
        .iter()
        .map(|s| (s.at.coords.norm().ln(), s.nearest.ln()))
        .filter(|(a, b)| a.is_finite() && b.is_finite())
        .collect();
    let n = pairs.len() as f64;
    let mean = |f: fn(&(f64, f64)) -> f64| pairs.iter().map(f).sum::<f64>() / n;
    let (ma, mb) = (mean(|p| p.0), mean(|p| p.1));
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for (a, b) in &pairs {
        aa += (a - ma).powi(2);
        bb += (b - mb).powi(2);
        ab += (a - ma) * (b - mb);
    }
    if aa > 0.0 && bb > 0.0 {
        ab / (aa * bb).sqrt()
    } else {
        0.0
    }
}

fn neighbourhoods(
    points: &RawPoints,
    reach: f64,
    finite: &impl Fn(usize) -> Option<Point>,
) -> Vec<Seen> {
    let n = points.len();
    let places: Vec<Point> = (0..PLACES.min(n))
        .filter_map(|k| {
            // Golden-ratio steps spread the places evenly over the file whatever their number.
            let share = (0.5 + k as f64 * 0.618_033_988_749_894_9).fract();
            finite(((n as f64 * share) as usize).min(n - 1))
        })
        .collect();
    let cell = |p: &Point| [p.x, p.y, p.z].map(|c| (c / reach).floor() as i64);
    // Only looked up, never walked through, so that its order is of no account.
    let mut cells: HashMap<[i64; 3], Vec<usize>> = HashMap::new();
    for (k, p) in places.iter().enumerate() {
        let [x, y, z] = cell(p);
        for i in 0..27 {
            let key = [x + i % 3 - 1, y + i / 3 % 3 - 1, z + i / 9 - 1];
            cells.entry(key).or_default().push(k);
        }
    }
    let mut near: Vec<Near> = vec![
        Near {
            reach,
            points: Vec::new()
        };
        places.len()
    ];
    for q in (0..n).filter_map(finite) {
        for &k in cells.get(&cell(&q)).into_iter().flatten() {
            near[k].add((q - places[k]).norm(), q);
        }
    }
    places
        .iter()
        .zip(near)
        .filter_map(|(p, near)| seen(*p, near.points))
        .collect()
}

/// The neighbours of a place with their distances.
#[derive(Clone)]
struct Near {
    reach: f64,
    points: Vec<(f64, Point)>,
}

impl Near {
    fn add(&mut self, distance: f64, q: Point) {
        if distance >= self.reach {
            return;
        }
        self.points.push((distance, q));
        if self.points.len() >= MOST {
            // The nearer half is kept, and from now on nothing beyond it; of points in one place one.
            self.points.sort_by(|a, b| a.0.total_cmp(&b.0));
            self.points.dedup_by(|a, b| a.1 == b.1);
            self.points.truncate(MOST / 2);
            if self.points.len() == MOST / 2 {
                self.reach = self.points[MOST / 2 - 1].0;
            }
        }
    }
}

/// `None` where a place has too few neighbours or all its neighbours are in one place.
fn seen(at: Point, mut near: Vec<(f64, Point)>) -> Option<Seen> {
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    // A point written twice says nothing of its neighbourhood.
    near.dedup_by(|a, b| a.1 == b.1);
    if near.len() < NEIGHBOURS {
        return None;
    }
    let nearest = near.iter().map(|q| q.0).find(|d| *d > 0.0)?;
    let about: Vec<Point> = near[..NEIGHBOURS].iter().map(|q| q.1).collect();
    let rough = LocalPlane::through(&about)
        .filter(|l| l.spread[0] < SMOOTH * l.spread[1])
        .map(|l| l.spread[0]);
    Some(Seen { at, nearest, rough })
}
