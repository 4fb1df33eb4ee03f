//! Sections and panels in sentences and one table per pair.

use record::{
    DisplayUnits, Figure, PairPanel, Quantity, Relation, Sections, SheetKind, Side, Study,
};

use crate::number::{show, show_at, show_signed_at, step_of, typed};
use crate::sentence::finding_text;
use crate::terminal::{CAUTION, Look, wrap};
use crate::words::{capital, side};

mod neighbours;

pub use neighbours::{gap_sentence, hinge_sentence};

/// What is printed where nothing could be cut.
pub const NO_SECTIONS: &str =
    "No section was cut: no pair of openings was laid on each other by its edges. See compare.";

/// Under the tables.
const LEGEND: &str = "Rows are places on the edge, columns the distance from it; + means proud, * proven by itself. All places and both profiles stand in the files.";

/// So many findings are printed, worst first.
const MOST_FINDINGS: usize = 3;
/// Width of the words at the head of a row, and of a column.
const HEAD: usize = 30;
const COLUMN: usize = 7;

/// The whole answer, lines ended by `\n`: a sentence per pair (which panel differs, where, how much), then a table per pair
/// as far as there is room, then the doubts, worst first.
pub fn sections_text(study: &Study, sections: &Sections, look: Look) -> String {
    let mut first: Vec<String> = Vec::new();
    push(
        &mut first,
        &format!("{}: sections and panels", study.title),
        look,
    );
    if sections.pairs.is_empty() && sections.gaps.is_empty() && sections.hinges.is_empty() {
        push(&mut first, NO_SECTIONS, look);
    }
    for pair in &sections.pairs {
        push(&mut first, &sentence(pair, study.units), look);
    }
    for gap in &sections.gaps {
        push(&mut first, &gap_sentence(gap, study.units), look);
    }
    for hinge in &sections.hinges {
        push(&mut first, &hinge_sentence(hinge, study.units), look);
    }
    let mut last: Vec<String> = Vec::new();
    let mut all: Vec<&record::Finding> = sections.findings.iter().collect();
    all.sort_by_key(|f| std::cmp::Reverse(f.severity));
    for finding in all.iter().take(MOST_FINDINGS) {
        push(&mut last, &finding_text(finding), look);
    }
    if all.len() > MOST_FINDINGS {
        let more = format!("{} more stand in sections.json.", all.len() - MOST_FINDINGS);
        push(&mut last, &more, look);
    }
    push(&mut last, CAUTION, look);
    let mut tables: Vec<&PairPanel> = sections
        .pairs
        .iter()
        .filter(|p| p.worst.is_some())
        .collect();
    let mut foot: Vec<String> = Vec::new();
    if !tables.is_empty() {
        push(&mut foot, LEGEND, look);
    }
    // A blank line before the tables; each needs its heads and a row at least.
    let fixed = first.len() + foot.len() + last.len() + 1;
    let heads = |tables: &[&PairPanel]| -> usize {
        let mut before: Vec<f64> = Vec::new();
        tables
            .iter()
            .map(|p| table(p, 0, &mut before, study.units, look).len())
            .sum()
    };
    while tables.len() > 1 && fixed + heads(&tables) + tables.len() > look.height {
        // What is not proven is left out first, and the last first.
        let proven = |p: &&PairPanel| p.worst.as_ref().is_some_and(|w| w.proven);
        let left_out = tables.iter().rposition(|p| !proven(p));
        tables.remove(left_out.unwrap_or(tables.len() - 1));
    }
    let room = look.height.saturating_sub(fixed + heads(&tables));
    let rows = (room / tables.len().max(1)).max(1);
    let mut text = String::new();
    let mut put = |lines: &[String]| {
        for l in lines {
            text += l.trim_end();
            text.push('\n');
        }
    };
    put(&first);
    put(&[String::new()]);
    let mut before: Vec<f64> = Vec::new();
    for pair in tables {
        put(&table(pair, rows, &mut before, study.units, look));
    }
    put(&foot);
    put(&last);
    text
}

fn push(out: &mut Vec<String>, line: &str, look: Look) {
    out.extend(wrap(&look.signs(line), look.width, 0));
}

/// Who stands proud of whom.
fn than(pair: &PairPanel, proud: bool) -> String {
    let name = |s: Side| format!("the {}", side(s));
    let (a, b) = match pair.relation {
        Relation::Mirrored => (name(pair.sides[0]), name(pair.sides[1])),
        Relation::Same => ("the first".to_owned(), "the second".to_owned()),
        Relation::Itself => ("it".to_owned(), "its own mirror image".to_owned()),
    };
    let way = if proud { "proud of" } else { "shy of" };
    format!("{a} stands {{}} {way} {b}")
}

/// What is said of a panel in one sentence: where it differs most, by how much, proven or not.
pub fn sentence(pair: &PairPanel, units: DisplayUnits) -> String {
    let name = capital(&pair.name);
    let Some(worst) = &pair.worst else {
        return format!("{name}: the panel was not seen on both sides, so nothing is compared.");
    };
    let size = Figure {
        value: worst.difference.value.abs(),
        ..worst.difference
    };
    let shown = show(&size, units);
    let at = format!(
        "{}, {} from the edge",
        at_the(&worst.place),
        length(worst.from_edge_mm, units)
    );
    let amount = than(pair, worst.difference.value > 0.0).replace(
        "{}",
        &format!("{} {}", shown.with_unit(), shown.in_brackets()),
    );
    let amount = if worst.local {
        format!("{amount}, the panels laid on each other as a whole")
    } else {
        amount
    };
    if worst.proven {
        format!("{name}: the panel differs most {at}: {amount}. Proven.")
    } else if pair.joint.is_some() {
        format!("{name}: no difference of the panel is proven; nearest to it {at}, where {amount}.")
    } else {
        format!("{name}: not weighed (no draws); most {at}, where {amount}.")
    }
}

/// `at the upper inner corner`, `at the edge at 4 o'clock`.
fn at_the(place: &str) -> String {
    format!("at the {place}")
}

fn length(mm: f64, units: DisplayUnits) -> String {
    let rounded = match units.length {
        record::LengthDisplay::Millimetre => mm.round(),
        record::LengthDisplay::Inch => mm,
    };
    format!(
        "{}{}",
        typed(rounded, Quantity::Length, units),
        crate::number::unit_text(Quantity::Length, units)
    )
}

/// The sections that are shown: spread over the edge, the one with the worst place among them.
fn shown(pair: &PairPanel, rows: usize) -> Vec<usize> {
    let n = pair.sections.len();
    let rows = rows.min(n);
    let worst = pair.worst.as_ref().map(|w| w.section);
    let mut picked: Vec<usize> = (0..rows).map(|k| k * n / rows).collect();
    if let Some(w) = worst
        && !picked.contains(&w)
        && let Some(near) = (0..rows).min_by_key(|k| picked[*k].abs_diff(w))
    {
        picked[near] = w;
    }
    picked
}

/// The columns of a pair: distances from the edge, mm, eight at most.
fn columns(pair: &PairPanel) -> Vec<f64> {
    let mut found: Vec<f64> = Vec::new();
    for s in pair.steps.iter().filter(|s| s.sheet == SheetKind::Panel) {
        if !found.iter().any(|f| (f - s.from_edge_mm).abs() < 1e-6) {
            found.push(s.from_edge_mm);
        }
    }
    let every = found.len().div_ceil(8).max(1);
    found.into_iter().step_by(every).collect()
}

/// The table of a pair with so many rows; its columns are named where they are not those of the table `before`.
fn table(
    pair: &PairPanel,
    rows: usize,
    before: &mut Vec<f64>,
    units: DisplayUnits,
    look: Look,
) -> Vec<String> {
    let columns = columns(pair);
    let mut out = Vec::new();
    if *before != columns {
        let unit = crate::number::unit_text(Quantity::Length, units).trim();
        let mut head = format!("  {:<HEAD$}", format!("{unit} from the edge"));
        for c in &columns {
            let text = match units.length {
                record::LengthDisplay::Millimetre => format!("{c:.0}"),
                record::LengthDisplay::Inch => typed(*c, Quantity::Length, units),
            };
            head += &format!("{text:>COLUMN$}");
        }
        out.push(head);
        before.clone_from(&columns);
    }
    push(&mut out, &bands(pair, units), look);
    for k in shown(pair, rows) {
        let row = row(pair, k, &columns, units);
        out.push(look.signs(&row));
    }
    out
}

/// One section of the table.
fn row(pair: &PairPanel, section: usize, columns: &[f64], units: DisplayUnits) -> String {
    let of: Vec<Option<(Figure, bool)>> = columns
        .iter()
        .map(|c| {
            let step = pair.steps.iter().find(|s| {
                s.section == section
                    && s.sheet == SheetKind::Panel
                    && (s.from_edge_mm - c).abs() < 1e-6
            })?;
            Some((step.difference?, step.proven))
        })
        .collect();
    let mut row = format!("  {:<HEAD$}", head_of(pair, section));
    let widest = of
        .iter()
        .flatten()
        .map(|f| f.0)
        .max_by(|a, b| a.u95.total_cmp(&b.u95));
    let step = widest.map_or(0.01, |f| step_of(&f, units));
    for f in of {
        let text = f.map_or_else(
            || "-".to_owned(),
            |(f, proven)| {
                let mark = if proven { "*" } else { "" };
                format!("{}{mark}", show_signed_at(&f, step, units).value)
            },
        );
        row += &format!("{text:>COLUMN$}");
    }
    if let Some(f) = widest {
        row += &format!("  ±{}", show_at(&f, step, units).give_or_take);
    }
    row
}

fn head_of(pair: &PairPanel, section: usize) -> String {
    let text = format!("{} {}", section + 1, pair.sections[section].place);
    text.chars().take(HEAD - 1).collect()
}

/// What is taken from what: `left minus right`.
pub fn minus(pair: &PairPanel) -> String {
    match pair.relation {
        Relation::Mirrored => format!("{} minus {}", side(pair.sides[0]), side(pair.sides[1])),
        Relation::Same => "first minus second".to_owned(),
        Relation::Itself => "against its mirror image".to_owned(),
    }
}

/// `Lamp opening, left minus right: 92 % within 0.1 mm, 6 % proud by 0.1 to 0.3 (4 % proven), 2 % shy ...`
pub fn bands(pair: &PairPanel, units: DisplayUnits) -> String {
    let of = minus(pair);
    let number = |mm: f64| typed(mm, Quantity::Length, units);
    let unit = crate::number::unit_text(Quantity::Length, units);
    let mut parts: Vec<String> = Vec::new();
    let flat = |b: &&record::PanelBand| b.from_mm < 0.0 && b.to_mm > 0.0;
    if let Some(b) = pair.bands.iter().find(flat) {
        parts.push(format!(
            "{:.0} % within {}{unit}",
            100.0 * b.share,
            number(b.to_mm)
        ));
    }
    for (word, proud) in [("proud", true), ("shy", false)] {
        let beyond: Vec<_> = pair
            .bands
            .iter()
            .filter(|b| !flat(b) && (b.from_mm > 0.0) == proud)
            .collect();
        let share: f64 = beyond.iter().map(|b| b.share).sum();
        let proven: f64 = beyond.iter().map(|b| b.proven_share).sum();
        if share > 0.0 {
            let most = beyond
                .iter()
                .map(|b| b.from_mm.abs().max(b.to_mm.abs()))
                .fold(0.0, f64::max);
            parts.push(format!(
                "{:.0} % {word}, up to {}{unit} ({:.0} % proven)",
                100.0 * share,
                number(most),
                100.0 * proven
            ));
        }
    }
    format!("{}, {of}: {}", capital(&pair.name), parts.join("; "))
}

#[cfg(test)]
mod tests;
