//! Pictures of the whole window on the software Vulkan driver, kept small as files and compared. The build server
//! installs the driver and runs them; without it `cargo test` passes them by.
//!
//! `UNMIRROR_PICTURES=keep cargo test -p app pictures -- --ignored` writes them anew: look at them before they are committed.

use std::io::BufReader;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use eframe::wgpu;
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;

use super::{copied_job, settle};
use crate::state::{Act, Panel, Step};
use crate::{Preferences, Window, blit, look};

/// Pictures are kept at half the size of the window, each pixel the mean of four: the last bit of an edge is no matter.
const HALF: usize = 2;
/// Colours are kept in such steps.
const STEP: u32 = 6;
/// Largest difference of a colour that is not looked at: versions of the driver round differently.
const CLOSE: u8 = 12;
/// Share of the pixels that may differ more.
const SHARE: f64 = 0.004;
/// Passes in a row that ask for no other before a picture is taken.
const QUIET: usize = 20;
/// Largest size of one picture and of all, bytes.
const SIZE: u64 = 150_000;
const ALL: u64 = 1_000_000;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("pictures")
}

fn keeping() -> bool {
    std::env::var("UNMIRROR_PICTURES").is_ok_and(|v| v == "keep")
}

/// A window with a screen: the software driver, which is looked for and not taken for granted.
fn window(size: [f32; 2], dark: bool) -> Harness<'static, Window> {
    Harness::builder()
        .with_size(vec2(size[0], size[1]))
        .with_theme(if dark {
            egui::Theme::Dark
        } else {
            egui::Theme::Light
        })
        .with_max_steps(40)
        .wgpu()
        .build_eframe(move |cc| {
            look::dress(&cc.egui_ctx);
            let state = cc.wgpu_render_state.as_ref().expect("a screen of wgpu");
            let adapter = state.adapter.get_info();
            assert!(
                adapter.backend == wgpu::Backend::Vulkan
                    && adapter.device_type == wgpu::DeviceType::Cpu,
                "the pictures are those of the software Vulkan driver (mesa-vulkan-drivers), not of {adapter:?}"
            );
            blit::install(state);
            let mut preferences = Preferences::default();
            if dark {
                preferences.other_theme();
            }
            Window::new(&cc.egui_ctx, preferences)
        })
}

fn on_coach(size: [f32; 2], dark: bool) -> Harness<'static, Window> {
    let mut harness = window(size, dark);
    harness.state_mut().open_job(&copied_job());
    settle(&mut harness);
    harness
}

/// What the window shows once nothing is being drawn any more: width, height, colours at half the size.
fn seen(harness: &mut Harness<'static, Window>) -> (u32, u32, Vec<u8>) {
    // Pictures of scans come in slices of a few milliseconds: on a slow machine the last one is many passes after the
    // first. The window asks for passes until it is there.
    let begun = Instant::now();
    let mut quiet = 0;
    while quiet < QUIET {
        harness.step();
        let asked = harness.ctx.requested_repaint_last_pass();
        quiet = if asked { 0 } else { quiet + 1 };
        assert!(
            begun.elapsed() < Duration::from_mins(5),
            "the window never came to rest"
        );
        std::thread::sleep(Duration::from_millis(5));
    }
    let image = harness.render().expect("a picture");
    let (w, h) = (
        image.width() as usize / HALF,
        image.height() as usize / HALF,
    );
    let raw = image.as_raw();
    let mut out = Vec::with_capacity(w * h * 3);
    for y in 0..h {
        for x in 0..w {
            for c in 0..3 {
                let at = |dx: usize, dy: usize| {
                    let i = (HALF * y + dy) * image.width() as usize + HALF * x + dx;
                    u32::from(raw[4 * i + c])
                };
                let mean = (at(0, 0) + at(1, 0) + at(0, 1) + at(1, 1) + 2) / 4;
                // Steps of a few levels keep the files small.
                out.push((((mean + STEP / 2) / STEP * STEP).min(255)) as u8);
            }
        }
    }
    (w as u32, h as u32, out)
}

fn check(name: &str, harness: &mut Harness<'static, Window>) {
    let (w, h, rgb) = seen(harness);
    let path = folder().join(format!("{name}.png"));
    if keeping() {
        let mut encoder = png::Encoder::new(std::fs::File::create(&path).unwrap(), w, h);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_compression(png::Compression::High);
        let mut writer = encoder.write_header().unwrap();
        writer.write_image_data(&rgb).unwrap();
        return;
    }
    let file = std::fs::File::open(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let mut reader = png::Decoder::new(BufReader::new(file)).read_info().unwrap();
    let mut kept = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut kept).unwrap();
    assert_eq!((info.width, info.height), (w, h), "{name}");
    let differ = rgb
        .chunks(3)
        .zip(kept.chunks(3))
        .filter(|(a, b)| a.iter().zip(*b).any(|(x, y)| x.abs_diff(*y) > CLOSE))
        .count();
    let share = differ as f64 / f64::from(w * h);
    assert!(share <= SHARE, "{name}: {share:.4} of the pixels differ");
}

const SMALL: [f32; 2] = [1280.0, 800.0];

#[test]
#[ignore = "needs the software Vulkan driver: cargo test -p app pictures -- --ignored"]
fn the_pages_look_as_they_were_looked_at() {
    check("start", &mut window(SMALL, false));
    let mut taped = window(SMALL, false);
    taped
        .state_mut()
        .open_job(&super::by_hand::taped_with_a_slip());
    settle(&mut taped);
    taped.key_press(Key::Num1);
    check("by-hand", &mut taped);
    let mut placed = window(SMALL, false);
    let job = super::centreline::placed_job("pictured.ron");
    placed.state_mut().open_job(&job);
    settle(&mut placed);
    placed.key_press(Key::Num6);
    check("centreline", &mut placed);
    let mut worked = window(SMALL, false);
    let job = super::two::worked_job("pictured.ron");
    worked.state_mut().open_job(&job);
    settle(&mut worked);
    worked.key_press(Key::Num8);
    super::two::settle_two(&mut worked);
    check("visits", &mut worked);
    let mut coach = on_coach(SMALL, false);
    check("answer-will-not-fit", &mut coach);
    for (key, name) in [
        (Key::Num1, "bring-in"),
        (Key::Num2, "places"),
        (Key::Num4, "decide"),
        (Key::Num5, "hand-over"),
    ] {
        coach.key_press(key);
        check(name, &mut coach);
    }
    coach.key_press(Key::Num3);
    coach.key_press_modifiers(Modifiers::COMMAND, Key::F);
    check("find", &mut coach);
}

#[test]
#[ignore = "needs the software Vulkan driver: cargo test -p app pictures -- --ignored"]
fn the_dark_pages_look_as_they_were_looked_at() {
    let mut coach = on_coach(SMALL, true);
    coach.key_press(Key::PageDown);
    check("dark-answer-fits", &mut coach);
    let marker = coach
        .state()
        .editor()
        .unwrap()
        .document()
        .job()
        .compares
        .iter()
        .find(|c| c.id.0 == "marker")
        .unwrap()
        .id
        .clone();
    coach.state_mut().ask(Act::Pair(marker));
    check("dark-answer-not-proven", &mut coach);
    coach.state_mut().ask(Act::Go(Step::Places));
    check("dark-places", &mut coach);
    coach.state_mut().ask(Act::Panel(Some(Panel::About)));
    check("dark-about", &mut coach);
}

#[test]
#[ignore = "needs the software Vulkan driver: cargo test -p app pictures -- --ignored"]
fn the_wide_answer_looks_as_it_was_looked_at() {
    check("wide-answer", &mut on_coach([1920.0, 1080.0], false));
}

#[test]
fn the_pictures_are_small() {
    if keeping() {
        // They are being written at this moment.
        return;
    }
    let mut all = 0;
    let mut count = 0;
    for entry in std::fs::read_dir(folder()).unwrap() {
        let entry = entry.unwrap();
        let size = entry.metadata().unwrap().len();
        assert!(size < SIZE, "{:?}: {size} bytes", entry.path());
        all += size;
        count += 1;
    }
    assert!((10..=15).contains(&count), "{count} pictures");
    assert!(all < ALL, "{all} bytes");
}
