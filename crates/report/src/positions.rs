//! Positions on the car in sentences: apart from the answer, because all of them hang on the centreline.

mod said;

use record::{
    CentralRow, Code, DisplayUnits, Figure, Joined, Laid, LaidBy, PairPosition, PlaceRow,
    PositionRow, Positions, RivalName, Severity, Study,
};

pub use said::{NOT_NEEDED, centreline_text, in_all, misfit_text};

use crate::number::{show, show_signed};
use crate::sentence::finding_text;
use crate::terminal::{CAUTION, Look, lines_of};
use crate::words::{capital, position, side};

/// What is printed where no place is given.
pub const NO_PLACES: &str = "No places are given, so there is no centreline and no position on the car. Add places to the job, or a table with the columns name;side;scan;x;y;z;sigma as places_file. Angles, sizes and fit need none: see compare.";

/// Under the tables of figures.
pub const START: &str = "Heights and set-backs start at the middle of the places. How level one side stands by itself hangs on the clicked top; the difference does not.";

/// The section on positions, lines ended by `\n`: verdicts first, then figures, then what they rest on, doubts and
/// what to measure next. `None` where the job asks for no centreline.
pub fn positions_text(study: &Study, look: Look) -> Option<String> {
    let positions = study.positions.as_ref()?;
    let mut out: Vec<String> = vec![
        format!("{}: positions on the car", study.title),
        String::new(),
    ];
    if let Some(laid) = &positions.laid {
        for pair in &laid.pairs {
            out.push(verdict(pair, study.units));
        }
        for row in &laid.central {
            out.push(central(row, study.units));
        }
        if laid.pairs.is_empty() && laid.central.is_empty() {
            out.push("No opening of this scan can be placed on the car.".to_owned());
        }
        for pair in &laid.pairs {
            out.push(String::new());
            out.extend(table(pair, study.units));
        }
        if !laid.pairs.is_empty() {
            out.push(START.to_owned());
        }
        out.push(String::new());
        out.extend(line(laid, study.units));
    }
    let joined = &study.measured.joined;
    if !joined.joins.is_empty() || !joined.lengths.is_empty() {
        out.push(String::new());
        out.extend(crate::joins::joins_lines(joined, study.units));
    }
    out.extend(doubts(positions, joined));
    out.push(String::new());
    out.push(next(positions, joined));
    out.push(CAUTION.to_owned());
    Some(lines_of(&out, look))
}

/// Which of the proven differences counts most: the one that is the largest against its give-or-take.
fn worst(pair: &PairPosition) -> Option<&PositionRow> {
    let share = |r: &PositionRow| r.difference.value.abs() / r.difference.u95;
    pair.rows
        .iter()
        .filter(|r| r.proven)
        .fold(None, |best: Option<&PositionRow>, r| match best {
            Some(b) if share(b) >= share(r) => Some(b),
            _ => Some(r),
        })
}

/// What is proven of the position of a pair, as a sentence.
pub fn verdict(pair: &PairPosition, units: DisplayUnits) -> String {
    let Some(worst) = worst(pair) else {
        let known = pair.rows.iter().any(|r| r.difference.u95.is_finite());
        return if known {
            format!(
                "{}: no difference of position between left and right is proven.",
                capital(&pair.name)
            )
        } else {
            format!(
                "{}: nothing is proven, because too few places hold the centreline to say how well it is known.",
                capital(&pair.name)
            )
        };
    };
    let by = |r: &PositionRow| {
        let amount = Figure {
            value: r.difference.value.abs(),
            ..r.difference
        };
        let shown = show(&amount, units);
        format!("{} {}", shown.with_unit(), shown.in_brackets())
    };
    let mut text = format!(
        "{}: the left {} than the right by {}",
        capital(&pair.name),
        position::than(worst.kind, worst.difference.value > 0.0),
        by(worst)
    );
    text += if worst.survives {
        ", under every rival centreline."
    } else {
        ", but not under every rival centreline."
    };
    let others: Vec<String> = pair
        .rows
        .iter()
        .filter(|r| r.proven && r.kind != worst.kind)
        .map(|r| {
            format!(
                "{} by {}",
                position::than(r.kind, r.difference.value > 0.0),
                by(r)
            )
        })
        .collect();
    if !others.is_empty() {
        text += &format!(" It also {}.", others.join("; it "));
    }
    text
}

/// Whether an opening across the centre is central, as a sentence.
pub fn central(row: &CentralRow, units: DisplayUnits) -> String {
    let amount = Figure {
        value: row.off.value.abs(),
        ..row.off
    };
    let shown = show(&amount, units);
    let to = if row.off.value > 0.0 {
        side(record::Side::Right)
    } else {
        side(record::Side::Left)
    };
    let name = capital(&row.name);
    let first = if row.proven {
        format!(
            "{name}: not central, its middle lies {} to the {to} of the centreline {}",
            shown.with_unit(),
            shown.in_brackets()
        )
    } else {
        format!(
            "{name}: not proven off centre; its middle reads {} to the {to} of the centreline {}",
            shown.with_unit(),
            shown.in_brackets()
        )
    };
    let all = if row.survives {
        ", under every rival centreline."
    } else {
        ", but not under every rival centreline."
    };
    first + all
}

fn table(pair: &PairPosition, units: DisplayUnits) -> Vec<String> {
    let mut out = vec![format!(
        "{}, left minus mirrored right",
        capital(&pair.name)
    )];
    out.push(format!(
        "  {:<20}{:>18}{:>18}{:>16}",
        "", "left", "right", "difference"
    ));
    for r in &pair.rows {
        let proven = if !r.difference.u95.is_finite() {
            "give or take not known"
        } else if r.proven {
            "proven"
        } else {
            "not proven"
        };
        let hangs = if r.survives { "" } else { ", rivals vary" };
        out.push(format!(
            "  {:<20}{:>18}{:>18}{:>16}  {proven}{hangs}",
            position::name(r.kind),
            show(&r.left, units).plus_minus(),
            show(&r.right, units).plus_minus(),
            show_signed(&r.difference, units).plus_minus(),
        ));
    }
    out
}

/// What holds the centreline, in words: "8 pairs and 1 place on the centre".
pub fn laid_by(laid: &Laid) -> String {
    let kept = |centre: bool| {
        laid.places
            .iter()
            .filter(|p| p.kept && p.centre == centre)
            .count()
    };
    match laid.by {
        LaidBy::Pairs if kept(true) == 0 => format!("{} pairs", kept(false)),
        LaidBy::Pairs if kept(true) == 1 => {
            format!("{} pairs and 1 place on the centre", kept(false))
        }
        LaidBy::Pairs => format!(
            "{} pairs and {} places on the centre",
            kept(false),
            kept(true)
        ),
        LaidBy::CentrePlaces => format!("{} places on the centre", kept(true)),
        LaidBy::ThreeTwoOne => "three, two and one named places".to_owned(),
        LaidBy::OwnImage => "the own mirror image of the scan".to_owned(),
    }
}

/// The same in few words, for a cell of a title block: "8 places, 1 set aside".
pub fn laid_short(laid: &Laid) -> String {
    let kept = laid.places.iter().filter(|p| p.kept).count();
    if laid.by == LaidBy::OwnImage {
        return "own mirror image".to_owned();
    }
    match laid.places.len() - kept {
        0 => format!("{kept} places"),
        aside => format!("{kept} places, {aside} aside"),
    }
}

fn line(laid: &Laid, units: DisplayUnits) -> Vec<String> {
    let by = laid_by(laid);
    let known = |f: &Figure| f.u95.is_finite();
    let doubt = if known(&laid.yaw) {
        format!(
            "it may be turned by {} seen from above, lean by {}, and lie {} to one side",
            show(&size(&laid.yaw), units).with_unit(),
            show(&size(&laid.lean), units).with_unit(),
            show(&size(&laid.shift), units).with_unit()
        )
    } else {
        "how well it is known cannot be said".to_owned()
    };
    let mut out = vec![format!(
        "Centreline by {by}, in the axes of the scan {}{}: {doubt}. Every error of it counts double in a difference of left and right.",
        laid.scan,
        with_joined(laid)
    )];
    if !laid.level_named {
        out.push(
            "What is level along the car was taken from the run of the places; name a place at the front and one at the rear to say it."
                .to_owned(),
        );
    }
    out.extend(laid.image.as_ref().map(|i| said::image(i, units)));
    out.extend(places(&laid.places, units));
    if !laid.rivals.is_empty() {
        out.push("Rival centrelines against this one".to_owned());
        for r in &laid.rivals {
            // With the digits that the line it is held against can carry.
            let shown = |value: f64, of: &Figure| {
                let u95 = if known(of) { of.u95 } else { 0.0 };
                show_signed(&Figure { value, u95, ..*of }, units).with_unit()
            };
            out.push(format!(
                "  {:<34}turned {:>8}, leaning {:>8}, moved {:>9}",
                rival(&r.name),
                shown(r.yaw_deg, &laid.yaw),
                shown(r.lean_deg, &laid.lean),
                shown(r.shift_mm, &laid.shift)
            ));
        }
    }
    out
}

/// The scans that lie in the same axes by their joins.
fn with_joined(laid: &Laid) -> String {
    let names: Vec<&str> = laid.joined.iter().map(|s| s.0.as_str()).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => format!(", to which {one} is joined"),
        all => format!(", to which {} are joined", all.join(", ")),
    }
}

/// A give-or-take as a figure of its own.
fn size(f: &Figure) -> Figure {
    Figure { value: f.u95, ..*f }
}

fn places(rows: &[PlaceRow], units: DisplayUnits) -> Vec<String> {
    let mut out = vec!["Places, left minus mirrored right".to_owned()];
    out.push(format!(
        "  {:<24}{:>12}{:>12}{:>12}",
        "", "back", "out", "up"
    ));
    for p in rows {
        let shown = |value: f64| show_signed(&said::misfit(value), units).with_unit();
        let [back, across, up] = p.misfit_mm;
        let (back, up) = if p.centre {
            (String::new(), String::new())
        } else {
            (shown(back), shown(up))
        };
        let mark = match (p.kept, p.centre) {
            (false, _) => "  set aside: the odd one out",
            (true, true) => "  on the centre, counted twice",
            (true, false) => "",
        };
        out.push(format!(
            "  {:<24}{back:>12}{:>12}{up:>12}{mark}",
            p.name,
            shown(across)
        ));
    }
    out
}

/// How a rival centreline is laid, in words.
pub fn rival(name: &RivalName) -> String {
    match name {
        RivalName::All => "all places, the odd ones too".to_owned(),
        RivalName::GoTogether => "the places that go together".to_owned(),
        RivalName::FrontOnly => "the front half".to_owned(),
        RivalName::RearOnly => "the rear half".to_owned(),
        RivalName::MidpointsOnly => "the points half-way alone".to_owned(),
        RivalName::CentreOnly => "the places on the centre alone".to_owned(),
        RivalName::OwnImage => "the scan's own mirror image".to_owned(),
        RivalName::Without(place) => format!("without {place}"),
    }
}

fn doubts(positions: &Positions, joined: &Joined) -> Vec<String> {
    let own = positions.findings.iter();
    let mut all: Vec<&record::Finding> = own.chain(&joined.findings).collect();
    all.sort_by_key(|f| std::cmp::Reverse(f.severity));
    let mut out = Vec::new();
    if !all.is_empty() {
        out.push(String::new());
    }
    out.extend(all.into_iter().map(finding_text));
    out
}

/// What settles most: the worst stop, else what the centreline lacks.
pub fn next(positions: &Positions, joined: &Joined) -> String {
    let order = [
        Code::PlacesBunched,
        Code::FewPairs,
        Code::OddPlace,
        Code::JoinFewPlaces,
        Code::JoinDisagrees,
        Code::JoinWeak,
        Code::TapeDisagrees,
        Code::HangsOnCentreline,
    ];
    let all = || joined.findings.iter().chain(&positions.findings);
    let stop = all().find(|f| f.severity == Severity::Stop);
    let found = stop.or_else(|| order.iter().find_map(|c| all().find(|f| f.code == *c)));
    found.map_or_else(
        || {
            "Measure next: nothing is asked for; more pairs make the centreline better known."
                .to_owned()
        },
        |f| format!("Measure next: {}.", f.advice),
    )
}

#[cfg(test)]
mod tests;
