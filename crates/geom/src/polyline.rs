//! Chains of straight segments in space, open or closed, measured by arc length.

use crate::{Plane, Point, Unit, Vector};

/// Segments that are looked at together.
const STRETCH: usize = 16;

/// A chain of points joined by straight segments, mm. Neighbouring points differ; a closed chain does not repeat
/// its first point.
#[derive(Clone, Debug, PartialEq)]
pub struct Polyline {
    points: Vec<Point>,
    closed: bool,
    /// Arc length at each point; for a closed chain one more entry, the whole length.
    along: Vec<f64>,
}

/// Where a chain meets a plane, or comes nearest to a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnPolyline {
    /// Arc length from the first point, mm.
    pub s: f64,
    /// The place, mm.
    pub at: Point,
}

impl Polyline {
    /// Joins `points` in order; points equal to the one before are dropped. `None` with fewer than two different
    /// points (three for a closed chain) or with a coordinate that is not finite.
    pub fn new(points: impl IntoIterator<Item = Point>, closed: bool) -> Option<Self> {
        let mut kept: Vec<Point> = Vec::new();
        for p in points {
            if !p.coords.iter().all(|x| x.is_finite()) {
                return None;
            }
            if kept.last() != Some(&p) {
                kept.push(p);
            }
        }
        while closed && kept.len() > 1 && kept.first() == kept.last() {
            kept.pop();
        }
        if kept.len() < if closed { 3 } else { 2 } {
            return None;
        }
        let mut along = vec![0.0];
        let mut s = 0.0;
        for i in 1..kept.len() + usize::from(closed) {
            s += (kept[i % kept.len()] - kept[i - 1]).norm();
            along.push(s);
        }
        Some(Self {
            points: kept,
            closed,
            along,
        })
    }

    /// The points, mm.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Whether the last point is joined to the first.
    pub fn closed(&self) -> bool {
        self.closed
    }

    /// Whole length, mm.
    pub fn length(&self) -> f64 {
        self.along[self.along.len() - 1]
    }

    /// Number of segments.
    pub fn segments(&self) -> usize {
        self.along.len() - 1
    }

    /// Arc length of the i-th point, mm.
    pub fn arc_of(&self, i: usize) -> f64 {
        self.along[i]
    }

    /// Brings an arc length into the chain: wrapped when closed, cut off at the ends when open.
    pub fn wrap(&self, s: f64) -> f64 {
        if self.closed {
            let r = s.rem_euclid(self.length());
            if r < self.length() { r } else { 0.0 }
        } else {
            s.clamp(0.0, self.length())
        }
    }

    /// Distance of two arc lengths along the chain, the short way round when closed, mm.
    pub fn apart(&self, s: f64, t: f64) -> f64 {
        let d = (self.wrap(s) - self.wrap(t)).abs();
        if self.closed {
            d.min(self.length() - d)
        } else {
            d
        }
    }

    fn ends(&self, segment: usize) -> (Point, Point) {
        (
            self.points[segment],
            self.points[(segment + 1) % self.points.len()],
        )
    }

    /// The segment that holds the (wrapped) arc length, and the share of it that has been run.
    fn segment_at(&self, s: f64) -> (usize, f64) {
        let s = self.wrap(s);
        let i = self
            .along
            .partition_point(|a| *a <= s)
            .saturating_sub(1)
            .min(self.segments() - 1);
        let length = self.along[i + 1] - self.along[i];
        (i, ((s - self.along[i]) / length).clamp(0.0, 1.0))
    }

    /// The point at arc length `s` (see [`Self::wrap`]), mm.
    pub fn point_at(&self, s: f64) -> Point {
        let (i, f) = self.segment_at(s);
        let (a, b) = self.ends(i);
        a + (b - a) * f
    }

    /// Direction of the segment at arc length `s`; at a point, that of the segment that begins there.
    pub fn tangent_at(&self, s: f64) -> Unit {
        let (a, b) = self.ends(self.segment_at(s).0);
        Unit::new_normalize(b - a)
    }

    /// Direction of the chord from `half` before to `half` after arc length `s`: the tangent of a smooth curve with
    /// the corners of the chain evened out. Falls back to [`Self::tangent_at`] where the chord vanishes.
    pub fn chord_at(&self, s: f64, half: f64) -> Unit {
        Unit::try_new(self.point_at(s + half) - self.point_at(s - half), 1e-12)
            .unwrap_or_else(|| self.tangent_at(s))
    }

    /// `n` points evenly spaced by arc length. A closed chain starts at `from` and does not repeat it; an open one
    /// runs from end to end and `from` is not used. Fewer than two are raised to two.
    pub fn resample(&self, n: usize, from: f64) -> Vec<Point> {
        let n = n.max(2);
        (0..n)
            .map(|i| {
                if self.closed {
                    self.point_at(from + self.length() * i as f64 / n as f64)
                } else {
                    self.point_at(self.length() * i as f64 / (n - 1) as f64)
                }
            })
            .collect()
    }

    /// Every crossing with the plane, in order of arc length. A segment that lies in the plane counts at its start.
    pub fn crossings(&self, plane: &Plane) -> Vec<OnPolyline> {
        let mut found = Vec::new();
        let mut i = 0;
        while i < self.segments() {
            let (a, b) = self.ends(i);
            let (da, db) = (plane.distance(&a), plane.distance(&b));
            let last_open = !self.closed && i + 1 == self.segments();
            let f = if da == 0.0 {
                Some(0.0)
            } else if da * db < 0.0 {
                Some(da / (da - db))
            } else if db == 0.0 && last_open {
                Some(1.0)
            } else {
                None
            };
            found.extend(f.map(|f| OnPolyline {
                s: self.along[i] + f * (self.along[i + 1] - self.along[i]),
                at: a + (b - a) * f,
            }));
            // From the end of this segment the plane is not met before its distance has been run.
            i += 1;
            let sure = self.along[i] + db.abs() * (1.0 - 1e-9);
            while i + 1 < self.segments() && self.along[i + 1] < sure {
                i += 1;
            }
        }
        found
    }

    /// The crossing with the plane whose arc length is nearest to `near`, the short way round when closed: the point
    /// of another edge in the section plane normal to this edge. `None` where the plane is missed altogether.
    pub fn crossing_near(&self, plane: &Plane, near: f64) -> Option<OnPolyline> {
        self.crossings(plane)
            .into_iter()
            .min_by(|a, b| self.apart(a.s, near).total_cmp(&self.apart(b.s, near)))
    }

    /// The place nearest to `p`; of equals the one with the least arc length. Stretches that are too far by their ends and
    /// their length (no place is nearer to `p` than another by more than the way between them) are passed over.
    pub fn nearest(&self, p: &Point) -> OnPolyline {
        let n = self.segments();
        let apart = |i: usize| (p - self.points[i % self.points.len()]).norm();
        let stretches = n.div_ceil(STRETCH);
        let ends: Vec<f64> = (0..=stretches)
            .map(|k| apart((k * STRETCH).min(n)))
            .collect();
        let mut limit = ends.iter().copied().fold(f64::INFINITY, f64::min) * (1.0 + 1e-12);
        let mut best = (f64::INFINITY, 0.0, self.points[0]);
        for k in 0..stretches {
            let (first, last) = (k * STRETCH, ((k + 1) * STRETCH).min(n));
            let way = self.along[last] - self.along[first];
            if 0.5 * (ends[k] + ends[k + 1] - way) > limit + 1e-12 * self.length() {
                continue;
            }
            for i in first..last {
                let (a, b) = self.ends(i);
                let d = b - a;
                let f = ((p - a).dot(&d) / d.norm_squared()).clamp(0.0, 1.0);
                let q = a + d * f;
                let distance = (p - q).norm_squared();
                if distance < best.0 {
                    best = (distance, self.along[i] + f * d.norm(), q);
                }
            }
            limit = limit.min(best.0.sqrt() * (1.0 + 1e-12));
        }
        OnPolyline {
            s: best.1,
            at: best.2,
        }
    }

    /// Distance from `p`, mm.
    pub fn distance(&self, p: &Point) -> f64 {
        (self.nearest(p).at - p).norm()
    }

    /// Area enclosed by the closed chain seen along Z, mm2; + when it runs counter-clockwise seen from +Z. An open
    /// chain is closed by a straight segment. Summed about the first point, so that far origins lose no digits.
    pub fn area_xy(&self) -> f64 {
        let o = self.points[0];
        let twice: f64 = self
            .points
            .windows(2)
            .map(|w| {
                let (a, b) = (w[0] - o, w[1] - o);
                a.x * b.y - b.x * a.y
            })
            .sum();
        twice / 2.0
    }

    /// Vector area, mm2: half the sum of cross products; its direction is the mean normal of the closed chain.
    pub fn area_vector(&self) -> Vector {
        let o = self.points[0];
        self.points
            .windows(2)
            .map(|w| (w[0] - o).cross(&(w[1] - o)) / 2.0)
            .sum()
    }

    /// Middle of the chain weighted by length, mm.
    pub fn middle(&self) -> Point {
        let o = self.points[0];
        let sum: Vector = (0..self.segments())
            .map(|i| {
                let (a, b) = self.ends(i);
                ((a - o) + (b - o)) * (0.5 * (self.along[i + 1] - self.along[i]))
            })
            .sum();
        o + sum / self.length()
    }

    /// The same chain run the other way; a closed one keeps its first point.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let mut points = self.points.clone();
        points.reverse();
        if self.closed {
            points.rotate_right(1);
        }
        // A reversed chain has the same neighbours, so that it cannot fail.
        Self::new(points, self.closed).unwrap_or_else(|| self.clone())
    }

    /// The image under a length-keeping map (a motion, a mirror). `None` where it maps points onto each other.
    pub fn mapped(&self, map: impl Fn(&Point) -> Point) -> Option<Self> {
        Self::new(self.points.iter().map(map), self.closed)
    }

    /// Smallest distance between two places whose arc lengths differ by more than `apart_mm` (the short way round),
    /// with the two arc lengths: a curve that touches or nearly touches itself. Places are the points against the
    /// segments; cost n2. `None` when the chain is too short for two such places.
    pub fn self_distance(&self, apart_mm: f64) -> Option<(f64, f64, f64)> {
        let mut best: Option<(f64, f64, f64)> = None;
        for (k, p) in self.points.iter().enumerate() {
            for i in 0..self.segments() {
                let (a, b) = self.ends(i);
                let d = b - a;
                let f = ((p - a).dot(&d) / d.norm_squared()).clamp(0.0, 1.0);
                let s = self.along[i] + f * d.norm();
                if self.apart(s, self.along[k]) <= apart_mm {
                    continue;
                }
                let distance = (a + d * f - p).norm();
                if best.is_none_or(|b| distance < b.0) {
                    best = Some((distance, self.along[k], s));
                }
            }
        }
        best
    }

    /// The segments as pairs of points, mm, in order.
    pub fn segment_ends(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        (0..self.segments()).map(|i| self.ends(i))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn square(closed: bool) -> Polyline {
        let corners = [
            [0.0, 0.0],
            [10.0, 0.0],
            [10.0, 0.0],
            [10.0, 10.0],
            [0.0, 10.0],
        ];
        Polyline::new(corners.map(|c| Point::new(c[0], c[1], 1.0)), closed).unwrap()
    }

    #[test]
    fn lengths_and_points() {
        let q = square(true);
        assert_eq!(q.points().len(), 4);
        assert_eq!(q.length(), 40.0);
        assert_eq!(square(false).length(), 30.0);
        assert_eq!(q.point_at(-5.0), Point::new(0.0, 5.0, 1.0));
        assert_eq!(q.point_at(42.0), Point::new(2.0, 0.0, 1.0));
        assert_eq!(square(false).point_at(42.0), Point::new(0.0, 10.0, 1.0));
        assert_eq!(q.tangent_at(10.0).into_inner(), Vector::y());
        assert_eq!(q.wrap(40.0), 0.0);
        assert_eq!(q.apart(39.0, 2.0), 3.0);
        assert_relative_eq!(q.middle(), Point::new(5.0, 5.0, 1.0), epsilon = 1e-12);
    }

    #[test]
    fn areas_and_direction() {
        assert_eq!(square(true).area_xy(), 100.0);
        assert_eq!(square(true).reversed().area_xy(), -100.0);
        assert_eq!(
            square(true).reversed().points()[0],
            Point::new(0.0, 0.0, 1.0)
        );
        assert_eq!(square(true).area_vector(), Vector::z() * 100.0);
        let far = square(true)
            .mapped(|p| p + Vector::new(3e6, -2e6, 0.0))
            .unwrap();
        assert_eq!(far.area_xy(), 100.0);
    }

    #[test]
    fn crossing_is_chosen_by_arc_length() {
        let q = square(true);
        let plane = Plane::through(&Point::new(3.0, 0.0, 0.0), Vector::x_axis());
        assert_eq!(q.crossings(&plane).len(), 2);
        assert_relative_eq!(
            q.crossing_near(&plane, 39.0).unwrap().at,
            Point::new(3.0, 0.0, 1.0)
        );
        assert_relative_eq!(q.crossing_near(&plane, 28.0).unwrap().s, 27.0);
        let missed = Plane::through(&Point::new(11.0, 0.0, 0.0), Vector::x_axis());
        assert!(q.crossing_near(&missed, 0.0).is_none());
        // A plane through a corner is met once there, not twice.
        let corner = Plane::through(
            &Point::new(10.0, 0.0, 1.0),
            Unit::new_normalize(Vector::new(1.0, 1.0, 0.0)),
        );
        assert_eq!(
            q.crossings(&corner).iter().filter(|c| c.s == 10.0).count(),
            1
        );
    }

    #[test]
    fn resampling_is_even() {
        let q = square(true);
        let r = Polyline::new(q.resample(80, 0.25), true).unwrap();
        assert_relative_eq!(r.arc_of(1), 0.5, epsilon = 1e-12);
        assert!(r.points().iter().all(|p| q.distance(p) < 1e-12));
        let open = square(false).resample(4, 0.0);
        assert_eq!(open[3], Point::new(0.0, 10.0, 1.0));
    }

    #[test]
    fn self_distance_sees_a_neck() {
        let neck = [
            [0.0, 0.0],
            [10.0, 0.0],
            [10.0, 10.0],
            [5.0, 0.2],
            [0.0, 10.0],
        ];
        let q = Polyline::new(neck.map(|c| Point::new(c[0], c[1], 0.0)), true).unwrap();
        let (d, s, t) = q.self_distance(6.0).unwrap();
        assert_relative_eq!(d, 0.2, epsilon = 1e-12);
        assert_relative_eq!(t, 5.0, epsilon = 1e-12);
        assert!(s > 25.0);
        assert!(q.self_distance(1e3).is_none());
    }

    #[test]
    fn the_nearest_place_is_the_nearest_of_all_segments() {
        let at = |k: i32| {
            let a = f64::from(k) * 0.01;
            Point::new(
                90.0 * a.cos() + 3.0 * (7.0 * a).sin(),
                50.0 * a.sin(),
                (3.0 * a).cos(),
            )
        };
        for closed in [false, true] {
            let line = Polyline::new((0..611).map(at), closed).unwrap();
            for k in 0..400 {
                let q = f64::from(k);
                let p = Point::new(
                    120.0 * (0.7 * q).sin(),
                    80.0 * (1.3 * q).cos(),
                    (0.31 * q).sin(),
                );
                let mut least = f64::INFINITY;
                for i in 0..line.segments() {
                    let (a, b) = line.ends(i);
                    let f = ((p - a).dot(&(b - a)) / (b - a).norm_squared()).clamp(0.0, 1.0);
                    least = least.min((p - (a + (b - a) * f)).norm());
                }
                let found = line.nearest(&p);
                assert!(
                    ((found.at - p).norm() - least).abs() < 1e-12,
                    "{closed} {k}"
                );
                assert!(
                    (line.point_at(found.s) - found.at).norm() < 1e-9,
                    "{closed} {k}"
                );
            }
        }
    }

    #[test]
    fn degenerate_chains_are_refused() {
        let p = Point::origin();
        assert!(Polyline::new([p, p, p], false).is_none());
        assert!(Polyline::new([p, Point::new(1.0, 0.0, 0.0), p], true).is_none());
        assert!(Polyline::new([p, Point::new(f64::NAN, 0.0, 0.0)], false).is_none());
    }
}
