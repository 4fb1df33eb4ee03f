//! Parts of one car in the openings of another, in sentences.

use record::{CarFit, CarsStudy, Severity, Side, Verdict};

use crate::Pair;
use crate::sentence::finding_text;
use crate::terminal::{CAUTION, Look, lines_of};
use crate::tried::{TriedText, tried_text};
use crate::words;

/// What is printed where nothing could be tried.
pub const NO_CARS: &str = "No part of the first car has an opening on the second. Openings belong together by the part they are compared for, or by their names.";

/// Findings that are printed, worst first.
const MOST_FINDINGS: usize = 5;

/// A part tried, with its words.
pub fn car_texts(cars: &CarsStudy) -> Vec<(&CarFit, Pair<'_>, TriedText)> {
    let pairs = Pair::all(&cars.study);
    let of = |car: usize, side: Side| match side {
        Side::NotSaid => cars.cars[car].clone(),
        side => format!("{}, {}", cars.cars[car], words::side(side)),
    };
    cars.fits
        .iter()
        .filter_map(|f| {
            let pair = *pairs.iter().find(|p| p.measured.id == f.compare)?;
            let turned = if f.mirrored { " and mirrored" } else { "" };
            let drawn = format!("drawn for {}{turned}", of(0, f.sides[0]));
            let text = tried_text(&pair, f.kind(), &drawn, &of(1, f.sides[1]));
            Some((f, pair, text))
        })
        .collect()
}

/// The same grouped by part, in the order in which the parts come first.
pub fn by_part(cars: &CarsStudy) -> Vec<(&CarFit, Pair<'_>, TriedText)> {
    let mut all = car_texts(cars);
    let place = |f: &CarFit| cars.fits.iter().position(|g| g.part == f.part);
    all.sort_by_key(|(f, _, _)| place(f));
    all
}

/// The whole answer, lines ended by `\n`: a tally, then a verdict per part and opening, then doubts.
pub fn cars_text(cars: &CarsStudy, look: Look) -> String {
    let texts = car_texts(cars);
    let mut out = vec![format!(
        "Parts drawn for {} tried on {}",
        cars.cars[0], cars.cars[1]
    )];
    if texts.is_empty() {
        out.push(NO_CARS.to_owned());
    } else {
        out.push(tally(&texts));
    }
    let mut part = None;
    for (fit, _, text) in &texts {
        if part != Some(&fit.part) {
            out.push(String::new());
        }
        part = Some(&fit.part);
        out.push(format!("{} {}", words::mark(text.verdict), text.full()));
    }
    if !cars.without.is_empty() {
        out.push(String::new());
        out.push(format!(
            "{} has no opening for: {}.",
            cars.cars[1],
            cars.without.join(", ")
        ));
    }
    out.extend(doubts(cars, &texts));
    out.push(String::new());
    out.push(CAUTION.to_owned());
    lines_of(&out, look)
}

/// What is called how in a picture of a part tried: the opening it was drawn to, and the one it is tried in.
pub fn names(cars: &CarsStudy, fit: &CarFit) -> [String; 2] {
    let turned = if fit.mirrored { ", turned over" } else { "" };
    let side = |k: usize| match fit.sides[k] {
        Side::NotSaid => String::new(),
        side => format!(", {}", words::side(side)),
    };
    [
        format!("{}{}{turned}", cars.cars[0], side(0)),
        format!("{}{}", cars.cars[1], side(1)),
    ]
}

/// `left, mirrored, on the right`, and the verdict with how much of what is allowed is used: `FITS, uses 27 ±7 %`.
pub fn row_text(fit: &CarFit, pair: &Pair, text: &TriedText) -> [String; 2] {
    let turned = if fit.mirrored { " mirrored," } else { "" };
    let first = match fit.sides {
        [Side::NotSaid, _] | [_, Side::NotSaid] => "as drawn".to_owned(),
        [a, b] if a == b && a == Side::Centre => "in the middle".to_owned(),
        [a, b] => format!("{},{turned} on the {}", words::side(a), words::side(b)),
    };
    let option = pair.option(fit.kind());
    let verdict = words::verdict(text.verdict);
    let second = match option.and_then(|o| o.uses.as_ref()) {
        Some(uses) => {
            let shown = crate::number::show(uses, pair.study.units);
            format!("{verdict}, uses {}", shown.plus_minus())
        }
        None => verdict.to_owned(),
    };
    [first, second]
}

/// `Of 4: 1 fits, 2 will not fit, 1 not proven.`
pub fn tally(texts: &[(&CarFit, Pair, TriedText)]) -> String {
    let count = |v: Verdict| texts.iter().filter(|t| t.2.verdict == v).count();
    let kinds = [
        (Verdict::Fits, "FIT as drawn"),
        (Verdict::WillNotFit, "WILL NOT FIT"),
        (Verdict::NotProven, "NOT PROVEN"),
        (Verdict::NotMeasured, "not measured"),
    ];
    let parts: Vec<String> = kinds
        .iter()
        .map(|(v, says)| (count(*v), says))
        .filter(|(n, _)| *n > 0)
        .map(|(n, says)| format!("{n} {says}"))
        .collect();
    format!("Of {}: {}.", texts.len(), parts.join(", "))
}

fn doubts(cars: &CarsStudy, texts: &[(&CarFit, Pair, TriedText)]) -> Vec<String> {
    let mut all: Vec<&record::Finding> = cars.study.measured.findings.iter().collect();
    for (_, pair, _) in texts {
        for f in pair.findings() {
            if f.severity > Severity::Note
                && !all
                    .iter()
                    .any(|x| x.says == f.says && x.subject == f.subject)
            {
                all.push(f);
            }
        }
    }
    all.sort_by_key(|f| std::cmp::Reverse(f.severity));
    let mut out = Vec::new();
    if !all.is_empty() {
        out.push(String::new());
    }
    out.extend(all.iter().take(MOST_FINDINGS).map(|f| finding_text(f)));
    if all.len() > MOST_FINDINGS {
        out.push(format!(
            "{} more stand in cars.json.",
            all.len() - MOST_FINDINGS
        ));
    }
    out
}
