//! One picture in the making: points, triangles, shading, lines, each in portions.

use geom::GoOn;
use rayon::prelude::*;

use crate::overlay::{self, Rows};
use crate::picture::Picture;
use crate::raster::{self, Placed, Raster};
use crate::scene::Shape;
use crate::shade::Shading;
use crate::splat::{self, Portion};
use crate::triangles::{self, Run};
use crate::{Look, Scene, View};

/// Points drawn between two questions whether to go on.
const POINTS: usize = 1 << 17;
/// Runs of triangles between two questions.
const RUNS: usize = 16;
/// Rows of a band.
const BAND: usize = 32;
/// Bands shaded between two questions.
const BANDS: usize = 4;

/// How much is done in one call.
#[derive(Clone, Copy)]
pub struct Budget<'a> {
    /// Most work: points drawn, pixels shaded, triangles (eight each). What was begun is finished, so up to 131,072
    /// more.
    pub work: usize,
    /// Asked every few milliseconds; `false` ends the call. A window asks its clock here.
    pub go_on: GoOn<'a>,
}

impl Budget<'_> {
    /// Everything in one call.
    pub fn all() -> Self {
        Self {
            work: usize::MAX,
            go_on: &|| true,
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    Points,
    Triangles,
    Shade,
    Lines,
    Done,
}

/// How the scene was made up when the drawing began.
#[derive(Clone, Debug, Default, PartialEq)]
struct Shapes(Vec<(usize, usize)>);

impl Shapes {
    fn of(scene: &Scene) -> Self {
        Self(
            scene
                .objects
                .iter()
                .map(|o| match &o.shape {
                    Shape::Points(p) => (p.blocks.len(), p.blocks.blocks().len()),
                    Shape::Mesh(m) => (m.triangles.len(), usize::MAX),
                    Shape::Line(_) => (0, usize::MAX - 1),
                    Shape::Marks(_) => (0, usize::MAX - 2),
                })
                .collect(),
        )
    }
}

/// One picture in the making.
pub(crate) struct Drawing {
    raster: Raster,
    look: Option<Look>,
    budget: usize,
    shapes: Shapes,
    placed: Vec<Placed>,
    starts: Vec<u32>,
    portions: Vec<Portion>,
    runs: Vec<Run>,
    phase: Phase,
    next: usize,
    words: Vec<u64>,
    coarse: Vec<u8>,
    rgba: Vec<u8>,
    thinned: bool,
}

impl Drawing {
    pub fn new() -> Self {
        Self {
            raster: Raster::new(),
            look: None,
            budget: 0,
            shapes: Shapes::default(),
            placed: Vec::new(),
            starts: vec![0],
            portions: Vec::new(),
            runs: Vec::new(),
            phase: Phase::Done,
            next: 0,
            words: Vec::new(),
            coarse: Vec::new(),
            rgba: Vec::new(),
            thinned: false,
        }
    }

    /// Begins a picture with about `budget` points, `coarseness` pixels of it per pixel drawn.
    pub fn begin(&mut self, scene: &Scene, view: View, look: Look, coarseness: u32, budget: usize) {
        self.look = Some(look);
        self.budget = budget;
        self.shapes = Shapes::of(scene);
        self.raster.begin(view, coarseness, scene);
        self.placed = scene
            .objects
            .iter()
            .map(|o| Placed::new(&view, &o.world_from_object))
            .collect();
        self.starts = raster::starts(scene);
        self.portions.clear();
        self.runs.clear();
        if view.camera.is_sound() {
            self.portions = splat::portions(
                &self.raster,
                scene,
                &self.placed,
                &self.starts,
                &look,
                budget,
            );
            self.runs = triangles::runs(scene, &self.starts);
        }
        let taken: usize = self.portions.iter().map(|p| p.take as usize).sum();
        self.thinned = taken >= budget;
        self.phase = Phase::Points;
        self.next = 0;
        let n = self.raster.words.len();
        self.words.resize(n, 0);
        self.coarse.resize(4 * n, 0);
    }

    /// Whether fewer points than there are were drawn.
    pub fn thinned(&self) -> bool {
        self.thinned
    }

    /// Goes on; whether the picture is finished. Begins again if the scene is made up differently.
    pub fn advance(&mut self, scene: &Scene, budget: &Budget) -> bool {
        let Some(look) = self.look else {
            return true;
        };
        if self.phase != Phase::Done && self.shapes != Shapes::of(scene) {
            let (view, k) = (self.raster.view, self.raster.coarseness);
            self.begin(scene, view, look, k, self.budget);
        }
        let mut left = budget.work;
        loop {
            let done = match self.phase {
                Phase::Points => self.points(scene),
                Phase::Triangles => self.triangles(scene),
                Phase::Shade => self.shade(scene, &look),
                Phase::Lines => self.lines(scene, &look),
                Phase::Done => return true,
            };
            left = left.saturating_sub(done);
            if self.phase == Phase::Done {
                return true;
            }
            if left == 0 || !(budget.go_on)() {
                return false;
            }
        }
    }

    fn enter(&mut self, phase: Phase) {
        self.phase = phase;
        self.next = 0;
    }

    fn points(&mut self, scene: &Scene) -> usize {
        let mut work = 0;
        let first = self.next;
        while self.next < self.portions.len() && work < POINTS {
            work += self.portions[self.next].take as usize;
            self.next += 1;
        }
        let (raster, placed, starts) = (&self.raster, &self.placed, &self.starts);
        self.portions[first..self.next]
            .par_iter()
            .for_each(|portion| {
                let o = portion.object as usize;
                let object = &scene.objects[o];
                if let Shape::Points(points) = &object.shape {
                    splat::draw(raster, object, points, &placed[o], starts[o], portion);
                }
            });
        if self.next == self.portions.len() {
            self.enter(Phase::Triangles);
        }
        work
    }

    fn triangles(&mut self, scene: &Scene) -> usize {
        let end = (self.next + RUNS).min(self.runs.len());
        let (raster, placed, starts) = (&self.raster, &self.placed, &self.starts);
        self.runs[self.next..end].par_iter().for_each(|run| {
            let o = run.object as usize;
            let object = &scene.objects[o];
            if let Shape::Mesh(mesh) = &object.shape {
                triangles::draw(raster, object, mesh, &placed[o], starts[o], run);
            }
        });
        let work = 8 * triangles::RUN * (end - self.next);
        self.next = end;
        if end == self.runs.len() {
            self.enter(Phase::Shade);
        }
        work
    }

    fn shade(&mut self, scene: &Scene, look: &Look) -> usize {
        let width = self.raster.width as usize;
        let rows = self.raster.height as usize;
        let end = (self.next + BAND * BANDS).min(rows);
        let shading = Shading {
            raster: &self.raster,
            scene,
            placed: &self.placed,
            starts: &self.starts,
            look,
        };
        let first = self.next;
        let band = (BAND * width).max(1);
        self.words[first * width..end * width]
            .par_chunks_mut(band)
            .zip(self.coarse[4 * first * width..4 * end * width].par_chunks_mut(4 * band))
            .enumerate()
            .for_each(|(i, (words, rgba))| shading.band(first + i * BAND, words, rgba));
        self.next = end;
        if end == rows {
            self.enter(Phase::Lines);
        }
        (end - first) * width
    }

    /// Brings the picture to its full size and draws the lines, in one go.
    fn lines(&mut self, scene: &Scene, look: &Look) -> usize {
        let view = self.raster.view;
        let (width, height) = (view.width as usize, view.height as usize);
        let k = self.raster.coarseness as usize;
        if k == 1 {
            std::mem::swap(&mut self.rgba, &mut self.coarse);
        } else {
            self.rgba.resize(4 * width * height, 0);
            let across = 4 * self.raster.width as usize;
            let coarse = &self.coarse;
            let row = 4 * width;
            self.rgba
                .par_chunks_mut((row * k).max(1))
                .enumerate()
                .for_each(|(r, rows)| {
                    let (top, others) = rows.split_at_mut(row);
                    let from = &coarse[r * across..];
                    for (pixels, colour) in top.chunks_mut(4 * k).zip(from.chunks_exact(4)) {
                        for pixel in pixels.chunks_exact_mut(4) {
                            pixel.copy_from_slice(colour);
                        }
                    }
                    for other in others.chunks_exact_mut(row) {
                        other.copy_from_slice(top);
                    }
                });
        }
        if view.camera.is_sound() {
            let strokes = overlay::strokes(&self.raster, scene, &self.placed);
            if !strokes.is_empty() {
                let (raster, words) = (&self.raster, &self.words);
                self.rgba
                    .par_chunks_mut((4 * width * BAND).max(1))
                    .enumerate()
                    .for_each(|(i, rgba)| {
                        let mut rows = Rows {
                            width,
                            first: i * BAND,
                            rgba,
                            words,
                            words_width: raster.width as usize,
                            raster,
                        };
                        overlay::draw(&mut rows, &strokes);
                    });
            }
        } else {
            for pixel in self.rgba.chunks_exact_mut(4) {
                pixel[..3].copy_from_slice(&look.sheet);
                pixel[3] = 255;
            }
        }
        self.enter(Phase::Done);
        width * height / 4
    }

    /// Hands the finished picture over; what `picture` held becomes working memory.
    pub fn hand_over(&mut self, picture: &mut Picture) {
        picture.view = self.raster.view;
        picture.coarseness = self.raster.coarseness;
        picture.scale = self.raster.scale;
        picture.starts.clone_from(&self.starts);
        std::mem::swap(&mut picture.rgba, &mut self.rgba);
        std::mem::swap(&mut picture.words, &mut self.words);
    }
}
