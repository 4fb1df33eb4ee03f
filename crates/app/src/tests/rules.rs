//! Rules of the look: nothing clipped at any size of type, few sizes of type, every text can be read on its ground.

use std::collections::BTreeSet;

use egui::epaint::TextShape;
use egui::{Color32, Pos2, Rect, Shape};
use egui_kittest::Harness;

use super::window_on_coach;
use crate::Window;
use crate::state::{Act, Panel, Step};

type Seen = Harness<'static, Window>;

/// Every shape of the last pass with its clip, in the order of painting.
fn shapes(harness: &Seen) -> Vec<(Rect, &Shape)> {
    fn walk<'a>(clip: Rect, shape: &'a Shape, out: &mut Vec<(Rect, &'a Shape)>) {
        if let Shape::Vec(many) = shape {
            for one in many {
                walk(clip, one, out);
            }
        } else {
            out.push((clip, shape));
        }
    }
    let mut out = Vec::new();
    for shape in &harness.output().shapes {
        walk(shape.clip_rect, &shape.shape, &mut out);
    }
    out
}

/// Text whose glyphs reach outside the clip it is painted with. Columns that can be scrolled may cut text above and
/// below; a window too small for its sheet may cut it at its own edges.
fn clipped(harness: &Seen, scrolls: bool) -> Vec<String> {
    let window = harness.ctx.content_rect();
    let mut found = Vec::new();
    for (clip, shape) in shapes(harness) {
        let Shape::Text(text) = shape else { continue };
        let rect = text.visual_bounding_rect();
        if !rect.is_positive() || !rect.intersects(clip) {
            continue;
        }
        let off = |inside: bool, own: f32, edge: f32| !inside && (own - edge).abs() > 2.0;
        let across = off(rect.left() >= clip.left() - 1.5, clip.left(), window.left())
            || off(
                rect.right() <= clip.right() + 1.5,
                clip.right(),
                window.right(),
            );
        let along = off(rect.top() >= clip.top() - 1.5, clip.top(), window.top())
            || off(
                rect.bottom() <= clip.bottom() + 1.5,
                clip.bottom(),
                window.bottom(),
            );
        if across || along && !scrolls {
            found.push(format!("{:?} at {rect:?} in {clip:?}", text.galley.text()));
        }
    }
    found
}

fn sizes(harness: &Seen) -> BTreeSet<u32> {
    let mut found = BTreeSet::new();
    for (_, shape) in shapes(harness) {
        if let Shape::Text(text) = shape {
            for section in &text.galley.job.sections {
                found.insert(section.format.font_id.size.round() as u32);
            }
        }
    }
    found
}

#[test]
fn no_text_is_clipped_at_any_size_of_type_and_four_sizes_are_enough() {
    for size in [[1280.0, 800.0], [1920.0, 1080.0]] {
        for scale in [1.0, 1.25, 1.5] {
            let points = size.map(|s| s / scale);
            let mut harness = window_on_coach(points);
            for step in Step::ALL.into_iter().chain(Step::OFF) {
                harness.state_mut().ask(Act::Go(step));
                harness.run_steps(3);
                if step == Step::Sections {
                    super::settle_sections(&mut harness);
                }
                let scrolls = step != Step::Compare;
                let small = points[0] < 960.0 || points[1] < 640.0;
                let bad = clipped(&harness, scrolls || small);
                assert!(bad.is_empty(), "{step:?} at {size:?} × {scale}: {bad:#?}");
                // A factor written across a drawing counts apart.
                let mut sizes = sizes(&harness);
                sizes.remove(&44);
                assert!(sizes.len() <= 4, "{step:?} at {size:?}: {sizes:?}");
            }
            // The boxes of a field sheet: rows and notes are scrolled.
            harness.state_mut().ask(Act::BeginByHand);
            harness.run_steps(4);
            let bad = clipped(&harness, true);
            assert!(bad.is_empty(), "by hand at {size:?} × {scale}: {bad:#?}");
            let sizes = sizes(&harness);
            assert!(sizes.len() <= 4, "by hand at {size:?}: {sizes:?}");
        }
    }
}

/// The colours a text is painted with.
fn inks(text: &TextShape) -> Vec<Color32> {
    let sections = &text.galley.job.sections;
    let own = sections.iter().map(|s| s.format.color);
    let told = |c: Color32| {
        text.override_text_color
            .unwrap_or(if c == Color32::PLACEHOLDER {
                text.fallback_color
            } else {
                c
            })
    };
    own.map(told).collect()
}

/// Whether a polygon holds a point: a ray to the right crosses its sides an odd number of times.
fn encloses(corners: &[Pos2], p: Pos2) -> bool {
    let next = corners.iter().cycle().skip(1);
    let crossed = corners.iter().zip(next).filter(|(a, b)| {
        (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x)
    });
    crossed.count() % 2 == 1
}

/// The opaque colour of a mesh at a place.
fn of_mesh(mesh: &egui::Mesh, p: Pos2) -> Option<Color32> {
    mesh.indices.chunks_exact(3).find_map(|t| {
        let corners = [0, 1, 2].map(|k| mesh.vertices[t[k] as usize]);
        let colour = corners[0].color;
        (colour.is_opaque() && encloses(&corners.map(|v| v.pos), p)).then_some(colour)
    })
}

/// Text that cannot be told from the plain ground painted last below its middle; what stands on a picture is not looked at.
fn faint(harness: &Seen) -> Vec<String> {
    let mut found = Vec::new();
    let shapes = shapes(harness);
    for (k, (clip, shape)) in shapes.iter().enumerate() {
        let Shape::Text(text) = shape else { continue };
        let rect = text.visual_bounding_rect();
        let middle = rect.center();
        if !rect.is_positive() || !clip.contains(middle) || text.galley.text().trim().is_empty() {
            continue;
        }
        let ground = shapes[..k].iter().rev().find_map(|(c, s)| match s {
            Shape::Rect(r)
                if c.contains(middle) && r.rect.contains(middle) && r.fill.is_opaque() =>
            {
                Some(Some(r.fill))
            }
            Shape::Path(p) if c.contains(middle) && encloses(&p.points, middle) => match p.fill {
                fill if fill.is_opaque() => Some(Some(fill)),
                _ => None,
            },
            Shape::Circle(d) if d.fill.is_opaque() && d.center.distance(middle) < d.radius => {
                Some(Some(d.fill))
            }
            Shape::Mesh(m) if c.contains(middle) => of_mesh(m, middle).map(Some),
            Shape::Callback(p) if p.rect.contains(middle) => Some(None),
            _ => None,
        });
        let Some(Some(ground)) = ground else { continue };
        for ink in inks(text).into_iter().filter(Color32::is_opaque) {
            let bytes = |c: Color32| [c.r(), c.g(), c.b()];
            let contrast = report::theme::contrast(bytes(ink), bytes(ground));
            if contrast < 4.5 {
                let words = text.galley.text();
                found.push(format!("{words:?}: {ink:?} on {ground:?}, {contrast:.2}"));
            }
        }
    }
    found
}

/// WCAG 2.1, success criterion 1.4.3: 4.5 for text.
#[test]
fn every_text_can_be_read_on_its_ground() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let pairs: Vec<_> = {
        let job = harness.state().editor().unwrap().document().job();
        job.compares.iter().map(|c| c.id.clone()).collect()
    };
    for dark in [false, true] {
        if dark {
            harness.state_mut().ask(Act::OtherTheme);
        }
        let mut looks = Vec::new();
        looks.extend(Step::OFF.map(|s| vec![Act::Panel(None), Act::Go(s)]));
        looks.extend(Step::ALL.map(|s| vec![Act::Panel(None), Act::Go(s)]));
        looks.extend(pairs.iter().map(|p| vec![Act::Pair(p.clone())]));
        let panels = [
            Panel::About,
            Panel::Find(String::new(), 0),
            Panel::OpenFile(String::new()),
            Panel::Doubts(pairs[0].clone()),
        ];
        looks.extend(panels.map(|p| vec![Act::Panel(Some(p))]));
        looks.push(vec![Act::Panel(None), Act::AskPlace]);
        looks.push(vec![Act::Panel(None), Act::BeginByHand]);
        let mut looked = 0;
        for acts in looks {
            let what = format!("{acts:?}");
            for act in acts {
                harness.state_mut().ask(act);
            }
            harness.run_steps(4);
            let bad = faint(&harness);
            assert!(bad.is_empty(), "{what}, dark {dark}: {bad:#?}");
            looked += shapes(&harness)
                .iter()
                .filter(|(_, s)| matches!(s, Shape::Text(_)))
                .count();
        }
        assert!(looked > 300, "only {looked} texts were looked at");
    }
}
