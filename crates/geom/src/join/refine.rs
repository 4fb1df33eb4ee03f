//! One surface laid on another where both show the same: point to plane, coarse to fine.
//!
//! Y. Chen and G. Medioni, "Object modelling by registration of multiple range images", Image and Vision Computing 10 (1992): each
//! point is held against the plane of the nearest one of the other surface, the motion that takes out the heights is found by
//! least squares, and so on. What does not overlap must not pull: points beyond the border of the other surface, too far off, or
//! where the normals differ do not count, and heights are weighed by the bisquare of their own spread. Ways that the surfaces do
//! not hold are left as they were.

use nalgebra::Vector6;

use super::matches::{Limits, Match, Normal, matches};
use super::patches::{FEWEST, Patches, WANTED};
use super::pose_doubt::PoseDoubt;
use super::surface::JoinSurface;
use super::weak::Ways;
use crate::robust::{HARD_CUT, NORMAL_MEDIAN, bisquare_weight, median, untruncated_sd};
use crate::{Point, Rigid, Vector};

/// Why two surfaces could not be laid on each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoRefine {
    /// Hardly a point of one lies on the other: share of the points, 0 to 1.
    NoOverlap(f64),
    /// The motion did not come to rest: what the last step still moved, mm.
    NotSettled(f64),
    /// Too little, or too small a place, is shown by both to tell anything.
    TooLittle,
    /// It was called off.
    CalledOff,
}

/// A way in which the surfaces hold the pose weakly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeakMotion {
    /// The motion about the middle of the doubt: shift (mm) and turn (rad), of root mean square 1 mm over the points.
    pub motion: Vector6<f64>,
    /// How well it is held, 0 to 1, against the same points held in every direction.
    pub held: f64,
    /// Whether it is not told from the noise of the normals: then nothing holds it.
    pub free: bool,
    /// Whether points move more by its turn than by its shift.
    pub turns: bool,
    /// Direction of the shift, or axis of the turn.
    pub direction: Vector,
    /// A place on the axis of a turn; of a slide, the middle.
    pub through: Point,
}

/// Two surfaces laid on each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Refined {
    /// Target axes from those of the scan.
    pub to_from: Rigid,
    /// Its doubt.
    pub doubt: PoseDoubt,
    /// Share of the points that lie on the other surface, 0 to 1.
    pub share: f64,
    /// Spread of the heights there, mm: the noise of both surfaces.
    pub left: f64,
    /// How well each of the six ways is held, the weakest first.
    pub held: [f64; 6],
    /// Ways that are held weakly or not at all.
    pub weak: Vec<WeakMotion>,
    /// Number of patches behind the doubt.
    pub patches: usize,
    /// Rounds it took.
    pub rounds: usize,
    /// Ways and their covariance, for [`Self::with_places`].
    pub(super) ways: Ways,
    pub(super) first: usize,
    pub(super) of_ways: nalgebra::DMatrix<f64>,
}

/// Points of the coarse rounds.
const COARSE: usize = 6_000;
/// Points of the last rounds.
const FINE: usize = 60_000;
/// Rounds of each stage.
const ROUNDS: usize = 80;
/// Rounds of the last fit.
const LAST_ROUNDS: usize = 20;
/// Fewer matches tell nothing.
const FEWEST_MATCHES: usize = 60;
/// Below this share of the points nothing is said.
const LEAST_SHARE: f64 = 0.005;
/// A way held less than this is weak.
const WEAK: f64 = 0.05;
/// Beyond so many distances between neighbours a point lies beside the surface.
const BESIDE: f64 = 2.5;
/// Rounds end when the points move by less than this share of the distance between neighbours.
const STILL: f64 = 1e-4;

struct Laying<'a> {
    from: &'a JoinSurface,
    to: &'a JoinSurface,
    go_on: &'a dyn Fn() -> bool,
    patches: usize,
    rounds: usize,
}

/// Lays `from` on `to` from `start` (axes of `to` from those of `from`). `reach` (mm): how far off the start may be.
///
/// `go_on` is asked every round. The result does not depend on the number of threads. Cost: a search of the nearest point for
/// at most 60,000 points of `from` in each of some ten rounds, and of 6,000 in each of some twenty before.
///
/// # Errors
/// [`NoRefine`].
pub fn refine(
    from: &JoinSurface,
    to: &JoinSurface,
    start: &Rigid,
    reach: f64,
    go_on: &dyn Fn() -> bool,
) -> Result<Refined, NoRefine> {
    refine_by(from, to, start, reach, WANTED, go_on)
}

/// As [`refine`]; the doubt comes from about so many `patches`. Fewer hold longer waves, and tell their scatter less well.
pub(crate) fn refine_by(
    from: &JoinSurface,
    to: &JoinSurface,
    start: &Rigid,
    reach: f64,
    patches: usize,
    go_on: &dyn Fn() -> bool,
) -> Result<Refined, NoRefine> {
    let mut laying = Laying {
        from,
        to,
        go_on,
        patches,
        rounds: 0,
    };
    let spacing = to.spacing;
    let every = from.len().div_ceil(COARSE).max(1);
    let fine_every = from.len().div_ceil(FINE).max(1);
    let close = 3.0 * spacing;
    let (mut pose, mut reach) = (*start, reach.max(close));
    // Coarse: reach shrinks as the surfaces come together.
    loop {
        let fine = reach <= close;
        let still = if fine { STILL } else { 0.02 } * spacing;
        pose = laying.settle(&pose, every, reach, still, !fine)?;
        if fine {
            break;
        }
        reach = (0.5 * reach).max(close);
    }
    if every > fine_every {
        pose = laying.settle(&pose, fine_every, close, STILL * spacing, false)?;
    }
    laying.judge(pose, fine_every, close)
}

impl Laying<'_> {
    fn limits(&self, reach: f64) -> Limits {
        let spacing = self.to.spacing;
        // While far off, the nearest point lies anywhere.
        Limits {
            reach,
            beside: (0.5 * reach).max(BESIDE * spacing),
        }
    }

    fn found(&self, pose: &Rigid, every: usize, reach: f64) -> Result<(Vec<Match>, f64), NoRefine> {
        if !(self.go_on)() {
            return Err(NoRefine::CalledOff);
        }
        let mut limits = self.limits(reach);
        if reach <= 3.0 * self.to.spacing {
            limits.beside = BESIDE * self.to.spacing;
        }
        let (found, tried) = matches(self.from, self.to, pose, every, limits);
        let share = found.len() as f64 / tried.max(1) as f64;
        if share < LEAST_SHARE || found.len() < FEWEST_MATCHES {
            return Err(NoRefine::NoOverlap(share));
        }
        Ok((found, share))
    }

    /// Rounds until the points hardly move. A stage that is only to come closer need not come to rest.
    fn settle(
        &mut self,
        start: &Rigid,
        every: usize,
        reach: f64,
        still: f64,
        on_the_way: bool,
    ) -> Result<Rigid, NoRefine> {
        let mut pose = *start;
        let mut last = f64::INFINITY;
        for _ in 0..if on_the_way { 12 } else { ROUNDS } {
            self.rounds += 1;
            let (found, _) = self.found(&pose, every, reach)?;
            let scale = spread_of(&found, self.to.spacing);
            let sums = Normal::of(&found, |m| bisquare_weight(m.height, scale));
            let ways = Ways::of(&sums).ok_or(NoRefine::TooLittle)?;
            let first = first_held(&ways, tilt(&found));
            let step = ways.step(&sums.pull, first);
            last = sums.moves_by(&step);
            if !last.is_finite() {
                return Err(NoRefine::TooLittle);
            }
            pose = about(&sums.about).moved(&pose, &step);
            if last <= still {
                return Ok(pose);
            }
        }
        // What still trembles by less than a hundredth of the spacing has come to rest: points change their partners.
        if on_the_way || last <= 0.01 * self.to.spacing {
            Ok(pose)
        } else {
            Err(NoRefine::NotSettled(last))
        }
    }

    /// The last fit, every point kept counting alike, and what is known of it.
    fn judge(&mut self, start: Rigid, every: usize, reach: f64) -> Result<Refined, NoRefine> {
        let mut pose = start;
        let mut last = f64::NAN;
        for _ in 0..LAST_ROUNDS {
            let (kept, share, left) = self.kept(&pose, every, reach)?;
            let sums = Normal::of(&kept, |_| 1.0);
            let mut ways = Ways::of(&sums).ok_or(NoRefine::TooLittle)?;
            let tilt = tilt(&kept);
            let first = first_held(&ways, tilt);
            ways.in_plain_words(first);
            let step = ways.step(&sums.pull, first);
            let moved = sums.moves_by(&step);
            if moved > STILL * self.to.spacing {
                self.rounds += 1;
                pose = about(&sums.about).moved(&pose, &step);
                last = moved;
                // Points change their partners: below this it has come to rest.
                if moved > 0.01 * self.to.spacing {
                    continue;
                }
            }
            let patches = Patches::of(&kept, &sums.about, &ways, first, self.patches)
                .ok_or(NoRefine::TooLittle)?;
            debug_assert!(patches.count >= FEWEST);
            let root = sums.weight.sqrt();
            let weak = (0..6)
                .filter(|&k| k < first || ways.held[k] < WEAK)
                .map(|k| weak_motion(&ways, k, root, k < first, &sums.about))
                .collect();
            return Ok(Refined {
                to_from: pose,
                doubt: PoseDoubt {
                    about: sums.about,
                    parts: vec![patches.part],
                    free: (0..first).map(|k| ways.motions.column(k) * root).collect(),
                },
                share,
                left,
                held: ways.held,
                weak,
                patches: patches.count,
                rounds: self.rounds,
                ways,
                first,
                of_ways: patches.of_ways,
            });
        }
        Err(NoRefine::NotSettled(last))
    }

    /// The matches within 3.5 spreads, their share of all points, and the spread.
    fn kept(
        &self,
        pose: &Rigid,
        every: usize,
        reach: f64,
    ) -> Result<(Vec<Match>, f64, f64), NoRefine> {
        let (found, share) = self.found(pose, every, reach)?;
        let scale = spread_of(&found, self.to.spacing);
        let cut = HARD_CUT * scale;
        let all = found.len() as f64;
        let kept: Vec<Match> = found
            .into_iter()
            .filter(|m| m.height.abs() <= cut)
            .collect();
        let square: f64 = kept.iter().map(|m| m.height * m.height).sum();
        let sd = (square / kept.len().max(1) as f64).sqrt();
        let share = share * kept.len() as f64 / all;
        Ok((kept, share, untruncated_sd(sd, cut)))
    }
}

fn about(at: &Point) -> PoseDoubt {
    PoseDoubt {
        about: *at,
        parts: Vec::new(),
        free: Vec::new(),
    }
}

/// Spread of the heights by their median, mm; no scan is better than a hundredth of the distance between its points.
fn spread_of(found: &[Match], spacing: f64) -> f64 {
    let mut all: Vec<f64> = found.iter().map(|m| m.height.abs()).collect();
    (median(&mut all) / NORMAL_MEDIAN).max(0.01 * spacing)
}

/// Mean square of the tilt of the mean normal by noise, rad2, by how much the two normals differ.
fn tilt(found: &[Match]) -> f64 {
    // The square of the sine has a mean of four times the variance of one normal about one axis, which is twice that of their
    // mean; its median, which a clutter of small things does not move, is ln 2 of its mean.
    let mut all: Vec<f64> = found.iter().map(|m| m.unlike).collect();
    median(&mut all) / (8.0 * std::f64::consts::LN_2)
}

/// Normals of sound scans are wrong by about a degree near borders and bends: a way is not held by less than the square of it.
const WRONG: f64 = 4e-4;

/// Ways before this are not told from the noise of the normals, which alone makes each way look held by its tilt squared.
fn first_held(ways: &Ways, tilt: f64) -> usize {
    let least = WRONG + 2.5 * tilt;
    ways.held.iter().filter(|h| **h < least).count()
}

fn weak_motion(ways: &Ways, k: usize, root: f64, free: bool, about: &Point) -> WeakMotion {
    let motion: Vector6<f64> = ways.motions.column(k) * root;
    let shift = Vector::new(motion[0], motion[1], motion[2]);
    let turn = Vector::new(motion[3], motion[4], motion[5]);
    // Of a motion of size 1 mm the shift of the middle makes |shift|^2, the turn the rest.
    let turns = shift.norm_squared() < 0.5;
    let (direction, through) = if turns {
        let axis = turn.normalize();
        (
            axis,
            about + axis.cross(&shift) / turn.norm().max(f64::MIN_POSITIVE),
        )
    } else {
        (shift.normalize(), *about)
    };
    // The largest component is positive.
    let direction = if direction[direction.iamax()] < 0.0 {
        -direction
    } else {
        direction
    };
    WeakMotion {
        motion,
        held: if free { 0.0 } else { ways.held[k] },
        free,
        turns,
        direction,
        through,
    }
}
