//! Whether the true parts fit the true openings: what a measured verdict is held against.

use geom::{Minimax, Mirror, Outcome, Point, Vector};
use record::{CompareId, Fastener, Job, OpeningId, Part, Relation};

use crate::truth::{TrueEdgePoint, TrueHole, TrueOpening, Truth};

/// Stations round an edge.
const STATIONS: usize = 240;
/// Sides of the polygon inside the circle of a fastener's play.
const SIDES: usize = 32;

/// How much of what is allowed is used in the best placement, by the true edges and holes (1 = all of it). `None`: the
/// fasteners cannot be started, or nothing is known of the comparison.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueFit {
    /// The left shape mirrored onto the right (the centre opening's own mirror image onto itself).
    pub mirror: Option<f64>,
    /// One midway shape, mirrored.
    pub midway: Option<f64>,
}

impl Truth {
    /// How the part of a comparison fits by its edges, its seats and its fasteners; junction angles are not counted. The
    /// differences are small, so turns are taken as linear.
    pub fn fit(&self, job: &Job, compare: &CompareId) -> TrueFit {
        let nothing = TrueFit {
            mirror: None,
            midway: None,
        };
        let Some(c) = job.compares.iter().find(|c| c.id == *compare) else {
            return nothing;
        };
        let part = job.choices.parts.iter().find(|p| p.id == c.part);
        let b = c.b.as_ref().unwrap_or(&c.a);
        let (Some(part), Some(a), Some(b)) = (part, self.opening(&c.a), self.opening(b)) else {
            return nothing;
        };
        let pair = Pair {
            a,
            b,
            itself: c.relation == Relation::Itself,
            mirrored: true,
            part,
        };
        TrueFit {
            mirror: pair.least(1.0),
            // Both sides are placed and each carries half: twice the room in every direction.
            midway: pair.least(2.0),
        }
    }

    /// How much of what is allowed the part drawn to opening `a` of this coach uses in opening `b` of another, or of this one at
    /// another time, mirrored where the two are of unlike sides; as [`Self::fit`]. `None` also where one of them is not there.
    pub fn fit_in(&self, a: &OpeningId, other: &Self, b: &OpeningId, part: &Part) -> Option<f64> {
        let (a, b) = (self.opening(a)?, other.opening(b)?);
        let pair = Pair {
            a,
            b,
            itself: false,
            mirrored: a.side != b.side,
            part,
        };
        pair.least(1.0)
    }
}

struct Pair<'a> {
    a: &'a TrueOpening,
    b: &'a TrueOpening,
    itself: bool,
    mirrored: bool,
    part: &'a Part,
}

impl Pair<'_> {
    /// The edge of `a` that lies on `share` of b's edge, mirrored.
    fn partner(&self, share: f64) -> Point {
        // Its own mirror image is run round the other way.
        let share = if self.itself { 0.25 - share } else { share };
        self.turned(&self.a.edge_at(share).at)
    }

    fn partner_hole(&self, h: &TrueHole) -> Option<Point> {
        let id = if self.itself {
            swapped(&h.id.0)
        } else {
            h.id.0.clone()
        };
        let other = self.a.holes.iter().find(|x| x.id.0 == id)?;
        Some(self.turned(&other.centre))
    }

    fn turned(&self, p: &Point) -> Point {
        if self.mirrored {
            Mirror::y().point(p)
        } else {
            *p
        }
    }

    fn least(&self, room: f64) -> Option<f64> {
        let edge: Vec<TrueEdgePoint> = self.b.edge(STATIONS);
        let middle =
            Point::from(edge.iter().map(|e| e.at.coords).sum::<Vector>() / edge.len() as f64);
        let allowed = &self.part.allowed;
        let mut p = Minimax::new(6);
        let row = |d: &Vector, at: &Point| {
            let turn = (at - middle).cross(d);
            [d.x, d.y, d.z, turn.x, turn.y, turn.z]
        };
        for (k, e) in edge.iter().enumerate() {
            let off = self.partner(k as f64 / STATIONS as f64) - e.at;
            let (g, h) = (e.inward.into_inner(), e.normal.into_inner());
            // + into the opening: the gap is wider than agreed; + outward: proud.
            p.within(
                &row(&g, &e.at),
                g.dot(&off),
                room * allowed.tight_mm,
                room * allowed.wide_mm,
            );
            p.within(
                &row(&h, &e.at),
                h.dot(&off),
                room * allowed.shy_mm,
                room * allowed.proud_mm,
            );
        }
        for h in &self.b.holes {
            let (Some(f), Some(at)) = (
                self.part.fasteners.iter().find(|f| f.hole == h.id),
                self.partner_hole(h),
            ) else {
                return None;
            };
            let off = at - h.centre;
            let axis = h.axis.into_inner();
            p.within(
                &row(&axis, &h.centre),
                axis.dot(&off),
                room * allowed.shy_mm,
                room * allowed.proud_mm,
            );
            let x = geom::any_perpendicular(&h.axis).into_inner();
            let y = axis.cross(&x);
            for k in 0..SIDES {
                let angle = (k as f64 + 0.5) * std::f64::consts::TAU / SIDES as f64;
                let d = x * angle.cos() + y * angle.sin();
                let reach = room * play(f) * (std::f64::consts::PI / SIDES as f64).cos();
                p.at_most(&row(&d, &h.centre), reach - d.dot(&off), 0.0);
            }
        }
        match p.solve() {
            Outcome::Optimal(o) => Some(o.value),
            Outcome::Infeasible(_) => None,
        }
    }
}

/// Play of a bolt with a nut, mm.
fn play(f: &Fastener) -> f64 {
    (f.part_hole_mm - f.fastener_mm) / 2.0 + (f.body_hole_mm - f.fastener_mm) / 2.0
}

/// The name of the hole that is a hole's mirror image: left and right change places.
fn swapped(id: &str) -> String {
    id.split(' ')
        .map(|w| match w {
            "left" => "right",
            "right" => "left",
            w => w,
        })
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use crate::Coach;

    #[test]
    fn a_perfect_coach_fits_itself() {
        let coach = Coach::perfect(1);
        let (truth, job) = (coach.truth(), coach.job());
        for c in &job.compares {
            let fit = truth.fit(&job, &c.id);
            assert!(fit.mirror.unwrap() < 2e-4, "{}: {fit:?}", c.id);
        }
    }

    #[test]
    fn the_demonstration_shows_what_it_is_meant_to() {
        let coach = Coach::new(1);
        let (truth, job) = (coach.truth(), coach.job());
        let fit = |stem: &str| {
            let f = truth.fit(&job, &stem.into());
            (f.mirror.unwrap(), f.midway.unwrap())
        };
        let (mirror, midway) = fit("lamp");
        assert!(
            mirror > 1.3 && midway > 1.15,
            "two hands: {mirror} {midway}"
        );
        let (mirror, _) = fit("vent");
        assert!(mirror < 0.3, "mirrored fits: {mirror}");
        let (mirror, midway) = fit("step");
        assert!(
            (mirror - 1.4).abs() < 0.05 && (midway - 0.2).abs() < 0.02,
            "slots: {mirror} {midway}"
        );
        let (mirror, midway) = fit("marker");
        assert!(
            (mirror - 1.0).abs() < 0.06 && midway < 0.6,
            "not proven: {mirror} {midway}"
        );
        let (mirror, _) = fit("grille");
        assert!(mirror < 0.8, "the grille fits either way round: {mirror}");
    }
}
