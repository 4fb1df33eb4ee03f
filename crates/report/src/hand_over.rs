//! Who gets what, what must not be mirrored, and what has changed since the last hand-over, in words.

use record::{Figure, Finding, Quantity, Severity, Study};

use crate::number::{chance, show, typed, unit_text};
use crate::sentence::headline_option;
use crate::terminal::CAUTION;
use crate::words::{capital, full_stop, side, verdict};
use crate::{Pair, pair_text};

/// Somebody to whom parts or papers are handed over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Receiver {
    /// Mills the part.
    Machinist,
    /// Cuts sheet by water jet or laser.
    Cutter,
    /// Plates, anodises or paints.
    Finisher,
    /// Pays for it and decides.
    Client,
    /// Checks what was made.
    Inspector,
}

/// What a hand-over is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// Curves for CAD.
    Step,
    /// Outline for the cutter.
    Dxf,
    /// Tables.
    Tables,
    /// The edge and the angles of each side at true size.
    TrueSize,
    /// One page that says what fits and why.
    PairPage,
}

impl Receiver {
    /// Everybody, in the order of the work.
    pub const ALL: [Self; 5] = [
        Self::Machinist,
        Self::Cutter,
        Self::Finisher,
        Self::Client,
        Self::Inspector,
    ];

    /// The word for the command line and the folder.
    pub fn word(self) -> &'static str {
        match self {
            Self::Machinist => "machinist",
            Self::Cutter => "cutter",
            Self::Finisher => "finisher",
            Self::Client => "client",
            Self::Inspector => "inspector",
        }
    }

    /// What each gets. Nobody gets a scan, the job or where its files lie.
    pub fn papers(self) -> &'static [Paper] {
        match self {
            Self::Machinist => &[Paper::Step, Paper::TrueSize, Paper::Tables],
            Self::Cutter => &[Paper::Dxf, Paper::TrueSize],
            Self::Finisher => &[Paper::TrueSize],
            Self::Client => &[Paper::PairPage],
            Self::Inspector => &[Paper::Tables, Paper::PairPage, Paper::TrueSize],
        }
    }
}

/// The finding that forbids a hand-over, with the title of the comparison it is about, if there is one.
pub fn forbidden(study: &Study) -> Option<(String, &Finding)> {
    let stop = |f: &&Finding| f.severity == Severity::Stop;
    if let Some(finding) = study.measured.findings.iter().find(stop) {
        return Some((String::new(), finding));
    }
    Pair::all(study)
        .iter()
        .find_map(|p| Some((capital(p.title()), p.stop()?)))
}

/// What is said of each comparison, by name, as shown: verdict, choice, what is allowed, sizes and angles. Two of these
/// are compared to say what has changed.
pub fn figures(study: &Study) -> Vec<(String, String)> {
    let units = study.units;
    let mut out = Vec::new();
    for pair in Pair::all(study) {
        let title = capital(pair.title());
        let mut add = |what: &str, value: String| out.push((format!("{title}, {what}"), value));
        add("verdict", verdict(pair_text(&pair).verdict).to_owned());
        add("choice", chosen(&pair));
        if let Some(part) = pair.part {
            let length = |mm| {
                format!(
                    "{}{}",
                    typed(mm, Quantity::Length, units),
                    unit_text(Quantity::Length, units)
                )
            };
            add("agreed gap", length(part.gap_mm));
            add("allowed tighter", length(part.allowed.tight_mm));
            add("allowed wider", length(part.allowed.wide_mm));
        }
        if let Some(option) = headline_option(&pair) {
            if let Some(uses) = option.uses {
                add("uses of what is allowed", show(&uses, units).with_unit());
            }
            if let Some(odds) = option.chance {
                add("chance it fits", chance(odds.fits));
            }
        }
        let openings = std::iter::once(&pair.measured.a).chain(&pair.measured.b);
        let which = [pair.a_word(), pair.b_word()];
        for (id, which) in openings.zip(which) {
            let edge = pair.opening(id).and_then(|o| o.edge.as_ref());
            for d in edge.iter().flat_map(|e| &e.dimensions) {
                add(&format!("{which}, {}", d.name), shown(&d.figure, study));
            }
        }
        for row in &pair.measured.angles {
            for (figure, which) in [(row.a, pair.a_word()), (row.b, pair.b_word())] {
                if let Some(figure) = figure {
                    let name = format!("{which}, angle of {} at {}", row.junction, row.place);
                    add(&name, shown(&figure, study));
                }
            }
        }
    }
    out
}

fn shown(figure: &Figure, study: &Study) -> String {
    show(figure, study.units).plus_minus()
}

/// The option that is drawn: the chosen one, or each side to itself where nothing was chosen.
fn chosen(pair: &Pair) -> String {
    pair.chosen().map_or_else(
        || "nothing chosen, each side drawn to its own opening".to_owned(),
        |kind| pair.choice_word(kind),
    )
}

/// What has changed between two hand-overs, a sentence each: figures by name first, then files that came or went.
/// Empty where nothing has.
pub fn changes(
    before: (&[(String, String)], &[String]),
    after: (&[(String, String)], &[String]),
) -> Vec<String> {
    let find = |all: &[(String, String)], name: &str| {
        all.iter().find(|f| f.0 == name).map(|f| f.1.clone())
    };
    let mut out = Vec::new();
    for (name, now) in after.0 {
        match find(before.0, name) {
            Some(was) if was == *now => {}
            Some(was) => out.push(full_stop(&format!("{name}: was {was}, is {now}"))),
            None => out.push(full_stop(&format!("{name}: new, {now}"))),
        }
    }
    for (name, was) in before.0 {
        if find(after.0, name).is_none() {
            out.push(full_stop(&format!("{name}: was {was}, is no longer there")));
        }
    }
    for file in after.1.iter().filter(|f| !before.1.contains(f)) {
        out.push(full_stop(&format!("File {file} is new")));
    }
    for file in before.1.iter().filter(|f| !after.1.contains(f)) {
        out.push(full_stop(&format!("File {file} is no longer handed over")));
    }
    out
}

/// A file as the letter names it.
pub struct Named {
    /// Its name.
    pub name: String,
    /// What it holds.
    pub says: String,
    /// Farthest distance of the measured edge from the edge in the file as read back, mm, where it holds one.
    pub off_mm: Option<f64>,
}

/// `read back: the edge lies within 0.15 mm of the measured one`; rounded up.
fn within(mm: f64, study: &Study) -> String {
    let up = if mm < 0.005 {
        0.01
    } else {
        (mm * 100.0 - 1e-9).ceil() / 100.0
    };
    format!(
        "read back: the edge lies within {}{} of the measured one",
        typed(up, Quantity::Length, study.units),
        unit_text(Quantity::Length, study.units)
    )
}

/// The line of a receiver in what is printed: who, how many files of what kind, how far they read back, what must not
/// be mirrored.
pub fn row(study: &Study, receiver: Receiver, files: &[Named]) -> String {
    let mut kinds: Vec<(String, usize)> = Vec::new();
    for file in files {
        let ending = file.name.rsplit('.').next().unwrap_or("").to_uppercase();
        match kinds.iter_mut().find(|k| k.0 == ending) {
            Some(kind) => kind.1 += 1,
            None => kinds.push((ending, 1)),
        }
    }
    let kinds: Vec<String> = kinds.iter().map(|(k, n)| format!("{n} {k}")).collect();
    let kinds = if kinds.is_empty() {
        "nothing to hand over".to_owned()
    } else {
        kinds.join(", ")
    };
    let off = files.iter().filter_map(|f| f.off_mm).reduce(f64::max);
    let off = off.map_or_else(String::new, |mm| format!("; {}", within(mm, study)));
    format!("  {:<10} {kinds}{off}\n", receiver.word())
}

/// What has changed, for the terminal; what must not be mirrored comes with the letters.
pub fn told(changes: Option<&[String]>, look: crate::Look) -> String {
    let all: Vec<String> = match changes {
        None => vec!["This is the first hand-over.".to_owned()],
        Some([]) => vec!["Nothing has changed since the last hand-over.".to_owned()],
        Some(all) => std::iter::once("Changed since the last hand-over:".to_owned())
            .chain(all.iter().map(|c| format!("  {c}")))
            .collect(),
    };
    let mut out = String::new();
    for line in all {
        let indent = line.len() - line.trim_start().len();
        for row in crate::terminal::wrap(&look.signs(&line), look.width - indent, 0) {
            out.push_str(&" ".repeat(indent));
            out.push_str(&row);
            out.push('\n');
        }
    }
    out
}

/// The letter that goes with the files of one receiver.
pub fn letter(
    study: &Study,
    receiver: Receiver,
    revision: &str,
    files: &[Named],
    changes: Option<&[String]>,
) -> String {
    let mut out = vec![format!("{}: revision {revision}", capital(receiver.word()))];
    out.push(
        "Left and right are as seated facing forward. Lengths in files for CAD are in millimetres."
            .to_owned(),
    );
    out.push(String::new());
    out.push("Files".to_owned());
    for file in files {
        let back = file
            .off_mm
            .map_or_else(String::new, |mm| format!("; {}", within(mm, study)));
        out.push(format!("  {}: {}{back}.", file.name, file.says));
    }
    for pair in Pair::all(study) {
        out.push(String::new());
        out.push(format!("{}: {}", capital(pair.title()), chosen(&pair)));
        out.extend(about(&pair, receiver).into_iter().map(|l| format!("  {l}")));
    }
    out.push(String::new());
    match changes {
        None => out.push("This is the first hand-over.".to_owned()),
        Some([]) => out.push("Nothing has changed since the last hand-over.".to_owned()),
        Some(all) => {
            out.push("Changed since the last hand-over".to_owned());
            out.extend(all.iter().map(|c| format!("  {c}")));
        }
    }
    out.push(String::new());
    out.push(
        "Break sharp edges. A part that stands out of the body falls under local rules.".to_owned(),
    );
    out.push(CAUTION.to_owned());
    out.join("\n") + "\n"
}

/// What a receiver has to know of one part.
fn about(pair: &Pair, receiver: Receiver) -> Vec<String> {
    let units = pair.study.units;
    let length = |mm: f64| {
        format!(
            "{}{}",
            typed(mm, Quantity::Length, units),
            unit_text(Quantity::Length, units)
        )
    };
    let mut out = Vec::new();
    let drawn = pair
        .study
        .drawings
        .iter()
        .filter(|d| d.compare == pair.measured.id);
    for d in drawn {
        let how = if d.mirrored {
            format!("the mirror image of the shape of {}", d.shape_of)
        } else {
            format!("the shape of {}", d.shape_of)
        };
        out.push(full_stop(&format!("{}: {how}", capital(side(d.side)))));
        out.extend(d.findings.iter().map(|f| {
            let side = capital(side(d.side));
            full_stop(&format!("{side}: {}; {}", f.says, f.advice))
        }));
    }
    if receiver == Receiver::Client {
        out.push(pair_text(pair).full());
    }
    let Some(part) = pair.part else {
        return out;
    };
    if !part.must_not_mirror.is_empty() {
        let list = part.must_not_mirror.join(", ");
        out.push(full_stop(&format!("Must not be mirrored: {list}")));
    }
    if part.finish.part_mm > 0.0 || !part.finish.name.is_empty() {
        let name = if part.finish.name.is_empty() {
            "not named"
        } else {
            &part.finish.name
        };
        out.push(full_stop(&format!(
            "Finish: {name}, adds {} per face; the drawing allows for it",
            length(part.finish.part_mm)
        )));
    }
    if part.load_bearing {
        out.push("It carries load or safety: qualified design and test decide.".to_owned());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{finding, lamp, study};
    use record::OptionKind;

    fn owned(all: &[(&str, &str)]) -> Vec<(String, String)> {
        all.iter()
            .map(|(a, b)| ((*a).to_owned(), (*b).to_owned()))
            .collect()
    }

    #[test]
    fn a_stop_forbids_it_and_a_doubt_does_not() {
        let mut made = lamp();
        made.measured.findings = vec![finding(Severity::Doubt, "right", "seen poorly", "")];
        assert!(forbidden(&study(vec![made])).is_none());
        let mut made = lamp();
        made.measured.findings = vec![finding(
            Severity::Stop,
            "right",
            "this is a left opening, the job says right",
            "say which",
        )];
        let stopped = study(vec![made]);
        let (title, why) = forbidden(&stopped).unwrap();
        assert_eq!(title, "Lamp surround");
        assert!(why.says.contains("left opening"));
    }

    #[test]
    fn figures_follow_the_study_and_changes_are_said_in_words() {
        let mut first = study(vec![lamp()]);
        let before = figures(&first);
        let said = |name: &str| before.iter().find(|f| f.0 == name).map(|f| f.1.as_str());
        assert_eq!(said("Lamp surround, verdict"), Some("WILL NOT FIT"));
        assert_eq!(
            said("Lamp surround, left, angle of inner side at top"),
            Some("89.1° ±0.2")
        );
        first.choices.chosen = vec![("lamp".into(), OptionKind::TwoHands, String::new())];
        let files = ["a".to_owned()];
        let told = changes((&before, &[]), (&figures(&first), &files));
        assert_eq!(
            told,
            [
                "Lamp surround, choice: was nothing chosen, each side drawn to its own opening, is two hands.",
                "File a is new.",
            ]
        );
        assert!(changes((&before, &files), (&before, &files)).is_empty());
        let gone = changes((&owned(&[("x", "1")]), &files), (&[], &[]));
        assert_eq!(
            gone,
            [
                "x: was 1, is no longer there.",
                "File a is no longer handed over."
            ]
        );
    }

    #[test]
    fn the_letter_names_files_what_must_not_be_mirrored_and_the_changes() {
        let mut made = lamp();
        made.part.must_not_mirror = vec!["lettering".to_owned(), "drain".to_owned()];
        let study = study(vec![made]);
        let files = [Named {
            name: "Lamp surround, left, rev B.dxf".to_owned(),
            says: "outline for the cutter".to_owned(),
            off_mm: Some(0.101),
        }];
        let text = letter(
            &study,
            Receiver::Cutter,
            "B",
            &files,
            Some(&["x: was 1, is 2.".to_owned()]),
        );
        for wanted in [
            "Cutter: revision B",
            "Lamp surround, left, rev B.dxf: outline for the cutter; read back: the edge lies within 0.11 mm of the measured one.",
            "Must not be mirrored: lettering, drain.",
            "  x: was 1, is 2.",
            CAUTION,
        ] {
            assert!(text.contains(wanted), "{wanted} is missing in\n{text}");
        }
        assert!(letter(&study, Receiver::Client, "A", &[], None).contains("first hand-over"));
    }
}
