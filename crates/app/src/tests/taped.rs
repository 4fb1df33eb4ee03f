//! A job measured with tape and protractor, from the empty sheet to written files: once by the pointer, once by keys alone.

use std::collections::BTreeMap;

use editor::{HandBox, HandForm};
use egui::{Key, Role};
use egui_kittest::kittest::{NodeT, Queryable};
use record::{HandKind, PlanRole, Verdict};

use super::from_empty::{Person, count};
use super::settle;
use crate::state::Step;

/// Where the marks of the sheet lie on a body, mm; on the right one two points of the edge lie `off` farther in.
fn body(form: &HandForm, side: usize, off: f64) -> BTreeMap<String, [f64; 3]> {
    let plan = &form.plans[side];
    let points = plan.points.iter().map(|p| {
        let height = match p.role {
            PlanRole::Raised => 150.0,
            PlanRole::Panel | PlanRole::Hole => 4.0,
            PlanRole::Edge => 0.0,
        };
        let moved = side == 1 && ["4", "5", "6"].contains(&p.name.as_str());
        let x = p.at[0] - p.at[0].signum() * if moved { off } else { 0.0 };
        (p.name.clone(), [x, p.at[1], height])
    });
    points.collect()
}

/// What is read in a box, to half a millimetre, in the ways people write it.
fn read(places: &BTreeMap<String, [f64; 3]>, of: &HandBox, row: usize) -> String {
    if of.kind == HandKind::Angle {
        return ["89.5", "89,5", "89\u{b0} 30'"][row % 3].to_owned();
    }
    let [a, b] = [&of.from[0], &of.to[0]].map(|n| places[n]);
    let square: f64 = (0..3).map(|k| (a[k] - b[k]).powi(2)).sum();
    let mm = (2.0 * square.sqrt()).round() / 2.0;
    match row % 3 {
        0 => format!("{mm}"),
        1 => format!("{mm}").replace('.', ","),
        _ => format!("{mm} mm"),
    }
}

fn form(p: &Person) -> HandForm {
    let document = p.window.state().editor().unwrap().document();
    let table = document.job().hand[0].id.clone();
    document.hand_form(&table).unwrap()
}

/// Types the whole sheet: each reading and Enter, from the box that has the keyboard on.
fn fill(p: &mut Person, off: f64) {
    let form = form(p);
    for side in 0..2 {
        let places = body(&form, side, off);
        for (row, b) in form.boxes.iter().enumerate() {
            for time in 0..usize::from(b.times) {
                let text = read(&places, &HandBox::of(b, time), row);
                p.window.event(egui::Event::Text(text));
                p.window.key_press(Key::Enter);
                p.window.run_steps(1);
            }
        }
    }
    p.window.run_steps(3);
    for side in &form.sides {
        let document = p.window.state().editor().unwrap().document();
        let boxes = form
            .boxes
            .iter()
            .flat_map(|b| (0..usize::from(b.times)).map(move |t| HandBox::of(b, t)));
        let blank = boxes.filter(|of| document.hand_reading(side, of).is_none());
        let blank: Vec<String> = blank
            .map(|of| format!("{} {}", of.says(), of.time))
            .collect();
        assert!(blank.is_empty(), "{}: {blank:?}", side.name);
    }
    let refused = &p.window.state().view().entry.refused;
    assert!(refused.is_empty(), "{refused:?}");
}

/// The headline stands above the boxes and is announced.
fn headline(p: &Person) -> (Verdict, String) {
    let study = p
        .window
        .state()
        .editor()
        .unwrap()
        .document()
        .study()
        .clone();
    let pairs = report::Pair::all(&study);
    let text = report::pair_text(&pairs[0]);
    let said = p.window.query_all_by_label_contains(&text.headline).count();
    assert!(said > 0, "{} is not announced", text.headline);
    (text.verdict, text.headline)
}

fn label_of(side: &str, form: &HandForm, row: usize) -> String {
    format!("{side}, {}, 1st", HandBox::of(&form.boxes[row], 0).says())
}

fn is_shown(p: &Person, label: &str) -> bool {
    let all = p.window.query_all_by_role(Role::TextInput);
    let mut labels = all.filter_map(|n| n.accesskit_node().label());
    labels.any(|l| l == label)
}

#[test]
fn a_taped_job_from_the_empty_sheet_with_the_keyboard() {
    let mut p = Person::arrives();
    p.tab_to(Role::Button, "Begin with tape and protractor");
    p.key(Key::Enter);
    p.window.run_steps(3);
    let sheet = form(&p);
    // The first box has the keyboard: one types on.
    let first = label_of("Left", &sheet, 0);
    let focused = p.window.query_all_by_role(Role::TextInput);
    let mut focused = focused.filter(egui_kittest::Node::is_focused);
    assert_eq!(
        focused.next().unwrap().accesskit_node().label(),
        Some(first)
    );
    drop(focused);
    fill(&mut p, 0.0);
    settle(&mut p.window);
    let (verdict, _) = headline(&p);
    assert_ne!(verdict, Verdict::NotMeasured);
    // Undo by name, while nothing is typed in.
    p.key(Key::Escape);
    p.control(Key::Z);
    let undone = p.window.state().view().said.clone().unwrap();
    assert!(undone.starts_with("undone: right, angle "), "{undone}");
    p.control(Key::Y);
    settle(&mut p.window);
    // Saved where it is said, and handed over there.
    p.control(Key::S);
    let path = p.folder.path().join("taped.ron");
    p.types(&path.display().to_string());
    p.key(Key::Enter);
    assert!(path.is_file());
    p.key(Key::Num3);
    assert_eq!(p.window.state().view().step, Step::Compare);
    headline(&p);
    p.key(Key::Num5);
    p.tab_to(Role::TextInput, "Folder to hand over to");
    let folder = p.folder.path().join("out");
    p.types(&folder.display().to_string());
    p.control(Key::Enter);
    p.until_written(&folder);
    // What was typed is in the file as it was typed.
    let copy = p.folder.path().join("copy.ron");
    std::fs::copy(&path, &copy).unwrap();
    let again = editor::Editor::open(&copy, editor::Settings::default()).unwrap();
    assert_eq!(again.document().job().hand, p.job().hand);
    let readings = &p.job().hand[1].readings;
    for ending in [" mm", ",5", "89\u{b0} 30'"] {
        assert!(
            readings.iter().any(|r| r.written.ends_with(ending)),
            "{ending}"
        );
    }
}

#[test]
fn a_taped_job_from_the_empty_sheet_with_the_pointer() {
    let mut p = Person::arrives();
    p.press(Role::Button, "Begin with tape and protractor");
    p.window.run_steps(3);
    let sheet = form(&p);
    // A fraction without its unit is not taken, and said so at its box.
    let first = label_of("Left", &sheet, 0);
    p.press(Role::TextInput, &first);
    p.types("3/16");
    p.press(Role::TextInput, &label_of("Left", &sheet, 1));
    let refused = |p: &Person| p.window.query_all_by_label_contains("is not taken").count();
    assert_eq!(refused(&p), 1);
    assert_eq!(
        p.job().hand[0]
            .readings
            .iter()
            .filter(|r| !r.kind.is_word())
            .count(),
        0
    );
    p.press(Role::RadioButton, "In inches");
    p.press(Role::TextInput, &first);
    p.press(Role::TextInput, &label_of("Left", &sheet, 1));
    assert_eq!(refused(&p), 0);
    let taken = p.job().hand[0].readings.last().unwrap().clone();
    assert_eq!(taken.written, "3/16\"");
    assert!((taken.value - 4.7625).abs() < 1e-9);
    p.press(Role::Button, "Undo");
    p.press(Role::RadioButton, "In mm");
    // The sheet is filled in; on the right three points lie 3 mm farther in than on the left.
    p.press(Role::TextInput, &first);
    fill(&mut p, 3.0);
    settle(&mut p.window);
    let (verdict, before) = headline(&p);
    assert_eq!(verdict, Verdict::WillNotFit, "{before}");
    // An inch misread at one box is named there, in words.
    let far = sheet.boxes.iter().position(|b| b.from == ["2"]).unwrap();
    let label = label_of("Left", &sheet, far);
    for _ in 0..80 {
        let shown = is_shown(&p, &label).then(|| {
            let found = p.window.get_by_role_and_label(Role::TextInput, &label);
            found.rect().center().y
        });
        // Above stand the answer and the heads of the columns.
        match shown {
            Some(y) if y > 240.0 && y < 680.0 => break,
            Some(y) if y > 240.0 => scroll(&mut p, -60.0),
            _ => scroll(&mut p, 60.0),
        }
    }
    p.press(Role::TextInput, &label);
    let of = HandBox::of(&sheet.boxes[far], 0);
    let good = {
        let document = p.window.state().editor().unwrap().document();
        document.hand_reading(&sheet.sides[0], &of).unwrap().value
    };
    p.window
        .key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    p.window.run_steps(1);
    p.types(&format!("{}", good + 25.5));
    p.key(Key::Enter);
    settle(&mut p.window);
    p.window.run_steps(3);
    let named = p
        .window
        .query_all_by_label_contains("about one inch")
        .count();
    assert!(named > 0, "the slip is not named at its box");
    // The sheet to print has the same boxes.
    p.press(Role::Button, "Print the field sheet");
    let said = p.window.state().view().said.clone().unwrap();
    assert!(said.contains("pages"), "{said}");
    // And the whole job is handed over.
    p.press(Role::Button, "Undo");
    settle(&mut p.window);
    assert_eq!(headline(&p).1, before);
    p.press(Role::Tab, "Compare");
    p.press(Role::Tab, "Hand over");
    p.press(Role::TextInput, "Folder to hand over to");
    let folder = p.folder.path().join("out");
    p.types(&folder.display().to_string());
    p.press(Role::Button, "Write the files");
    p.until_written(&folder);
    assert!(count(&folder, "dxf") >= 2);
}

fn scroll(p: &mut Person, by: f32) {
    p.window.hover_at(egui::pos2(500.0, 500.0));
    p.window.event(egui::Event::MouseWheel {
        unit: egui::MouseWheelUnit::Point,
        delta: egui::vec2(0.0, by),
        modifiers: egui::Modifiers::NONE,
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
    });
    p.window.run_steps(8);
}

/// A caliper that sends its readings as keys, or quick hands before a slow screen: many keys in one pass, cut anywhere.
#[test]
fn keys_that_come_faster_than_the_picture_go_into_their_boxes() {
    let mut p = Person::arrives();
    p.tab_to(Role::Button, "Begin with tape and protractor");
    p.key(Key::Enter);
    p.window.run_steps(3);
    let sheet = form(&p);
    let mut events = Vec::new();
    let mut want = Vec::new();
    let mut number = 0;
    for b in &sheet.boxes {
        for time in 0..usize::from(b.times) {
            number += 1;
            let text = if b.kind == HandKind::Angle {
                format!("{}.5", 80 + number % 10)
            } else {
                format!("{}", 1000 + number)
            };
            for letter in text.chars() {
                events.push(egui::Event::Text(letter.to_string()));
            }
            for pressed in [true, false] {
                events.push(egui::Event::Key {
                    key: Key::Enter,
                    physical_key: None,
                    pressed,
                    repeat: false,
                    modifiers: egui::Modifiers::NONE,
                });
            }
            want.push((HandBox::of(b, time), text));
        }
    }
    // So many events a pass, from a fixed list.
    let mut counts = [1, 2, 3, 7, 1, 12, 5, 4, 2, 9, 30, 6].into_iter().cycle();
    let mut left = events.into_iter().peekable();
    while left.peek().is_some() {
        let now: Vec<_> = left.by_ref().take(counts.next().unwrap()).collect();
        p.window.input_mut().events.extend(now);
        p.window.step();
    }
    p.window.run_steps(3);
    let document = p.window.state().editor().unwrap().document();
    let wrong: Vec<String> = want
        .iter()
        .filter_map(|(of, text)| {
            let held = document.hand_reading(&sheet.sides[0], of);
            let held = held.map_or("blank", |r| &r.written);
            (held != text).then(|| format!("{}, {}: {held}, not {text}", of.says(), of.time))
        })
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    // They make no body: that is said, and soon.
    settle(&mut p.window);
}
