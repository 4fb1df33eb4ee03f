//! Readings by hand as the boxes of a field sheet: the same boxes left and right, in the order in which the sheet has them.

use record::{
    Compare, CompareId, FieldPlan, Finding, HandKind, HandReading, HandTable, Job, LengthUnit,
    Measured, Opening, OpeningId, PlanBox, ScanId, Side,
};

use crate::document::Document;
use crate::refused::Refused;

/// One side of a sheet: the opening and the table its readings stand in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HandSide {
    /// The table.
    pub table: ScanId,
    /// The opening.
    pub opening: OpeningId,
    /// What it is called.
    pub name: String,
    /// Its side.
    pub side: Side,
}

/// The sheet to fill in for one comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct HandForm {
    /// The comparison, if the opening is in one.
    pub compare: Option<CompareId>,
    /// The sides that are measured by hand, the first of the comparison first.
    pub sides: Vec<HandSide>,
    /// Sketches of the sides and what to print; empty where all boxes are those of a table.
    pub plans: Vec<FieldPlan>,
    /// The boxes, the same on every side. They do not change with what is typed into them.
    pub boxes: Vec<PlanBox>,
}

/// Which reading of a table a box is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HandBox {
    /// What is read.
    pub kind: HandKind,
    /// As in a row of a hand table.
    pub from: Vec<String>,
    /// As in a row of a hand table.
    pub to: Vec<String>,
    /// As in a row of a hand table.
    pub station: String,
    /// Which of its repeats, from 0.
    pub time: usize,
}

impl HandBox {
    /// A box of a row of the sheet.
    pub fn of(row: &PlanBox, time: usize) -> Self {
        Self {
            kind: row.kind,
            from: row.from.clone(),
            to: row.to.clone(),
            station: row.station.clone(),
            time,
        }
    }

    /// What is read in it: "1 to A", "junction, top".
    pub fn says(&self) -> String {
        let from = self.from.join(" ");
        let mut says = if self.to.is_empty() {
            from
        } else {
            format!("{from} to {}", self.to.join(" "))
        };
        if !self.station.is_empty() {
            says.push_str(", ");
            says.push_str(&self.station);
        }
        if self.kind == HandKind::Length {
            says
        } else {
            format!("{} {says}", self.kind.word())
        }
    }

    /// What is typed into the box, as it is kept: with its unit, which is `unit` where none is said (mm where that is `None`).
    /// Blank stays blank.
    ///
    /// # Errors
    /// With what is wrong and what to do.
    pub fn as_written(&self, text: &str, unit: Option<LengthUnit>) -> Result<String, Refused> {
        let text = text.trim();
        if text.is_empty() {
            return Ok(String::new());
        }
        let read = |unit| formats::hand_written(text, unit, self.kind).map(|w| w.1);
        read(unit).map_err(|e| {
            let inch = read(Some(LengthUnit::Inch));
            if unit.is_none() && inch.is_ok() {
                return Refused::NotRead {
                    says: format!("\"{text}\" is a fraction and its unit is not said"),
                    hint: format!("Write {text}\", or let numbers without a unit be in inches."),
                };
            }
            let says = e.to_string();
            // What was found stands in the box.
            let says = says.rsplit_once(", found ").map_or(&*says, |s| s.0);
            Refused::NotRead {
                says: says.to_owned(),
                hint: "Correct it, or leave it blank.".to_owned(),
            }
        })
    }

    /// Whether a reading is one of this box or of its repeats: a length read backwards is the same length.
    fn holds(&self, r: &HandReading) -> bool {
        let same = r.from == self.from && r.to == self.to;
        let turned = matches!(r.kind, HandKind::Length | HandKind::Level)
            && r.from == self.to
            && r.to == self.from;
        r.kind == self.kind && (same || turned) && r.station.eq_ignore_ascii_case(&self.station)
    }
}

/// Where the readings of a box and its repeats stand in a table.
pub(crate) fn places(table: &HandTable, opening: &Opening, of: &HandBox) -> Vec<usize> {
    let rows = table.readings.iter().enumerate();
    rows.filter(|(_, r)| of.holds(r) && r.is_of(opening))
        .map(|(k, _)| k)
        .collect()
}

impl Document {
    /// The sheet for a hand table of the job: both sides of its comparison, as far as they are measured by hand. `None`: no
    /// opening is in that table.
    pub fn hand_form(&self, table: &ScanId) -> Option<HandForm> {
        let job = self.job();
        let opening = job.openings.iter().find(|o| o.scan == *table)?;
        let of = |c: &&Compare| c.a == opening.id || c.b.as_ref() == Some(&opening.id);
        let compare = job.compares.iter().find(of);
        let ids: Vec<&OpeningId> = match compare {
            Some(c) => std::iter::once(&c.a).chain(&c.b).collect(),
            None => vec![&opening.id],
        };
        let openings = ids.into_iter().filter_map(|id| {
            let o = job.openings.iter().find(|o| o.id == *id)?;
            Some((o, job.hand_of(o)?))
        });
        let both: Vec<(&Opening, &HandTable)> = openings.collect();
        let sides = both
            .iter()
            .map(|(o, t)| HandSide {
                table: t.id.clone(),
                opening: o.id.clone(),
                name: o.name.clone(),
                side: o.side,
            })
            .collect();
        let plans = plans(job, &self.study().measured, compare, &both);
        let mut boxes: Vec<PlanBox> = plans.first().map_or_else(Vec::new, |p| p.boxes.clone());
        for (o, t) in &both {
            add_rows(&mut boxes, o, t);
        }
        Some(HandForm {
            compare: compare.map(|c| c.id.clone()),
            sides,
            plans,
            boxes,
        })
    }

    /// What stands in a box; `None`: not measured.
    pub fn hand_reading(&self, side: &HandSide, of: &HandBox) -> Option<&HandReading> {
        let job = self.job();
        let table = job.hand.iter().find(|t| t.id == side.table)?;
        let opening = job.openings.iter().find(|o| o.id == side.opening)?;
        let places = places(table, opening, of);
        places.get(of.time).map(|k| &table.readings[*k])
    }

    /// How many boxes of a side are filled.
    pub fn hand_count(&self, side: &HandSide) -> usize {
        let job = self.job();
        let table = job.hand.iter().find(|t| t.id == side.table);
        let opening = job.openings.iter().find(|o| o.id == side.opening);
        let Some((table, opening)) = table.zip(opening) else {
            return 0;
        };
        let rows = table.readings.iter();
        rows.filter(|r| !r.kind.is_word() && r.is_of(opening))
            .count()
    }

    /// What the adjusted readings of a side say of single rows: the finding with the lines it names, in the order of
    /// their weight. Of the readings as they were measured last.
    pub fn hand_doubts(&self, side: &HandSide) -> Vec<(&Finding, Vec<u32>)> {
        let measured = self.study().measured.openings.iter();
        let opening = measured.into_iter().find(|m| m.id == side.opening);
        let findings = opening.map_or(&[][..], |m| &m.findings);
        let all = findings.iter().map(|f| (f, lines_of(&f.says)));
        all.filter(|(_, lines)| !lines.is_empty()).collect()
    }

    /// The field sheets of the job, as they are printed: those of the readings by hand as they stand in the window.
    pub fn field_plans(&self) -> Vec<FieldPlan> {
        let job = self.job();
        let mut out = Vec::new();
        for c in &job.compares {
            let of = std::iter::once(&c.a).chain(&c.b);
            let opening = of.filter_map(|id| job.openings.iter().find(|o| o.id == *id));
            let tables: Vec<_> = opening.filter_map(|o| Some((o, job.hand_of(o)?))).collect();
            let mut found = plans(job, &self.study().measured, Some(c), &tables);
            if found.is_empty() {
                found = study::field_plans(&alone(job, c), &self.study().measured);
            }
            out.extend(found);
        }
        out
    }
}

/// The lines a finding names: "line 14".
fn lines_of(says: &str) -> Vec<u32> {
    let after = says.split("line ").skip(1);
    after
        .filter_map(|rest| {
            let end = rest
                .find(|c: char| !c.is_ascii_digit())
                .unwrap_or(rest.len());
            rest[..end].parse().ok()
        })
        .collect()
}

/// The job with one comparison only.
fn alone(job: &Job, compare: &Compare) -> Job {
    Job {
        compares: vec![compare.clone()],
        ..job.clone()
    }
}

/// The plans of a comparison by what was scanned of it alone, so that they stay as they are while readings are typed.
/// Empty where a table has points of its own: then its rows are the boxes.
fn plans(
    job: &Job,
    measured: &Measured,
    compare: Option<&Compare>,
    both: &[(&Opening, &HandTable)],
) -> Vec<FieldPlan> {
    let Some(compare) = compare else {
        return Vec::new();
    };
    let scanned = |id: &OpeningId| {
        let o = job.openings.iter().find(|o| o.id == *id);
        o.is_some_and(|o| job.hand_of(o).is_none())
    };
    let of_it = |id: &OpeningId| *id == compare.a || compare.b.as_ref() == Some(id);
    let seen = Measured {
        openings: measured
            .openings
            .iter()
            .filter(|m| of_it(&m.id) && scanned(&m.id))
            .cloned()
            .collect(),
        ..Measured::default()
    };
    let plans = study::field_plans(&alone(job, compare), &seen);
    let plans: Vec<FieldPlan> = plans
        .into_iter()
        .filter(|p| both.iter().any(|(o, _)| p.opening.as_ref() == Some(&o.id)))
        .collect();
    let edge = plans.first().map(|p| {
        let of_edge = p.points.iter().filter(|q| q.role == record::PlanRole::Edge);
        of_edge.map(|q| q.name.clone()).collect::<Vec<_>>()
    });
    let own_points = both.iter().any(|(o, t)| {
        let mut rows = t.readings.iter().filter(|r| r.is_of(o)).peekable();
        let any = rows.peek().is_some();
        let said = rows.find(|r| r.kind == HandKind::Edge).map(|r| &r.from);
        any && said != edge.as_ref()
    });
    if own_points { Vec::new() } else { plans }
}

/// Boxes for rows of a table that have none yet, with as many repeats as were read.
fn add_rows(boxes: &mut Vec<PlanBox>, opening: &Opening, table: &HandTable) {
    let rows = table.readings.iter();
    for r in rows.filter(|r| !r.kind.is_word() && r.is_of(opening)) {
        let of = |b: &PlanBox| HandBox::of(b, 0).holds(r);
        match boxes.iter_mut().find(|b| of(b)) {
            Some(b) => {
                let count = places(table, opening, &HandBox::of(b, 0)).len();
                b.times = b.times.max(count.min(3) as u8);
            }
            None => boxes.push(PlanBox {
                kind: r.kind,
                from: r.from.clone(),
                to: r.to.clone(),
                station: r.station.clone(),
                times: 1,
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_found_in_a_sentence() {
        let says = "the length from 3 to 7, 412.5 mm (line 14), or the length from 2 to 4 (line 9)";
        assert_eq!(lines_of(says), [14, 9]);
        assert_eq!(lines_of("in line with the rest"), [0; 0]);
    }
}
