//! A picture that is there at once and gets better while nothing moves.

use crate::drawing::{Budget, Drawing};
use crate::picture::Picture;
use crate::{Look, Scene, View};

/// Points drawn while moving.
const MOVING: usize = 500_000;
/// Points drawn first when still.
const SETTLING: usize = 2_000_000;

/// How good a picture is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// Half size, about half a million points; lines and marks are at full size.
    Moving,
    /// Full size, about two million points.
    Settling,
    /// Full size, every point.
    Full,
}

/// What a call of [`Progressive::slice`] brought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sliced {
    /// Nothing new to show yet.
    UnderWay,
    /// A better picture is there, and better ones will follow.
    Better(Stage),
    /// The picture is there in full density; nothing more to do. Also returned when there was nothing to do.
    Done,
}

/// A picture that is there at once and gets better while nothing moves.
///
/// Whenever the camera or the scene changes call [`Self::begin`], then [`Self::slice`] once or several times per
/// repaint until it says [`Sliced::Done`]; [`Self::picture`] is always the latest finished picture. A finished
/// stage depends on the scene and the view alone, not on the budgets or the number of threads.
pub struct Progressive {
    drawing: Drawing,
    picture: Picture,
    shown: Option<Stage>,
    /// The stage under way; `None` when there is nothing to do.
    stage: Option<(Stage, View, Look)>,
    begun: bool,
}

impl Default for Progressive {
    fn default() -> Self {
        Self::new()
    }
}

impl Progressive {
    /// Without a picture yet.
    pub fn new() -> Self {
        let camera = crate::Camera::along(
            geom::Point::origin(),
            &geom::Vector::x(),
            &geom::Vector::z(),
        );
        let view = View {
            camera,
            width: 0,
            height: 0,
        };
        Self {
            drawing: Drawing::new(),
            picture: Picture::blank(view, [0; 3]),
            shown: None,
            stage: None,
            begun: false,
        }
    }

    /// Forgets what was under way and starts over with the picture for moving.
    pub fn begin(&mut self, view: View, look: Look) {
        self.begin_at(Stage::Moving, view, look);
    }

    /// Starts over at a stage: [`Stage::Settling`] after a change that moves nothing, such as a colour, so that the
    /// picture does not turn coarse in between.
    pub fn begin_at(&mut self, stage: Stage, view: View, look: Look) {
        self.stage = Some((stage, view, look));
        self.begun = false;
    }

    /// Goes on within a budget, at most to the end of the stage.
    pub fn slice(&mut self, scene: &Scene, budget: &Budget) -> Sliced {
        let Some((stage, view, look)) = self.stage else {
            return Sliced::Done;
        };
        if !self.begun {
            let (coarseness, points) = match stage {
                Stage::Moving => (2, MOVING),
                Stage::Settling => (1, SETTLING),
                Stage::Full => (1, usize::MAX),
            };
            self.drawing.begin(scene, view, look, coarseness, points);
            self.begun = true;
        }
        if !self.drawing.advance(scene, budget) {
            return Sliced::UnderWay;
        }
        self.drawing.hand_over(&mut self.picture);
        self.begun = false;
        let next = match stage {
            Stage::Moving => Some(Stage::Settling),
            Stage::Settling if self.drawing.thinned() => Some(Stage::Full),
            Stage::Settling | Stage::Full => None,
        };
        self.stage = next.map(|s| (s, view, look));
        self.shown = Some(next.map_or(Stage::Full, |_| stage));
        match next {
            Some(_) => Sliced::Better(stage),
            None => Sliced::Done,
        }
    }

    /// The picture for moving, in one call: for every step of a drag.
    pub fn moving(&mut self, scene: &Scene, view: View, look: Look) -> &Picture {
        self.begin(view, look);
        self.slice(scene, &Budget::all());
        &self.picture
    }

    /// The latest finished picture; of no size before the first.
    pub fn picture(&self) -> &Picture {
        &self.picture
    }

    /// How good the latest finished picture is; `None` before the first.
    pub fn shown(&self) -> Option<Stage> {
        self.shown
    }

    /// Whether there is something left to do.
    pub fn wants_more(&self) -> bool {
        self.stage.is_some()
    }
}

/// The whole picture in full density, in one call.
pub fn draw(scene: &Scene, view: View, look: Look) -> Picture {
    let mut progressive = Progressive::new();
    progressive.begin_at(Stage::Full, view, look);
    progressive.slice(scene, &Budget::all());
    progressive.picture
}
