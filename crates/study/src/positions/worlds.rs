//! What the doubt of the joins does to a figure: everything is laid again with each join off by each of its motions.
//!
//! So places and openings of one scan move together, and a join that moves both the centreline and an opening counts once.

use geom::{Rigid, Uncertain};
use record::{Job, Measured};

use super::line::{Lines, again};
use crate::join::{CommonAxes, JoinMotion, doubt_of, motions};

/// Common axes and the centreline in them.
#[derive(Clone, Debug)]
pub(super) struct World {
    pub axes: CommonAxes,
    pub car_from_base: Rigid,
}

/// The world as it was found, and as it would be with each join a little off.
pub(super) struct Worlds {
    pub found: World,
    off: Vec<(JoinMotion, Option<World>)>,
}

impl Worlds {
    pub(super) fn of(job: &Job, measured: &Measured, lines: &Lines) -> Self {
        let joins = &measured.joined.joins;
        let bears = |m: &JoinMotion| lines.axes.from(&joins[m.join].scan).is_some();
        let off = motions(joins)
            .into_iter()
            .filter(bears)
            .map(|m| {
                let axes = CommonAxes::off(joins, &lines.axes.base, m.join, &m.by);
                let car = again(job, measured, lines, &axes);
                let world = car.map(|car_from_base| World {
                    axes,
                    car_from_base,
                });
                (m, world)
            })
            .collect();
        Self {
            found: World {
                axes: lines.axes.clone(),
                car_from_base: lines.used.car_from_scan,
            },
            off,
        }
    }

    /// The doubt that the joins put on a figure; `None` where it is not bounded.
    pub(super) fn doubt(&self, figure: &dyn Fn(&World) -> Option<f64>) -> Option<Uncertain> {
        if self.off.is_empty() {
            return Some(Uncertain::new(0.0, f64::INFINITY));
        }
        let here = figure(&self.found)?;
        let changes: Vec<f64> = self
            .off
            .iter()
            .map(|(_, world)| Some(figure(world.as_ref()?)? - here))
            .collect::<Option<_>>()?;
        let motions: Vec<&JoinMotion> = self.off.iter().map(|o| &o.0).collect();
        doubt_of(&motions, &changes)
    }
}
