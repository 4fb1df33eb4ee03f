//! The ladder of angles in the gutter, each rung with leaders to its place on both pages.

use record::{AngleRow, Matters, Verdict};

use super::marks::verdict_mark;
use super::{Anchor, Hit, Sheet};
use crate::Pair;
use crate::number::{show_at, show_signed_at, step_of};
use crate::theme::Ink;
use crate::words::capital;

/// Where the ladder may stand.
pub(super) struct Gutter {
    /// Left end.
    pub left: f64,
    /// Right end.
    pub right: f64,
    /// Top.
    pub top: f64,
    /// Bottom.
    pub bottom: f64,
}

/// A page beside the ladder.
pub(super) struct Beside<'p> {
    /// The place of a rung on it, where it has one.
    pub place: &'p dyn Fn(&AngleRow) -> Option<[f64; 2]>,
    /// The opening drawn on it, which no leader may cross; empty where there is none.
    pub opening: Vec<[f64; 2]>,
}

impl Beside<'_> {
    /// The leader from the ladder to a place: straight where it keeps off the opening, else round it.
    fn leader(&self, from: [f64; 2], to: [f64; 2]) -> Leader {
        if !crosses(&self.opening, from, to) {
            return Leader::Straight;
        }
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for p in &self.opening {
            for k in 0..2 {
                low[k] = low[k].min(p[k] - CLEAR);
                high[k] = high[k].max(p[k] + CLEAR);
            }
        }
        // Above or below it, whichever is the shorter way.
        let [near, far] = if from[0] > to[0] {
            [high[0], low[0]]
        } else {
            [low[0], high[0]]
        };
        let way = |y: f64| vec![from, [near, y], [far, y], to];
        let length = |w: &[[f64; 2]]| -> f64 {
            w.windows(2)
                .map(|s| (s[1][0] - s[0][0]).hypot(s[1][1] - s[0][1]))
                .sum()
        };
        let [above, below] = [way(low[1]), way(high[1])];
        Leader::Round(if length(&above) < length(&below) {
            above
        } else {
            below
        })
    }
}

/// How a leader runs.
enum Leader {
    Straight,
    Round(Vec<[f64; 2]>),
}

/// Width of the frame and the leaders of the rung that counts, pixels.
const WORST_LINE: f64 = 1.5;
/// How far a leader keeps off an opening that it goes round, pixels.
const CLEAR: f64 = 14.0;

/// Whether a straight line crosses a closed line.
fn crosses(ring: &[[f64; 2]], a: [f64; 2], b: [f64; 2]) -> bool {
    let turn = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
        (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
    };
    ring.iter().zip(ring.iter().cycle().skip(1)).any(|(p, q)| {
        turn(a, b, *p) * turn(a, b, *q) < 0.0 && turn(*p, *q, a) * turn(*p, *q, b) < 0.0
    })
}

/// Draws the telling ladder between the pages of a and b. A leader that would cross an opening is left out, and its place
/// carries the name of the rung instead; that of the rung that counts goes round.
pub(super) fn draw(sheet: &mut Sheet, pair: &Pair, gutter: &Gutter, pages: [&Beside; 2]) {
    let Some(telling) = crate::sentence::telling_rung(pair).or(pair.measured.angles.first()) else {
        return;
    };
    let rungs: Vec<&AngleRow> = pair
        .measured
        .angles
        .iter()
        .filter(|r| r.junction == telling.junction)
        .take(7)
        .collect();
    let units = pair.study.units;
    // Else a place of the edge decides, and carries the mark.
    let decides = crate::sentence::headline_option(pair)
        .and_then(|o| o.worst.as_ref())
        .is_some_and(|w| w.station.is_none());
    // One step for the whole ladder, so that its figures stand under each other: the coarsest any of them needs.
    let sides = rungs.iter().flat_map(|r| [r.a, r.b]).flatten();
    let step = sides.map(|f| step_of(&f, units)).fold(0.0, f64::max);
    let differences = rungs.iter().filter_map(|r| r.difference);
    let difference_step = differences.map(|f| step_of(&f, units)).fold(0.0, f64::max);
    let middle = f64::midpoint(gutter.left, gutter.right);
    let through = match telling.through {
        record::Through::Material => "through the metal",
        record::Through::Air => "through the air",
    };
    let title = format!("Angle at {}, {through}", telling.junction);
    let row_height = ((gutter.bottom - gutter.top - 90.0) / rungs.len() as f64).min(40.0);
    let top = (gutter.top + gutter.bottom - row_height * rungs.len() as f64) / 2.0;
    sheet.text(
        [middle, top - 34.0],
        (13.0, 600),
        Anchor::Middle,
        Ink::Ink2,
        capital(&title),
    );
    let (a, b) = (pair.a_word(), pair.b_word());
    let head = |sheet: &mut Sheet, x: f64, anchor: Anchor, text: &str| {
        sheet.text([x, top - 10.0], (13.0, 400), anchor, Ink::Ink2, text);
    };
    head(sheet, gutter.left, Anchor::Start, &a);
    head(sheet, gutter.left + 121.0, Anchor::Start, "difference");
    head(sheet, gutter.right, Anchor::End, &b);
    sheet.line(&[[gutter.left, top], [gutter.right, top]], Ink::Rule, 1.0);
    for (i, rung) in rungs.iter().enumerate() {
        let y = top + row_height * (i as f64 + 0.5);
        let base = y + 5.5;
        let index = pair
            .measured
            .angles
            .iter()
            .position(|r| std::ptr::eq(r, *rung))
            .unwrap_or(0);
        let name = Hit::Rung(pair.measured.id.clone(), index);
        if let Some(figure) = rung.a {
            sheet.text(
                [gutter.left, base],
                (19.0, 500),
                Anchor::Start,
                Ink::Left,
                show_at(&figure, step, units).with_unit(),
            );
            sheet.named(name.clone());
        }
        if let Some(figure) = rung.b {
            sheet.text(
                [gutter.right, base],
                (19.0, 500),
                Anchor::End,
                Ink::Right,
                show_at(&figure, step, units).with_unit(),
            );
            sheet.named(name.clone());
        }
        sheet.text(
            [gutter.left + 114.0, base],
            (13.0, 400),
            Anchor::End,
            Ink::Ink2,
            rung.place.clone(),
        );
        if let Some(figure) = rung.difference {
            verdict_mark(
                sheet,
                rung_verdict(pair, rung),
                [gutter.left + 121.0, y - 6.0],
                12.0,
            );
            let shown = show_signed_at(&figure, difference_step, units);
            sheet.text(
                [gutter.left + 181.0, base],
                (15.0, 600),
                Anchor::End,
                Ink::Ink,
                shown.with_unit(),
            );
            let doubt = if shown.give_or_take.is_empty() {
                String::new()
            } else {
                format!("±{}", shown.give_or_take)
            };
            sheet.text(
                [gutter.left + 186.0, base],
                (15.0, 400),
                Anchor::Start,
                Ink::Ink3,
                doubt,
            );
        }
        let heavy = std::ptr::eq(*rung, telling);
        let (ink, width) = if heavy {
            (Ink::Ink, WORST_LINE)
        } else {
            (Ink::Ink2, 0.8)
        };
        if heavy && decides {
            let [l, r] = [gutter.left - 8.0, gutter.right + 8.0];
            let [t, b] = [y - row_height / 2.0, y + row_height / 2.0];
            let frame = [[l, t], [r, t], [r, b], [l, b], [l, t]];
            sheet.line(&frame, ink, width);
        }
        for (page, from, towards) in [
            (pages[0], gutter.left - 8.0, Anchor::Start),
            (pages[1], gutter.right + 8.0, Anchor::End),
        ] {
            let Some(place) = (page.place)(rung) else {
                continue;
            };
            match page.leader([from, y], place) {
                Leader::Straight => sheet.line(&[[from, y], place], ink, width),
                Leader::Round(way) if heavy => sheet.line(&way, ink, width),
                Leader::Round(_) => {
                    let aside = if towards == Anchor::Start { 8.0 } else { -8.0 };
                    let at = [place[0] + aside, place[1] + 4.5];
                    let name = rung.place.clone();
                    sheet.text(at, (13.0, 400), towards, Ink::Ink2, name);
                }
            }
            sheet.disc(place, if heavy { 3.2 } else { 2.4 }, ink);
            if heavy && decides {
                let below = place[1] > f64::midpoint(gutter.top, gutter.bottom);
                let at = [place[0] + 2.0, place[1] + if below { 18.0 } else { -9.0 }];
                let says = format!("worst: {}, {}", rung.junction, rung.place);
                sheet.text(at, (13.0, 600), Anchor::Start, Ink::Ink, says);
            }
        }
        if i + 1 < rungs.len() {
            sheet.line(
                &[
                    [gutter.left, y + row_height / 2.0],
                    [gutter.right, y + row_height / 2.0],
                ],
                Ink::Hair,
                1.0,
            );
        }
    }
    let bottom = top + row_height * rungs.len() as f64;
    sheet.line(
        &[[gutter.left, bottom], [gutter.right, bottom]],
        Ink::Rule,
        1.0,
    );
    let allowed = pair
        .part
        .map(|p| crate::number::typed(p.allowed.angle_deg, record::Quantity::Angle, units));
    let close = allowed.map_or_else(String::new, |a| {
        format!("Set your bevel to these. Allowed: {a}°.")
    });
    sheet.text(
        [middle, bottom + 22.0],
        (13.0, 400),
        Anchor::Middle,
        Ink::Ink2,
        close,
    );
    sheet.text(
        [middle, bottom + 40.0],
        (13.0, 400),
        Anchor::Middle,
        Ink::Ink3,
        if decides {
            "± here: of both sides; in the verdict: of one."
        } else {
            "The ± is of both sides together."
        },
    );
}

/// Whether the angle of a rung stays within what is allowed, as decided; not proven where nothing was decided.
fn rung_verdict(pair: &Pair, rung: &AngleRow) -> Verdict {
    let decided = pair.decided.and_then(|d| {
        d.boxes.iter().find(|b| {
            rung.difference.is_some_and(|f| f == b.difference)
                && b.difference.quantity == record::Quantity::Angle
        })
    });
    match decided.map(|b| b.matters) {
        Some(Matters::Harmless) => Verdict::Fits,
        Some(Matters::Matters) => Verdict::WillNotFit,
        Some(Matters::Open) => Verdict::NotProven,
        None => match (rung.difference, pair.part) {
            // Inner rungs follow from the ends and have no box of their own: the guard of the single figure.
            (Some(f), Some(p)) if f.value.abs() + f.u95 <= p.allowed.angle_deg => Verdict::Fits,
            (Some(f), Some(p)) if f.value.abs() - f.u95 > p.allowed.angle_deg => {
                Verdict::WillNotFit
            }
            _ => Verdict::NotProven,
        },
    }
}
