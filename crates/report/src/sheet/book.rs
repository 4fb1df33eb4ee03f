//! The open book: left page, right page turned over, the ladder of angles in the gutter between them.

use geom::Point;
use record::{AngleRow, LengthDisplay, PairStation};

use super::marks::side_mark;
use super::page::PageView;
use super::{Anchor, Dash, Hit, Sheet, bands, ladder, wrapped};
use crate::Pair;
use crate::number::{show_signed, typed};
use crate::theme::{Ink, line, size, space, text_width, weight};

/// Which pages lie open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Pages {
    /// Both, with the ladder between them.
    #[default]
    Both,
    /// The first alone, over the whole width.
    A,
    /// The second alone.
    B,
    /// Neither: the ladder alone.
    Ladder,
}

/// What is shown of a book.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BookView {
    /// Pages.
    pub pages: Pages,
    /// How many times larger the difference is drawn than it is, >= 1; `None`: as large as the page takes.
    pub factor: Option<f64>,
    /// Whether the first edge is laid over the second page.
    pub laid_over: bool,
    /// The station pointed at.
    pub pointed: Option<usize>,
    /// Whether a picture of the metal lies below, so that pages are not filled.
    pub over_metal: bool,
}

impl BookView {
    /// What a printed sheet shows: both pages, the difference enlarged, one edge over the other.
    pub const PRINTED: Self = Self {
        pages: Pages::Both,
        factor: None,
        laid_over: true,
        pointed: None,
        over_metal: false,
    };
}

/// A book and where its pages are.
#[derive(Clone, Debug, PartialEq)]
pub struct Book {
    /// The picture.
    pub sheet: Sheet,
    /// Where a and b stand, if they are shown and known.
    pub pages: [Option<PageView>; 2],
    /// The factor at which the difference is drawn.
    pub factor: f64,
}

/// Width of a gutter without a ladder.
const BARE_GUTTER: f64 = 40.0;

/// Sets the book of a pair into `width` x `height`.
///
/// Degenerate: without edges the pages say so; with one side only the second page says what is missing.
pub fn book_field(pair: &Pair, [width, height]: [f64; 2], view: &BookView) -> Book {
    let mut sheet = Sheet::empty([width, height], String::new());
    let seen = everything_seen(pair);
    let gutter_width = if pair.measured.angles.is_empty() {
        BARE_GUTTER
    } else {
        (width * 0.282).clamp(322.0, 344.0)
    };
    if view.pages == Pages::Ladder {
        ladder_alone(&mut sheet, pair, [width, height]);
        return Book {
            sheet,
            pages: [None, None],
            factor: 1.0,
        };
    }
    let page_width = match view.pages {
        Pages::Both => (width - gutter_width) / 2.0,
        Pages::A | Pages::B | Pages::Ladder => width,
    };
    let page = |x: f64| [[x, 0.0], [page_width, height]];
    let fitted = |x: f64| PageView::fitted(&seen, page(x), [44.0, 56.0]);
    let (left, right) = match view.pages {
        Pages::Both => (fitted(0.0), fitted(width - page_width)),
        Pages::A => (fitted(0.0), None),
        Pages::B => (None, fitted(0.0)),
        Pages::Ladder => (None, None),
    };
    let factor = drawn_factor(pair, view, left.or(right));
    if view.pages != Pages::B {
        caption_a(&mut sheet, pair);
        if let Some(left) = left {
            draw_a(&mut sheet, pair, left, view);
        }
    }
    if view.pages != Pages::A {
        let start = width - page_width;
        caption_b(&mut sheet, pair, width, view);
        draw_b(&mut sheet, pair, right, view, factor, page(start));
        footnotes(&mut sheet, pair, right, factor, view, page(start));
    }
    if view.pages == Pages::Both {
        let middle = width / 2.0;
        for [from, to] in [[8.0, 34.0], [height - 30.0, height - 6.0]] {
            let chain = Some((Ink::Rule, 1.0, Dash::Chain));
            sheet.path(vec![[middle, from], [middle, to]], false, chain, None);
        }
        let gutter = ladder::Gutter {
            left: middle - gutter_width / 2.0 + 12.0,
            right: middle + gutter_width / 2.0 - 12.0,
            top: 0.0,
            bottom: height,
        };
        let on = |page: Option<PageView>| -> Vec<[f64; 2]> {
            let closed = pair.measured.closed;
            let curve = pair.measured.a_curve.iter().filter(|_| closed);
            page.map_or_else(Vec::new, |page| curve.map(|p| page.at(p)).collect())
        };
        ladder::draw(
            &mut sheet,
            pair,
            &gutter,
            [
                &ladder::Beside {
                    place: &|r| Some(left?.at(&rung_place(pair, r, false)?)),
                    opening: on(left),
                },
                &ladder::Beside {
                    place: &|r| Some(right?.at(&rung_place(pair, r, true)?)),
                    opening: on(right),
                },
            ],
        );
    }
    Book {
        sheet,
        pages: [left, right],
        factor,
    }
}

/// The ladder without pages, in the middle of the field; one line where no angle was measured.
fn ladder_alone(sheet: &mut Sheet, pair: &Pair, [width, height]: [f64; 2]) {
    if pair.measured.angles.is_empty() {
        sheet.text(
            [width / 2.0, height / 2.0],
            (size::BODY, weight::REGULAR),
            Anchor::Middle,
            Ink::Ink3,
            "No junction is named: no angles.",
        );
        return;
    }
    let half = (width / 2.0 - space::INSIDE).min(160.0);
    let gutter = ladder::Gutter {
        left: width / 2.0 - half,
        right: width / 2.0 + half,
        top: 0.0,
        bottom: height,
    };
    let none = ladder::Beside {
        place: &|_| None,
        opening: Vec::new(),
    };
    ladder::draw(sheet, pair, &gutter, [&none, &none]);
}

/// Everything that must find room on a page, a's part axes.
fn everything_seen(pair: &Pair) -> Vec<Point> {
    let measured = pair.measured;
    let mut seen: Vec<Point> = measured
        .a_curve
        .iter()
        .chain(&measured.b_curve)
        .copied()
        .collect();
    if seen.is_empty() {
        seen = edge_of_a(pair);
    }
    for of_b in [false, true] {
        seen.extend(
            measured
                .angles
                .iter()
                .filter_map(|r| rung_place(pair, r, of_b)),
        );
    }
    seen.extend(measured.holes.iter().flat_map(|h| [h.a, h.b]));
    seen
}

fn edge_of_a(pair: &Pair) -> Vec<Point> {
    let edge = pair.opening(&pair.measured.a).and_then(|o| o.edge.as_ref());
    edge.iter()
        .flat_map(|e| &e.stations)
        .map(|s| s.at)
        .collect()
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

/// The factor asked for, or the largest round one that keeps the enlarged edge, and the band of what is allowed, on their
/// page.
fn drawn_factor(pair: &Pair, view: &BookView, page: Option<PageView>) -> f64 {
    if let Some(factor) = view.factor {
        return factor.max(1.0);
    }
    let stations = &pair.measured.stations;
    let farthest = stations
        .iter()
        .map(|s| (s.b - s.a).xy().norm())
        .fold(0.0, f64::max);
    let allowed = pair.part.filter(|_| view.laid_over);
    let farthest = allowed.map_or(farthest, |p| {
        farthest.max(p.allowed.wide_mm).max(p.allowed.tight_mm)
    });
    let span = page.map_or(0.0, |p| p.page[1][0].min(p.page[1][1]) / p.scale);
    [50.0, 20.0, 10.0, 5.0, 2.0]
        .into_iter()
        .find(|f| f * farthest < 0.08 * span)
        .unwrap_or(1.0)
}

fn caption_a(sheet: &mut Sheet, pair: &Pair) {
    let base = space::CAPTION + 1.0;
    let a = pair.a_word().to_uppercase();
    side_mark(sheet, true, [space::INSIDE + 6.0, base - 5.0], 4.5);
    let start = space::INSIDE + 18.0;
    let wide = text_width(&a, size::BODY, weight::SEMI_BOLD);
    sheet.text(
        [start, base],
        (size::BODY, weight::SEMI_BOLD),
        Anchor::Start,
        Ink::Left,
        a,
    );
    let says = "as it is, from outside";
    sheet.text(
        [start + wide + 7.0, base],
        (size::BODY, weight::REGULAR),
        Anchor::Start,
        Ink::Ink2,
        says,
    );
}

fn caption_b(sheet: &mut Sheet, pair: &Pair, width: f64, view: &BookView) {
    let base = space::CAPTION + 1.0;
    let b = pair.b_word().to_uppercase();
    let says = if view.laid_over && !pair.measured.stations.is_empty() {
        format!("turned over, under the {} edge", pair.a_word())
    } else {
        "turned over".to_owned()
    };
    let end = width - space::INSIDE;
    let says_wide = text_width(&says, size::BODY, weight::REGULAR);
    sheet.text(
        [end, base],
        (size::BODY, weight::REGULAR),
        Anchor::End,
        Ink::Ink2,
        says,
    );
    let from = end - says_wide - 7.0;
    let wide = text_width(&b, size::BODY, weight::SEMI_BOLD);
    sheet.text(
        [from, base],
        (size::BODY, weight::SEMI_BOLD),
        Anchor::End,
        Ink::Right,
        b,
    );
    side_mark(sheet, false, [from - wide - 12.0, base - 5.0], 4.5);
}

fn draw_a(sheet: &mut Sheet, pair: &Pair, page: PageView, view: &BookView) {
    let mut curve: Vec<Point> = pair.measured.a_curve.clone();
    if curve.is_empty() {
        curve = edge_of_a(pair);
    }
    let points: Vec<[f64; 2]> = curve.iter().map(|p| page.at(p)).collect();
    if points.len() > 1 {
        let closed = pair.measured.closed;
        let fill = (closed && !view.over_metal).then_some(Ink::Margin);
        sheet.path(
            points,
            closed,
            Some((Ink::Left, line::SIDE, Dash::Full)),
            fill,
        );
    }
    for hole in &pair.measured.holes {
        let radius = hole.a_diameter.value / 2.0 * page.scale;
        hole_mark(sheet, page.at(&hole.a), radius, Ink::Left, Dash::Full);
    }
    stations(sheet, pair, page, view, &|s| s.a);
}

/// The second edge, its distance from the first drawn `factor` times larger; bands of proud and shy beside it.
fn draw_b(
    sheet: &mut Sheet,
    pair: &Pair,
    page: Option<PageView>,
    view: &BookView,
    factor: f64,
    [corner, area]: [[f64; 2]; 2],
) {
    let all = &pair.measured.stations;
    if all.is_empty() {
        let says = if pair.one_side_only() || pair.not_measured().is_some() {
            "not measured"
        } else {
            "no edge to lay on the other"
        };
        if pair.one_side_only() || pair.measured.b_curve.is_empty() {
            let at = [corner[0] + area[0] / 2.0, corner[1] + area[1] / 2.0];
            sheet.text(
                at,
                (size::BODY, weight::REGULAR),
                Anchor::Middle,
                Ink::Ink3,
                says,
            );
        }
        return;
    }
    let Some(page) = page else { return };
    let closed = pair.measured.closed;
    let enlarged = |s: &PairStation| s.a + (s.b - s.a) * factor;
    let left: Vec<[f64; 2]> = all.iter().map(|s| page.at(&s.a)).collect();
    let right: Vec<[f64; 2]> = all.iter().map(|s| page.at(&enlarged(s))).collect();
    if closed && !view.over_metal {
        sheet.path(left.clone(), true, None, Some(Ink::Margin));
    }
    if view.laid_over {
        allowed_band(sheet, pair, page, factor);
    } else {
        bands::draw(sheet, pair, page, &enlarged);
    }
    if view.laid_over || factor > 1.0 {
        let wide = if view.laid_over { line::SIDE } else { 1.0 };
        sheet.path(left, closed, Some((Ink::Left, wide, Dash::Full)), None);
    }
    sheet.path(
        right,
        closed,
        Some((Ink::Right, line::SIDE, Dash::Right)),
        None,
    );
    for hole in &pair.measured.holes {
        let radius = hole.b_diameter.value / 2.0 * page.scale;
        let at = hole.a + (hole.b - hole.a) * factor;
        hole_mark(sheet, page.at(&at), radius, Ink::Right, Dash::Right);
    }
    if view.laid_over {
        gap_numbers(sheet, pair, page, &enlarged);
    }
    stations(sheet, pair, page, view, &enlarged);
}

/// What is allowed about the first edge, as a band at the same factor.
pub(super) fn allowed_band(sheet: &mut Sheet, pair: &Pair, page: PageView, factor: f64) {
    let Some(part) = pair.part else { return };
    let all = &pair.measured.stations;
    let side = |reach: f64| -> Vec<[f64; 2]> {
        all.iter()
            .map(|s| page.at(&(s.a + s.gap_dir.into_inner() * (reach * factor))))
            .collect()
    };
    // Wider gap: the body stands back, away from the inside.
    let outer = side(-part.allowed.wide_mm);
    let inner = side(part.allowed.tight_mm);
    let mut ring = outer;
    if pair.measured.closed {
        ring.extend(ring.first().copied());
    }
    let mut back = inner;
    if pair.measured.closed {
        back.extend(back.first().copied());
    }
    ring.extend(back.into_iter().rev());
    if ring.len() > 3 {
        sheet.path(ring, true, None, Some(Ink::Allowed));
    }
}

/// The widest and the tightest proven place carry their number.
pub(super) fn gap_numbers(
    sheet: &mut Sheet,
    pair: &Pair,
    page: PageView,
    at: &dyn Fn(&PairStation) -> Point,
) {
    let all = &pair.measured.stations;
    let proven = |k: &usize| all[*k].seen && all[*k].gap.value.abs() > all[*k].gap.u95;
    let by_gap = |x: &usize, y: &usize| all[*x].gap.value.total_cmp(&all[*y].gap.value);
    let most = (0..all.len())
        .filter(proven)
        .max_by(by_gap)
        .filter(|k| all[*k].gap.value > 0.0);
    let least = (0..all.len())
        .filter(proven)
        .min_by(by_gap)
        .filter(|k| all[*k].gap.value < 0.0);
    for k in [most, least].into_iter().flatten() {
        let shown = show_signed(&all[k].gap, pair.study.units);
        let p = page.at(&at(&all[k]));
        let out = PageView::towards(&-all[k].gap_dir.into_inner());
        let place = [p[0] + 24.0 * out[0], p[1] + 24.0 * out[1]];
        sheet.boxed_number(place, Ink::Ink, shown.value);
        sheet.named(Hit::Station(pair.measured.id.clone(), k));
    }
}

/// Ticks with numbers along an edge, and the black discs: the place that decides, and the one pointed at.
fn stations(
    sheet: &mut Sheet,
    pair: &Pair,
    page: PageView,
    view: &BookView,
    at: &dyn Fn(&PairStation) -> Point,
) {
    let all = &pair.measured.stations;
    if all.is_empty() {
        return;
    }
    let every = tick_step(all.len());
    let worst = worst_station(pair);
    for (k, station) in all.iter().enumerate().step_by(every) {
        let p = page.at(&at(station));
        let inward = PageView::towards(&station.gap_dir);
        let end = |reach: f64| [p[0] + reach * inward[0], p[1] + reach * inward[1]];
        sheet.line(&[end(0.0), end(8.0)], Ink::Ink2, 1.0);
        let near = |other: Option<usize>| {
            other.is_some_and(|o| {
                let away = o.abs_diff(k);
                away.min(all.len() - away.min(all.len())) < every
            })
        };
        let crowded = view.laid_over && pair.measured.closed;
        let before_start = pair.measured.closed && k + every > all.len();
        if (k / every).is_multiple_of(2)
            && !crowded
            && !before_start
            && !near(worst)
            && !near(view.pointed)
        {
            let [x, y] = end(17.0);
            sheet.text(
                [x, y + 4.5],
                (size::CAPTION, weight::REGULAR),
                Anchor::Middle,
                Ink::Ink2,
                k.to_string(),
            );
            sheet.named(Hit::Station(pair.measured.id.clone(), k));
        }
    }
    for (k, heavy) in [
        (worst, true),
        (view.pointed.filter(|k| Some(*k) != worst), false),
    ] {
        let Some((k, station)) = k.and_then(|k| Some((k, all.get(k)?))) else {
            continue;
        };
        let p = page.at(&at(station));
        let inward = PageView::towards(&station.gap_dir);
        let label = [p[0] + 22.0 * inward[0], p[1] + 22.0 * inward[1]];
        let (wide, dot) = if heavy {
            (line::LEADER_WORST, line::DOT_WORST)
        } else {
            (line::LEADER, line::DOT)
        };
        sheet.disc(p, dot, Ink::Ink);
        sheet.line(&[p, label], Ink::Ink, wide);
        station_disc(sheet, label, k);
        sheet.named(Hit::Station(pair.measured.id.clone(), k));
        if heavy {
            let beyond = 22.0 + disc_radius(k) + 4.0;
            let room = 18.0 * inward[0].abs() + 8.0 * inward[1].abs();
            let at = [0, 1].map(|i| p[i] + (beyond + room) * inward[i]);
            sheet.text(
                [at[0], at[1] + 4.5],
                (size::CAPTION, weight::SEMI_BOLD),
                Anchor::Middle,
                Ink::Ink,
                "worst",
            );
        }
    }
}

fn disc_radius(k: usize) -> f64 {
    let wide = text_width(&k.to_string(), size::CAPTION, weight::SEMI_BOLD);
    (wide / 2.0 + 4.0).max(11.0)
}

/// The black disc with the number of a station.
pub(super) fn station_disc(sheet: &mut Sheet, [x, y]: [f64; 2], k: usize) {
    let number = k.to_string();
    sheet.disc([x, y], disc_radius(k), Ink::Ink);
    sheet.text(
        [x, y + 4.5],
        (size::CAPTION, weight::SEMI_BOLD),
        Anchor::Middle,
        Ink::OnInk,
        number,
    );
}

/// Every how many stations a tick stands: about two dozen in all.
pub(super) fn tick_step(count: usize) -> usize {
    [1, 2, 4, 5, 8, 10, 16, 20, 25, 50]
        .into_iter()
        .find(|s| count / s <= 24)
        .unwrap_or(100)
}

/// The station that decides the headline, if one does.
pub fn worst_station(pair: &Pair) -> Option<usize> {
    let station = crate::sentence::headline_option(pair)?
        .worst
        .as_ref()?
        .station?;
    (station < pair.measured.stations.len()).then_some(station)
}

pub(super) fn hole_mark(sheet: &mut Sheet, at: [f64; 2], radius: f64, ink: Ink, dash: Dash) {
    let radius = radius.max(2.5);
    let corners = (0..24)
        .map(|k| {
            let phi = std::f64::consts::TAU * f64::from(k) / 24.0;
            [at[0] + radius * phi.cos(), at[1] + radius * phi.sin()]
        })
        .collect();
    sheet.path(corners, true, Some((ink, 1.3, dash)), None);
    for [dx, dy] in [[radius + 3.0, 0.0], [0.0, radius + 3.0]] {
        sheet.line(
            &[[at[0] - dx, at[1] - dy], [at[0] + dx, at[1] + dy]],
            ink,
            0.8,
        );
    }
}

/// The middle of the opening on a page.
fn middle_of_edge(pair: &Pair, page: PageView) -> [f64; 2] {
    let places = pair.measured.stations.iter().map(|s| page.at(&s.a));
    let start = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let (low, high) = places.fold(start, |(low, high), [x, y]| {
        (
            [low[0].min(x), low[1].min(y)],
            [high[0].max(x), high[1].max(y)],
        )
    });
    [
        f64::midpoint(low[0], high[0]),
        f64::midpoint(low[1], high[1]),
    ]
}

/// The factor across the picture with a bar of one unit, and what the signs mean.
fn footnotes(
    sheet: &mut Sheet,
    pair: &Pair,
    page: Option<PageView>,
    factor: f64,
    view: &BookView,
    [corner, area]: [[f64; 2]; 2],
) {
    let (Some(page), false) = (page, pair.measured.stations.is_empty()) else {
        return;
    };
    let units = pair.study.units;
    let bottom = corner[1] + area[1];
    // What the note of the bar takes of the last line.
    let mut taken = 0.0;
    if view.laid_over || factor > 1.0 {
        let written = (size::FACTOR, weight::MEDIUM);
        let says = format!("×{factor:.0}");
        let in_opening = pair.measured.closed;
        let at = if in_opening {
            let [x, y] = middle_of_edge(pair, page);
            [x, y + size::FACTOR / 3.0]
        } else {
            [page.middle[0], bottom - 60.0]
        };
        sheet.text(at, written, Anchor::Middle, Ink::Ink3, says);
        let (bar_mm, bar_says) = match units.length {
            LengthDisplay::Millimetre => (1.0, "1 mm".to_owned()),
            LengthDisplay::Inch => (
                0.05 * 25.4,
                format!("{} in", typed(0.05 * 25.4, record::Quantity::Length, units)),
            ),
        };
        let long = bar_mm * factor * page.scale;
        let y = bottom - space::INSIDE + 1.0;
        let x = corner[0] + space::INSIDE;
        sheet.line(&[[x, y], [x + long, y]], Ink::Ink2, 1.5);
        for x in [x, x + long] {
            sheet.line(&[[x, y - 5.0], [x, y + 5.0]], Ink::Ink2, 1.0);
        }
        let grey = if view.laid_over && pair.part.is_some() {
            "; grey: what you allow"
        } else {
            ""
        };
        let says = format!("{bar_says} of difference{grey}");
        let at = [x + long + 8.0, y + 4.5];
        taken = long + 24.0 + text_width(&says, size::CAPTION, weight::REGULAR);
        sheet.text(
            at,
            (size::CAPTION, weight::REGULAR),
            Anchor::Start,
            Ink::Ink2,
            says,
        );
    }
    let (a, b) = (pair.a_word(), pair.b_word());
    let unit = match units.length {
        LengthDisplay::Millimetre => "mm",
        LengthDisplay::Inch => "in",
    };
    let says = if view.laid_over {
        format!("+ the {a} opening is wider than the {b}, {unit}")
    } else {
        let allowed = pair.part.map_or_else(String::new, |p| {
            let typed = |mm| crate::number::typed(mm, record::Quantity::Length, units);
            let [proud, shy] = [p.allowed.proud_mm, p.allowed.shy_mm].map(typed);
            if proud == shy {
                format!("; allowed {proud}")
            } else {
                format!("; allowed +{proud}, −{shy}")
            }
        });
        format!("{a} stands proud (+) or shy (−) of {b}, {unit}{allowed}")
    };
    let room = area[0] - 2.0 * space::INSIDE;
    let beside = text_width(&says, size::CAPTION, weight::REGULAR) + taken <= room;
    // Two lines still stand below the metal, which ends 42 above the foot of the page.
    let above = if beside { 0.0 } else { 1.4 * size::CAPTION };
    let at = [
        corner[0] + area[0] - space::INSIDE,
        bottom - space::INSIDE + 5.5 - above,
    ];
    for (i, line) in wrapped(&says, room, size::CAPTION, weight::REGULAR)
        .into_iter()
        .rev()
        .enumerate()
    {
        let y = at[1] - 17.0 * i as f64;
        sheet.text(
            [at[0], y],
            (size::CAPTION, weight::REGULAR),
            Anchor::End,
            Ink::Ink2,
            line,
        );
    }
}
