//! Sections and panels as tables and JSON.

use geom::Point;
use record::{Figure, PairPanel, Sections, SheetKind, Study};
use serde_json::{Value, json};

use crate::study_json::{STUDY_SCHEMA, figure, findings, maybe, place, side, vector};
use crate::write_tables::{Sheet, Table};
use crate::{Refused, file_name};

/// A table of the sections with the name of its file.
pub type SectionTable = (String, Table);

pub(crate) fn sheet_word(sheet: SheetKind) -> &'static str {
    match sheet {
        SheetKind::Panel => "panel",
        SheetKind::Flange => "flange",
    }
}

/// Per pair the table `sections` (every step of every section) and `panel` (the map in bands), with the names of their
/// files. A blank cell was not seen. Lengths are in the unit of the study.
///
/// # Errors
/// When a table does not read back with the cells that were written.
pub fn section_tables(study: &Study, sections: &Sections) -> Result<Vec<SectionTable>, Refused> {
    let mut found = Vec::new();
    for pair in &sections.pairs {
        for (name, sheet) in [
            ("sections", steps(study, pair)),
            ("panel", bands(study, pair)),
        ] {
            let table = Table {
                name,
                bytes: sheet.bytes(name)?,
            };
            found.push((file_name(&format!("{}, {name}.csv", pair.compare)), table));
        }
    }
    Ok(found)
}

/// The table `gaps` (every station of every gap, left, right and left minus right) and the table `hinges` (neighbouring
/// barrels, then what swings); those without rows are left out. Angles are in degrees.
///
/// # Errors
/// When a table does not read back with the cells that were written.
pub fn gap_and_hinge_tables(study: &Study, sections: &Sections) -> Result<Vec<Table>, Refused> {
    let mut found = Vec::new();
    if !sections.gaps.is_empty() {
        found.push(Table {
            name: "gaps",
            bytes: gaps(study, sections).bytes("gaps")?,
        });
    }
    if !sections.hinges.is_empty() {
        found.push(Table {
            name: "hinges",
            bytes: hinges(study, sections).bytes("hinges")?,
        });
    }
    Ok(found)
}

fn gaps(study: &Study, sections: &Sections) -> Sheet {
    let mut sheet = Sheet::new(
        study.units,
        &[
            "gap",
            "first",
            "second",
            "side",
            "share",
            "from_start_mm",
            "x_mm",
            "y_mm",
            "z_mm",
            "gap_mm",
            "gap_u95_mm",
            "by_walls",
            "flush_first_minus_second_mm",
            "flush_u95_mm",
            "proven_gap",
            "proven_flush",
        ],
    );
    let blank = |n: usize| std::iter::repeat_n(String::new(), n);
    for g in &sections.gaps {
        let head = |side: &str| {
            [
                g.name.clone(),
                g.panels[0].clone(),
                g.panels[1].clone(),
                side.to_owned(),
            ]
        };
        for (side, stations) in [("left", &g.left), ("right", &g.right)] {
            for s in stations {
                let mut cells = head(side).to_vec();
                cells.extend([sheet.number(s.share, 4), sheet.length(s.from_start_mm)]);
                cells.extend(sheet.place(&s.at));
                cells.extend(sheet.pair(s.gap.as_ref()));
                cells.push(s.gap.map_or_else(String::new, |_| word(s.by_walls)));
                cells.extend(sheet.pair(s.flush.as_ref()));
                cells.extend(blank(2));
                sheet.row(cells);
            }
        }
        for d in &g.differences {
            let mut cells = head("left minus right").to_vec();
            cells.push(sheet.number(d.share, 4));
            cells.extend(blank(4));
            cells.extend(sheet.pair(d.gap.as_ref()));
            cells.extend(blank(1));
            cells.extend(sheet.pair(d.flush.as_ref()));
            cells.push(d.gap.map_or_else(String::new, |_| word(d.proven[0])));
            cells.push(d.flush.map_or_else(String::new, |_| word(d.proven[1])));
            sheet.row(cells);
        }
    }
    sheet
}

fn hinges(study: &Study, sections: &Sections) -> Sheet {
    let mut sheet = Sheet::new(
        study.units,
        &[
            "hinge",
            "what",
            "between",
            "and",
            "offset_mm",
            "offset_u95_mm",
            "offset_proven",
            "angle_deg",
            "angle_u95_deg",
            "angle_proven",
            "diameter_mm",
            "diameter_u95_mm",
            "x_mm",
            "y_mm",
            "z_mm",
            "nearest_mm",
            "nearest_u95_mm",
        ],
    );
    let blank = |n: usize| std::iter::repeat_n(String::new(), n);
    for h in &sections.hinges {
        for b in &h.barrels {
            let mut cells = vec![h.name.clone(), "barrel".to_owned(), b.name.clone()];
            cells.extend(blank(7));
            cells.extend(sheet.pair(Some(&b.diameter)));
            cells.extend(sheet.place(&b.middle));
            cells.extend(blank(2));
            sheet.row(cells);
        }
        for s in &h.steps {
            let mut cells = vec![h.name.clone(), "one line".to_owned()];
            cells.extend(s.between.clone());
            cells.extend(sheet.pair(Some(&s.offset)));
            cells.push(word(s.proven[0]));
            cells.extend(sheet.pair(Some(&s.angle)));
            cells.push(word(s.proven[1]));
            cells.extend(blank(7));
            sheet.row(cells);
        }
        if let Some(s) = &h.swing {
            let at = format!("{} turned {} deg", s.part, sheet.number(s.at_deg, 1));
            for (what, f) in [(at, &s.nearest), (format!("{} shut", s.part), &s.shut)] {
                let mut cells = vec![h.name.clone(), "swing".to_owned(), what];
                cells.extend(blank(9));
                cells.extend(sheet.place(&s.at));
                cells.extend(sheet.pair(Some(f)));
                sheet.row(cells);
            }
        }
    }
    sheet
}

fn word(b: bool) -> String {
    if b { "yes" } else { "no" }.to_owned()
}

/// Where a step of a sheet lies, part axes of a, mm: on a, else on b.
fn step_point(pair: &PairPanel, step: &record::SectionStep) -> Option<Point> {
    let section = &pair.sections[step.section];
    let axes = section.axes(step.sheet);
    let height = step.a.or(step.b)?.value;
    Some(
        section.edge + axes.along.into_inner() * step.from_edge_mm + axes.out.into_inner() * height,
    )
}

fn steps(study: &Study, pair: &PairPanel) -> Sheet {
    let mut sheet = Sheet::new(
        study.units,
        &[
            "section",
            "place",
            "share",
            "along_edge_mm",
            "sheet",
            "from_edge_mm",
            "x_mm",
            "y_mm",
            "z_mm",
            "a_mm",
            "a_u95_mm",
            "b_mm",
            "b_u95_mm",
            "a_minus_b_mm",
            "a_minus_b_u95_mm",
            "nu",
            "source",
            "proven",
        ],
    );
    for s in &pair.steps {
        let section = &pair.sections[s.section];
        let mut cells = vec![
            (s.section + 1).to_string(),
            section.place.clone(),
            sheet.number(section.share, 5),
            sheet.length(section.along_mm),
            sheet_word(s.sheet).to_owned(),
            sheet.length(s.from_edge_mm),
        ];
        cells.extend(
            step_point(pair, s).map_or_else(|| [const { String::new() }; 3], |p| sheet.place(&p)),
        );
        for f in [&s.a, &s.b, &s.difference] {
            cells.extend(sheet.pair(f.as_ref()));
        }
        cells.push(
            s.difference
                .map_or_else(String::new, |f| sheet.number(f.nu, 1)),
        );
        cells.push(
            s.difference
                .map_or_else(String::new, |f| f.source.word().to_owned()),
        );
        cells.push(s.difference.map_or_else(String::new, |_| word(s.proven)));
        sheet.row(cells);
    }
    sheet
}

fn bands(study: &Study, pair: &PairPanel) -> Sheet {
    let mut sheet = Sheet::new(
        study.units,
        &[
            "what",
            "from_mm",
            "to_mm",
            "share_percent",
            "proven_percent",
            "place",
            "from_edge_mm",
            "a_minus_b_mm",
            "a_minus_b_u95_mm",
            "proven",
        ],
    );
    let blank = |n: usize| std::iter::repeat_n(String::new(), n);
    for b in &pair.bands {
        let mut cells = vec![
            "band".to_owned(),
            sheet.length(b.from_mm),
            sheet.length(b.to_mm),
        ];
        cells.push(sheet.number(100.0 * b.share, 1));
        cells.push(sheet.number(100.0 * b.proven_share, 1));
        cells.extend(blank(5));
        sheet.row(cells);
    }
    let mut cells = vec!["not seen on both sides".to_owned()];
    cells.extend(blank(2));
    cells.push(sheet.number(100.0 * pair.not_seen, 1));
    cells.extend(blank(6));
    sheet.row(cells);
    if let Some(w) = &pair.worst {
        let what = if w.local {
            "worst place, panels laid on each other"
        } else {
            "worst place"
        };
        let mut cells = vec![what.to_owned()];
        cells.extend(blank(4));
        cells.extend([w.place.clone(), sheet.length(w.from_edge_mm)]);
        cells.extend(sheet.pair(Some(&w.difference)));
        cells.push(word(w.proven));
        sheet.row(cells);
    }
    sheet
}

/// Sections and panels as JSON text, indented. Measured numbers are objects as in the JSON of the study.
pub fn sections_json(study: &Study, sections: &Sections) -> String {
    let value = json!({
        "schema": STUDY_SCHEMA,
        "title": study.title,
        "job_blake3": study.provenance.job_hash,
        "version": study.provenance.version,
        "conventions": {
            "length_unit": "mm",
            "difference": "a minus b, normal to the surface, + where a stands further out; b mirrored and laid on a by the opening edge",
            "section_axes": "from the edge along the sheet, and out of the metal; part axes of a",
        },
        "pairs": sections.pairs.iter().map(pair_json).collect::<Vec<_>>(),
        "gaps": sections.gaps.iter().map(gap_json).collect::<Vec<_>>(),
        "hinges": sections.hinges.iter().map(hinge_json).collect::<Vec<_>>(),
        "findings": findings(&sections.findings),
    });
    format!("{value:#}\n")
}

fn gap_json(g: &record::PanelGap) -> Value {
    let stations = |all: &[record::GapStation]| -> Vec<Value> {
        all.iter()
            .map(|s| {
                json!({
                    "share": s.share,
                    "from_start_mm": s.from_start_mm,
                    "at_mm": place(&s.at),
                    "gap": maybe(s.gap.as_ref()),
                    "by_walls": s.by_walls,
                    "flush": maybe(s.flush.as_ref()),
                })
            })
            .collect()
    };
    json!({
        "name": g.name,
        "first": g.panels[0],
        "second": g.panels[1],
        "left": stations(&g.left),
        "right": stations(&g.right),
        "left_minus_right": g.differences.iter().map(|d| json!({
            "share": d.share,
            "gap": maybe(d.gap.as_ref()),
            "gap_proven": d.proven[0],
            "flush": maybe(d.flush.as_ref()),
            "flush_proven": d.proven[1],
        })).collect::<Vec<_>>(),
    })
}

fn hinge_json(h: &record::MeasuredHinge) -> Value {
    json!({
        "name": h.name,
        "barrels": h.barrels.iter().map(|b| json!({
            "name": b.name,
            "middle_mm": place(&b.middle),
            "axis": vector(&b.axis),
            "diameter": figure(&b.diameter),
            "arc_deg": b.arc_deg,
        })).collect::<Vec<_>>(),
        "steps": h.steps.iter().map(|s| json!({
            "between": s.between,
            "offset": figure(&s.offset),
            "offset_proven": s.proven[0],
            "angle": figure(&s.angle),
            "angle_proven": s.proven[1],
        })).collect::<Vec<_>>(),
        "swing": h.swing.as_ref().map(|s| json!({
            "part": s.part.0,
            "open_deg": s.open_deg,
            "nearest": figure(&s.nearest),
            "at_deg": s.at_deg,
            "along_mm": s.along_mm,
            "at_mm": place(&s.at),
            "shut": figure(&s.shut),
        })),
    })
}

fn pair_json(pair: &PairPanel) -> Value {
    let axes = |a: &record::SheetAxes| json!({ "along": vector(&a.along), "out": vector(&a.out) });
    let figure_of = |f: &Option<Figure>| maybe(f.as_ref());
    json!({
        "compare": pair.compare.0,
        "name": pair.name,
        "relation": match pair.relation {
            record::Relation::Mirrored => "mirrored",
            record::Relation::Same => "same",
            record::Relation::Itself => "itself",
        },
        "a_side": side(pair.sides[0]),
        "b_side": side(pair.sides[1]),
        "settings": {
            "width_mm": pair.plan.width_mm,
            "step_mm": pair.plan.step_mm,
            "every_mm": pair.plan.every_mm,
        },
        "not_seen_share": pair.not_seen,
        "joint": pair.joint.as_ref().map(|j| json!({
            "proven": j.proven,
            "chance": j.p,
            "largest": j.largest,
            "figures": j.figures,
            "within_mm": j.within_mm,
        })),
        "worst": pair.worst.as_ref().map(|w| json!({
            "place": w.place,
            "section": w.section + 1,
            "from_edge_mm": w.from_edge_mm,
            "mean_over_mm": w.over_mm,
            "difference": figure(&w.difference),
            "local": w.local,
            "proven": w.proven,
        })),
        "bands": pair.bands.iter().map(|b| json!({
            "from_mm": b.from_mm,
            "to_mm": b.to_mm,
            "share": b.share,
            "proven_share": b.proven_share,
        })).collect::<Vec<_>>(),
        "sections": pair.sections.iter().enumerate().map(|(i, s)| json!({
            "section": i + 1,
            "place": s.place,
            "share": s.share,
            "along_edge_mm": s.along_mm,
            "edge_mm": place(&s.edge),
            "tangent": vector(&s.tangent),
            "panel": axes(&s.panel),
            "flange": s.flange.as_ref().map(axes),
            "steps": pair.steps.iter().filter(|x| x.section == i).map(|x| json!({
                "sheet": sheet_word(x.sheet),
                "from_edge_mm": x.from_edge_mm,
                "a": figure_of(&x.a),
                "b": figure_of(&x.b),
                "difference": figure_of(&x.difference),
                "proven": x.proven,
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
    })
}

#[cfg(test)]
mod tests;
