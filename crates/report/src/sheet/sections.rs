//! Sections drawn: one section with the other side laid on it, the panel round the opening in flat bands, and a table.

use record::{DisplayUnits, Figure, LengthDisplay, PairPanel, SectionStep, SheetKind, Side};

use super::bands::{hatch, inks};
use super::{Anchor, Dash, Sheet, cut, wrapped};
use crate::number::{show_signed, typed};
use crate::theme::{Ink, line, size, space, text_width, weight};
use crate::words::{capital, side};

const CAPTION: (f64, u16) = (size::CAPTION, weight::REGULAR);
const HEAD: (f64, u16) = (size::CAPTION, weight::SEMI_BOLD);
const BODY: (f64, u16) = (size::BODY, weight::REGULAR);
const STRONG: (f64, u16) = (size::BODY, weight::SEMI_BOLD);

/// What is said of a panel, in `width` x `height`: the sentence, and how much of it lies how far proud or shy.
pub fn panel_answer(pair: &PairPanel, units: DisplayUnits, [width, height]: [f64; 2]) -> Sheet {
    let sentence = crate::sections::sentence(pair, units);
    let below = crate::sections::bands(pair, units);
    let mut sheet = Sheet::empty([width, height], format!("{sentence} {below}"));
    let room = width - 2.0 * space::INSIDE;
    let (mut letter, mut lines) = (size::VERDICT_TWO_LINES, Vec::new());
    for try_letter in [size::VERDICT_TWO_LINES, size::HEAD, size::BODY] {
        letter = try_letter;
        lines = wrapped(&sentence, room, letter, weight::MEDIUM);
        if lines.len() <= 2 {
            break;
        }
    }
    lines.truncate(3);
    let tall = letter * 1.15 * lines.len() as f64 + size::BODY * size::LINE;
    let mut y = ((height - tall) / 2.0).max(4.0);
    for text in lines {
        y += letter * 1.15;
        let at = [space::INSIDE, y - letter * 0.24];
        let type_of = (letter, weight::MEDIUM);
        sheet.text(at, type_of, Anchor::Start, Ink::Ink, text);
    }
    y += size::BODY * size::LINE;
    let below = cut(&below, room, BODY.0, BODY.1);
    sheet.text(
        [space::INSIDE, y - 4.0],
        BODY,
        Anchor::Start,
        Ink::Ink2,
        below,
    );
    sheet
}

/// Whose profile a line is.
fn names(pair: &PairPanel) -> [String; 2] {
    match pair.relation {
        record::Relation::Mirrored => [
            capital(side(pair.sides[0])),
            format!("{}, mirrored", capital(side(pair.sides[1]))),
        ],
        record::Relation::Same => ["First".to_owned(), "Second".to_owned()],
        record::Relation::Itself => ["As it is".to_owned(), "Its mirror image".to_owned()],
    }
}

/// Lines of a and of b: the left in its colour and full, the right in its colour and dashed, wherever they stand.
fn styles(pair: &PairPanel) -> [(Ink, Dash, Ink); 2] {
    let left = (Ink::Left, Dash::Full, Ink::LeftTint);
    let right = (Ink::Right, Dash::Right, Ink::RightTint);
    if pair.sides[0] == Side::Right {
        [right, left]
    } else {
        [left, right]
    }
}

/// A step in the section plane: mm over the panel away from the edge, mm outward. `lower`: so much below a's height.
fn in_plane(pair: &PairPanel, step: &SectionStep, lower: f64) -> Option<[f64; 2]> {
    let section = pair.sections.get(step.section)?;
    let axes = section.axes(step.sheet);
    let height = step.a?.value - lower;
    let p = axes.along.into_inner() * step.from_edge_mm + axes.out.into_inner() * height;
    Some([p.dot(&section.panel.along), p.dot(&section.panel.out)])
}

/// Runs of steps without a hole between them; nothing is drawn over what was not seen.
fn runs(
    steps: &[&SectionStep],
    every: f64,
    seen: impl Fn(&SectionStep) -> bool,
) -> Vec<Vec<usize>> {
    let mut found: Vec<Vec<usize>> = Vec::new();
    for (k, step) in steps.iter().enumerate().filter(|(_, s)| seen(s)) {
        let joins = found.last().and_then(|r| r.last()).is_some_and(|last| {
            let before = steps[*last];
            before.sheet == step.sheet && step.from_edge_mm - before.from_edge_mm < 1.5 * every
        });
        match found.last_mut().filter(|_| joins) {
            Some(run) => run.push(k),
            None => found.push(vec![k]),
        }
    }
    found
}

/// One section in its plane, `width` x `height`: a as it is, b mirrored and laid on it with the difference drawn `factor`
/// times as large and its give or take shaded. The panel runs to the right, outward is up; where a side was not seen its
/// line has a hole.
///
/// Degenerate: where nothing of the section was seen, a line says so.
pub fn section_profile(
    pair: &PairPanel,
    section: usize,
    factor: f64,
    units: DisplayUnits,
    [width, height]: [f64; 2],
) -> Sheet {
    let place = pair.sections.get(section).map_or("", |s| &s.place);
    let steps: Vec<&SectionStep> = pair.steps.iter().filter(|s| s.section == section).collect();
    let largest = steps
        .iter()
        .filter_map(|s| Some((*s, s.difference?)))
        .max_by(|x, y| x.1.value.abs().total_cmp(&y.1.value.abs()));
    let amount = largest.map_or_else(
        || "not seen on both sides".to_owned(),
        |(_, d)| format!("at most {}", show_signed(&d, units).plus_minus()),
    );
    let says = format!(
        "Section {} of {}, {place}: {amount}, difference drawn ×{factor:.0}",
        section + 1,
        pair.sections.len()
    );
    let mut sheet = Sheet::empty([width, height], says);
    let head = format!("Section {} · {place}", section + 1);
    let head = cut(&head, width * 0.55, STRONG.0, STRONG.1);
    let top = [space::INSIDE, space::CAPTION];
    sheet.text(top, STRONG, Anchor::Start, Ink::Ink, head);
    legend(&mut sheet, pair);
    let every = pair.plan.step_mm;
    let mut all: Vec<[f64; 2]> = vec![[0.0, 0.0]];
    for s in &steps {
        all.extend(in_plane(pair, s, 0.0));
        if let Some(d) = s.difference {
            for reach in [d.value, d.value - d.u95, d.value + d.u95] {
                all.extend(in_plane(pair, s, factor * reach));
            }
        }
    }
    if all.len() < 2 {
        let at = [space::INSIDE, space::CAPTION + 32.0];
        let says = "Nothing of this section was seen.";
        sheet.text(at, BODY, Anchor::Start, Ink::Ink3, says);
        return sheet;
    }
    let at = fitted(&all, [width, height]);
    let px = |p: [f64; 2]| at.place(p);
    let [a_style, b_style] = styles(pair);
    // The doubt of b below everything.
    for run in runs(&steps, every, |s| s.difference.is_some() && s.a.is_some()) {
        let edge = |sign: f64| -> Vec<[f64; 2]> {
            run.iter()
                .filter_map(|k| {
                    let d = steps[*k].difference?;
                    in_plane(pair, steps[*k], factor * (d.value + sign * d.u95)).map(px)
                })
                .collect()
        };
        // Quadrangles, so that every piece is convex.
        let (low, high) = (edge(1.0), edge(-1.0));
        for (l, h) in low.windows(2).zip(high.windows(2)) {
            sheet.path(vec![l[0], l[1], h[1], h[0]], true, None, Some(b_style.2));
        }
    }
    // The edge: where both profiles begin.
    let o = px([0.0, 0.0]);
    sheet.line(&[[o[0] - 7.0, o[1]], [o[0] + 7.0, o[1]]], Ink::Ink2, 1.0);
    sheet.line(&[[o[0], o[1] - 7.0], [o[0], o[1] + 7.0]], Ink::Ink2, 1.0);
    sheet.text(
        [o[0] - 10.0, o[1] - 8.0],
        CAPTION,
        Anchor::End,
        Ink::Ink2,
        "edge",
    );
    let b_seen = |s: &SectionStep| s.difference.is_some() && s.a.is_some();
    let b_at = |s: &SectionStep| in_plane(pair, s, factor * s.difference.map_or(0.0, |d| d.value));
    let a_seen = |s: &SectionStep| s.a.is_some();
    let a_at = |s: &SectionStep| in_plane(pair, s, 0.0);
    profile(
        &mut sheet,
        &steps,
        &runs(&steps, every, b_seen),
        b_style,
        |s| b_at(s).map(px),
    );
    profile(
        &mut sheet,
        &steps,
        &runs(&steps, every, a_seen),
        a_style,
        |s| a_at(s).map(px),
    );
    if let Some((step, d)) = largest
        && let (Some(a), Some(b)) = (in_plane(pair, step, 0.0), b_at(step))
    {
        let (a, b) = (px(a), px(b));
        sheet.line(&[a, b], Ink::Ink, line::LEADER_WORST);
        let out = (a[1].min(b[1]) - 20.0).max(52.0);
        let shown = show_signed(&d, units).plus_minus();
        let ink = if d.value < 0.0 {
            Ink::ShyLine
        } else {
            Ink::ProudLine
        };
        sheet.line(
            &[[a[0], a[1].min(b[1])], [a[0], out + 9.0]],
            Ink::Ink,
            line::LEADER,
        );
        sheet.boxed_number([a[0], out], ink, shown);
    }
    let drawn = "the difference is drawn, shaded: give or take (95 %)";
    scale_bar(&mut sheet, at.mm, (factor, drawn), units);
    sheet
}

/// A line through the steps of each run; a single step is a short dash.
fn profile(
    sheet: &mut Sheet,
    steps: &[&SectionStep],
    runs: &[Vec<usize>],
    (ink, dash, _): (Ink, Dash, Ink),
    at: impl Fn(&SectionStep) -> Option<[f64; 2]>,
) {
    for run in runs {
        let points: Vec<[f64; 2]> = run.iter().filter_map(|k| at(steps[*k])).collect();
        match points.as_slice() {
            [] => {}
            [p] => sheet.line(&[[p[0] - 4.0, p[1]], [p[0] + 4.0, p[1]]], ink, line::SIDE),
            _ => sheet.path(points, false, Some((ink, line::SIDE, dash)), None),
        }
    }
}

/// Where the section plane lies on the sheet.
struct Fitted {
    /// Pixels of a millimetre.
    mm: f64,
    /// Pixels of the edge.
    origin: [f64; 2],
}

impl Fitted {
    fn place(&self, p: [f64; 2]) -> [f64; 2] {
        [
            self.origin[0] + self.mm * p[0],
            self.origin[1] - self.mm * p[1],
        ]
    }
}

fn fitted(all: &[[f64; 2]], [width, height]: [f64; 2]) -> Fitted {
    let ends = |k: usize| {
        let low = all.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min);
        let high = all.iter().map(|p| p[k]).fold(f64::NEG_INFINITY, f64::max);
        [low, high]
    };
    let (x, y) = (ends(0), ends(1));
    let room = [
        (width - 2.0 * space::INSIDE - 64.0).max(20.0),
        (height - 76.0 - 48.0).max(20.0),
    ];
    let mm = (room[0] / (x[1] - x[0]).max(1.0)).min(room[1] / (y[1] - y[0]).max(1.0));
    let middle = [width / 2.0 + 12.0, 76.0 + room[1] / 2.0];
    Fitted {
        mm,
        origin: [
            middle[0] - mm * f64::midpoint(x[0], x[1]),
            middle[1] + mm * f64::midpoint(y[0], y[1]),
        ],
    }
}

/// Which line is whose, at the upper right.
fn legend(sheet: &mut Sheet, pair: &PairPanel) {
    let mut x = sheet.width - space::INSIDE;
    let y = space::CAPTION;
    for (name, (ink, dash, _)) in names(pair).into_iter().zip(styles(pair)).rev() {
        let wide = text_width(&name, HEAD.0, HEAD.1);
        sheet.text([x, y], HEAD, Anchor::End, ink, name);
        let to = x - wide - 6.0;
        let sample = vec![[to - 30.0, y - 4.5], [to, y - 4.5]];
        sheet.path(sample, false, Some((ink, line::SIDE, dash)), None);
        x = to - 30.0 - 16.0;
    }
}

/// How large the drawing is, and how large the difference in it.
pub(super) fn scale_bar(
    sheet: &mut Sheet,
    mm: f64,
    (factor, drawn): (f64, &str),
    units: DisplayUnits,
) {
    let y = sheet.height - 16.0;
    let (bar, says) = match units.length {
        LengthDisplay::Millimetre => (10.0, "10 mm"),
        LengthDisplay::Inch => (12.7, "1/2 in"),
    };
    let x = space::INSIDE;
    for (from, to) in [
        ([x, y - 4.0], [x + bar * mm, y - 4.0]),
        ([x, y - 9.0], [x, y + 1.0]),
        ([x + bar * mm, y - 9.0], [x + bar * mm, y + 1.0]),
    ] {
        sheet.line(&[from, to], Ink::Ink2, 1.0);
    }
    let at = [x + bar * mm + 8.0, y];
    sheet.text(at, CAPTION, Anchor::Start, Ink::Ink2, says);
    let times = format!("×{factor:.0}");
    let end = sheet.width - space::INSIDE;
    sheet.text(
        [end, y + 1.0],
        (size::HEAD, weight::SEMI_BOLD),
        Anchor::End,
        Ink::Ink,
        times.clone(),
    );
    let x = end - text_width(&times, size::HEAD, weight::SEMI_BOLD) - 8.0;
    sheet.text([x, y], CAPTION, Anchor::End, Ink::Ink2, drawn);
}

/// The panel round an opening: sections along the edge from left to right, distance from the edge upwards.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelMap {
    /// The picture.
    pub sheet: Sheet,
    /// Where the first section begins and the last ends, pixels.
    pub from_to: [f64; 2],
    /// Number of sections.
    pub sections: usize,
}

impl PanelMap {
    /// The section at a place across the picture; `None` outside of it.
    pub fn section_at(&self, x: f64) -> Option<usize> {
        let [from, to] = self.from_to;
        if self.sections == 0 || x < from || x > to {
            return None;
        }
        let share = (x - from) / (to - from);
        Some(((share * self.sections as f64) as usize).min(self.sections - 1))
    }
}

/// The step of the bands of a panel, mm: as beside the edge, the smallest that needs at most three a side.
fn band_step(pair: &PairPanel) -> f64 {
    let clear: Vec<Figure> = differences(pair)
        .filter(|d| d.value.abs() > d.u95)
        .collect();
    let most = clear.iter().map(|d| d.value.abs()).fold(0.0, f64::max);
    let mut doubts: Vec<f64> = clear.iter().map(|d| d.u95).collect();
    doubts.sort_by(f64::total_cmp);
    let doubt = doubts.get(doubts.len() / 2).copied().unwrap_or(0.0);
    [0.1, 0.2, 0.5, 1.0, 2.0]
        .into_iter()
        .find(|step| *step >= doubt && most < 4.0 * step)
        .unwrap_or(5.0)
}

fn differences(pair: &PairPanel) -> impl Iterator<Item = Figure> + '_ {
    let panel = pair.steps.iter().filter(|s| s.sheet == SheetKind::Panel);
    panel.filter_map(|s| s.difference)
}

/// Draws the map into `width` x `height`; `pointed` is the section that is looked at.
///
/// Degenerate: without sections a line says so.
pub fn panel_map(
    pair: &PairPanel,
    pointed: usize,
    units: DisplayUnits,
    [width, height]: [f64; 2],
) -> PanelMap {
    let says = format!("Panel map. {}", crate::sections::bands(pair, units));
    let mut sheet = Sheet::empty([width, height], says);
    let unit = crate::number::unit_text(record::Quantity::Length, units).trim();
    let base = space::CAPTION;
    let at = [space::INSIDE, base];
    sheet.text(at, HEAD, Anchor::Start, Ink::Ink2, "Round the opening");
    let of = crate::sections::minus(pair);
    let says = format!("{of}, {unit}; a dot: proven; grey: not seen on both sides");
    let says = cut(&says, width - 140.0 - space::INSIDE, CAPTION.0, CAPTION.1);
    sheet.text(
        [space::INSIDE + 124.0, base],
        CAPTION,
        Anchor::Start,
        Ink::Ink2,
        says,
    );
    let from_to = [space::INSIDE + 44.0, width - space::INSIDE];
    let mut rows: Vec<f64> = Vec::new();
    for s in pair.steps.iter().filter(|s| s.sheet == SheetKind::Panel) {
        if !rows.iter().any(|r| (r - s.from_edge_mm).abs() < 1e-6) {
            rows.push(s.from_edge_mm);
        }
    }
    rows.sort_by(f64::total_cmp);
    let count = pair.sections.len();
    if rows.is_empty() || count == 0 {
        let at = [space::INSIDE, base + 32.0];
        sheet.text(at, BODY, Anchor::Start, Ink::Ink3, "No panel was seen.");
        return PanelMap {
            sheet,
            from_to,
            sections: 0,
        };
    }
    let (top, foot) = (base + 14.0, height - 40.0);
    let cell = [
        (from_to[1] - from_to[0]) / count as f64,
        (foot - top) / rows.len() as f64,
    ];
    let corner = |section: usize, row: usize| {
        [
            from_to[0] + cell[0] * section as f64,
            foot - cell[1] * (row + 1) as f64,
        ]
    };
    let field = [from_to[1] - from_to[0], foot - top];
    sheet.rect([from_to[0], top], field, None, Some(Ink::Margin));
    let step = band_step(pair);
    for s in pair.steps.iter().filter(|s| s.sheet == SheetKind::Panel) {
        let row = rows.iter().position(|r| (r - s.from_edge_mm).abs() < 1e-6);
        let (Some(d), Some(row)) = (s.difference, row) else {
            continue;
        };
        draw_cell(&mut sheet, corner(s.section, row), cell, &d, step, s.proven);
    }
    sheet.rect(
        [from_to[0], top],
        field,
        Some((Ink::Ink2, line::FIELD, Dash::Full)),
        None,
    );
    // Distances at the left, numbers of sections below.
    let every = (18.0 / cell[1]).ceil().max(1.0) as usize;
    for (k, row) in rows.iter().enumerate().step_by(every) {
        let y = foot - cell[1] * (k as f64 + 0.5) + 4.5;
        let text = match units.length {
            LengthDisplay::Millimetre => format!("{row:.0}"),
            LengthDisplay::Inch => typed(
                (row * 100.0).round() / 100.0,
                record::Quantity::Length,
                units,
            ),
        };
        let text = cut(&text, 42.0, CAPTION.0, CAPTION.1);
        sheet.text([from_to[0] - 6.0, y], CAPTION, Anchor::End, Ink::Ink2, text);
    }
    let every = (34.0 / cell[0]).ceil().max(1.0) as usize;
    for k in (0..count).step_by(every) {
        let x = from_to[0] + cell[0] * (k as f64 + 0.5);
        let ink = if k == pointed { Ink::Ink } else { Ink::Ink2 };
        let at = [x, foot + 16.0];
        sheet.text(at, CAPTION, Anchor::Middle, ink, format!("{}", k + 1));
    }
    let says = format!("sections along the edge; upwards: {unit} from the edge");
    let middle = [f64::midpoint(from_to[0], from_to[1]), height - 8.0];
    sheet.text(middle, CAPTION, Anchor::Middle, Ink::Ink2, says);
    if pointed < count {
        let at = corner(pointed, rows.len() - 1);
        let frame = Some((Ink::Ink, line::SHEET, Dash::Full));
        sheet.rect(at, [cell[0], foot - top], frame, None);
    }
    if let Some(worst) = &pair.worst
        && let Some(row) = nearest(&rows, worst.from_edge_mm)
    {
        let [x, y] = corner(worst.section, row);
        let ink = if worst.difference.value < 0.0 {
            Ink::ShyLine
        } else {
            Ink::ProudLine
        };
        let number = show_signed(&worst.difference, units).value;
        sheet.boxed_number([x + cell[0] / 2.0, y + cell[1] / 2.0], ink, number);
    }
    PanelMap {
        sheet,
        from_to,
        sections: count,
    }
}

fn nearest(rows: &[f64], at: f64) -> Option<usize> {
    (0..rows.len()).min_by(|x, y| (rows[*x] - at).abs().total_cmp(&(rows[*y] - at).abs()))
}

fn draw_cell(sheet: &mut Sheet, at: [f64; 2], cell: [f64; 2], d: &Figure, step: f64, proven: bool) {
    let clear = d.value.abs() > d.u95;
    let steps = (d.value.abs() / step).floor().clamp(1.0, 3.0) as i32;
    // A hair more, so that no ground shows between neighbours.
    let full = [cell[0] + 0.5, cell[1] + 0.5];
    if clear {
        let class = if d.value < 0.0 { -steps } else { steps };
        let (fill, contour) = inks(class);
        sheet.rect(at, full, None, Some(fill));
        if class < 0 {
            let [x, y] = at;
            let quad = [
                [x, y],
                [x + cell[0], y],
                [x + cell[0], y + cell[1]],
                [x, y + cell[1]],
            ];
            hatch(sheet, &quad, contour);
        }
    } else {
        sheet.rect(at, full, None, Some(Ink::Sheet));
    }
    if proven {
        let middle = [at[0] + cell[0] / 2.0, at[1] + cell[1] / 2.0];
        let radius = (cell[0].min(cell[1]) / 5.0).clamp(1.2, 3.0);
        sheet.disc(middle, radius, Ink::Ink);
    }
}

/// The steps of one section in rows, `width` wide and as high as they are: distance from the edge, left minus right with
/// its give or take, proven or not; the panel first, then the return flange.
pub fn section_table(pair: &PairPanel, section: usize, units: DisplayUnits, width: f64) -> Sheet {
    let mut sheet = Sheet::empty([width, 0.0], String::new());
    let unit = crate::number::unit_text(record::Quantity::Length, units);
    let heads = ["from the edge", "difference"];
    let first = text_width(heads[0], CAPTION.0, CAPTION.1).max(0.22 * width);
    let ends = [first, 0.62 * width];
    let mut y = 16.0;
    for (x, head) in ends.iter().zip(heads) {
        sheet.text([*x, y], CAPTION, Anchor::End, Ink::Ink2, head);
    }
    y += 6.0;
    let mut said: Vec<String> = Vec::new();
    for (kind, word) in [(SheetKind::Panel, ""), (SheetKind::Flange, "flange")] {
        for s in &pair.steps {
            if s.section != section || s.sheet != kind {
                continue;
            }
            sheet.line(&[[0.0, y], [width, y]], Ink::Hair, line::HAIR);
            y += 18.0;
            let from = match units.length {
                LengthDisplay::Millimetre => format!("{:.0}{unit}", s.from_edge_mm),
                LengthDisplay::Inch => {
                    let rounded = (s.from_edge_mm * 10.0).round() / 10.0;
                    format!("{}{unit}", typed(rounded, record::Quantity::Length, units))
                }
            };
            let (amount, ink) = match s.difference {
                Some(d) => (show_signed(&d, units).plus_minus(), Ink::Ink),
                None => ("not seen on both sides".to_owned(), Ink::Ink2),
            };
            let strong = if s.proven { HEAD } else { CAPTION };
            sheet.text([ends[0], y], CAPTION, Anchor::End, Ink::Ink2, from.clone());
            sheet.text([ends[1], y], strong, Anchor::End, ink, amount.clone());
            let proven = match (s.difference, s.proven) {
                (None, _) => "",
                (_, true) => "proven",
                (_, false) => "not proven",
            };
            let words = [word, proven].into_iter().filter(|w| !w.is_empty());
            let words = words.collect::<Vec<_>>().join(", ");
            said.push(format!("{from}: {amount} {words}"));
            sheet.text([0.68 * width, y], strong, Anchor::Start, Ink::Ink2, words);
            y += 6.0;
        }
    }
    sheet.height = y + 4.0;
    sheet.says = said.join("; ");
    sheet
}
