//! The answer: verdict, open book, choices, allowances, what to measure next.

use egui::{Rect, Ui, pos2, vec2};
use record::{Relation, Scans};
use report::sheet::{
    BookView, Choosing, Hit, PageView, Pages, Standing, answer_field, book_field, choice_says,
    choices_field, next_column, next_field, strip_field,
};
use report::theme::Ink;
use report::{Pair, pair_text};
use view3d::{Camera, Clip, Keeps, Object, Points, Scene, Shape};

use crate::allowances;
use crate::fields::{AnswerFields, Fields, fill_field, paint_field};
use crate::letter::{CAPTION, CAPTION_HEAD, SAID};
use crate::look::theme_of;
use crate::paint::{Manner, paint_sheet, show_sheet};
use crate::scan_view::{ScanView, metal};
use crate::shown::Shown;
use crate::state::{Act, FACTORS, Panel, Step};

/// Shows the answer on a page.
pub fn show(
    ui: &mut Ui,
    shown: Shown,
    fields: Fields,
    pages: &mut [ScanView; 2],
    asks: &mut Vec<Act>,
) {
    let Some(pair) = shown.pair() else {
        empty(ui, shown, fields.page);
        return;
    };
    let at = AnswerFields::of(fields.page, fields.wide, shown.view.strip);
    let manner = Manner {
        faded: shown.waits(&pair.measured.id),
        in_small: false,
    };
    answer(ui, shown, &pair, at.answer);
    let open = if at.strip.is_some() && !at.column {
        Pages::Ladder
    } else {
        shown.view.pages
    };
    book(ui, shown, &pair, (at.book, open), manner, pages, asks);
    choices(ui, shown, &pair, &at, manner, asks);
    if let Some(field) = at.strip {
        strip(ui, shown, &pair, field, manner, asks);
    }
    paint_field(ui, at.allowances);
    allowances::show(ui, shown, &pair, at.allowances, asks);
    next(ui, &pair, &at, asks);
}

fn size_of(field: Rect) -> [f64; 2] {
    [f64::from(field.width()), f64::from(field.height())]
}

fn empty(ui: &mut Ui, shown: Shown, page: Rect) {
    let working = shown.document().work().next().is_some();
    let says = if working {
        "The answer stands here once both sides are measured. Being worked out."
    } else if shown.document().job().openings.is_empty() {
        "The answer stands here. Bring in a scan of each side and name an opening on both."
    } else {
        "The answer stands here. No two openings are compared yet: name the places of both sides."
    };
    let mut inside = ui.new_child(egui::UiBuilder::new().max_rect(page.shrink(40.0)));
    crate::controls::paragraph(&mut inside, says, SAID, Ink::Ink2);
}

fn answer(ui: &mut Ui, shown: Shown, pair: &Pair, field: Rect) {
    let mut text = pair_text(pair);
    if shown.waits(&pair.measured.id) {
        text.cure.push_str(" Being worked out anew.");
    }
    let sheet = answer_field(&text, size_of(field));
    show_sheet(ui, "answer", &sheet, field.min, Manner::default(), &|_| {
        None
    });
    paint_field(ui, field);
}

fn book(
    ui: &mut Ui,
    shown: Shown,
    pair: &Pair,
    (field, open): (Rect, Pages),
    manner: Manner,
    screens: &mut [ScanView; 2],
    asks: &mut Vec<Act>,
) {
    let scans = shown.document().scans();
    let laid_over = shown.view.laid_over;
    let factor = FACTORS[shown.view.factor % FACTORS.len()];
    let view = BookView {
        pages: open,
        factor: if laid_over { None } else { Some(factor) },
        laid_over,
        pointed: shown.view.pointed,
        over_metal: has_metal(pair, scans),
    };
    let book = book_field(pair, size_of(field), &view);
    for (of_b, page) in book.pages.iter().enumerate() {
        if let Some(page) = page {
            metal_under(ui, shown, pair, of_b == 1, page, field, &mut screens[of_b]);
        }
    }
    let units = pair.study.units;
    let says = |hit: &Hit| match hit {
        Hit::Rung(_, k) => pair.measured.angles.get(*k).map(|r| {
            let side = |f: Option<record::Figure>| {
                f.map_or_else(
                    || "not measured".to_owned(),
                    |f| report::number::show(&f, units).plus_minus(),
                )
            };
            format!(
                "Angle at {}, {}: left {}, right {}",
                r.junction,
                r.place,
                side(r.a),
                side(r.b)
            )
        }),
        Hit::Station(_, k) => pair
            .measured
            .stations
            .get(*k)
            .map(|s| format!("Station {k}, {}", s.place)),
        _ => None,
    };
    let answers = show_sheet(ui, "book", &book.sheet, field.min, manner, &says);
    match answers.clicked() {
        Some(hit @ Hit::Rung(..)) => asks.push(Act::Panel(Some(Panel::Figure(hit.clone())))),
        Some(hit @ Hit::Station(_, k)) => {
            asks.push(Act::Point(Some(*k)));
            asks.push(Act::Panel(Some(Panel::Figure(hit.clone()))));
        }
        _ => {}
    }
    point_at(ui, pair, &book.pages, field, shown, asks);
    paint_field(ui, field);
    let hint = if open == Pages::Ladder {
        "E: back to the pages".to_owned()
    } else if laid_over {
        "Let go: back to the difference".to_owned()
    } else {
        let others = FACTORS.iter().filter(|f| **f != factor);
        let others: Vec<String> = others.map(|f| format!("×{f}")).collect();
        format!(
            "Edge numbers: stations · Hold Space: left edge over right · drawn ×{factor} (X: {})",
            others.join(", ")
        )
    };
    let base = field.left_bottom() + vec2(16.0, -14.0);
    crate::controls::words_at(
        ui,
        base,
        egui::Align2::LEFT_BOTTOM,
        &hint,
        CAPTION,
        Ink::Ink3,
    );
}

fn has_metal(pair: &Pair, scans: &Scans) -> bool {
    let known = |id: &record::OpeningId| pair.opening(id).is_some_and(|_| !scans.is_empty());
    known(&pair.measured.a)
}

/// The scan under a page, seen from outside along the part's normal.
fn metal_under(
    ui: &Ui,
    shown: Shown,
    pair: &Pair,
    of_b: bool,
    page: &PageView,
    field: Rect,
    screen: &mut ScanView,
) {
    let theme = theme_of(ui.ctx());
    let job = shown.document().job();
    let relation = pair.measured.relation;
    let id = match (of_b, relation) {
        (false, _) | (true, Relation::Itself) => Some(&pair.measured.a),
        (true, _) => pair.measured.b.as_ref(),
    };
    let Some(opening) = id.and_then(|id| pair.opening(id)) else {
        return;
    };
    let scan = job
        .openings
        .iter()
        .find(|o| o.id == opening.id)
        .map(|o| &o.scan);
    let Some((scan, prepared)) = scan.and_then(|s| Some((s, shown.document().scans().get(s)?)))
    else {
        return;
    };
    let part_from_scan = if of_b {
        let Some(map) = pair.measured.b_on_a else {
            return;
        };
        map
    } else {
        geom::Improper::proper(opening.part_from_scan)
    };
    let corner = field.min + vec2(page.page[0][0] as f32, page.page[0][1] as f32);
    let rect = Rect::from_min_size(corner, vec2(page.page[1][0] as f32, page.page[1][1] as f32));
    // The captions above and the notes below stand on bare paper.
    let rect = Rect::from_min_max(rect.min + vec2(12.0, 36.0), rect.max - vec2(12.0, 42.0));
    let middle = pos2(page.middle[0] as f32, page.middle[1] as f32) + field.min.to_vec2();
    let off = rect.center() - middle;
    let centre = geom::Point::new(
        page.centre_mm[0] + f64::from(off.x) / page.scale,
        page.centre_mm[1] - f64::from(off.y) / page.scale,
        0.0,
    );
    let camera = Camera {
        mm_per_px: 1.0 / page.scale,
        ..Camera::along(centre, &-geom::Vector::z(), &geom::Vector::y())
    };
    let mut points = Points::new(&prepared.blocks, metal(theme));
    points.paint.own_share = 0.0;
    let object = Object::new(Shape::Points(points)).placed(part_from_scan);
    let object = near_part(object, &part_from_scan, page, rect);
    let mut scene = Scene::default();
    scene.objects.push(object);
    let key = key_of(&[&scan.0, &prepared.hash, &pair.measured.id.0]);
    screen.show(ui, rect, camera, &scene, key);
}

/// Only what lies near the part's flat shows: what stands behind the panel is another story.
fn near_part<'a>(
    object: Object<'a>,
    part_from_scan: &geom::Improper,
    page: &PageView,
    rect: Rect,
) -> Object<'a> {
    let half = [f64::from(rect.width()), f64::from(rect.height())].map(|v| 0.75 * v / page.scale);
    let [x, y] = page.centre_mm;
    let depth = half[0].max(half[1]);
    let corners = [-1.0, 1.0].into_iter().flat_map(|sx| {
        [-1.0, 1.0].into_iter().flat_map(move |sy| {
            [-1.0, 1.0]
                .map(move |sz| geom::Point::new(x + sx * half[0], y + sy * half[1], sz * depth))
        })
    });
    // A mirror undoes itself.
    let back = part_from_scan.rigid.inverse();
    let in_scan = |p: geom::Point| {
        let q = back * p;
        part_from_scan.mirror.map_or(q, |m| m.point(&q))
    };
    let places: Vec<geom::Point> = corners.map(in_scan).collect();
    object.clipped(Clip {
        bounds: geom::Aabb::of(places.iter()),
        keeps: Keeps::Inside,
    })
}

/// A number that changes with any of the words.
pub(crate) fn key_of(words: &[&str]) -> u64 {
    use std::hash::{DefaultHasher, Hash, Hasher};
    let mut hasher = DefaultHasher::new();
    words.hash(&mut hasher);
    hasher.finish()
}

/// Pointing near an edge points at its nearest station, everywhere at once.
fn point_at(
    ui: &Ui,
    pair: &Pair,
    pages: &[Option<PageView>; 2],
    field: Rect,
    shown: Shown,
    asks: &mut Vec<Act>,
) {
    let Some(pointer) = ui.ctx().pointer_hover_pos().filter(|p| field.contains(*p)) else {
        return;
    };
    if shown.view.panel.is_some() {
        return;
    }
    let mut nearest: Option<(f32, usize)> = None;
    for (of_b, page) in pages.iter().enumerate() {
        let Some(page) = page else { continue };
        for (k, station) in pair.measured.stations.iter().enumerate() {
            let [x, y] = page.at(if of_b == 1 { &station.b } else { &station.a });
            let off = (field.min + vec2(x as f32, y as f32)).distance(pointer);
            if nearest.is_none_or(|(d, _)| off < d) {
                nearest = Some((off, k));
            }
        }
    }
    let found = nearest.filter(|(d, _)| *d < 14.0).map(|(_, k)| k);
    if found.is_some() && found != shown.view.pointed {
        asks.push(Act::Point(found));
    }
}

fn choices(
    ui: &mut Ui,
    shown: Shown,
    pair: &Pair,
    at: &AnswerFields,
    manner: Manner,
    asks: &mut Vec<Act>,
) {
    let mut field = at.choices;
    if at.column {
        let head = Rect::from_min_size(field.min, vec2(field.width(), 36.0));
        let base = head.left_center() + vec2(16.0, 0.0);
        crate::controls::words_at(
            ui,
            base,
            egui::Align2::LEFT_CENTER,
            "What would fit",
            CAPTION_HEAD,
            Ink::Ink2,
        );
        let base = head.right_center() - vec2(16.0, 0.0);
        crate::controls::words_at(
            ui,
            base,
            egui::Align2::RIGHT_CENTER,
            "tick: all that you allow",
            CAPTION,
            Ink::Ink2,
        );
        field.min.y += 36.0;
    }
    let standing = if at.column {
        Standing::Column
    } else {
        Standing::Row
    };
    let sheet = choices_field(
        pair,
        size_of(field),
        &Choosing {
            standing,
            choosing: true,
            changed: &changed(ui, shown, pair),
            ..Choosing::PRINTED
        },
    );
    let says = |hit: &Hit| match hit {
        Hit::Choice(_, kind) => Some(choice_says(pair, *kind)),
        _ => None,
    };
    let answers = show_sheet(ui, "choices", &sheet, field.min, manner, &says);
    if let Some(Hit::Choice(id, kind)) = answers.clicked() {
        asks.push(ask_why(id, *kind));
    }
    paint_field(ui, at.choices);
}

/// Asks why a choice is taken.
pub(super) fn ask_why(id: &record::CompareId, kind: record::OptionKind) -> Act {
    Act::Panel(Some(Panel::Choose(id.clone(), kind, String::new())))
}

/// The choices whose shares have just become other ones.
pub(super) fn changed(ui: &Ui, shown: Shown, pair: &Pair) -> Vec<record::OptionKind> {
    let now = ui.input(|i| i.time);
    let lately = |since: f64| now - since < crate::window::UNDERLINED.as_secs_f64();
    shown
        .view
        .uses
        .iter()
        .filter(|((id, _), (_, since))| *id == pair.measured.id && since.is_some_and(lately))
        .map(|((_, kind), _)| *kind)
        .collect()
}

fn strip(ui: &mut Ui, shown: Shown, pair: &Pair, field: Rect, manner: Manner, asks: &mut Vec<Act>) {
    let strip = strip_field(pair, size_of(field), shown.view.pointed);
    fill_field(ui, field, Ink::Sheet);
    paint_sheet(ui, &strip.sheet, field.min, theme_of(ui.ctx()), manner);
    paint_field(ui, field);
    let id = ui.scope_id().with("strip");
    let response = ui.interact(field, id, egui::Sense::click());
    response.widget_info(|| {
        egui::WidgetInfo::labeled(
            egui::Role::Figure,
            true,
            "Strip along the edge: difference of gap and of flush by station",
        )
    });
    if let Some(pointer) = response.hover_pos()
        && let Some(k) = strip.station_at(f64::from(pointer.x - field.min.x))
        && shown.view.pointed != Some(k)
    {
        asks.push(Act::Point(Some(k)));
    }
}

fn next(ui: &mut Ui, pair: &Pair, at: &AnswerFields, asks: &mut Vec<Act>) {
    let sheet = if at.column {
        next_column(pair, size_of(at.next))
    } else {
        next_field(pair, size_of(at.next))
    };
    let says = |hit: &Hit| match hit {
        Hit::Doubts(_) => Some(format!("Doubts: {}", report::sheet::doubts(pair).len())),
        Hit::Next(_) => Some("Do this next".to_owned()),
        _ => None,
    };
    let answers = show_sheet(ui, "next", &sheet, at.next.min, Manner::default(), &says);
    match answers.clicked() {
        Some(Hit::Doubts(id)) => asks.push(Act::Panel(Some(Panel::Doubts(id.clone())))),
        Some(Hit::Next(_)) => asks.push(Act::Go(Step::Places)),
        _ => {}
    }
    paint_field(ui, at.next);
}
