//! Growing and shrinking faces step by step.

use record::{FaceId, OpeningId};

use super::Editor;
use crate::command::{Command, FaceChange};
use crate::refused::Refused;

/// One step larger or smaller.
const STEP: f64 = 1.25;
/// The engine reaches no farther by itself, mm.
const FARTHEST_MM: f64 = 260.0;
/// Smaller faces say nothing, mm.
const LEAST_MM: f64 = 5.0;

impl Editor {
    /// Lets a face reach a quarter farther, or takes it back by a fifth. A face without a bound is first bounded by what
    /// of it was seen.
    ///
    /// # Errors
    /// If there is no such face, or it reaches as far (or as little) as it can.
    pub fn resize_face(
        &mut self,
        opening: &OpeningId,
        face: &FaceId,
        larger: bool,
    ) -> Result<(), Refused> {
        let job = self.document.job();
        let o = job.openings.iter().find(|o| o.id == *opening);
        let o = o.ok_or_else(|| Refused::NoSuch {
            what: "opening",
            name: opening.to_string(),
        })?;
        let pick = o.faces.iter().find(|f| f.id == *face);
        let pick = pick.ok_or_else(|| Refused::NoSuch {
            what: "face",
            name: face.to_string(),
        })?;
        let seen = self
            .document
            .study
            .measured
            .openings
            .iter()
            .find(|m| m.id == *opening)
            .and_then(|m| m.faces.iter().find(|f| f.id == *face))
            .map_or(FARTHEST_MM, |f| f.size_mm[0].hypot(f.size_mm[1]) / 2.0);
        let reach = next_reach(pick.reach_mm, seen, larger).ok_or_else(|| {
            let (how, hint) = if larger {
                (
                    "far",
                    "The surface ends there; click beside it for another face.",
                )
            } else {
                ("little", "A smaller face says nothing.")
            };
            Refused::NotMeasured {
                says: format!("Face {face} of {opening} reaches as {how} as it can"),
                hint: hint.to_owned(),
            }
        })?;
        self.apply(&Command::face(
            opening.clone(),
            face.clone(),
            FaceChange::Reach(reach),
        ))
    }
}

/// The next bound, if there is one: `Some(None)` takes the bound away.
#[allow(
    clippy::option_option,
    reason = "a bound that is taken away is not the same as no change"
)]
fn next_reach(reach: Option<f64>, seen: f64, larger: bool) -> Option<Option<f64>> {
    if larger {
        let next = reach? * STEP;
        return Some((next < FARTHEST_MM).then_some(next));
    }
    let next = reach.unwrap_or(FARTHEST_MM).min(seen) / STEP;
    (next >= LEAST_MM).then_some(Some(next))
}

#[cfg(test)]
mod tests {
    use super::next_reach;

    #[test]
    fn there_and_back() {
        assert_eq!(next_reach(None, 50.0, true), None);
        assert_eq!(next_reach(None, 50.0, false), Some(Some(40.0)));
        assert_eq!(next_reach(Some(40.0), 50.0, true), Some(Some(50.0)));
        assert_eq!(next_reach(Some(250.0), 50.0, true), Some(None));
        assert_eq!(next_reach(Some(100.0), 20.0, false), Some(Some(16.0)));
        assert_eq!(next_reach(Some(6.0), 20.0, false), None);
    }
}
