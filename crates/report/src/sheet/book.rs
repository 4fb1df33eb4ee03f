//! One comparison as an open book: left page, right page turned over, the ladder in the gutter, choices below.

use geom::Point;
use record::{AngleRow, OptionResult, Severity};

use super::marks::{side_mark, verdict_ink, verdict_mark};
use super::{Anchor, Dash, Hit, Ink, Item, Sheet, ladder, letters, width_of};
use crate::number::{chance, show, show_signed, unit_text};
use crate::sentence::{finding_text, pair_text};
use crate::terminal::CAUTION;
use crate::words::{capital, full_stop};
use crate::{Pair, wrap};

const WIDTH: f64 = 1280.0;
const HEIGHT: f64 = 800.0;
const EDGE: f64 = 8.0;
/// Left and right end of the book, and its three columns.
const PAGE: f64 = 430.0;
const GUTTER: f64 = 340.0;

/// The sheet of a comparison, 1280 x 800.
///
/// Degenerate: without edges the pages say so; with one side only the right page says what is missing.
pub fn pair_sheet(pair: &Pair) -> Sheet {
    let text = pair_text(pair);
    let mut sheet = Sheet {
        width: WIDTH,
        height: HEIGHT,
        says: text.full(),
        items: Vec::new(),
    };
    sheet.rect([0.0, 0.0], [WIDTH, HEIGHT], None, Some(Ink::Margin));
    sheet.rect(
        [EDGE, EDGE],
        [WIDTH - 2.0 * EDGE, HEIGHT - 2.0 * EDGE],
        Some((Ink::Rule, 2.0, Dash::Full)),
        Some(Ink::Sheet),
    );
    centring_marks(&mut sheet);
    let book_top = answer(&mut sheet, &text);
    let foot_top = HEIGHT - EDGE - 80.0;
    let choices_top = foot_top - 122.0;
    rule(&mut sheet, book_top);
    book(&mut sheet, pair, book_top, choices_top);
    rule(&mut sheet, choices_top);
    choices(&mut sheet, pair, choices_top);
    rule(&mut sheet, foot_top);
    foot(&mut sheet, pair, foot_top);
    sheet
}

fn rule(sheet: &mut Sheet, y: f64) {
    sheet.line(&[[EDGE, y], [WIDTH - EDGE, y]], Ink::Rule, 1.0);
}

fn centring_marks(sheet: &mut Sheet) {
    for (from, to) in [
        ([WIDTH / 2.0, 0.0], [WIDTH / 2.0, 2.0 * EDGE]),
        ([WIDTH / 2.0, HEIGHT], [WIDTH / 2.0, HEIGHT - 2.0 * EDGE]),
        ([0.0, HEIGHT / 2.0], [2.0 * EDGE, HEIGHT / 2.0]),
        ([WIDTH, HEIGHT / 2.0], [WIDTH - 2.0 * EDGE, HEIGHT / 2.0]),
    ] {
        sheet.line(&[from, to], Ink::Rule, 1.0);
    }
}

/// The sentence; gives the height at which the book begins.
fn answer(sheet: &mut Sheet, text: &crate::PairText) -> f64 {
    verdict_mark(sheet, text.verdict, [30.0, 34.0], 28.0);
    let mut y = 58.0;
    for line in wrap(&text.headline, letters(WIDTH - 110.0, 26.0), 0) {
        sheet.text([76.0, y], (26.0, 500), Anchor::Start, Ink::Ink, line);
        y += 33.0;
    }
    let rest = [&text.reason, &text.cure]
        .into_iter()
        .filter(|t| !t.is_empty());
    let rest = rest.map(String::as_str).collect::<Vec<_>>().join(" ");
    for line in wrap(&rest, letters(WIDTH - 110.0, 15.0), 0) {
        sheet.text([76.0, y - 4.0], (15.0, 400), Anchor::Start, Ink::Ink2, line);
        y += 21.0;
    }
    y
}

/// How part axes (mm) are laid on a page: x to the right, y up.
#[derive(Clone, Copy)]
struct View {
    centre_mm: [f64; 2],
    middle: [f64; 2],
    scale: f64,
}

impl View {
    fn at(&self, p: &Point) -> [f64; 2] {
        [
            self.middle[0] + (p.x - self.centre_mm[0]) * self.scale,
            self.middle[1] - (p.y - self.centre_mm[1]) * self.scale,
        ]
    }
}

/// Place of a rung in a's part axes: on a, or (`of_b`) on b laid on a.
fn rung_place(pair: &Pair, rung: &AngleRow, of_b: bool) -> Option<Point> {
    let id = if of_b {
        pair.measured.b.as_ref()?
    } else {
        &pair.measured.a
    };
    let opening = pair.opening(id)?;
    let junction = opening.junctions.iter().find(|j| j.id == rung.junction)?;
    let station = junction.stations.iter().min_by(|x, y| {
        (x.share - rung.share)
            .abs()
            .total_cmp(&(y.share - rung.share).abs())
    })?;
    if of_b {
        Some(pair.measured.b_on_a.as_ref()?.point(&station.at))
    } else {
        Some(opening.part_from_scan * station.at)
    }
}

fn book(sheet: &mut Sheet, pair: &Pair, top: f64, bottom: f64) {
    let left_middle = EDGE + 16.0 + PAGE / 2.0;
    let right_middle = WIDTH - EDGE - 16.0 - PAGE / 2.0;
    captions(sheet, pair, top);
    let measured = pair.measured;
    let mut seen: Vec<Point> = measured
        .a_curve
        .iter()
        .chain(&measured.b_curve)
        .copied()
        .collect();
    if seen.is_empty() {
        let edge = pair.opening(&measured.a).and_then(|o| o.edge.as_ref());
        seen.extend(edge.iter().flat_map(|e| &e.stations).map(|s| s.at));
    }
    for of_b in [false, true] {
        seen.extend(
            measured
                .angles
                .iter()
                .filter_map(|r| rung_place(pair, r, of_b)),
        );
    }
    let area = [PAGE - 60.0, bottom - top - 96.0];
    let view = |middle: f64| fitted(&seen, [middle, f64::midpoint(top, bottom) + 2.0], area);
    let (left, right) = (view(left_middle), view(right_middle));
    sheet.path(
        vec![[WIDTH / 2.0, top + 8.0], [WIDTH / 2.0, top + 34.0]],
        false,
        Some((Ink::Rule, 1.0, Dash::Chain)),
        None,
    );
    draw_left(sheet, pair, left);
    draw_right(sheet, pair, right, [right_middle, bottom]);
    let gutter = ladder::Gutter {
        left: WIDTH / 2.0 - GUTTER / 2.0 + 16.0,
        right: WIDTH / 2.0 + GUTTER / 2.0 - 16.0,
        top,
        bottom,
    };
    ladder::draw(
        sheet,
        pair,
        &gutter,
        &|r| Some(left?.at(&rung_place(pair, r, false)?)),
        &|r| Some(right?.at(&rung_place(pair, r, true)?)),
    );
}

fn captions(sheet: &mut Sheet, pair: &Pair, top: f64) {
    let base = top + 25.0;
    side_mark(sheet, true, [30.0, base - 5.0], 4.5);
    let a = pair.a_word().to_uppercase();
    sheet.text(
        [42.0, base],
        (15.0, 600),
        Anchor::Start,
        Ink::Left,
        a.clone(),
    );
    sheet.text(
        [52.0 + width_of(&a, 16.0), base],
        (15.0, 400),
        Anchor::Start,
        Ink::Ink2,
        "as it is, from outside",
    );
    let b = pair.b_word().to_uppercase();
    let end = WIDTH - EDGE - 16.0;
    sheet.text(
        [end, base],
        (15.0, 400),
        Anchor::End,
        Ink::Ink2,
        "turned over, laid on the other",
    );
    let from = end - width_of("turned over, laid on the other", 15.0) - 14.0;
    sheet.text(
        [from, base],
        (15.0, 600),
        Anchor::End,
        Ink::Right,
        b.clone(),
    );
    side_mark(
        sheet,
        false,
        [from - width_of(&b, 16.0) - 14.0, base - 5.0],
        4.5,
    );
}

/// Lays the box of `points` into `area` around `middle`; `None` where there is nothing to show.
fn fitted(points: &[Point], middle: [f64; 2], area: [f64; 2]) -> Option<View> {
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for p in points {
        for (k, v) in [p.x, p.y].into_iter().enumerate() {
            low[k] = low[k].min(v);
            high[k] = high[k].max(v);
        }
    }
    let size = [high[0] - low[0], high[1] - low[1]];
    let usable = size.iter().all(|s| s.is_finite()) && size[0].max(size[1]) > 0.0;
    let scale = (area[0] / size[0].max(1e-9)).min(area[1] / size[1].max(1e-9));
    usable.then(|| View {
        centre_mm: [
            f64::midpoint(low[0], high[0]),
            f64::midpoint(low[1], high[1]),
        ],
        middle,
        scale,
    })
}

fn draw_left(sheet: &mut Sheet, pair: &Pair, view: Option<View>) {
    let Some(view) = view else { return };
    let mut points: Vec<[f64; 2]> = pair.measured.a_curve.iter().map(|p| view.at(p)).collect();
    if points.is_empty() {
        let edge = pair.opening(&pair.measured.a).and_then(|o| o.edge.as_ref());
        points = edge
            .iter()
            .flat_map(|e| &e.stations)
            .map(|s| view.at(&s.at))
            .collect();
    }
    if points.len() > 1 {
        let fill = pair.measured.closed.then_some(Ink::Margin);
        sheet.path(
            points,
            pair.measured.closed,
            Some((Ink::Left, 2.25, Dash::Full)),
            fill,
        );
    }
    worst(sheet, pair, view, false, 1.0);
}

/// The right edge, its distance from the left one drawn larger, with the factor and a bar of 1 mm.
fn draw_right(sheet: &mut Sheet, pair: &Pair, view: Option<View>, [middle, bottom]: [f64; 2]) {
    let stations = &pair.measured.stations;
    if stations.is_empty() {
        let says = if pair.one_side_only() {
            "not measured"
        } else {
            "no edge to lay on the other"
        };
        if pair.one_side_only() || pair.measured.b_curve.is_empty() {
            sheet.text(
                [middle, bottom - 180.0],
                (15.0, 400),
                Anchor::Middle,
                Ink::Ink3,
                says,
            );
        }
        return;
    }
    let Some(view) = view else { return };
    let farthest = stations
        .iter()
        .map(|s| (s.b - s.a).xy().norm())
        .fold(0.0, f64::max);
    let size = stations
        .iter()
        .map(|s| s.a.coords.xy().norm())
        .fold(0.0, f64::max);
    let factor = [50.0, 20.0, 10.0, 5.0, 2.0]
        .into_iter()
        .find(|f| f * farthest < 0.16 * size)
        .unwrap_or(1.0);
    let closed = pair.measured.closed;
    let left: Vec<[f64; 2]> = stations.iter().map(|s| view.at(&s.a)).collect();
    sheet.path(
        left,
        closed,
        Some((Ink::Left, 1.0, Dash::Full)),
        closed.then_some(Ink::Margin),
    );
    let enlarged = |k: usize| {
        let s = &stations[k];
        view.at(&(s.a + (s.b - s.a) * factor))
    };
    let right: Vec<[f64; 2]> = (0..stations.len()).map(enlarged).collect();
    sheet.path(right, closed, Some((Ink::Right, 2.25, Dash::Right)), None);
    // The widest and the tightest proven place carry their number.
    let proven =
        |k: &usize| stations[*k].seen && stations[*k].gap.value.abs() > stations[*k].gap.u95;
    let by_gap = |x: &usize, y: &usize| stations[*x].gap.value.total_cmp(&stations[*y].gap.value);
    let most = (0..stations.len())
        .filter(proven)
        .max_by(by_gap)
        .filter(|k| stations[*k].gap.value > 0.0);
    let least = (0..stations.len())
        .filter(proven)
        .min_by(by_gap)
        .filter(|k| stations[*k].gap.value < 0.0);
    for k in [most, least].into_iter().flatten() {
        let shown = show_signed(&stations[k].gap, pair.study.units);
        let at = enlarged(k);
        let outward = stations[k].gap_dir.xy() * -24.0;
        let place = [at[0] + outward.x, at[1] - outward.y];
        let wide = width_of(&shown.value, 13.0) + 8.0;
        sheet.rect(
            [place[0] - wide / 2.0, place[1] - 9.0],
            [wide, 17.0],
            None,
            Some(Ink::Sheet),
        );
        sheet.text(
            [place[0], place[1] + 4.5],
            (13.0, 600),
            Anchor::Middle,
            Ink::Ink,
            shown.value,
        );
        sheet.named(Hit::Station(pair.measured.id.clone(), k));
    }
    worst(sheet, pair, view, true, factor);
    let base = bottom - 14.0;
    let start = middle - PAGE / 2.0 + 20.0;
    let says = if factor > 1.0 {
        format!("×{factor:.0}")
    } else {
        "×1".to_owned()
    };
    sheet.text([start, base], (28.0, 500), Anchor::Start, Ink::Ink, says);
    let bar = factor * view.scale;
    sheet.line(
        &[[start + 64.0, base - 5.0], [start + 64.0 + bar, base - 5.0]],
        Ink::Ink,
        2.0,
    );
    for x in [start + 64.0, start + 64.0 + bar] {
        sheet.line(&[[x, base - 10.0], [x, base]], Ink::Ink, 1.0);
    }
    let unit = "1 mm of difference; + left gap wider";
    sheet.text(
        [start + 74.0 + bar, base],
        (13.0, 400),
        Anchor::Start,
        Ink::Ink2,
        unit,
    );
}

/// The black disc of the place that decides.
fn worst(sheet: &mut Sheet, pair: &Pair, view: View, of_b: bool, factor: f64) {
    let Some(option) = crate::sentence::headline_option(pair) else {
        return;
    };
    let Some(place) = &option.worst else { return };
    let Some(k) = place.station else { return };
    let Some(station) = pair.measured.stations.get(k) else {
        return;
    };
    let p = if of_b {
        station.a + (station.b - station.a) * factor
    } else {
        station.a
    };
    let at = view.at(&p);
    let inward = station.gap_dir.xy() * 20.0;
    sheet.items.push(Item::Disc {
        at,
        radius: 3.2,
        fill: Ink::Ink,
        hit: None,
    });
    let label = [at[0] + inward.x, at[1] - inward.y];
    sheet.line(&[at, label], Ink::Ink, 1.5);
    sheet.items.push(Item::Disc {
        at: label,
        radius: 11.0,
        fill: Ink::Ink,
        hit: None,
    });
    sheet.named(Hit::Station(pair.measured.id.clone(), k));
    sheet.text(
        [label[0], label[1] + 4.5],
        (13.0, 600),
        Anchor::Middle,
        Ink::OnInk,
        format!("{k}"),
    );
}

fn choices(sheet: &mut Sheet, pair: &Pair, top: f64) {
    let shown = crate::terminal::shown_options(pair, 5);
    if shown.is_empty() {
        sheet.text(
            [24.0, top + 40.0],
            (15.0, 400),
            Anchor::Start,
            Ink::Ink3,
            "No choices: nothing could be decided.",
        );
        return;
    }
    let width = (WIDTH - 2.0 * EDGE) / shown.len().max(3) as f64;
    for (i, option) in shown.iter().enumerate() {
        let x = EDGE + width * i as f64;
        if i == 0 && option.verdict == record::Verdict::Fits {
            sheet.rect(
                [x + 1.0, top + 1.0],
                [width - 1.5, 120.0],
                None,
                Some(Ink::FitsTint),
            );
        }
        if i > 0 {
            sheet.line(&[[x, top], [x, top + 122.0]], Ink::Hair, 1.0);
        }
        choice(sheet, pair, option, [x + 16.0, top], width - 32.0);
    }
}

fn choice(sheet: &mut Sheet, pair: &Pair, option: &OptionResult, [x, top]: [f64; 2], width: f64) {
    let units = pair.study.units;
    verdict_mark(sheet, option.verdict, [x, top + 17.0], 15.0);
    let name = capital(&pair.choice_word(option.kind));
    sheet.text(
        [x + 24.0, top + 30.0],
        (15.0, 600),
        Anchor::Start,
        Ink::Ink,
        name,
    );
    sheet.named(Hit::Choice(pair.measured.id.clone(), option.kind));
    let needs = crate::sentence::needs_text(&option.needs, units)
        .unwrap_or_else(|| "asks for nothing else".to_owned());
    let needs = wrap(&needs, letters(width - 24.0, 13.0), 0).swap_remove(0);
    sheet.text(
        [x + 24.0, top + 49.0],
        (13.0, 400),
        Anchor::Start,
        Ink::Ink2,
        needs,
    );
    let share = option.uses.map_or(200.0, |u| u.value.clamp(0.0, 200.0));
    let bar = top + 62.0;
    sheet.rect(
        [x, bar],
        [width, 7.0],
        Some((Ink::Hair, 1.0, Dash::Full)),
        Some(Ink::Field),
    );
    sheet.rect(
        [x, bar],
        [width * share / 200.0, 7.0],
        None,
        Some(verdict_ink(option.verdict)),
    );
    sheet.line(
        &[[x + width / 2.0, bar - 5.0], [x + width / 2.0, bar + 12.0]],
        Ink::Ink,
        1.5,
    );
    let uses = option.uses.map_or_else(
        || "cannot be started".to_owned(),
        |u| format!("uses {}", show(&u, units).with_unit()),
    );
    sheet.text([x, top + 90.0], (15.0, 500), Anchor::Start, Ink::Ink, uses);
    let amount = match (&option.worst, option.worst_gap_mm) {
        (Some(worst), _) => show(&worst.amount, units).plus_minus(),
        (None, Some(mm)) => {
            let shown = crate::number::to_shown_unit(mm, record::Quantity::Length, units);
            let step = if units.length == record::LengthDisplay::Inch {
                0.001
            } else {
                0.1
            };
            format!(
                "{}{}",
                crate::number::to_step(shown, step, units),
                unit_text(record::Quantity::Length, units)
            )
        }
        (None, None) => String::new(),
    };
    sheet.text(
        [x + width, top + 90.0],
        (15.0, 500),
        Anchor::End,
        Ink::Ink,
        amount,
    );
    let odds = option.chance.map_or_else(String::new, |c| {
        format!("chance it fits {}", chance(c.fits))
    });
    sheet.text(
        [x, top + 110.0],
        (13.0, 400),
        Anchor::Start,
        Ink::Ink2,
        odds,
    );
}

fn foot(sheet: &mut Sheet, pair: &Pair, top: f64) {
    let block = WIDTH - EDGE - 440.0;
    let room = letters(block - 160.0, 13.0);
    let doubts: Vec<_> = pair
        .findings()
        .into_iter()
        .filter(|f| f.severity > Severity::Note)
        .collect();
    let next = pair
        .decided
        .and_then(|d| d.next.first())
        .map_or_else(|| "nothing is asked for".to_owned(), |n| n.what.clone());
    let doubt = doubts.first().map_or_else(
        || "none".to_owned(),
        |f| {
            let more = if doubts.len() > 1 {
                format!(" ({} in all)", doubts.len())
            } else {
                String::new()
            };
            format!("{}{more}", finding_text(f))
        },
    );
    for (i, (head, text)) in [("Measure this next", full_stop(&next)), ("Doubts", doubt)]
        .into_iter()
        .enumerate()
    {
        let y = top + 24.0 + 21.0 * i as f64;
        sheet.text([24.0, y], (13.0, 600), Anchor::Start, Ink::Ink2, head);
        let mut lines = wrap(&text, room, 0);
        let line = if lines.len() > 1 {
            format!("{}…", lines.swap_remove(0))
        } else {
            lines.swap_remove(0)
        };
        sheet.text([152.0, y], (13.0, 400), Anchor::Start, Ink::Ink, line);
    }
    sheet.text(
        [24.0, top + 66.0],
        (13.0, 400),
        Anchor::Start,
        Ink::Ink3,
        CAUTION,
    );
    let units = if pair.study.units.length == record::LengthDisplay::Inch {
        "inch, degrees"
    } else {
        "mm, degrees"
    };
    let state = format!(
        "draws {}, seed {}",
        pair.study.provenance.draws, pair.study.provenance.seed
    );
    let hash: String = pair.study.provenance.job_hash.chars().take(8).collect();
    let cells = [
        ("Units", units.to_owned()),
        ("Left, right", "seated facing forward".to_owned()),
        (
            "Job",
            if hash.is_empty() {
                "not kept".to_owned()
            } else {
                hash
            },
        ),
        ("Pair", pair.measured.id.0.clone()),
        ("Centreline", "not needed".to_owned()),
        ("Chances", state),
    ];
    sheet.rect(
        [block, top],
        [440.0, 80.0],
        Some((Ink::Rule, 2.0, Dash::Full)),
        None,
    );
    let columns = [(0.0, 130.0), (130.0, 168.0), (298.0, 142.0)];
    for (i, (head, text)) in cells.into_iter().enumerate() {
        let (from, wide) = columns[i % 3];
        let [x, y] = [block + from, top + 40.0 * (i / 3) as f64];
        sheet.rect(
            [x, y],
            [wide, 40.0],
            Some((Ink::Rule, 1.0, Dash::Full)),
            None,
        );
        sheet.text(
            [x + 8.0, y + 15.0],
            (13.0, 400),
            Anchor::Start,
            Ink::Ink2,
            head,
        );
        let line = wrap(&text, letters(wide - 12.0, 15.0), 0).swap_remove(0);
        sheet.text(
            [x + 8.0, y + 33.0],
            (15.0, 500),
            Anchor::Start,
            Ink::Ink,
            line,
        );
    }
}
