//! Conditions of `--fail-unless`, for scripts.

use record::{Severity, Study, Verdict};
use report::{Pair, pair_text};

/// What is to hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Word {
    /// The simple choice fits.
    Fits,
    /// Some choice fits.
    Cure,
    /// There is a verdict either way.
    Decided,
    /// Nothing was stopped.
    NoStop,
    /// There is no doubt and no stop.
    NoDoubt,
}

const WORDS: [(&str, Word); 5] = [
    ("fits", Word::Fits),
    ("cure", Word::Cure),
    ("decided", Word::Decided),
    ("no-stop", Word::NoStop),
    ("no-doubt", Word::NoDoubt),
];

/// A condition, for all comparisons or for one: `fits`, `lamp:cure`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Condition {
    only: Option<String>,
    word: Word,
}

impl std::str::FromStr for Condition {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (only, word) = match text.rsplit_once(':') {
            Some((name, word)) => (Some(name.to_owned()), word),
            None => (None, text),
        };
        let known = WORDS.iter().find(|(w, _)| *w == word);
        let (_, word) = *known.ok_or_else(|| {
            let words: Vec<&str> = WORDS.iter().map(|(w, _)| *w).collect();
            format!(
                "\"{word}\" is none of {}; for one comparison only: NAME:WORD",
                words.join(", ")
            )
        })?;
        Ok(Self { only, word })
    }
}

impl Condition {
    /// Every place where it does not hold, in words; empty where it holds.
    pub fn unmet(&self, study: &Study) -> Vec<String> {
        let pairs = Pair::all(study);
        let meant: Vec<&Pair> = pairs
            .iter()
            .filter(|p| {
                self.only
                    .as_ref()
                    .is_none_or(|name| p.measured.id.0 == *name)
            })
            .collect();
        if meant.is_empty() {
            let what = self.only.as_ref().map_or("any comparison".to_owned(), |n| {
                format!("a comparison \"{n}\"")
            });
            return vec![format!("{}: the job has not {what}", self.name())];
        }
        let mut out: Vec<String> = meant
            .into_iter()
            .filter(|pair| !self.holds(pair))
            .map(|pair| format!("{}: {}", self.name(), pair_text(pair).headline))
            .collect();
        let general = |least: Severity| {
            study
                .measured
                .findings
                .iter()
                .filter(move |f| f.severity >= least)
        };
        let least = match self.word {
            Word::NoStop => Some(Severity::Stop),
            Word::NoDoubt => Some(Severity::Doubt),
            _ => None,
        };
        if let (Some(least), None) = (least, &self.only) {
            out.extend(
                general(least).map(|f| format!("{}: {}", self.name(), report::finding_text(f))),
            );
        }
        out
    }

    fn name(&self) -> &'static str {
        WORDS
            .iter()
            .find(|(_, w)| *w == self.word)
            .map_or("", |(name, _)| name)
    }

    fn holds(&self, pair: &Pair) -> bool {
        let verdict = pair_text(pair).verdict;
        let gravest = pair.findings().first().map(|f| f.severity);
        match self.word {
            Word::Fits => verdict == Verdict::Fits,
            Word::Cure => pair.options().iter().any(|o| o.verdict == Verdict::Fits),
            Word::Decided => matches!(verdict, Verdict::Fits | Verdict::WillNotFit),
            Word::NoStop => gravest != Some(Severity::Stop),
            Word::NoDoubt => gravest.is_none_or(|g| g == Severity::Note),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::{
        CompareId, DecidedCompare, MeasuredCompare, OptionKind, OptionResult, Relation, Side,
    };

    fn study(verdict: Verdict) -> Study {
        let mut study = Study::default();
        study.measured.compares.push(MeasuredCompare {
            id: "lamp".into(),
            relation: Relation::Mirrored,
            part: "lamp".into(),
            a: "l".into(),
            b: Some("r".into()),
            sides: [Side::Left, Side::Right],
            b_on_a: None,
            stations: Vec::new(),
            a_spread: None,
            b_spread: None,
            a_curve: Vec::new(),
            b_curve: Vec::new(),
            closed: true,
            modes: Vec::new(),
            rest: None,
            angles: Vec::new(),
            holes: Vec::new(),
            findings: Vec::new(),
        });
        let option = |kind, verdict| OptionResult {
            kind,
            uses: None,
            worst: None,
            worst_gap_mm: None,
            chance: None,
            even: None,
            band_percent: None,
            verdict,
            needs: Vec::new(),
            incurable: false,
            least_oversize_mm: None,
        };
        study.decided.compares.push(DecidedCompare {
            id: CompareId("lamp".to_owned()),
            part: "lamp".into(),
            options: vec![
                option(OptionKind::TwoHands, Verdict::Fits),
                option(OptionKind::MirrorA, verdict),
            ],
            joint: None,
            boxes: Vec::new(),
            differs: Vec::new(),
            next: Vec::new(),
            findings: Vec::new(),
        });
        study
    }

    fn check(condition: &str, verdict: Verdict, holds: bool) {
        let condition: Condition = condition.parse().unwrap();
        assert_eq!(
            condition.unmet(&study(verdict)).is_empty(),
            holds,
            "{condition:?} {verdict:?}"
        );
    }

    #[test]
    fn conditions_hold_or_not() {
        check("fits", Verdict::Fits, true);
        check("fits", Verdict::WillNotFit, false);
        check("cure", Verdict::WillNotFit, true);
        check("decided", Verdict::WillNotFit, true);
        check("decided", Verdict::NotProven, false);
        check("lamp:fits", Verdict::Fits, true);
        check("vent:fits", Verdict::Fits, false);
        check("no-stop", Verdict::NotProven, true);
        check("no-doubt", Verdict::NotProven, true);
    }

    #[test]
    fn an_unknown_word_is_refused_with_the_known_ones() {
        let error = "fit".parse::<Condition>().unwrap_err();
        assert!(
            error.contains("fits, cure, decided, no-stop, no-doubt"),
            "{error}"
        );
    }
}
