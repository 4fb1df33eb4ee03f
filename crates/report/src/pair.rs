//! What belongs to one comparison, gathered from the study.

use record::{
    AngleRow, DecidedCompare, Finding, MeasuredCompare, MeasuredOpening, OpeningId,
    OpeningNotMeasured, OptionKind, OptionResult, Part, Relation, Severity, Side, Study,
};

use crate::words;

/// One comparison with its part, openings and decision. Borrowed from the study; holds no figure of its own.
#[derive(Clone, Copy, Debug)]
pub struct Pair<'a> {
    /// The study it is taken from.
    pub study: &'a Study,
    /// What was measured.
    pub measured: &'a MeasuredCompare,
    /// What was decided, if anything could be.
    pub decided: Option<&'a DecidedCompare>,
    /// The part.
    pub part: Option<&'a Part>,
}

impl<'a> Pair<'a> {
    /// Every comparison of the study, in the order of the job.
    pub fn all(study: &'a Study) -> Vec<Self> {
        study
            .measured
            .compares
            .iter()
            .map(|measured| Pair {
                study,
                measured,
                decided: study.decided.compares.iter().find(|d| d.id == measured.id),
                part: study.choices.parts.iter().find(|p| p.id == measured.part),
            })
            .collect()
    }

    /// What the part is called in sentences; its name in the job if nothing else is known.
    pub fn title(&self) -> &'a str {
        match self.part {
            Some(part) if !part.name.trim().is_empty() => &part.name,
            _ => &self.measured.part.0,
        }
    }

    /// The opening of that name, if it was measured.
    pub fn opening(&self, id: &OpeningId) -> Option<&'a MeasuredOpening> {
        self.study.measured.openings.iter().find(|o| o.id == *id)
    }

    /// What a is called in sentences.
    pub fn a_word(&self) -> String {
        self.word(0, Some(&self.measured.a))
    }

    /// What b is called in sentences.
    pub fn b_word(&self) -> String {
        self.word(1, self.measured.b.as_ref())
    }

    fn word(&self, index: usize, id: Option<&OpeningId>) -> String {
        match self.measured.relation {
            Relation::Itself => ["left", "right"][index].to_owned(),
            // Of one that is not measured the other one tells the side.
            Relation::Mirrored => {
                match (self.measured.sides[index], self.measured.sides[1 - index]) {
                    (Side::Left, _) | (Side::NotSaid, Side::Right) => "left".to_owned(),
                    (Side::Right, _) | (Side::NotSaid, Side::Left) => "right".to_owned(),
                    _ => ["first", "second"][index].to_owned(),
                }
            }
            Relation::Same => id.map_or_else(
                || ["first", "second"][index].to_owned(),
                |id| self.opening(id).map_or(id.0.clone(), |o| o.name.clone()),
            ),
        }
    }

    /// Which of the two openings was not measured, and why; `None` where both were, or one is not in the job at all.
    pub fn not_measured(&self) -> Option<&'a OpeningNotMeasured> {
        let named = |id: &OpeningId| {
            let all = &self.study.not_measured;
            all.iter().find(|n| n.id == *id)
        };
        named(&self.measured.a).or_else(|| self.measured.b.as_ref().and_then(named))
    }

    /// Whether there is nothing to compare with.
    pub fn one_side_only(&self) -> bool {
        self.measured.b.is_none() && self.measured.relation != Relation::Itself
    }

    /// Choices, best first.
    pub fn options(&self) -> &'a [OptionResult] {
        self.decided.map_or(&[], |d| &d.options)
    }

    /// The choice of that kind.
    pub fn option(&self, kind: OptionKind) -> Option<&'a OptionResult> {
        self.options().iter().find(|o| o.kind == kind)
    }

    /// What was chosen for it.
    pub fn chosen(&self) -> Option<OptionKind> {
        let all = &self.study.choices.chosen;
        all.iter()
            .find(|c| c.0 == self.measured.id)
            .map(|(_, kind, _)| *kind)
    }

    /// What a choice is called here.
    pub fn choice_word(&self, kind: OptionKind) -> String {
        words::choice(kind, self.measured.relation, &self.a_word(), &self.b_word())
    }

    /// Everything found about it: the comparison, its decision, its openings with their faces, junctions and holes;
    /// the heaviest first, otherwise in that order; the same thing said twice only once.
    pub fn findings(&self) -> Vec<&'a Finding> {
        let mut all: Vec<&'a Finding> = self.measured.findings.iter().collect();
        all.extend(self.decided.iter().flat_map(|d| &d.findings));
        let ids = std::iter::once(&self.measured.a).chain(self.measured.b.as_ref());
        for opening in ids.filter_map(|id| self.opening(id)) {
            all.extend(&opening.findings);
            all.extend(opening.faces.iter().flat_map(|f| &f.findings));
            all.extend(opening.junctions.iter().flat_map(|j| &j.findings));
            all.extend(opening.holes.iter().flat_map(|h| &h.findings));
        }
        let drawings = self.study.drawings.iter();
        let own = drawings.filter(|d| d.compare == self.measured.id);
        all.extend(own.flat_map(|d| &d.findings));
        let mut once: Vec<&'a Finding> = Vec::new();
        for finding in all {
            if !once.iter().any(|f| {
                f.code == finding.code && f.subject == finding.subject && f.says == finding.says
            }) {
                once.push(finding);
            }
        }
        once.sort_by_key(|f| std::cmp::Reverse(f.severity));
        once
    }

    /// The finding that stops it, if one does.
    pub fn stop(&self) -> Option<&'a Finding> {
        self.findings()
            .into_iter()
            .find(|f| f.severity == Severity::Stop)
    }

    /// The angles of each junction, in the order of the study.
    pub fn ladders(&self) -> Vec<(&'a str, Vec<&'a AngleRow>)> {
        let mut ladders: Vec<(&'a str, Vec<&'a AngleRow>)> = Vec::new();
        for row in &self.measured.angles {
            match ladders.iter_mut().find(|(name, _)| *name == row.junction.0) {
                Some((_, rows)) => rows.push(row),
                None => ladders.push((&row.junction.0, vec![row])),
            }
        }
        ladders
    }
}
