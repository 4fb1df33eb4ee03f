use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use egui::{Key, Modifiers, Role};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};

use super::{settle, window_on_coach};
use crate::state::Step;
use crate::{Printing, Window};

#[test]
fn every_step_is_reached_from_the_keyboard() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    for (key, step) in [
        (Key::Num1, Step::BringIn),
        (Key::Num2, Step::Places),
        (Key::Num3, Step::Compare),
        (Key::Num4, Step::Decide),
        (Key::Num5, Step::HandOver),
    ] {
        harness.key_press(key);
        harness.run_steps(2);
        assert_eq!(harness.state().view().step, step);
    }
    harness.get_by_role_and_label(Role::Button, "Write the files");
}

/// What was said, once something begins like this. The bound only ends a test that hangs.
fn until_said(harness: &mut Harness<'static, Window>, begins: &str) -> String {
    let begun = std::time::Instant::now();
    loop {
        harness.step();
        let view = harness.state().view();
        let said = view.said.iter().chain(&view.hand_over.says);
        if let Some(found) = said.into_iter().find(|s| s.contains(begins)) {
            return found.clone();
        }
        assert!(
            begun.elapsed() < std::time::Duration::from_mins(3),
            "{begins}: {:?}",
            view.said
        );
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
}

#[test]
fn files_are_written_by_keys_alone() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path().join("shop");
    harness.key_press(Key::Num5);
    harness.run_steps(2);
    // Tab goes on until the folder has the keyboard.
    let mut tabs = 0;
    while !harness
        .get_by_role_and_label(Role::TextInput, "Folder to hand over to")
        .is_focused()
    {
        harness.key_press(Key::Tab);
        harness.run_steps(1);
        tabs += 1;
        assert!(tabs < 80, "the folder is not reached by Tab");
    }
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.event(egui::Event::Text(to.display().to_string()));
    harness.run_steps(3);
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Enter);
    until_said(&mut harness, "files written to");
    let written = |ending: &str| {
        let mut found = 0;
        let mut folders = vec![to.clone()];
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                } else if path.extension().is_some_and(|e| e == ending) {
                    found += 1;
                }
            }
        }
        found
    };
    for ending in ["dxf", "step", "csv", "json"] {
        assert!(written(ending) > 0, "no {ending}");
    }
}

/// A window on the coach whose pages for paper end in a list.
fn printed_by(
    open: impl Fn(&Path) -> io::Result<()> + 'static,
) -> (Harness<'static, Window>, tempfile::TempDir) {
    let folder = tempfile::tempdir().unwrap();
    let printing = Printing::new(folder.path().join("printed"), Box::new(open));
    let mut harness = Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .with_max_steps(40)
        .build_eframe(|cc| {
            crate::look::dress(&cc.egui_ctx);
            Window::new(&cc.egui_ctx, crate::Preferences::default()).printing_by(printing)
        });
    harness.state_mut().open_job(&super::copied_job());
    settle(&mut harness);
    (harness, folder)
}

#[test]
fn a_pair_is_printed_by_what_this_computer_opens_such_files_with() {
    let opened: Arc<Mutex<Vec<PathBuf>>> = Arc::default();
    let list = Arc::clone(&opened);
    let (mut harness, _folder) = printed_by(move |file| {
        list.lock().unwrap().push(file.to_owned());
        Ok(())
    });
    harness.key_press(Key::Num5);
    harness.run_steps(2);
    harness
        .get_by_role_and_label(Role::Button, "Print the pair")
        .click();
    until_said(&mut harness, "to print, at 100 %");
    let files = opened.lock().unwrap().clone();
    assert_eq!(files.len(), 1);
    let bytes = std::fs::read(&files[0]).unwrap();
    assert!(bytes.starts_with(b"%PDF-"), "{:?}", &bytes[..8]);
    // One page that says what fits, and both sides at true size.
    let text = String::from_utf8_lossy(&bytes);
    let pages = text.matches("/Type /Page\n").count() + text.matches("/Type /Page/").count();
    assert!(pages == 3 || text.contains("/Count 3"), "{pages}");
}

#[test]
fn where_nothing_opens_it_the_page_says_where_it_lies() {
    let (mut harness, _folder) =
        printed_by(|_| Err(io::Error::new(io::ErrorKind::NotFound, "no such program")));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::P);
    let said = until_said(&mut harness, "to print lie in");
    assert!(
        said.contains(".pdf") && said.contains("no such program"),
        "{said}"
    );
}

#[test]
fn the_sentences_of_the_worked_example_are_done_by_doing() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    harness.state_mut().begin_lesson();
    harness.run_steps(2);
    let at = |h: &Harness<'static, Window>| {
        let lesson = h.state().view().lesson.as_ref();
        lesson.map(|l| l.prompt(true).0)
    };
    let shown = |h: &Harness<'static, Window>, k: usize| {
        let words = crate::lesson::PROMPTS[k];
        assert!(
            h.query_all_by_label_contains(words).next().is_some(),
            "{words}"
        );
    };
    assert_eq!(at(&harness), Some(0));
    shown(&harness, 0);
    // What is not asked for does not count.
    harness.key_press(Key::X);
    harness.run_steps(2);
    assert_eq!(at(&harness), Some(0));
    harness.key_press(Key::PageDown);
    harness.run_steps(2);
    assert_eq!(at(&harness), Some(1));
    harness.key_down(Key::Space);
    harness.run_steps(2);
    assert_eq!(at(&harness), Some(1));
    harness.key_up(Key::Space);
    harness.run_steps(2);
    shown(&harness, 2);
    harness.key_press(Key::X);
    harness.run_steps(2);
    harness.key_press(Key::ArrowDown);
    harness.run_steps(2);
    assert_eq!(at(&harness), Some(4));
    // The part on the page has no ladder: what is asked for is there all the same.
    let words = crate::lesson::NO_LADDER;
    let said = harness.query_all_by_label_contains(words).next();
    assert!(said.is_some(), "{words}");
    let id = harness.state().view().pair.clone().unwrap();
    let angles = |h: &Harness<'static, Window>| {
        let study = h.state().editor().unwrap().document().study();
        let of = study.measured.compares.iter().find(|c| c.id == id).unwrap();
        of.angles.len()
    };
    assert_eq!(angles(&harness), 0);
    let station = harness
        .query_all_by_role(Role::Button)
        .find(|n| {
            n.accesskit_node()
                .label()
                .is_some_and(|l| l.starts_with("Station "))
        })
        .unwrap()
        .rect()
        .center();
    harness.event(egui::Event::PointerMoved(station));
    for pressed in [true, false] {
        harness.event(egui::Event::PointerButton {
            pos: station,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: egui::Modifiers::NONE,
        });
        harness.run_steps(2);
    }
    assert_eq!(at(&harness), Some(5));
    harness.key_press(Key::Escape);
    harness.run_steps(2);
    harness
        .get_by_role_and_label(Role::Button, "Enough")
        .click();
    harness.run_steps(2);
    assert_eq!(at(&harness), None);
}

#[test]
fn shares_that_an_edit_changed_stand_underlined_for_a_while() {
    let mut harness = window_on_coach([1280.0, 800.0]);
    let lately = |h: &Harness<'static, Window>| {
        let now = h.ctx.input(|i| i.time);
        let view = h.state().view();
        let pair = view.uses.iter();
        pair.filter(|(_, (_, since))| since.is_some_and(|s| now - s < 2.0))
            .map(|((id, kind), _)| (id.clone(), *kind))
            .collect::<Vec<_>>()
    };
    harness.run_steps(3);
    let part = harness.state().editor().unwrap().document().job().compares[0].clone();
    harness
        .get_by_role_and_label(Role::TextInput, "How far the gap may vary")
        .focus();
    harness.run_steps(2);
    harness.event(egui::Event::Text("2,5".to_owned()));
    harness.run_steps(3);
    settle(&mut harness);
    let changed = lately(&harness);
    assert!(!changed.is_empty());
    assert!(changed.iter().all(|(id, _)| *id == part.id), "{changed:?}");
}
