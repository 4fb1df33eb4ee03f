//! The whole answer as text for one screen.
//!
//! Per comparison: the sentence, the ladder of angles beside the choices, doubts and the reading to take next. What
//! there is no room for is left out in a fixed order until the answer keeps to the height asked for; the sentence,
//! the ladder and the best choices are never left out.

mod choices;
mod ink;
mod ladder;

use record::{Code, Finding, Severity, Study, Verdict};

pub(crate) use choices::shown_options;
pub use ink::Look;
use ink::{Line, Role};
pub(crate) use ink::{lines_of, wrap};

use crate::sentence::{finding_text, pair_text};
use crate::words::{capital, full_stop, verdict};
use crate::{Pair, words};

/// The caution under everything.
pub const CAUTION: &str =
    "Measurement aid, not approval: local codes and licensed practice decide.";

/// How sparing the answer is: from 0, everything, to [`Thrift::MOST`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd)]
struct Thrift(usize);

impl Thrift {
    const MOST: usize = 5;

    /// Whether comparisons are set apart by a blank line.
    fn blank_lines(self) -> bool {
        self.0 < 2
    }

    /// Choices beside or under the ladder.
    fn choices(self) -> usize {
        [8, 4, 4, 3, 3, 2][self.0]
    }

    /// Doubts per comparison; what is shown is shown whole.
    fn doubts(self) -> usize {
        [4, 2, 2, 1, 1, 0][self.0]
    }

    /// Whether the reading to take next has its line at each comparison.
    fn next(self) -> bool {
        self.0 < Self::MOST
    }

    /// Whether all ladders are shown or only the telling one.
    fn all_ladders(self) -> bool {
        self.0 < 3
    }

    /// Whether the signs are explained below.
    fn legend(self) -> bool {
        self.0 < Self::MOST
    }

    /// Whether rungs are left out so that the choices stand beside the ladder instead of below it.
    fn folds_rungs(self) -> bool {
        self.0 > 2
    }

    /// Whether the angle is repeated in the sentence where a ladder stands.
    fn angle_sentence(self) -> bool {
        self.0 < 4
    }
}

/// Rungs of a ladder and spaces between them, tried in this order until it has room.
const WIDTHS: [(usize, usize); 7] = [(7, 2), (7, 1), (5, 2), (5, 1), (4, 1), (3, 1), (2, 1)];

/// The whole answer, lines ended by `\n`.
pub fn terminal_text(study: &Study, look: Look) -> String {
    let tries = (0..=Thrift::MOST).map(|level| lines(study, Thrift(level), look));
    let mut best: Vec<Line> = Vec::new();
    for lines in tries {
        let enough = lines.len() <= look.height;
        best = lines;
        if enough {
            break;
        }
    }
    best.iter()
        .map(|line| line.render(look.colour) + "\n")
        .collect()
}

fn lines(study: &Study, thrift: Thrift, look: Look) -> Vec<Line> {
    let mut out = header(study, thrift, look);
    let pairs = Pair::all(study);
    if pairs.len() > 1 {
        out.extend(wrapped(Role::Strong, &tally(&pairs), 0, look));
    }
    for pair in pairs {
        if thrift.blank_lines() {
            out.push(Line::default());
        }
        out.extend(block(&pair, thrift, look));
    }
    if thrift.doubts() == 0 {
        out.extend(summary(study, look));
    }
    if thrift.blank_lines() {
        out.push(Line::default());
    }
    // The marks stand beside their words anyway.
    if thrift.legend() {
        for legend in [
            "■ fits · ◪ not proven · ⊠ will not fit · ± give or take (95 %) · chance: that it fits · ↔ slot travel",
            "choices, the simplest that fits first: midway, one shape between the two; two hands, each its own",
        ] {
            out.extend(wrapped(Role::Light, legend, 0, look));
        }
    }
    out.extend(wrapped(Role::Light, CAUTION, 0, look));
    out
}

/// Which of the comparisons fit mirrored and which do not, the bad ones first:
/// `Of 5: 2 will not fit mirrored (Lamp surround, Step plate); 1 not proven (Bezel); 2 fit.`
pub fn tally(pairs: &[Pair]) -> String {
    let verdicts: Vec<(Verdict, &str)> = pairs
        .iter()
        .map(|p| (pair_text(p).verdict, p.title()))
        .collect();
    let kinds = [
        (Verdict::WillNotFit, "will not fit mirrored"),
        (Verdict::NotProven, "not proven"),
        (Verdict::NotMeasured, "not measured"),
        (Verdict::Fits, "fit"),
    ];
    let parts: Vec<String> = kinds
        .iter()
        .filter_map(|(kind, says)| {
            let titles: Vec<&str> = verdicts
                .iter()
                .filter(|v| v.0 == *kind)
                .map(|v| v.1)
                .collect();
            match (titles.len(), kind) {
                (0, _) => None,
                (1, Verdict::Fits) => Some("1 fits".to_owned()),
                (n, Verdict::Fits) => Some(format!("{n} {says}")),
                (n, _) => Some(format!("{n} {says} ({})", titles.join(", "))),
            }
        })
        .collect();
    format!("Of {}: {}.", pairs.len(), parts.join("; "))
}

/// `text` in lines of the width, `indent` from the left.
fn wrapped(role: Role, text: &str, indent: usize, look: Look) -> impl Iterator<Item = Line> {
    wrap(&look.signs(text), look.width - indent, 0)
        .into_iter()
        .map(move |row| Line::of(Role::Ink, " ".repeat(indent)).and(role, row))
}

/// Where there is no room per comparison: how many doubts there are, the worst, and the reading that settles most.
fn summary(study: &Study, look: Look) -> Vec<Line> {
    let pairs = Pair::all(study);
    let mut doubts: Vec<(&str, &Finding)> = Vec::new();
    for pair in &pairs {
        let weighty = pair
            .findings()
            .into_iter()
            .filter(|f| f.severity > Severity::Note && !in_header(f));
        doubts.extend(weighty.map(|f| (pair.title(), f)));
    }
    let mut out = Vec::new();
    let count = doubts.len();
    doubts.sort_by_key(|(_, f)| std::cmp::Reverse(f.severity));
    if let Some((title, worst)) = doubts.first() {
        let text = format!("Doubts: {count} in all, the worst: {title}: {}", worst.says);
        out.extend(wrapped(Role::NotProven, &full_stop(&text), 0, look));
    }
    let readings = pairs.iter().flat_map(|p| {
        p.decided
            .iter()
            .flat_map(|d| &d.next)
            .map(|n| (p.title(), n))
    });
    if let Some((title, next)) = readings.min_by(|x, y| y.1.settles.total_cmp(&x.1.settles)) {
        let text = full_stop(&format!("Measure this next: {title}: {}", next.what));
        out.extend(wrapped(Role::Ink, &text, 0, look));
    }
    out
}

fn header(study: &Study, thrift: Thrift, look: Look) -> Vec<Line> {
    let length = if study.units.length == record::LengthDisplay::Inch {
        "inches"
    } else {
        "mm"
    };
    let facts = look.signs(&format!(
        "{length}, degrees · left and right as seated facing forward"
    ));
    let title = if study.title.is_empty() {
        "Untitled job"
    } else {
        &study.title
    };
    let taken = title.chars().count() + facts.chars().count() + 2;
    let mut out = if taken <= look.width {
        let head = Line::of(Role::Strong, title).padded(look.width - facts.chars().count());
        vec![head.and(Role::Light, facts)]
    } else {
        let mut two: Vec<Line> = wrapped(Role::Strong, title, 0, look).collect();
        two.extend(wrapped(Role::Light, &facts, 0, look));
        two
    };
    for (role, text) in warnings(study) {
        out.extend(wrapped(role, &text, 0, look));
    }
    let mut general: Vec<&Finding> = study
        .measured
        .findings
        .iter()
        .filter(|f| (f.severity > Severity::Note || f.code == Code::Repeats) && !in_header(f))
        .collect();
    general.sort_by_key(|f| std::cmp::Reverse(f.severity));
    let most = general.len().min(thrift.doubts().max(1));
    out.extend(doubt_lines(&general[..most], general.len() - most, 0, look));
    out
}

/// What the header says once for all comparisons.
fn in_header(finding: &Finding) -> bool {
    matches!(finding.code, Code::UnitDoubt | Code::SideAsNamed)
}

fn warnings(study: &Study) -> Vec<(Role, String)> {
    let mut out = Vec::new();
    let unchecked: Vec<String> = study
        .provenance
        .scans
        .iter()
        .filter(|s| s.unit.contains("not checked"))
        .map(|s| {
            format!(
                "{} ({})",
                s.file,
                s.unit.split(',').next().unwrap_or("").trim()
            )
        })
        .collect();
    let named = Pair::all(study)
        .iter()
        .any(|p| p.findings().iter().any(|f| f.code == Code::SideAsNamed))
        || study
            .measured
            .findings
            .iter()
            .any(|f| f.code == Code::SideAsNamed);
    let mut parts = Vec::new();
    if !unchecked.is_empty() {
        parts.push(format!(
            "Unit not checked: {}; tape one length on the body to be sure.",
            unchecked.join(", ")
        ));
    }
    if named {
        parts.push(
            "Side as you named it: nothing in the scans can tell left from right.".to_owned(),
        );
    }
    if !parts.is_empty() {
        out.push((Role::NotProven, parts.join(" ")));
    }
    for opening in &study.not_measured {
        out.push((
            Role::NotProven,
            full_stop(&format!("Not measured: {}: {}", opening.id, opening.why)),
        ));
    }
    out
}

/// Everything about one comparison.
fn block(pair: &Pair, thrift: Thrift, look: Look) -> Vec<Line> {
    let mut text = pair_text(pair);
    let ladders = ladder_rows(pair, thrift);
    let ladder_differs = pair
        .measured
        .angles
        .iter()
        .any(|r| r.a.is_some() && r.b.is_some());
    if !thrift.angle_sentence() && ladder_differs {
        text.angle = String::new();
    }
    let mut out = sentence_lines(&text, look);
    out.extend(table(pair, &ladders, thrift, look));
    let said = text.full();
    let doubts: Vec<&Finding> = pair
        .findings()
        .into_iter()
        .filter(|f| {
            f.severity > Severity::Note
                && !in_header(f)
                && !said.contains(f.says.trim_end_matches('.'))
        })
        .collect();
    let shown = doubts.len().min(thrift.doubts());
    // Where none is shown here, all are counted at the end.
    let hidden = if shown > 0 { doubts.len() - shown } else { 0 };
    out.extend(doubt_lines(&doubts[..shown], hidden, 2, look));
    if let Some(next) = crate::sentence::next_reading(pair)
        && thrift.next()
        && !said.contains(&next.what)
    {
        let line = full_stop(&format!("Measure this next: {}", next.what));
        out.extend(wrapped(Role::Ink, &line, 2, look));
    }
    out
}

fn sentence_lines(text: &crate::PairText, look: Look) -> Vec<Line> {
    let role = choices::verdict_role(text.verdict);
    let mark = look.signs(&format!(
        "{} {}",
        words::mark(text.verdict),
        verdict(text.verdict)
    ));
    let first = mark.chars().count() + 2;
    let rows = wrap(
        &look.signs(&text.full()),
        look.width - 2,
        first.saturating_sub(2),
    );
    let strong = look.signs(&text.headline).chars().count();
    let mut done = 0;
    let mut out = Vec::new();
    for (i, row) in rows.into_iter().enumerate() {
        // The main clause is strong, the rest is not; one space was dropped at every break.
        let cut_at = strong.saturating_sub(done).min(row.chars().count());
        done += row.chars().count() + 1;
        let head: String = row.chars().take(cut_at).collect();
        let rest: String = row.chars().skip(cut_at).collect();
        let lead = if i == 0 {
            Line::of(role, mark.clone()).and(Role::Ink, "  ")
        } else {
            Line::of(Role::Ink, "  ")
        };
        out.push(lead.and(Role::Strong, head).and(Role::Ink, rest));
    }
    out
}

type Ladder<'a> = (&'a str, Vec<&'a record::AngleRow>);

fn ladder_rows<'a>(pair: &Pair<'a>, thrift: Thrift) -> Vec<Ladder<'a>> {
    let all = pair.ladders();
    if thrift.all_ladders() || all.len() < 2 {
        return all;
    }
    let telling = crate::sentence::telling_rung(pair).map(|r| r.junction.0.as_str());
    all.into_iter()
        .filter(|(name, _)| telling.is_none_or(|t| t == *name))
        .take(1)
        .collect()
}

/// The first ladder beside the choices, where both have room; else, and without a ladder, the choices below in words.
fn table(pair: &Pair, ladders: &[Ladder], thrift: Thrift, look: Look) -> Vec<Line> {
    let options = choices::shown_options(pair, thrift.choices());
    let room = look.width - 2;
    let indent = |line: Line| {
        Line(
            std::iter::once((Role::Ink, "  ".to_owned()))
                .chain(line.0)
                .collect(),
        )
    };
    let wide = |lines: &[Line]| lines.iter().map(Line::len).max().unwrap_or(0);
    let right = choices::columns(pair, &options, look);
    let bar = look.signs(" │ ");
    let mut out = Vec::new();
    let mut beside_used = false;
    for (k, (name, rows)) in ladders.iter().enumerate() {
        // The widest set of rungs that has room; `all`: only if none is folded.
        let fits = |free: usize, all: bool| {
            WIDTHS.into_iter().find_map(|columns| {
                let lines = ladder::ladder(pair, name, rows, columns, look);
                let whole = !all || columns.0 >= rows.len();
                (whole && wide(&lines) <= free).then_some(lines)
            })
        };
        let free = room.saturating_sub(wide(&right) + bar.chars().count());
        let beside = (k == 0 && !right.is_empty())
            .then(|| fits(free, !thrift.folds_rungs()))
            .flatten()
            .filter(|lines| !lines.is_empty());
        if let Some(left) = beside {
            beside_used = true;
            out.extend(side_by_side(left, &right, &bar).into_iter().map(indent));
        } else {
            let lines =
                fits(room, false).unwrap_or_else(|| ladder::ladder(pair, name, rows, (2, 1), look));
            out.extend(lines.into_iter().map(indent));
        }
    }
    if !beside_used {
        out.extend(
            choices::in_words(pair, &options, room, look)
                .into_iter()
                .map(indent),
        );
    }
    out
}

fn side_by_side(left: Vec<Line>, right: &[Line], bar: &str) -> Vec<Line> {
    let width = left.iter().map(Line::len).max().unwrap_or(0);
    let rows = left.len().max(right.len());
    let mut left = left.into_iter();
    (0..rows)
        .map(|i| {
            let mut line = left
                .next()
                .unwrap_or_default()
                .padded(width)
                .and(Role::Light, bar);
            if let Some(other) = right.get(i) {
                line.0.extend(other.0.iter().cloned());
            }
            line
        })
        .collect()
}

/// Doubts, each whole, and how many more there are.
fn doubt_lines(doubts: &[&Finding], hidden: usize, indent: usize, look: Look) -> Vec<Line> {
    let mut out = Vec::new();
    for (i, finding) in doubts.iter().enumerate() {
        let role = if finding.severity == Severity::Stop {
            Role::WillNotFit
        } else {
            Role::NotProven
        };
        let mut text = capital(&finding_text(finding));
        if i + 1 == doubts.len() && hidden > 0 {
            let doubts = if hidden == 1 { "doubt" } else { "doubts" };
            text = format!("{text} ({hidden} lesser {doubts}: see --json)");
        }
        out.extend(wrapped(role, &text, indent, look));
    }
    out
}

/// The verdict that weighs most over all comparisons, for exit conditions and summaries; `None` without comparisons.
pub fn gravest(study: &Study) -> Option<Verdict> {
    let rank = |v: Verdict| match v {
        Verdict::Fits => 0,
        Verdict::NotMeasured => 1,
        Verdict::NotProven => 2,
        Verdict::WillNotFit => 3,
    };
    Pair::all(study)
        .iter()
        .map(|p| pair_text(p).verdict)
        .max_by_key(|v| rank(*v))
}

#[cfg(test)]
mod tests;
