//! Opens the window on the screen of this computer.

use std::fmt;
use std::path::PathBuf;

use crate::state::Act;
use crate::{Preferences, Window, blit, look};

/// What the window begins with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Start {
    /// The empty sheet.
    Empty,
    /// A job.
    Job(PathBuf),
}

/// Why there is no window.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoWindow {
    /// No screen, or none this program can reach.
    NoScreen,
    /// A screen, but nothing that draws on it.
    NoDriver,
}

impl fmt::Display for NoWindow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoScreen => "no screen can be reached, so there is no window",
            Self::NoDriver => {
                "no graphics driver answers (not even a software one), so there is no window"
            }
        })
    }
}

impl std::error::Error for NoWindow {}

/// Opens the window and stays until it is closed.
///
/// # Errors
/// Without a screen or a driver; everything the window does can be done from the command line too.
pub fn run(start: Start) -> Result<(), NoWindow> {
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_title("unmirror")
            .with_app_id("unmirror")
            .with_inner_size([1280.0, 800.0])
            .with_min_inner_size([960.0, 640.0]),
        multisampling: 0,
        depth_buffer: 0,
        persist_window: false,
        dithering: false,
        ..eframe::NativeOptions::default()
    };
    let create: eframe::AppCreator = Box::new(move |cc| {
        look::dress(&cc.egui_ctx);
        if let Some(state) = &cc.wgpu_render_state {
            blit::install(state);
        }
        let mut window = Window::new(&cc.egui_ctx, Preferences::load());
        if let Start::Job(path) = start {
            window.ask(Act::OpenJob(path));
        }
        Ok(Box::new(window))
    });
    eframe::run_native("unmirror", options, create).map_err(|error| match error {
        eframe::Error::Wgpu(_) => NoWindow::NoDriver,
        _ => NoWindow::NoScreen,
    })
}
