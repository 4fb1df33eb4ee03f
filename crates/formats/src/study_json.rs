//! A whole study as JSON, `schema: 1`, for programs of other people.
//!
//! A measured number is always an object `{value, u95, nu, source, unit}`; `nu` is null where the uncertainty is known
//! exactly. Plain numbers are settings, coordinates (mm, three to a place), shares and counts only; their names end
//! in their unit where they have one. Null means: not measured. Keys are sorted.

mod decided;
mod drawn;
mod joined;
mod measured;
mod positions;

use geom::Point;
use record::{Figure, Finding, Side, Study};
use serde_json::{Value, json};

use crate::side_word;

pub(crate) use decided::{direction_word, need_word, option_word, verdict_word};
pub use joined::joins_json;
pub(crate) use measured::mode_word;
pub(crate) use positions::{kind_word, positions};

/// The version of the layout. It grows when a field changes its meaning or goes away, not when one is added.
pub const STUDY_SCHEMA: u32 = 1;

/// The study as JSON text, indented, with a newline at the end. The same study gives the same bytes.
pub fn study_json(study: &Study) -> String {
    let list = |items: Vec<Value>| Value::Array(items);
    let p = &study.provenance;
    let mut value = json!({
        "schema": STUDY_SCHEMA,
        "title": study.title,
        "conventions": {
            "length_unit": "mm",
            "angle_unit": "deg",
            "give_or_take": "u95: half-width of the 95 % interval",
            "difference": "a minus b; b mirrored where the relation is mirrored",
            "part_axes": "flat of the part = XY, top = +Y, outward = +Z, origin in the middle of the opening",
        },
        "provenance": {
            "version": p.version,
            "job_blake3": p.job_hash,
            "seed": p.seed,
            "draws": p.draws,
            "scans": list(p.scans.iter().map(|s| json!({
                "id": s.id,
                "file": s.file,
                "format": s.format,
                "blake3": s.hash,
                "points": s.points,
                "unit": s.unit,
            })).collect()),
        },
        "parts": list(study.choices.parts.iter().map(decided::part).collect()),
        "chosen": list(study.choices.chosen.iter().map(|(id, option, why)| json!({
            "compare": id.0,
            "option": decided::option_word(*option),
            "reason": why,
        })).collect()),
        "openings": list(study.measured.openings.iter().map(measured::opening).collect()),
        "not_measured": list(study.not_measured.iter().map(|o| json!({ "id": o.id.0, "why": o.why })).collect()),
        "compares": list(study.measured.compares.iter().map(|c| {
            let decided = study.decided.compares.iter().find(|d| d.id == c.id);
            measured::compare(c, &decided.map_or(Value::Null, decided::compare))
        }).collect()),
        "drawings": list(study.drawings.iter().map(drawn::drawing).collect()),
        "findings": findings(&study.measured.findings),
    });
    // Apart from all that needs no centreline, and only where one was asked for.
    if let (Some(p), Some(all)) = (&study.positions, value.as_object_mut()) {
        all.insert("positions".to_owned(), positions(p));
    }
    if !study.measured.joined.joins.is_empty()
        && let Some(all) = value.as_object_mut()
    {
        all.insert("joined".to_owned(), joined::joined(&study.measured.joined));
    }
    // `{:#}` of a value is its indented text; values cannot fail to be written.
    format!("{value:#}\n")
}

/// A measured number.
pub(crate) fn figure(f: &Figure) -> Value {
    json!({
        "value": f.value,
        "u95": f.u95,
        "nu": f.nu.is_finite().then_some(f.nu),
        "source": f.source.word(),
        "unit": f.quantity.unit(),
    })
}

pub(crate) fn maybe(f: Option<&Figure>) -> Value {
    f.map_or(Value::Null, figure)
}

pub(crate) fn place(p: &Point) -> Value {
    json!([p.x, p.y, p.z])
}

pub(crate) fn vector(v: &geom::Unit) -> Value {
    json!([v.x, v.y, v.z])
}

pub(crate) fn side(s: Side) -> &'static str {
    side_word(s)
}

pub(crate) fn findings(all: &[Finding]) -> Value {
    let severity = |f: &Finding| match f.severity {
        record::Severity::Note => "note",
        record::Severity::Doubt => "doubt",
        record::Severity::Stop => "stop",
    };
    all.iter()
        .map(|f| {
            json!({
                "code": f.code.word(),
                "severity": severity(f),
                "subject": f.subject,
                "says": f.says,
                "advice": f.advice,
                "numbers": f.numbers.iter().map(|n| json!({
                    "name": n.name,
                    "value": n.value,
                    "unit": n.quantity.map(record::Quantity::unit),
                })).collect::<Vec<_>>(),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests;
