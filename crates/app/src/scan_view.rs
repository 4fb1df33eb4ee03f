//! A picture of scans in a place of the window: drawn on the CPU, coarse at once, full when nothing moves.

use std::time::{Duration, Instant};

use egui::{Rect, Ui};
use report::Theme;
use report::theme::Ink;
use view3d::{Budget, Camera, Look, Progressive, Scene, Sliced, Stage, View};

use crate::blit::Screen;

/// Longest slice of one pass while nothing moves.
const SLICE: Duration = Duration::from_millis(14);

/// One place that shows scans.
pub struct ScanView {
    progressive: Progressive,
    screen: Screen,
    drawn: Option<(View, Theme, u64)>,
}

impl ScanView {
    /// The place of a number; each has its own texture.
    pub fn new(slot: usize) -> Self {
        Self {
            progressive: Progressive::new(),
            screen: Screen::new(slot),
            drawn: None,
        }
    }

    /// Draws a scene into `rect` (points of the window; the picture has the pixels of the screen). `key` changes when the
    /// scene does. Gives the view, in pixels of the picture.
    pub fn show(&mut self, ui: &Ui, rect: Rect, camera: Camera, scene: &Scene, key: u64) -> View {
        let per_point = ui.ctx().pixels_per_point();
        let theme = crate::look::theme_of(ui.ctx());
        let view = View {
            camera: Camera {
                mm_per_px: camera.mm_per_px / f64::from(per_point),
                ..camera
            },
            width: (rect.width() * per_point).round().max(1.0) as u32,
            height: (rect.height() * per_point).round().max(1.0) as u32,
        };
        let look = look_of(theme);
        let mut fresh = false;
        match self.drawn {
            Some((v, t, k)) if v == view && t == theme && k == key => {}
            // Another scene waits until it is drawn; in other colours what was there cannot stay.
            Some((v, t, _)) if v == view && t == theme => {
                self.progressive.begin_at(Stage::Settling, view, look);
            }
            _ => {
                self.progressive.moving(scene, view, look);
                fresh = true;
            }
        }
        self.drawn = Some((view, theme, key));
        if self.progressive.wants_more() && !fresh {
            let until = Instant::now() + SLICE;
            let go_on = || Instant::now() < until;
            let budget = Budget {
                work: usize::MAX,
                go_on: &go_on,
            };
            fresh = self.progressive.slice(scene, &budget) != Sliced::UnderWay;
        }
        if self.progressive.wants_more() {
            ui.ctx().request_repaint();
        }
        let picture = self.progressive.picture();
        if fresh && picture.view == view {
            self.screen
                .put(picture.view.width, picture.view.height, &picture.rgba);
        }
        ui.painter().add(self.screen.shape(rect));
        view
    }

    /// How the latest picture is looked at; `None` before the first.
    pub fn view(&self) -> Option<View> {
        self.drawn.map(|(view, _, _)| view)
    }

    /// The latest picture with what each of its pixels shows.
    pub fn picture(&self) -> &view3d::Picture {
        self.progressive.picture()
    }

    /// The latest picture.
    pub fn screen(&self) -> &Screen {
        &self.screen
    }
}

/// Metal in the colours of a theme.
pub fn look_of(theme: Theme) -> Look {
    let sheet = theme.rgb(Ink::Sheet);
    let look = match theme {
        Theme::Paper => Look::calm(sheet, sheet, theme.rgb(Ink::Ink2)),
        Theme::Slate => Look::calm(sheet, theme.rgb(Ink::Ink3), theme.rgb(Ink::Margin)),
    };
    Look {
        largest_point_px: 8,
        ..look
    }
}

/// The plain colour of metal in a theme.
pub fn metal(theme: Theme) -> [u8; 3] {
    theme.rgb(Ink::Hair)
}
