//! The centreline drawn: the places from above with what they are out, the doubt of the line along the car, and the
//! figures that hang on it.

use record::{DisplayUnits, Figure, Laid, PlaceRow, RivalLine};

use super::marks::side_mark;
use super::{Anchor, Dash, Sheet, cut, wrapped};
use crate::number::{show, show_signed, to_shown_unit, to_step};
use crate::positions::{central, in_all, rival, verdict};
use crate::theme::{Ink, line, size, space, text_width, weight};
use crate::words::{capital, position};

const CAPTION: (f64, u16) = (size::CAPTION, weight::REGULAR);
const HEAD: (f64, u16) = (size::CAPTION, weight::SEMI_BOLD);
const BODY: (f64, u16) = (size::BODY, weight::REGULAR);
const STRONG: (f64, u16) = (size::BODY, weight::SEMI_BOLD);

/// Room above the foremost and below the rearmost place, pixels: both pictures stand side by side on one scale along.
const ABOVE: f64 = 76.0;
const BELOW: f64 = 84.0;
/// The longest arrow of a place that counts, and of one set aside, pixels.
const ARROW: f64 = 26.0;
const LONGEST: f64 = 60.0;
/// Factors that arrows are drawn with.
const FACTORS: [f64; 10] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0];

/// Where the foremost and the rearmost place lie along the car, mm; apart in any case.
fn ends(laid: &Laid) -> [f64; 2] {
    let xs = laid.places.iter().map(|p| p.middle.x);
    let (low, high) = xs.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| {
        (a.min(x), b.max(x))
    });
    if high - low < 1.0 {
        let middle = if low.is_finite() { low } else { 0.0 };
        return [middle - 0.5, middle + 0.5];
    }
    [low, high]
}

/// Where a place along the car stands in a picture of that height.
fn down(laid: &Laid, height: f64) -> impl Fn(f64) -> f64 + use<> {
    let [front, rear] = ends(laid);
    let tall = (height - ABOVE - BELOW).max(1.0);
    move |x| ABOVE + tall * (x - front) / (rear - front)
}

fn caption(sheet: &mut Sheet, head: &str, below: &str) {
    let x = space::INSIDE;
    sheet.text([x, space::CAPTION], HEAD, Anchor::Start, Ink::Ink2, head);
    let room = sheet.width - 2.0 * x;
    let below = cut(below, room, CAPTION.0, CAPTION.1);
    sheet.text(
        [x, space::CAPTION + 20.0],
        CAPTION,
        Anchor::Start,
        Ink::Ink2,
        below,
    );
}

/// The places seen from above, front up, in `width` x `height`; an arrow at each pair shows how the left stands against
/// the mirrored right, many times as long as it is.
///
/// Degenerate: without places there is nothing but the middle.
pub fn places_from_above(laid: &Laid, units: DisplayUnits, [width, height]: [f64; 2]) -> Sheet {
    let says = format!(
        "Places from above: {}",
        laid.places
            .iter()
            .map(|p| {
                let aside = if p.kept { "" } else { ", set aside" };
                format!("{} {} out{aside}", p.name, in_all(p, units))
            })
            .collect::<Vec<_>>()
            .join("; ")
    );
    let mut sheet = Sheet::empty([width, height], says);
    caption(
        &mut sheet,
        "Places from above",
        "front up, left at the left",
    );
    let y_of = down(laid, height);
    let middle = width / 2.0;
    let chain = Some((Ink::Ink2, line::FIELD, Dash::Chain));
    sheet.path(
        vec![[middle, ABOVE - 18.0], [middle, height - BELOW + 18.0]],
        false,
        chain,
        None,
    );
    let widest = laid.places.iter().map(|p| p.half_mm).fold(1.0, f64::max);
    let aside = (width / 2.0 - 64.0).max(20.0) / widest;
    let factor = factor(laid);
    let mut labels = Free::default();
    for place in &laid.places {
        let y = y_of(place.middle.x);
        let half = place.half_mm * aside;
        let (left, right) = ([middle - half, y], [middle + half, y]);
        if !place.centre {
            let stroke = Some((Ink::Hair, line::FIELD, Dash::Full));
            sheet.path(vec![left, right], false, stroke, None);
        }
        mark_place(&mut sheet, place, left, right);
        arrow(&mut sheet, place, left, factor, units);
        // The name stands over the line, where there is room for it.
        let ink = if place.kept {
            Ink::Ink2
        } else {
            Ink::WillNotFit
        };
        let room = if place.centre {
            width / 2.0 - 24.0
        } else {
            (2.0 * half - 24.0).max(80.0)
        };
        let name = cut(&place.name, room, CAPTION.0, CAPTION.1);
        let at = labels.near(y - 5.0);
        if place.centre {
            sheet.text([middle + 12.0, at + 9.0], CAPTION, Anchor::Start, ink, name);
        } else {
            let half_wide = text_width(&name, CAPTION.0, CAPTION.1) / 2.0 + 4.0;
            let ground = Some(Ink::Field);
            sheet.rect(
                [middle - half_wide, at - 11.0],
                [2.0 * half_wide, 15.0],
                None,
                ground,
            );
            sheet.text([middle, at], CAPTION, Anchor::Middle, ink, name);
        }
    }
    let foot = height - 14.0;
    let times = format!("×{factor:.0}");
    sheet.text(
        [space::INSIDE, foot],
        STRONG,
        Anchor::Start,
        Ink::Ink,
        times.clone(),
    );
    let x = space::INSIDE + text_width(&times, STRONG.0, STRONG.1) + 10.0;
    let says = "arrow: the left against the mirrored right";
    let says = cut(says, width - x - 8.0, CAPTION.0, CAPTION.1);
    sheet.text([x, foot], CAPTION, Anchor::Start, Ink::Ink2, says);
    sheet
}

/// How many times as long as they are arrows are drawn: so that the longest that counts is well seen.
fn factor(laid: &Laid) -> f64 {
    let scale = {
        let longest = |kept: bool| {
            laid.places
                .iter()
                .filter(|p| p.kept == kept && !p.centre)
                .map(|p| p.misfit_mm[0].hypot(p.misfit_mm[1]))
                .fold(0.0, f64::max)
        };
        let kept = longest(true);
        if kept > 0.0 { kept } else { longest(false) }
    };
    // A pixel stands for a millimetre where nothing is drawn larger.
    FACTORS
        .into_iter()
        .rev()
        .find(|f| f * scale <= ARROW)
        .unwrap_or(1.0)
}

fn mark_place(sheet: &mut Sheet, place: &PlaceRow, left: [f64; 2], right: [f64; 2]) {
    if place.centre {
        diamond(sheet, left, place.kept);
        return;
    }
    side_mark(sheet, true, left, 4.5);
    side_mark(sheet, false, right, 4.5);
    if !place.kept {
        // Set aside: hollow.
        sheet.disc(left, 2.6, Ink::Field);
        let [x, y] = right;
        sheet.path(
            vec![[x, y - 3.4], [x - 2.9, y + 1.7], [x + 2.9, y + 1.7]],
            true,
            None,
            Some(Ink::Field),
        );
    }
}

fn diamond(sheet: &mut Sheet, [x, y]: [f64; 2], full: bool) {
    let ink = if full { Ink::Ink } else { Ink::WillNotFit };
    let ground = if full { Ink::Ink } else { Ink::Sheet };
    sheet.path(
        vec![[x, y - 5.5], [x + 5.5, y], [x, y + 5.5], [x - 5.5, y]],
        true,
        Some((ink, 1.3, Dash::Full)),
        Some(ground),
    );
}

/// From where the mirrored right lies to the left; one set aside is broken where it grows too long, and says its length.
fn arrow(sheet: &mut Sheet, place: &PlaceRow, at: [f64; 2], factor: f64, units: DisplayUnits) {
    if place.centre {
        return;
    }
    let [back, out, _] = place.misfit_mm;
    let whole = [-out * factor, back * factor];
    let long = whole[0].hypot(whole[1]);
    if long < 2.0 {
        return;
    }
    let drawn = long.min(if place.kept { ARROW } else { LONGEST });
    let to = [0, 1].map(|k| at[k] + whole[k] / long * drawn);
    let ink = if place.kept {
        Ink::Ink
    } else {
        Ink::WillNotFit
    };
    let dash = if drawn < long {
        Dash::Hidden
    } else {
        Dash::Full
    };
    sheet.path(vec![at, to], false, Some((ink, 1.5, dash)), None);
    let [dx, dy] = [whole[0] / long, whole[1] / long];
    let barb = |sign: f64| {
        [
            to[0] - 6.0 * dx + sign * 2.8 * dy,
            to[1] - 6.0 * dy - sign * 2.8 * dx,
        ]
    };
    sheet.path(vec![to, barb(1.0), barb(-1.0)], true, None, Some(ink));
    if !place.kept {
        let says = in_all(place, units);
        // Beside its middle: at its end it would stand in the name of the next place.
        let at = [
            f64::midpoint(at[0], to[0]) + 8.0,
            f64::midpoint(at[1], to[1]) + 4.5,
        ];
        sheet.text(at, HEAD, Anchor::Start, ink, says);
    }
}

/// Heights at which a line of text stands already, so that the next one stands below it.
#[derive(Default)]
struct Free(Vec<f64>);

impl Free {
    /// The height nearest to the wanted one at which nothing stands.
    fn near(&mut self, wanted: f64) -> f64 {
        let apart = 15.0;
        let clear = |y: f64| self.0.iter().all(|t| (t - y).abs() >= apart);
        let at = (0..40)
            .flat_map(|k| [wanted + 4.0 * f64::from(k), wanted - 4.0 * f64::from(k)])
            .find(|y| clear(*y))
            .unwrap_or(wanted);
        self.0.push(at);
        at
    }
}

/// The doubt of the centreline along the car in `width` x `height`, much wider than it is long: a band of its
/// give-or-take, the middles of the places, the rival lines.
///
/// Degenerate: where the doubt is not known there is no band.
pub fn centreline_doubt(laid: &Laid, units: DisplayUnits, [width, height]: [f64; 2]) -> Sheet {
    let known = |u95: f64| u95.is_finite();
    let ends_known = [laid.known.first(), laid.known.last()];
    let said: Vec<String> = ends_known
        .iter()
        .flatten()
        .filter(|k| known(k.aside.u95))
        .map(|k| give(&k.aside, units))
        .collect();
    let says = format!(
        "Doubt of the centreline, front and rear: {}",
        if said.is_empty() {
            "not known".to_owned()
        } else {
            said.join(" and ")
        }
    );
    let mut sheet = Sheet::empty([width, height], says);
    let unit = crate::number::unit_text(record::Quantity::Length, units).trim();
    caption(
        &mut sheet,
        "Doubt of the centreline",
        &format!("{unit} across the car, + right"),
    );
    let [front, rear] = ends(laid);
    let y_of = down(laid, height);
    let middle = width / 2.0;
    let widest = reach(laid);
    let step = tick(widest, units);
    let ticks = (widest / step).ceil().max(1.0);
    let px = (width / 2.0 - 40.0).max(20.0) / (ticks * step);
    let x_of = |mm: f64| middle + (mm * px).clamp(-width / 2.0 + 8.0, width / 2.0 - 8.0);
    for k in -(ticks as i32)..=(ticks as i32) {
        let mm = f64::from(k) * step;
        let stroke = Some((Ink::Hair, line::FIELD, Dash::Full));
        let x = x_of(mm);
        sheet.path(
            vec![[x, ABOVE - 12.0], [x, height - BELOW + 12.0]],
            false,
            stroke,
            None,
        );
        let shown = to_shown_unit(mm, record::Quantity::Length, units);
        let shown_step = to_shown_unit(step, record::Quantity::Length, units);
        let mut text = to_step(shown, shown_step, units);
        if k > 0 {
            text.insert(0, '+');
        }
        let at = [x, height - BELOW + 40.0];
        sheet.text(at, CAPTION, Anchor::Middle, Ink::Ink2, text);
    }
    let band = |sign: f64| {
        laid.known
            .iter()
            .filter(|k| known(k.aside.u95))
            .map(move |k| (k.along_mm, sign * k.aside.u95))
    };
    let mut outline: Vec<[f64; 2]> = band(-1.0).map(|(x, mm)| [x_of(mm), y_of(x)]).collect();
    let right: Vec<[f64; 2]> = band(1.0).map(|(x, mm)| [x_of(mm), y_of(x)]).collect();
    outline.extend(right.iter().rev());
    if outline.len() > 3 {
        let stroke = Some((Ink::Ink2, line::FIELD, Dash::Full));
        sheet.path(outline, true, stroke, Some(Ink::Allowed));
    }
    let drawn_rivals = farthest(laid);
    for r in &drawn_rivals {
        let at = |x: f64| r.shift_mm + x * r.yaw_deg.to_radians().tan();
        let stroke = Some((Ink::WillNotFit, 1.3, Dash::Hidden));
        let ends = [front, rear].map(|x| [x_of(at(x)), y_of(x)]);
        sheet.path(ends.to_vec(), false, stroke, None);
    }
    let stroke = Some((Ink::Ink, line::SHEET, Dash::Full));
    sheet.path(
        vec![[middle, y_of(front)], [middle, y_of(rear)]],
        false,
        stroke,
        None,
    );
    for place in &laid.places {
        diamond(
            &mut sheet,
            [x_of(place.middle.y), y_of(place.middle.x)],
            place.kept,
        );
    }
    for (k, [bar, base]) in [
        (laid.known.first(), [-16.0, -11.0]),
        (laid.known.last(), [14.0, 18.0]),
    ] {
        let Some(k) = k.filter(|k| known(k.aside.u95)) else {
            continue;
        };
        let y = y_of(k.along_mm);
        let ends = [-k.aside.u95, k.aside.u95].map(&x_of);
        bracket(&mut sheet, ends, y + bar);
        let at = [ends[1] + 8.0, y + base];
        sheet.text(at, HEAD, Anchor::Start, Ink::Ink, give(&k.aside, units));
    }
    let says = if drawn_rivals.is_empty() {
        "to scale it is thinner than this line".to_owned()
    } else {
        let names: Vec<String> = drawn_rivals.iter().map(|r| rival(&r.name)).collect();
        format!("dashed: {}", names.join("; "))
    };
    let room = width - 2.0 * space::INSIDE;
    let lines = wrapped(&says, room, CAPTION.0, CAPTION.1);
    // Two lines go down to the border, so that they keep clear of the numbers above.
    let foot = height - if lines.len() > 1 { 23.0 } else { 14.0 };
    for (k, text) in lines.iter().take(2).enumerate() {
        let text = cut(text, room, CAPTION.0, CAPTION.1);
        let at = [space::INSIDE, foot + 16.0 * k as f64];
        sheet.text(at, CAPTION, Anchor::Start, Ink::Ink2, text);
    }
    sheet
}

/// `±0.6 mm`.
fn give(figure: &Figure, units: DisplayUnits) -> String {
    let size = Figure {
        value: figure.u95,
        ..*figure
    };
    format!("±{}", show(&size, units).with_unit())
}

fn bracket(sheet: &mut Sheet, [a, b]: [f64; 2], y: f64) {
    sheet.line(&[[a, y], [b, y]], Ink::Ink, 1.3);
    for x in [a, b] {
        sheet.line(&[[x, y - 4.0], [x, y + 4.0]], Ink::Ink, 1.3);
    }
}

/// How far to one side the picture has to reach, mm: the doubt, the middles that count and the rivals that are drawn.
fn reach(laid: &Laid) -> f64 {
    let [front, rear] = ends(laid);
    let doubt = laid
        .known
        .iter()
        .map(|k| k.aside.u95)
        .filter(|u| u.is_finite());
    let middles = laid
        .places
        .iter()
        .filter(|p| p.kept)
        .map(|p| p.middle.y.abs());
    let rivals = farthest(laid).into_iter().flat_map(move |r| {
        [front, rear].map(|x| (r.shift_mm + x * r.yaw_deg.to_radians().tan()).abs())
    });
    doubt.chain(middles).chain(rivals).fold(0.05, f64::max)
}

/// The distance of lines across, mm: at most three a side.
fn tick(widest: f64, units: DisplayUnits) -> f64 {
    let per = match units.length {
        record::LengthDisplay::Millimetre => 1.0,
        record::LengthDisplay::Inch => 25.4,
    };
    let mut step = 0.001;
    for k in 0..9 {
        for s in [1.0, 2.0, 5.0] {
            step = s * 0.001 * 10f64.powi(k) * per;
            if widest / step <= 3.0 {
                return step;
            }
        }
    }
    step
}

/// The two rivals that lie farthest from the line at an end of it.
fn farthest(laid: &Laid) -> Vec<&RivalLine> {
    let [front, rear] = ends(laid);
    let off = |r: &RivalLine| {
        [front, rear]
            .map(|x| (r.shift_mm + x * r.yaw_deg.to_radians().tan()).abs())
            .into_iter()
            .fold(0.0, f64::max)
    };
    let mut all: Vec<&RivalLine> = laid.rivals.iter().collect();
    all.sort_by(|a, b| off(b).total_cmp(&off(a)));
    all.truncate(2);
    all
}

/// Everything that hangs on the centreline, as sentences and tables of `width` pixels, as tall as it has to be.
///
/// Degenerate: where no opening can be placed one line says so.
pub fn positions_table(laid: &Laid, units: DisplayUnits, width: f64) -> Sheet {
    let mut sheet = Sheet::empty([width, 0.0], String::new());
    let mut says = Vec::new();
    let mut y = 0.0;
    let pairs = laid.pairs.iter().map(|p| verdict(p, units));
    let sentences: Vec<String> = pairs
        .chain(laid.central.iter().map(|c| central(c, units)))
        .collect();
    if sentences.is_empty() {
        says.push("No opening of this scan can be placed on the car.".to_owned());
    }
    says.extend(sentences);
    for text in &says {
        for part in wrapped(text, width, BODY.0, BODY.1) {
            y += 20.0;
            sheet.text([0.0, y], BODY, Anchor::Start, Ink::Ink, part);
        }
        y += 6.0;
    }
    // Name, left, right, difference, over the rivals.
    let right_edges = [0.39, 0.55, 0.735, 1.0].map(|s| s * width);
    for pair in &laid.pairs {
        y += 26.0;
        let name = cut(&capital(&pair.name), 0.28 * width, HEAD.0, HEAD.1);
        sheet.text([0.0, y], HEAD, Anchor::Start, Ink::Ink2, name);
        let heads = ["left", "right", "left − right", "over the rivals"];
        for (x, head) in right_edges.iter().zip(heads) {
            sheet.text([*x, y], CAPTION, Anchor::End, Ink::Ink2, head);
        }
        y += 8.0;
        for row in &pair.rows {
            sheet.line(&[[0.0, y], [width, y]], Ink::Hair, line::HAIR);
            y += 19.0;
            let name = cut(position::name(row.kind), 0.24 * width, CAPTION.0, CAPTION.1);
            sheet.text([0.0, y], CAPTION, Anchor::Start, Ink::Ink, name);
            let strong = if row.proven { HEAD } else { CAPTION };
            let over = row.over_rivals.map(|v| {
                let of = Figure {
                    value: v,
                    ..row.difference
                };
                show_signed(&of, units).value
            });
            let stands = if !row.difference.u95.is_finite() {
                "not known"
            } else if row.survives {
                if row.proven { "proven" } else { "not proven" }
            } else {
                "varies"
            };
            let cells = [
                show(&row.left, units).plus_minus(),
                show(&row.right, units).plus_minus(),
                show_signed(&row.difference, units).plus_minus(),
                format!("{} to {}, {stands}", over[0], over[1]),
            ];
            for (k, (x, cell)) in right_edges.iter().zip(cells).enumerate() {
                let ink = if k == 3 && !row.survives {
                    Ink::NotProven
                } else {
                    Ink::Ink
                };
                let letter = if k == 2 { strong } else { CAPTION };
                sheet.text([*x, y], letter, Anchor::End, ink, cell);
            }
            y += 6.0;
        }
    }
    if !laid.rivals.is_empty() {
        y = rivals(&mut sheet, laid, units, y);
    }
    sheet.height = y + 8.0;
    sheet.says = says.join(" ");
    sheet
}

fn rivals(sheet: &mut Sheet, laid: &Laid, units: DisplayUnits, from: f64) -> f64 {
    let width = sheet.width;
    let right_edges = [0.56, 0.78, 1.0].map(|s| s * width);
    let mut y = from + 28.0;
    sheet.text(
        [0.0, y],
        HEAD,
        Anchor::Start,
        Ink::Ink2,
        "Rival centrelines",
    );
    for (x, head) in right_edges
        .iter()
        .zip(["turned, + left", "leaning, + left", "moved, + right"])
    {
        sheet.text([*x, y], CAPTION, Anchor::End, Ink::Ink2, head);
    }
    y += 8.0;
    for r in &laid.rivals {
        sheet.line(&[[0.0, y], [width, y]], Ink::Hair, line::HAIR);
        y += 19.0;
        let name = cut(&rival(&r.name), 0.36 * width, CAPTION.0, CAPTION.1);
        sheet.text([0.0, y], CAPTION, Anchor::Start, Ink::Ink, name);
        // With the digits that the line it is held against can carry.
        let shown = |value: f64, of: &Figure| {
            let u95 = if of.u95.is_finite() { of.u95 } else { 0.0 };
            show_signed(&Figure { value, u95, ..*of }, units).with_unit()
        };
        let cells = [
            shown(r.yaw_deg, &laid.yaw),
            shown(r.lean_deg, &laid.lean),
            shown(r.shift_mm, &laid.shift),
        ];
        for (x, cell) in right_edges.iter().zip(cells) {
            sheet.text([*x, y], CAPTION, Anchor::End, Ink::Ink, cell);
        }
        y += 6.0;
    }
    y
}
