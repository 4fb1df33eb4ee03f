//! The parts drawn for one car tried on another: a verdict for each, and one edge laid on the other.

use egui::{Sense, Ui, vec2};
use record::{CarFit, CarsStudy, Verdict};
use report::cars::{NO_CARS, by_part, names, tally};
use report::sheet::{Hit, cars_list, edges_laid, strip_field};
use report::theme::Ink;
use report::tried::TriedText;
use report::{Pair, PairText};

use super::{
    FACTORS, Places, answer, bring_in, cars_of, doubts, go, head, size_of, to_come, within,
};
use crate::controls::{Weight, one_of, one_of_rows, paragraph, rule};
use crate::letter::{BODY, CAPTION, CAPTION_HEAD, STRONG};
use crate::paint::{Manner, show_sheet};
use crate::shown::Shown;
use crate::state::Act;

/// What stands in the answer as long as there is none.
const NONE: &str = "Two cars of one pattern: which part drawn for the first fits the second.";

/// The part that is looked at: the chosen one, else the worst.
pub(super) fn chosen<'a>(shown: Shown, found: &'a CarsStudy) -> Option<&'a CarFit> {
    let held = shown.view.two.fit.as_ref();
    let by_hand = found.fits.iter().find(|f| held == Some(&f.compare));
    by_hand.or_else(|| worst(&by_part(found)))
}

fn worst<'a>(texts: &[(&'a CarFit, Pair, TriedText)]) -> Option<&'a CarFit> {
    let rank = |v: Verdict| match v {
        Verdict::WillNotFit => 0,
        Verdict::NotProven => 1,
        Verdict::NotMeasured => 2,
        Verdict::Fits => 3,
    };
    texts.iter().min_by_key(|t| rank(t.2.verdict)).map(|t| t.0)
}

pub(super) fn show(
    ui: &mut Ui,
    shown: Shown,
    found: Option<(&std::sync::Arc<CarsStudy>, bool)>,
    at: &Places,
    asks: &mut Vec<Act>,
) {
    let manner = Manner {
        faded: found.is_some_and(|(_, fresh)| !fresh),
        ..Manner::default()
    };
    let study = found.map(|(f, _)| f.as_ref());
    let texts = study.map(by_part).unwrap_or_default();
    let fit = study.and_then(|s| chosen(shown, s));
    let one = fit.and_then(|f| texts.iter().find(|t| t.0.compare == f.compare));
    let text = one.map(|(_, _, t)| PairText {
        verdict: t.verdict,
        headline: t.headline.clone(),
        reason: t.reason.clone(),
        cure: t.cure.clone(),
        angle: String::new(),
    });
    let says = if study.is_some() { NO_CARS } else { NONE };
    answer(ui, at.answer, text.as_ref(), says, manner);
    if let (Some(study), Some((fit, pair, _))) = (study, one) {
        let (factor, _) = FACTORS[shown.view.two.factor % FACTORS.len()];
        let sheet = edges_laid(pair, &names(study, fit), factor, size_of(at.upper));
        show_sheet(ui, "edges", &sheet, at.upper.min, manner, &|_| None);
        let strip = strip_field(pair, size_of(at.lower), None);
        show_sheet(ui, "car strip", &strip.sheet, at.lower.min, manner, &|_| {
            None
        });
    } else {
        let says =
            "The opening of the second car stands here, laid on the one the part was drawn to.";
        to_come(ui, at.upper, says);
        let says = "The difference along the edge stands here, with what you allow.";
        to_come(ui, at.lower, says);
    }
    within(ui, at.column, "car to car", |ui| {
        head(ui, shown, asks);
        which(ui, shown, asks);
        if let Some(study) = study {
            paragraph(ui, &tally(&texts), STRONG, Ink::Ink);
            list(ui, shown, study, &texts, manner, asks);
            if !study.without.is_empty() {
                let without = study.without.join(", ");
                let says = format!("{} has no opening for: {without}.", study.cars[1]);
                paragraph(ui, &says, BODY, Ink::Ink);
            }
            let whole = study.study.measured.findings.iter();
            let own = one.map(|(_, pair, _)| pair.findings()).unwrap_or_default();
            let grave = |f: &&record::Finding| f.severity > record::Severity::Note;
            doubts(ui, whole.chain(own).filter(grave));
            rule(ui, Ink::Hair);
        }
        paragraph(
            ui,
            "Bring in the job of the other car: its openings are tried with the parts of this one. Both stay in this job; the plan has a switch from one to the other.",
            BODY,
            Ink::Ink,
        );
        let how = if cars_of(shown).len() < 2 {
            Weight::Filled
        } else {
            Weight::Plain
        };
        bring_in(ui, shown, "Bring in the other car", how, asks);
    });
}

/// The car the parts are drawn for, the one they are tried on, and how large the difference is drawn.
fn which(ui: &mut Ui, shown: Shown, asks: &mut Vec<Act>) {
    let all = cars_of(shown);
    let Some(two) = shown.view.two.two_cars(shown.document().job()) else {
        return;
    };
    let heads = ["Parts drawn for", "tried on"];
    for (k, head) in heads.into_iter().enumerate() {
        paragraph(ui, head, CAPTION_HEAD, Ink::Ink2);
        let before = ["Drawn for ", "On "][k];
        let words: Vec<String> = all.iter().map(|c| format!("{before}{c}")).collect();
        let now = all.iter().position(|c| *c == two[k]);
        let names: Vec<&str> = words.iter().map(String::as_str).collect();
        if let Some(i) = one_of_rows(ui, &names, now) {
            let mut to = two.clone();
            to[k].clone_from(&all[i]);
            // One car on itself is nothing: the other takes its place.
            if to[0] == to[1] {
                to[1 - k].clone_from(&two[k]);
            }
            asks.push(go(shown, |l| {
                l.cars = Some(to);
                l.fit = None;
            }));
        }
    }
    let factors = FACTORS.map(|f| f.1);
    let now = shown.view.two.factor % FACTORS.len();
    if let Some(k) = one_of(ui, &factors, Some(now)) {
        asks.push(go(shown, |l| l.factor = k));
    }
    let says = "The difference is drawn as many times as large (X).";
    paragraph(ui, says, CAPTION, Ink::Ink2);
}

fn list(
    ui: &mut Ui,
    shown: Shown,
    study: &CarsStudy,
    texts: &[(&CarFit, Pair, TriedText)],
    manner: Manner,
    asks: &mut Vec<Act>,
) {
    let wide = f64::from(ui.available_width());
    let now = chosen(shown, study).map(|f| &f.compare);
    let sheet = cars_list(study, now, wide);
    let tall = vec2(sheet.width as f32, sheet.height as f32);
    let (rect, _) = ui.allocate_exact_size(tall, Sense::hover());
    let says = |hit: &Hit| match hit {
        Hit::Pair(id) => texts
            .iter()
            .find(|t| t.0.compare == *id)
            .map(|t| t.2.full()),
        _ => None,
    };
    let answers = show_sheet(ui, "cars", &sheet, rect.min, manner, &says);
    if let Some(Hit::Pair(id)) = answers.clicked() {
        let id = id.clone();
        asks.push(go(shown, |l| l.fit = Some(id)));
    }
    // What the arrows went to is brought into sight.
    let last = ui.scope_id().with("part in sight");
    let held = now.map(|id| id.0.clone());
    if ui.data(|d| d.get_temp::<Option<String>>(last)) != Some(held.clone()) {
        ui.data_mut(|d| d.insert_temp(last, held));
        let row = answers.hits.iter();
        let row = row.map(|(h, r)| (h, r)).find(|(h, _)| match h {
            Hit::Pair(id) => now == Some(id),
            _ => false,
        });
        if let Some((_, response)) = row {
            response.scroll_to_me(None);
        }
    }
}
