//! What body work changed between two visits, in sentences.

use record::{
    DisplayUnits, Figure, LaidFrom, LaidWork, OpeningAfter, OptionKind, Quantity, Severity, Source,
    Touched, Verdict, WorkFound, WorkStudy, WorkedArea,
};

use crate::Pair;
use crate::number::{show, typed, unit_text};
use crate::sentence::{PairText, finding_text, pair_text};
use crate::terminal::{CAUTION, Look, lines_of};
use crate::tried::{TriedText, tried_text};
use crate::words::{capital, mark, verdict};

/// What is printed where the job states no body work.
pub const NO_WORK: &str = "The job states no body work. Say in it which scan shows the side before and which after: body_work: [(name: \"flange dressed\", before: \"left\", after: \"left, dressed\")]; the two scans belong to two visits.";

/// Areas that are printed, the largest move first.
const MOST_AREAS: usize = 6;

/// The whole answer, lines ended by `\n`: per piece of work how the scans were laid, what moved, and what of the earlier
/// answer stands.
pub fn body_work_text(found: &WorkStudy, look: Look) -> String {
    let units = found.study.units;
    let mut out = vec![format!("{}: before and after body work", found.study.title)];
    if found.works.is_empty() {
        out.push(NO_WORK.to_owned());
    }
    for work in &found.works {
        out.push(String::new());
        out.push(moved(work, units));
        if let Some(laid) = &work.laid {
            out.push(laid_text(work, laid, units));
            for (k, a) in laid.areas.iter().take(MOST_AREAS).enumerate() {
                out.extend(area_text(k + 1, a, units));
            }
            if laid.areas.len() > MOST_AREAS {
                out.push(format!(
                    "{} more stand in the files.",
                    laid.areas.len() - MOST_AREAS
                ));
            }
        }
        out.extend(stands(found, work));
        let mut findings: Vec<&record::Finding> = work.findings.iter().collect();
        findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
        out.extend(findings.into_iter().map(finding_text));
    }
    out.push(String::new());
    for f in &found.study.measured.findings {
        if f.severity > Severity::Note {
            out.push(finding_text(f));
        }
    }
    out.push(CAUTION.to_owned());
    lines_of(&out, look)
}

fn length(value: f64, u95: f64) -> Figure {
    Figure {
        value,
        u95,
        nu: f64::INFINITY,
        source: Source::Noise,
        quantity: Quantity::Length,
    }
}

/// A length rounded to what matters of it.
fn about(mm: f64, units: DisplayUnits) -> String {
    show(&length(mm, 0.1 * mm), units).with_unit()
}

/// A point in whole millimetres or tenths of an inch.
fn place(p: &geom::Point, units: DisplayUnits) -> String {
    let one = |v: f64| show(&length(v, 2.0), units).value;
    format!(
        "({}, {}, {}){}",
        one(p.x),
        one(p.y),
        one(p.z),
        unit_text(Quantity::Length, units)
    )
}

/// `Flange dressed: 1 area moved.`
fn moved(work: &WorkFound, units: DisplayUnits) -> String {
    let name = capital(&work.work.name);
    let Some(laid) = &work.laid else {
        return format!("{name}: nothing can be said.");
    };
    match laid.areas.as_slice() {
        [] => format!(
            "{name}: nothing moved that could be told; a move of {} over {} would have been found.",
            about(laid.found_from_mm, units),
            about(laid.patch_mm, units)
        ),
        [_] => format!("{name}: 1 area moved."),
        all => format!("{name}: {} areas moved.", all.len()),
    }
}

/// How the scan from after was laid on the one from before.
pub fn laid_text(work: &WorkFound, laid: &LaidWork, units: DisplayUnits) -> String {
    let by = if work.work.worked.is_empty() {
        "What was worked was not said; it was found by itself and did not pull"
    } else {
        "What was said to be worked did not pull"
    };
    let film = if laid.films_mm == [0.0; 2] {
        String::new()
    } else {
        let mm = |v: f64| about(v, units);
        format!(
            " Films were taken off: {} before, {} after.",
            mm(laid.films_mm[0]),
            mm(laid.films_mm[1])
        )
    };
    let from = match laid.from {
        LaidFrom::Join => "begun from the join in the job",
        LaidFrom::Start => "begun from the start in the job",
        LaidFrom::Openings => "begun from the openings picked in both",
        LaidFrom::SameAxes => "begun as if both had the same axes",
    };
    format!(
        "{} was laid on {} by the metal that stayed ({:.0} % of the points were set aside), {from}. There the two differ by \
         {} (spread), so that moves from {} over {} are found. {by}.{film}",
        work.work.after,
        work.work.before,
        100.0 * laid.aside,
        about(laid.overlap.left_mm, units),
        about(laid.found_from_mm, units),
        about(laid.patch_mm, units)
    )
}

fn way_of(a: &WorkedArea) -> &'static str {
    if a.mean.value < 0.0 {
        "Inward"
    } else {
        "Outward"
    }
}

/// `Inward by 1.49 mm (give or take 0.04) where it moved most, 79 mm long.`
pub fn area_short(a: &WorkedArea, units: DisplayUnits) -> String {
    let size = Figure {
        value: a.most.value.abs(),
        ..a.most
    };
    let most = show(&size, units);
    let long = show(&a.length, units);
    let open = if a.ends_seen[0] { "" } else { "at least " };
    format!(
        "{} by {} {} where it moved most, {open}{} {} long.",
        way_of(a),
        most.with_unit(),
        most.in_brackets(),
        long.with_unit(),
        long.in_brackets()
    )
}

/// `1. Inward by 1.42 mm on average (give or take 0.05), ...`, then a line per thing it reaches.
pub fn area_text(number: usize, a: &WorkedArea, units: DisplayUnits) -> Vec<String> {
    let way = way_of(a);
    let with = |f: &Figure| {
        let size = Figure {
            value: f.value.abs(),
            ..*f
        };
        let s = show(&size, units);
        format!("{} {}", s.with_unit(), s.in_brackets())
    };
    let open = |seen: bool| if seen { "" } else { " at least" };
    let mut text = format!(
        "{number}. {way} by {} on average, by {} where it moved most;{} {} long,{} {} wide; about {} of the scan from before.",
        with(&a.mean),
        with(&a.most),
        open(a.ends_seen[0]),
        with(&a.length),
        open(a.ends_seen[1]),
        with(&a.width),
        place(&a.centre, units)
    );
    if !a.as_said {
        text += " It lies outside what was said to be worked.";
    }
    if a.touches.is_empty() {
        text += " It reaches nothing that is named in the job.";
    }
    let mut out = vec![text];
    out.extend(
        a.touches
            .iter()
            .map(|t| format!("Reaches {}", touched(t, units))),
    );
    out
}

fn touched(t: &Touched, units: DisplayUnits) -> String {
    let mut text = format!("{}, {}", t.name, t.what);
    if !t.place.is_empty() {
        text += &format!(": {}", t.place);
    }
    if let Some([from, to]) = t.along_mm {
        let one = |v: f64| show(&length(v, 2.0), units).value;
        text += &format!(
            ", {} to {}{} along it ({} of {} stations)",
            one(from),
            one(to),
            unit_text(Quantity::Length, units),
            t.stations[0],
            t.stations[1]
        );
    }
    if let Some([gap, flush]) = &t.moved {
        let amount = |f: &Figure| {
            let up = (f.value.abs() * 10.0).round() / 10.0;
            format!(
                "{}{}",
                typed(up, Quantity::Length, units),
                unit_text(Quantity::Length, units)
            )
        };
        if gap.value.abs() >= flush.value.abs() {
            let way = if gap.value > 0.0 {
                "into the opening, which is smaller there"
            } else {
                "out of the opening, which is larger there"
            };
            text += &format!("; the metal went {} {way}", amount(gap));
        } else {
            let way = if flush.value > 0.0 { "proud" } else { "shy" };
            text += &format!("; the panel stands {} more {way}", amount(flush));
        }
    }
    text + "."
}

/// One thing that is said of whether an opening's answer stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stands {
    /// What comes before the verdict; all of it where there is none. May be empty.
    pub lead: String,
    /// The verdict on what follows.
    pub verdict: Option<Verdict>,
    /// The verdict in words with its reason; empty where there is none.
    pub text: String,
}

impl Stands {
    fn plain(lead: String) -> Self {
        Self {
            lead,
            verdict: None,
            text: String::new(),
        }
    }

    /// As running text, the mark of the verdict before it.
    pub fn line(&self) -> String {
        let mark = self
            .verdict
            .map_or_else(String::new, |v| mark(v).to_string());
        let parts = [&self.lead, &mark, &self.text];
        let some = parts.into_iter().filter(|p| !p.is_empty());
        some.map(String::as_str).collect::<Vec<_>>().join(" ")
    }
}

/// What of the earlier answer stands, opening by opening: first those that were reached. Nothing where the scans were not laid
/// on each other.
pub fn standing<'a>(
    found: &WorkStudy,
    work: &'a WorkFound,
) -> Vec<(&'a OpeningAfter, Vec<Stands>)> {
    if work.laid.is_none() {
        return Vec::new();
    }
    let pairs = Pair::all(&found.study);
    let mut openings: Vec<&OpeningAfter> = work.openings.iter().collect();
    openings.sort_by_key(|o| !o.touched);
    openings
        .into_iter()
        .map(|o| (o, one_stands(o, &pairs)))
        .collect()
}

fn stands(found: &WorkStudy, work: &WorkFound) -> Vec<String> {
    let mut out = Vec::new();
    for (o, says) in standing(found, work) {
        let lines: Vec<String> = says.iter().map(Stands::line).collect();
        // What was not reached is told in one breath.
        if o.touched {
            out.extend(lines);
        } else {
            out.push(lines.join(" "));
        }
    }
    out
}

/// The part that was drawn before the work, in the opening after it.
fn drawn_before(pair: &Pair) -> TriedText {
    tried_text(
        pair,
        OptionKind::OneShape,
        "drawn before the work",
        "the opening after it",
    )
}

fn one_stands(o: &OpeningAfter, pairs: &[Pair]) -> Vec<Stands> {
    let name = capital(&o.name);
    let find = |id: &record::CompareId| pairs.iter().find(|p| p.measured.id == *id);
    let mut says = vec![Stands::plain(match (&o.after, o.touched) {
        (None, _) => format!(
            "{name}: the scan from after does not show it; what was said of it is as old as the scan from before."
        ),
        (_, false) => format!("{name}: not reached by what moved."),
        (_, true) => {
            format!("{name}: reached by what moved; its figures from before are out of date.")
        }
    })];
    if !o.lost.is_empty() {
        says.push(Stands::plain(format!(
            "Not found again: {}.",
            o.lost.join(", ")
        )));
    }
    for pair in o.same.iter().filter_map(find) {
        let t = drawn_before(pair);
        says.push(Stands {
            lead: String::new(),
            verdict: Some(t.verdict),
            text: t.full(),
        });
    }
    for [was, is] in &o.again {
        let (Some(was), Some(is)) = (find(was), find(is)) else {
            continue;
        };
        let (before, after) = (pair_text(was), pair_text(is));
        says.push(if before.verdict == after.verdict {
            Stands::plain(format!(
                "The verdict on the pair stands: {}.",
                verdict(after.verdict)
            ))
        } else {
            Stands {
                lead: format!(
                    "The verdict on the pair was {}, now:",
                    verdict(before.verdict)
                ),
                verdict: Some(after.verdict),
                text: after.full(),
            }
        });
    }
    says
}

/// The answer of one piece of body work: what moved, and the worst that came of it for a part drawn before.
pub fn work_answer(found: &WorkStudy, work: &WorkFound) -> PairText {
    let units = found.study.units;
    let pairs = Pair::all(&found.study);
    let rank = |v: Verdict| match v {
        Verdict::WillNotFit => 0,
        Verdict::NotProven => 1,
        Verdict::NotMeasured => 2,
        Verdict::Fits => 3,
    };
    // Of what was not reached nothing new is said here.
    let reached = work.openings.iter().filter(|o| o.touched);
    let same = reached.flat_map(|o| &o.same);
    let tried = same.filter_map(|id| pairs.iter().find(|p| p.measured.id == *id));
    let worst = tried
        .map(drawn_before)
        .min_by_key(|t: &TriedText| rank(t.verdict));
    let laid = work.laid.as_ref();
    let reason = match (laid.and_then(|l| l.areas.first()), &worst) {
        (Some(a), _) => area_short(a, units),
        (None, _) if laid.is_some() => "What was drawn and decided before stands.".to_owned(),
        _ => {
            let gravest = work.findings.iter().max_by_key(|f| f.severity);
            gravest.map_or_else(String::new, finding_text)
        }
    };
    let (verdict, more) = match worst {
        Some(t) => (t.verdict, format!(" {}", t.headline)),
        None if laid.is_some() => (Verdict::Fits, String::new()),
        None => (Verdict::NotMeasured, String::new()),
    };
    PairText {
        verdict,
        headline: moved(work, units) + &more,
        reason,
        cure: String::new(),
        angle: String::new(),
    }
}
