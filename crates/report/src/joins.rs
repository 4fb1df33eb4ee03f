//! How the scans of a body are joined, in sentences.

use record::{
    DisplayUnits, Figure, Joined, JoinedBy, JoinedScan, Quantity, Severity, Source, Study, TapedRow,
};

use crate::number::{show, show_signed};
use crate::sentence::finding_text;
use crate::terminal::{CAUTION, Look, lines_of};
use crate::words::{capital, side};

/// What is printed where the job joins nothing.
pub const NO_JOINS: &str = "The job joins no scans. Say in it which scan lies in the axes of which: joins: [(scan: \"rear\", to: \"front\")], with five places or more picked in both, or refine: true. Angles, sizes and fit need no join: see compare.";

/// The section on joins, lines ended by `\n`: each join, how well it is known at the openings, its places, taped lengths, then
/// doubts and what to measure next. `None` where the job joins nothing.
pub fn joins_text(study: &Study, look: Look) -> Option<String> {
    let joined = &study.measured.joined;
    if joined.joins.is_empty() && joined.findings.is_empty() && joined.lengths.is_empty() {
        return None;
    }
    let mut out = vec![
        format!("{}: scans joined to common axes", study.title),
        String::new(),
    ];
    out.extend(joins_lines(joined, study.units));
    out.extend(doubts(joined));
    out.push(String::new());
    out.push(next(joined));
    out.push(CAUTION.to_owned());
    Some(lines_of(&out, look))
}

/// Joins and taped lengths without doubts.
pub(crate) fn joins_lines(joined: &Joined, units: DisplayUnits) -> Vec<String> {
    let mut out = Vec::new();
    for (k, join) in joined.joins.iter().enumerate() {
        if k > 0 {
            out.push(String::new());
        }
        out.push(how(join, units));
        out.extend(known(join, units));
        out.extend(places(join, units));
    }
    if !joined.lengths.is_empty() {
        out.push("Taped lengths, scans minus tape".to_owned());
        out.extend(joined.lengths.iter().map(|r| taped(r, units)));
    }
    out
}

/// A length that is told like one known to `u95`, mm.
fn length(value: f64, u95: f64) -> Figure {
    Figure {
        value,
        u95,
        nu: f64::INFINITY,
        source: Source::Join,
        quantity: Quantity::Length,
    }
}

/// What a join rests on, in one sentence.
pub fn how(join: &JoinedScan, units: DisplayUnits) -> String {
    let kept = join.places.iter().filter(|p| p.kept).count();
    let by = match join.by {
        JoinedBy::Places => format!("{kept} places"),
        JoinedBy::Surfaces => "the surfaces that both show".to_owned(),
        JoinedBy::PlacesAndSurfaces => format!("{kept} places and the surfaces that both show"),
    };
    let mut text = format!("{} is joined to {} by {by}", capital(&join.scan.0), join.to);
    if let Some(o) = &join.overlap {
        let left = show(&length(o.left_mm, 0.1 * o.left_mm), units).with_unit();
        text += &format!(
            ": {:.0} % of its points lie on a surface of {}, where the two differ by {left} (spread)",
            100.0 * o.share,
            join.to
        );
    }
    text + "."
}

fn known(join: &JoinedScan, units: DisplayUnits) -> Vec<String> {
    let mut out = vec![format!(
        "  {:<34}{:>14}{:>14}",
        "give or take, worst direction", "shift", "turn"
    )];
    let size = |f: &Figure| {
        if f.u95.is_finite() {
            show(&Figure { value: f.u95, ..*f }, units).with_unit()
        } else {
            "not held".to_owned()
        }
    };
    for at in &join.at {
        out.push(format!(
            "  {:<34}{:>14}{:>14}",
            at.name,
            size(&at.shift),
            size(&at.turn)
        ));
    }
    out
}

fn places(join: &JoinedScan, units: DisplayUnits) -> Vec<String> {
    if join.places.is_empty() {
        return Vec::new();
    }
    let mut out = vec![
        format!("Places, {} joined minus {}", join.scan, join.to),
        format!("  {:<25}{:>15}{:>15}{:>15}", "", "X", "Y", "Z"),
    ];
    for p in &join.places {
        let name = if p.side == record::Side::NotSaid {
            p.name.clone()
        } else {
            format!("{} ({})", p.name, side(p.side))
        };
        let [x, y, z] = p.off.map(|f| show_signed(&f, units).plus_minus());
        let mark = if p.kept {
            ""
        } else {
            "  set aside: the odd one out"
        };
        out.push(format!("  {name:<25}{x:>15}{y:>15}{z:>15}{mark}"));
    }
    out
}

/// A taped length in one sentence: what the tape said, what the joined scans say more or less, whether they agree.
pub fn taped_text(row: &TapedRow, units: DisplayUnits) -> String {
    format!(
        "{} to {}: taped {}, off {}: {}.",
        row.from,
        row.to,
        show(&row.taped, units).with_unit(),
        show_signed(&row.off, units).plus_minus(),
        agreement(row)
    )
}

fn agreement(row: &TapedRow) -> &'static str {
    if !row.off.u95.is_finite() {
        "the join leaves it open"
    } else if row.off.value.abs() > row.off.u95 {
        "disagrees"
    } else {
        "agrees"
    }
}

fn taped(row: &TapedRow, units: DisplayUnits) -> String {
    let verdict = agreement(row);
    format!(
        "  {:<46}{:>12}{:>16}  {verdict}",
        format!("{} to {}", row.from, row.to),
        show(&row.taped, units).with_unit(),
        show_signed(&row.off, units).plus_minus()
    )
}

fn doubts(joined: &Joined) -> Vec<String> {
    let mut all: Vec<&record::Finding> = joined.findings.iter().collect();
    all.sort_by_key(|f| std::cmp::Reverse(f.severity));
    let mut out = Vec::new();
    if !all.is_empty() {
        out.push(String::new());
    }
    out.extend(all.into_iter().map(finding_text));
    out
}

/// What settles most: the worst of what is doubtful.
fn next(joined: &Joined) -> String {
    let worst = joined
        .findings
        .iter()
        .filter(|f| f.severity > Severity::Note)
        .fold(None, |worst: Option<&record::Finding>, f| match worst {
            Some(w) if w.severity >= f.severity => Some(w),
            _ => Some(f),
        });
    worst.map_or_else(
        || {
            "Measure next: nothing is asked for; a taped length from end to end checks the join."
                .to_owned()
        },
        |f| format!("Measure next: {}.", f.advice),
    )
}
