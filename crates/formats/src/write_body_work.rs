//! What body work changed, and parts of one car on another, as tables and JSON.

use record::{
    CarsStudy, DisplayUnits, Figure, LaidFrom, OptionKind, OptionResult, Study, Touched, WorkFound,
    WorkStudy, WorkedArea,
};
use serde_json::{Value, json};

use crate::study_json::{
    STUDY_SCHEMA, direction_word, figure, findings, need_word, option_word, place, side, vector,
    verdict_word,
};
use crate::write_sections::SectionTable;
use crate::write_tables::{Sheet, Table, unit_of};
use crate::{Refused, file_name};

fn word(b: bool) -> String {
    if b { "yes" } else { "no" }.to_owned()
}

fn choice(study: &Study, compare: &record::CompareId, kind: OptionKind) -> Option<OptionResult> {
    let decided = study.decided.compares.iter().find(|d| d.id == *compare)?;
    decided.options.iter().find(|o| o.kind == kind).cloned()
}

/// Per piece of work the tables `areas` (what moved, a row per area and per thing it reaches), `openings` (what of the earlier answer
/// stands) and `map` (every cell with its move), with the names of their files. Places are in axes of the scan from before.
///
/// # Errors
/// When a table does not read back with the cells that were written.
pub fn body_work_tables(found: &WorkStudy) -> Result<Vec<SectionTable>, Refused> {
    let mut out = Vec::new();
    for work in &found.works {
        for (name, sheet) in [
            ("areas", areas(&found.study, work)),
            ("openings", openings(&found.study, work)),
            ("map", map(&found.study, work)),
        ] {
            let table = Table {
                name,
                bytes: sheet.bytes(name)?,
            };
            out.push((file_name(&format!("{}, {name}.csv", work.work.name)), table));
        }
    }
    Ok(out)
}

fn areas(study: &Study, work: &WorkFound) -> Sheet {
    let mut sheet = Sheet::new(
        study.units,
        &[
            "area",
            "mean_mm",
            "mean_u95_mm",
            "most_mm",
            "most_u95_mm",
            "length_mm",
            "length_u95_mm",
            "width_mm",
            "width_u95_mm",
            "ends_seen",
            "sides_seen",
            "as_said",
            "x_mm",
            "y_mm",
            "z_mm",
            "normal_x",
            "normal_y",
            "normal_z",
            "opening",
            "reaches",
            "place",
            "from_mm",
            "to_mm",
            "stations",
            "into_opening_mm",
            "outward_mm",
        ],
    );
    for (k, a) in work.laid.iter().flat_map(|l| &l.areas).enumerate() {
        let mut head = vec![(k + 1).to_string()];
        for f in [&a.mean, &a.most, &a.length, &a.width] {
            head.extend(sheet.pair(Some(f)));
        }
        head.extend([a.ends_seen[0], a.ends_seen[1], a.as_said].map(word));
        head.extend(sheet.place(&a.centre));
        head.extend([a.normal.x, a.normal.y, a.normal.z].map(|v| sheet.number(v, 4)));
        let touches: Vec<Option<&Touched>> = if a.touches.is_empty() {
            vec![None]
        } else {
            a.touches.iter().map(Some).collect()
        };
        for t in touches {
            let mut row = head.clone();
            row.extend(reached(&sheet, t));
            sheet.row(row);
        }
    }
    sheet
}

fn reached(sheet: &Sheet, t: Option<&Touched>) -> Vec<String> {
    let Some(t) = t else {
        return vec![String::new(); 8];
    };
    let mut row = vec![t.opening.0.clone(), t.what.clone(), t.place.clone()];
    match t.along_mm {
        Some(ends) => row.extend(ends.map(|v| sheet.length(v))),
        None => row.extend([String::new(), String::new()]),
    }
    row.push(t.stations[0].to_string());
    match &t.moved {
        Some(both) => row.extend(both.iter().map(|f| sheet.length(f.value))),
        None => row.extend([String::new(), String::new()]),
    }
    row
}

fn openings(study: &Study, work: &WorkFound) -> Sheet {
    let mut sheet = Sheet::new(
        study.units,
        &[
            "before",
            "after",
            "carried",
            "reached",
            "compare",
            "compared_with",
            "choice",
            "uses_percent",
            "uses_u95_percent",
            "chance",
            "verdict",
        ],
    );
    for o in &work.openings {
        let head = vec![
            o.before.0.clone(),
            o.after.as_ref().map_or_else(String::new, |a| a.0.clone()),
            word(o.carried),
            word(o.touched),
        ];
        let mut rows: Vec<(String, &str, Option<OptionResult>)> = Vec::new();
        for id in &o.same {
            let kind = OptionKind::OneShape;
            rows.push((id.0.clone(), "before", choice(study, id, kind)));
        }
        for [was, is] in &o.again {
            for (id, which) in [(was, "pair, before"), (is, "pair, after")] {
                let decided = study.decided.compares.iter().find(|d| d.id == *id);
                for option in decided.iter().flat_map(|d| &d.options) {
                    rows.push((id.0.clone(), which, Some(option.clone())));
                }
            }
        }
        if rows.is_empty() {
            rows.push((String::new(), "", None));
        }
        for (id, which, option) in rows {
            let mut row = head.clone();
            row.extend([id, which.to_owned()]);
            row.extend(said(&sheet, option.as_ref()));
            sheet.row(row);
        }
    }
    sheet
}

/// Choice, share with give-or-take, chance, verdict.
fn said(sheet: &Sheet, option: Option<&OptionResult>) -> Vec<String> {
    let Some(o) = option else {
        return vec![String::new(); 5];
    };
    let mut row = vec![option_word(o.kind).to_owned()];
    row.extend(sheet.pair(o.uses.as_ref()));
    row.push(
        o.chance
            .map_or_else(String::new, |c| sheet.number(c.fits, 4)),
    );
    row.push(verdict_word(o.verdict).to_owned());
    row
}

fn map(study: &Study, work: &WorkFound) -> Sheet {
    let mut sheet = Sheet::new(
        study.units,
        &[
            "x_mm",
            "y_mm",
            "z_mm",
            "normal_x",
            "normal_y",
            "normal_z",
            "moved_mm",
            "mean_with_neighbours_mm",
            "scatter_mm",
            "points",
            "area",
        ],
    );
    for c in work.laid.iter().flat_map(|l| &l.cells) {
        let mut row = sheet.place(&c.at).to_vec();
        row.extend([c.normal.x, c.normal.y, c.normal.z].map(|v| sheet.number(v, 4)));
        row.extend([c.height, c.smooth, c.scatter].map(|v| sheet.length(v)));
        row.push(c.count.to_string());
        row.push(c.area.map_or_else(String::new, |k| (k + 1).to_string()));
        sheet.row(row);
    }
    sheet
}

fn option_json(o: &OptionResult) -> Value {
    json!({
        "choice": option_word(o.kind),
        "verdict": verdict_word(o.verdict),
        "uses": o.uses.as_ref().map(figure),
        "chance": o.chance.map(|c| c.fits),
        "worst": o.worst.as_ref().map(|w| json!({
            "place": w.place,
            "side": side(w.side),
            "direction": direction_word(w.direction),
            "amount": figure(&w.amount),
            "allowed": w.allowed,
        })),
        "needs": o.needs.iter().map(|n| json!({
            "kind": need_word(n.kind),
            "hole": n.hole.as_ref().map(|h| &h.0),
            "amount_mm": n.amount_mm,
            "along": n.along,
        })).collect::<Vec<_>>(),
    })
}

fn area_json(a: &WorkedArea) -> Value {
    json!({
        "centre_mm": place(&a.centre),
        "normal": vector(&a.normal),
        "along": vector(&a.along),
        "mean": figure(&a.mean),
        "most": figure(&a.most),
        "length": figure(&a.length),
        "width": figure(&a.width),
        "ends_seen": a.ends_seen[0],
        "sides_seen": a.ends_seen[1],
        "as_said": a.as_said,
        "reaches": a.touches.iter().map(|t| json!({
            "opening": t.opening.0,
            "what": t.what,
            "place": t.place,
            "along_mm": t.along_mm,
            "stations": t.stations[0],
            "of_stations": t.stations[1],
            "into_opening": t.moved.as_ref().map(|m| figure(&m[0])),
            "outward": t.moved.as_ref().map(|m| figure(&m[1])),
        })).collect::<Vec<_>>(),
    })
}

/// All body work as JSON text. Moves are along the normals, + outward; places in axes of the scan from before. The map stands in
/// its table.
pub fn body_work_json(found: &WorkStudy) -> String {
    let study = &found.study;
    let of = |id: &record::CompareId| {
        let decided = study.decided.compares.iter().find(|d| d.id == *id);
        decided.map(|d| d.options.iter().map(option_json).collect::<Vec<_>>())
    };
    let works: Vec<Value> = found
        .works
        .iter()
        .map(|w| {
            json!({
                "name": w.work.name,
                "before": w.work.before.0,
                "after": w.work.after.0,
                "worked_said": !w.work.worked.is_empty(),
                "laid": w.laid.as_ref().map(|l| {
                    let t = l.before_from_after.translation.vector;
                    let q = l.before_from_after.rotation.quaternion();
                    json!({
                        "begun_from": match l.from {
                            LaidFrom::Join => "join",
                            LaidFrom::Start => "start",
                            LaidFrom::Openings => "openings",
                            LaidFrom::SameAxes => "same_axes",
                        },
                        "before_from_after": { "shift_mm": [t.x, t.y, t.z], "turn_wxyz": [q.w, q.i, q.j, q.k] },
                        "overlap_share": l.overlap.share,
                        "spread_mm": l.overlap.left_mm,
                        "films_taken_off_mm": l.films_mm,
                        "set_aside_share": l.aside,
                        "patch_mm": l.patch_mm,
                        "found_from_mm": l.found_from_mm,
                        "areas": l.areas.iter().map(area_json).collect::<Vec<_>>(),
                    })
                }),
                "openings": w.openings.iter().map(|o| json!({
                    "before": o.before.0,
                    "after": o.after.as_ref().map(|a| &a.0),
                    "carried": o.carried,
                    "lost": o.lost,
                    "reached": o.touched,
                    "part_drawn_before": o.same.iter().map(|id| json!({ "compare": id.0, "choices": of(id) })).collect::<Vec<_>>(),
                    "pairs": o.again.iter().map(|[was, is]| json!({
                        "compare": was.0,
                        "before": of(was),
                        "after": of(is),
                    })).collect::<Vec<_>>(),
                })).collect::<Vec<_>>(),
                "findings": findings(&w.findings),
            })
        })
        .collect();
    let value = json!({
        "schema": STUDY_SCHEMA,
        "title": study.title,
        "body_work": works,
        "findings": findings(&study.measured.findings),
    });
    format!("{value:#}\n")
}

/// The table `cars`: a row per part and opening it was tried in. The worst place is in `worst_unit`.
///
/// # Errors
/// When the table does not read back with the cells that were written.
pub fn cars_table(cars: &CarsStudy) -> Result<Table, Refused> {
    let mut sheet = Sheet::new(
        cars.study.units,
        &[
            "part",
            "drawn_for",
            "drawn_to",
            "tried_on",
            "tried_in",
            "mirrored",
            "choice",
            "verdict",
            "uses_percent",
            "uses_u95_percent",
            "chance",
            "worst_place",
            "direction",
            "worst",
            "worst_u95",
            "allowed",
            "worst_unit",
            "needs",
        ],
    );
    for f in &cars.fits {
        let decided = cars
            .study
            .decided
            .compares
            .iter()
            .find(|d| d.id == f.compare);
        for o in decided.iter().flat_map(|d| &d.options) {
            let mut row = vec![
                f.part.0.clone(),
                cars.cars[0].clone(),
                f.drawn.0.clone(),
                cars.cars[1].clone(),
                f.tried.0.clone(),
                word(f.mirrored),
            ];
            let mut own = said(&sheet, Some(o));
            let verdict = own.pop().unwrap_or_default();
            row.push(own.remove(0));
            row.push(verdict);
            row.extend(own);
            row.extend(worst(&sheet, o, cars.study.units));
            let needs: Vec<String> = o
                .needs
                .iter()
                .filter(|n| n.amount_mm.is_finite())
                .map(|n| {
                    let at = n
                        .hole
                        .as_ref()
                        .map_or_else(String::new, |h| format!(" at {h}"));
                    format!("{} {}{at}", need_word(n.kind), sheet.length(n.amount_mm))
                })
                .collect();
            row.push(needs.join(", "));
            sheet.row(row);
        }
    }
    Ok(Table {
        name: "cars",
        bytes: sheet.bytes("cars")?,
    })
}

fn worst(sheet: &Sheet, o: &OptionResult, units: DisplayUnits) -> Vec<String> {
    let Some(w) = &o.worst else {
        return vec![String::new(); 6];
    };
    let mut row = vec![w.place.clone(), direction_word(w.direction).to_owned()];
    row.extend(sheet.pair(Some(&w.amount)));
    let allowed = Figure {
        value: w.allowed,
        ..w.amount
    };
    row.push(sheet.pair(Some(&allowed))[0].clone());
    row.push(unit_of(&w.amount, units).to_owned());
    row
}

/// Parts of one car on another as JSON text.
pub fn cars_json(cars: &CarsStudy) -> String {
    let fits: Vec<Value> = cars
        .fits
        .iter()
        .map(|f| {
            let decided = cars
                .study
                .decided
                .compares
                .iter()
                .find(|d| d.id == f.compare);
            json!({
                "part": f.part.0,
                "drawn_to": f.drawn.0,
                "tried_in": f.tried.0,
                "drawn_side": side(f.sides[0]),
                "tried_side": side(f.sides[1]),
                "mirrored": f.mirrored,
                "as_drawn": decided
                    .and_then(|d| d.options.iter().find(|o| o.kind == f.kind()))
                    .map(option_json),
                "choices": decided.map(|d| d.options.iter().map(option_json).collect::<Vec<_>>()),
            })
        })
        .collect();
    let value = json!({
        "schema": STUDY_SCHEMA,
        "drawn_for": cars.cars[0],
        "tried_on": cars.cars[1],
        "tried": fits,
        "without_opening": cars.without,
        "study": serde_json::from_str::<Value>(&crate::study_json(&cars.study)).unwrap_or(Value::Null),
    });
    format!("{value:#}\n")
}
