//! Sections of a pair in STEP (AP214 wireframe): one product per side, its profiles as named chains in the part axes of
//! the side that stays where it is.

use geom::Point;
use record::PairPanel;

use crate::Refused;
use crate::read_step::{StepCurve, read_step};
use crate::section_profiles::{Profile, profiles, side_names};
use crate::step_text::StepText;
use crate::write_step::{Context, Writer};

/// How far a point may be from where it belongs after writing and reading, mm.
const TOLERANCE_MM: f64 = 1e-6;

/// The sections of a pair as text of a STEP file in millimetres, read back and compared before it is handed out.
/// `program` is written as the originating system.
///
/// # Errors
/// When no section was seen, or a profile does not read back.
pub fn section_step_text(pair: &PairPanel, program: &str) -> Result<String, Refused> {
    let all = profiles(pair);
    if all.is_empty() {
        return Err(Refused::because("there is no section to draw"));
    }
    let sides = side_names(pair);
    let mut out = StepText::default();
    let context = Context::write(&mut out);
    for (k, side) in sides.iter().enumerate() {
        let name = product_name(pair, side);
        Writer {
            out: &mut out,
            context: &context,
        }
        .chains(&name, "sections", &chains(pair, &all, k));
    }
    let text = out.file(
        &pair.name,
        "sections in part axes, mm; every chain is named",
        program,
    );
    check(pair, &all, &sides, &text)?;
    Ok(text)
}

fn product_name(pair: &PairPanel, side: &str) -> String {
    format!("{}, sections, {side}", pair.name)
}

/// The chains of one side with their names; what was not seen parts a section into several, told apart by number.
fn chains<'p>(pair: &PairPanel, all: &'p [Profile], of: usize) -> Vec<(String, &'p [Point])> {
    let mut before = (usize::MAX, 0);
    all.iter()
        .filter(|p| p.of == of)
        .map(|p| {
            let part = if before.0 == p.section {
                before.1 + 1
            } else {
                1
            };
            before = (p.section, part);
            let place = &pair.sections[p.section].place;
            let name = format!("section {}, {place}, part {part}", p.section + 1);
            (name, p.in_space.as_slice())
        })
        .collect()
}

fn check(
    pair: &PairPanel,
    all: &[Profile],
    sides: &[String; 2],
    text: &str,
) -> Result<(), Refused> {
    let read = read_step(text)?;
    if read.len() != 2 {
        return Err(Refused::because("not every side read back"));
    }
    for (k, (side, product)) in sides.iter().zip(&read).enumerate() {
        if product.name != product_name(pair, side) {
            return Err(Refused::because(format!(
                "it came back as \"{}\"",
                product.name
            )));
        }
        for (name, points) in chains(pair, all, k) {
            let same = matches!(product.curve(&name), Some(StepCurve::Polyline(found))
                if found.len() == points.len()
                    && found.iter().zip(points).all(|(p, q)| (p - q).norm() < TOLERANCE_MM));
            if !same {
                return Err(Refused::because(format!(
                    "{side}: {name} did not read back"
                )));
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests;
