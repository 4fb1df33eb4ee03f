//! What a network is made of.

use std::fmt;

use crate::Point;

/// What was observed. Points are indices into [`Network::points`]; lengths mm, angles radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Observed {
    /// Straight distance of two points.
    Distance {
        /// One end.
        from: usize,
        /// Other end.
        to: usize,
    },
    /// Reading along a straight bar whose pointers, at right angles to it, differ in length by `drop` mm: the distance
    /// of the two points is sqrt(reading^2 + drop^2) whichever way the bar leans.
    Bar {
        /// One end.
        from: usize,
        /// Other end.
        to: usize,
        /// Difference of the pointer lengths, mm; its sign does not matter.
        drop: f64,
    },
    /// Distance of two points as seen along the last axis (a level bar). In one dimension it is meaningless.
    Plan {
        /// One end.
        from: usize,
        /// Other end.
        to: usize,
    },
    /// Distance of a point from the line through two others: in two dimensions + to the left of `from` to `to`,
    /// in three always >= 0.
    FromLine {
        /// The point.
        point: usize,
        /// One point of the line.
        from: usize,
        /// Another point of the line.
        to: usize,
    },
    /// Signed distance of a point from the plane of three others: + on the side from which a, b, c run
    /// counter-clockwise. Three dimensions only.
    FromPlane {
        /// The point.
        point: usize,
        /// First point of the plane.
        a: usize,
        /// Second point of the plane.
        b: usize,
        /// Third point of the plane.
        c: usize,
    },
    /// A coordinate of a point: 0, 1 or 2 (the height, in three dimensions).
    Coordinate {
        /// The point.
        point: usize,
        /// Which coordinate.
        axis: usize,
    },
    /// Coordinate of `to` less that of `from`: a levelled height difference.
    Step {
        /// Lower end.
        from: usize,
        /// Upper end.
        to: usize,
        /// Which coordinate.
        axis: usize,
    },
    /// Angle at a point between two others, 0 to pi.
    Angle {
        /// The corner.
        at: usize,
        /// One leg.
        from: usize,
        /// Other leg.
        to: usize,
    },
}

impl Observed {
    /// The points it ties together.
    pub fn points(&self) -> Vec<usize> {
        match *self {
            Self::Distance { from, to }
            | Self::Bar { from, to, .. }
            | Self::Plan { from, to }
            | Self::Step { from, to, .. } => vec![from, to],
            Self::FromLine { point, from, to } => vec![point, from, to],
            Self::FromPlane { point, a, b, c } => vec![point, a, b, c],
            Self::Coordinate { point, .. } => vec![point],
            Self::Angle { at, from, to } => vec![at, from, to],
        }
    }
}

/// One observation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observation {
    /// What.
    pub what: Observed,
    /// What was read, mm or radians.
    pub value: f64,
    /// Standard deviation of the reading, same unit, > 0.
    pub sigma: f64,
}

/// A point of a network.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct NetPoint {
    /// Where it is, roughly, mm; exactly if it is fixed. Coordinates beyond the dimensions are not used. `None`: worked
    /// out from the distances.
    pub start: Option<Point>,
    /// Whether it stays where it is.
    pub fixed: bool,
    /// Whether a free datum rests on it (together with all others of which that is said; on all if on none).
    pub datum: bool,
}

impl NetPoint {
    /// A point of which only its ties are known.
    pub fn unknown() -> Self {
        Self::default()
    }

    /// A point roughly at a place.
    pub fn near(start: Point) -> Self {
        Self {
            start: Some(start),
            ..Self::default()
        }
    }

    /// A point that stays where it is.
    pub fn fixed(at: Point) -> Self {
        Self {
            start: Some(at),
            fixed: true,
            ..Self::default()
        }
    }
}

/// A network of points and observations.
#[derive(Clone, Debug, PartialEq)]
pub struct Network {
    /// 1, 2 or 3.
    pub dimensions: usize,
    /// Its points.
    pub points: Vec<NetPoint>,
    /// What was observed.
    pub observations: Vec<Observation>,
}

/// Why a network has no answer.
#[derive(Clone, Debug, PartialEq)]
pub enum NetworkError {
    /// An observation that names points that are not there, twice the same, or not in so many dimensions; or a value or
    /// standard deviation that is not finite or not positive.
    BadObservation(usize),
    /// A fixed point without a finite place.
    BadPoint(usize),
    /// These points are not held by their ties: they can move while every observation stays as it is.
    Loose(Vec<usize>),
    /// No approximate places could be worked out for these points; they need more ties or a rough place.
    NoStart(Vec<usize>),
    /// The iteration did not settle: an observation may be grossly wrong.
    NoConvergence,
}

impl fmt::Display for NetworkError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::BadObservation(i) => write!(f, "observation {i} is not possible"),
            Self::BadPoint(i) => write!(f, "point {i} has no place"),
            Self::Loose(p) => write!(f, "points {p:?} are not held by their ties"),
            Self::NoStart(p) => write!(f, "points {p:?} cannot be placed from their ties"),
            Self::NoConvergence => write!(f, "the adjustment did not settle"),
        }
    }
}

impl std::error::Error for NetworkError {}

impl Network {
    /// Says what is impossible in it.
    pub(super) fn check(&self) -> Result<(), NetworkError> {
        let d = self.dimensions;
        for (i, p) in self.points.iter().enumerate() {
            let placed = p.start.is_some_and(|s| s.iter().all(|c| c.is_finite()));
            if !placed && (p.fixed || p.start.is_some()) {
                return Err(NetworkError::BadPoint(i));
            }
        }
        for (i, o) in self.observations.iter().enumerate() {
            let mut points = o.what.points();
            let there = points.iter().all(|p| *p < self.points.len());
            points.sort_unstable();
            let apart = points.windows(2).all(|w| w[0] != w[1]);
            let possible = match o.what {
                Observed::Distance { .. } => o.value > 0.0,
                Observed::Bar { drop, .. } => o.value > 0.0 && drop.is_finite() && d > 1,
                Observed::Plan { .. } => o.value > 0.0 && d == 3,
                Observed::FromLine { .. } => d == 2 || d == 3 && o.value >= 0.0,
                Observed::FromPlane { .. } => d == 3,
                Observed::Coordinate { axis, .. } | Observed::Step { axis, .. } => axis < d,
                Observed::Angle { .. } => d > 1 && (0.0..=std::f64::consts::PI).contains(&o.value),
            };
            let sound = o.value.is_finite() && o.sigma.is_finite() && o.sigma > 0.0;
            if !(there && apart && possible && sound) {
                return Err(NetworkError::BadObservation(i));
            }
        }
        Ok(())
    }

    /// The points on which a free datum rests.
    pub(super) fn datum(&self) -> Vec<bool> {
        if self.points.iter().any(|p| p.datum) {
            self.points.iter().map(|p| p.datum).collect()
        } else {
            vec![true; self.points.len()]
        }
    }
}
