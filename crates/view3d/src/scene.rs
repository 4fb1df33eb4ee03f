//! What is drawn. A scene borrows everything and is made anew for each call; making one costs nothing.

use geom::{Aabb, Blocks, Improper, Point, Rigid};

use crate::{Rgb, SlotSet};

/// What is drawn. Of places at the same depth in a pixel the object that comes first shows.
#[derive(Clone, Debug, Default)]
pub struct Scene<'a> {
    /// The objects. Points and triangles of all of them together are numbered in 32 bits: objects beyond
    /// 4,294,967,294 are not drawn and not picked.
    pub objects: Vec<Object<'a>>,
}

/// One thing in the scene.
#[derive(Clone, Debug)]
pub struct Object<'a> {
    /// Where it stands. May hold a mirror: a page turned over.
    pub world_from_object: Improper,
    /// What it is and how it is coloured.
    pub shape: Shape<'a>,
    /// How far it has faded into the sheet: 0 not at all, 1 to nothing (it still hides what is behind it).
    pub fade: f32,
    /// Parts that do not show; a place must pass all of them.
    pub clips: Vec<Clip>,
}

impl<'a> Object<'a> {
    /// An object that stands where its coordinates say, whole.
    pub fn new(shape: Shape<'a>) -> Self {
        Self {
            world_from_object: Improper::proper(Rigid::identity()),
            shape,
            fade: 0.0,
            clips: Vec::new(),
        }
    }

    /// The same, standing elsewhere.
    #[must_use]
    pub fn placed(self, world_from_object: Improper) -> Self {
        Self {
            world_from_object,
            ..self
        }
    }

    /// The same, faded.
    #[must_use]
    pub fn faded(self, fade: f32) -> Self {
        Self { fade, ..self }
    }

    /// The same with one more clip.
    #[must_use]
    pub fn clipped(mut self, clip: Clip) -> Self {
        self.clips.push(clip);
        self
    }

    /// Whether a place, in object coordinates, passes all clips.
    pub fn shows(&self, p: &Point) -> bool {
        self.clips.iter().all(|c| c.shows(p))
    }

    /// How many numbers it takes: points or triangles; lines and marks are not numbered.
    pub(crate) fn count(&self) -> usize {
        match &self.shape {
            Shape::Points(p) => p.blocks.len(),
            Shape::Mesh(m) => m.triangles.len(),
            Shape::Line(_) | Shape::Marks(_) => 0,
        }
    }

    /// Calls `f` with places, in object coordinates, whose span holds the whole object.
    pub(crate) fn each_extent(&self, f: &mut dyn FnMut(Point)) {
        let mut cloud = |points: &[Point]| {
            let b = Aabb::of(points.iter().filter(|p| p.iter().all(|x| x.is_finite())));
            if !b.is_empty() {
                for c in crate::camera::corners(&b) {
                    f(c);
                }
            }
        };
        match &self.shape {
            Shape::Points(p) => {
                let b = p.blocks.bounds();
                cloud(&[b.low, b.high]);
            }
            Shape::Mesh(m) => cloud(m.vertices),
            Shape::Line(l) => cloud(l.points),
            Shape::Marks(m) => cloud(m.points),
        }
    }
}

/// What a thing is.
#[derive(Clone, Debug)]
pub enum Shape<'a> {
    /// Points that read as a surface.
    Points(Points<'a>),
    /// Triangles.
    Mesh(Mesh<'a>),
    /// A curve.
    Line(Line<'a>),
    /// Marks of constant size at places.
    Marks(Marks<'a>),
}

/// A box that shows or hides, in object coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clip {
    /// The box, mm.
    pub bounds: Aabb,
    /// Which part of it shows.
    pub keeps: Keeps,
}

/// What a clip leaves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keeps {
    /// What lies in the box or on its surface.
    Inside,
    /// What lies outside.
    Outside,
}

impl Clip {
    /// Whether a place shows.
    pub fn shows(&self, p: &Point) -> bool {
        self.bounds.holds(p) == (self.keeps == Keeps::Inside)
    }
}

/// Points in blocks.
#[derive(Clone, Debug)]
pub struct Points<'a> {
    /// The points.
    pub blocks: &'a Blocks,
    /// Their colour.
    pub paint: Paint<'a>,
    /// Slots that do not show and cannot be picked.
    pub hidden: Option<&'a SlotSet>,
}

impl<'a> Points<'a> {
    /// All points in one colour.
    pub fn new(blocks: &'a Blocks, colour: Rgb) -> Self {
        Self {
            blocks,
            paint: Paint::plain(colour),
            hidden: None,
        }
    }

    /// Whether a slot shows.
    pub fn shows(&self, slot: u32) -> bool {
        self.hidden.is_none_or(|h| !h.contains(slot))
    }
}

/// Triangles, lit flat. Counter-clockwise seen from the facing side, in object coordinates; a mirror in the map of
/// the object is made up for. Triangles with a vertex that does not exist or is not finite are not drawn.
#[derive(Clone, Debug)]
pub struct Mesh<'a> {
    /// Corners, mm.
    pub vertices: &'a [Point],
    /// Three indices of vertices each.
    pub triangles: &'a [[u32; 3]],
    /// Their colour. Classes of its bands and slots of its highlights are by vertex and by triangle.
    pub paint: Paint<'a>,
    /// Colour of the side that faces away; `None`: the same, so that both sides read alike.
    pub back: Option<Rgb>,
}

/// How a surface is coloured. The later entry wins: plain colour, own colours, bands, highlights in order.
#[derive(Clone, Debug, Default)]
pub struct Paint<'a> {
    /// The plain colour.
    pub colour: Rgb,
    /// Share of the colours the scan brought, if it has any: 0 none, 1 only those.
    pub own_share: f32,
    /// Flat steps of a difference.
    pub bands: Option<Bands<'a>>,
    /// Sets of points (by slot) or triangles (by index) in a colour of their own, such as a face that was grown.
    pub highlights: Vec<Highlight<'a>>,
}

impl Paint<'_> {
    /// One colour.
    pub fn plain(colour: Rgb) -> Self {
        Self {
            colour,
            ..Self::default()
        }
    }
}

/// A difference in a few flat steps.
#[derive(Clone, Copy, Debug)]
pub struct Bands<'a> {
    /// The step of each point (by slot) or vertex, such as -3 to 3; what is missing counts as 0. Inside a triangle
    /// the step runs evenly from corner to corner and is rounded.
    pub steps: &'a [i8],
    /// Colours of steps; steps without one stay bare.
    pub colours: &'a [Band],
}

impl Bands<'_> {
    /// The colour of a step.
    pub(crate) fn of(&self, step: i8) -> Option<&Band> {
        self.colours.iter().find(|b| b.step == step)
    }

    /// The step of a point or vertex.
    pub(crate) fn step(&self, i: u32) -> i8 {
        self.steps.get(i as usize).copied().unwrap_or(0)
    }
}

/// The colour of one step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Band {
    /// The step.
    pub step: i8,
    /// Its colour.
    pub colour: Rgb,
    /// Colour of a hatching over it (45 degrees, 7 pixels apart), as for minus.
    pub hatch: Option<Rgb>,
}

/// A set in a colour of its own.
#[derive(Clone, Copy, Debug)]
pub struct Highlight<'a> {
    /// Slots of points, or indices of triangles.
    pub slots: &'a SlotSet,
    /// The colour.
    pub colour: Rgb,
}

/// A curve through points: crisp, smoothed at its sides, of constant width.
#[derive(Clone, Debug)]
pub struct Line<'a> {
    /// Its points, object coordinates, mm. A point that is not finite parts the curve.
    pub points: &'a [Point],
    /// Whether the last is joined to the first.
    pub closed: bool,
    /// Colour.
    pub colour: Rgb,
    /// Width, pixels.
    pub width_px: f32,
    /// Dashes; they run on along the whole curve, and meet evenly where a closed one closes.
    pub dash: Option<Dash>,
    /// What is done where something lies before it.
    pub behind: Behind,
    /// How far something must lie before the curve to hide it, mm. A curve on a scanned surface needs about the
    /// roughness of the scan; two pixels are added.
    pub lift_mm: f64,
}

impl<'a> Line<'a> {
    /// A full line, 2 pixels wide, drawn only where it is not hidden (by more than 1 mm).
    pub fn new(points: &'a [Point], closed: bool, colour: Rgb) -> Self {
        Self {
            points,
            closed,
            colour,
            width_px: 2.0,
            dash: None,
            behind: Behind::Hidden,
            lift_mm: 1.0,
        }
    }

    /// The same, dashed.
    #[must_use]
    pub fn dashed(self, on_px: f32, off_px: f32) -> Self {
        Self {
            dash: Some(Dash { on_px, off_px }),
            ..self
        }
    }
}

/// Dashes of a line, pixels of the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dash {
    /// Length of a dash.
    pub on_px: f32,
    /// Length of the gap after it.
    pub off_px: f32,
}

/// What is done where something lies before a line or mark.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Behind {
    /// It does not show.
    Hidden,
    /// It shows faintly: this share of its colour, 0 to 1.
    Faint(f32),
    /// It shows as if nothing lay before it.
    Shown,
}

/// Marks at places.
#[derive(Clone, Debug)]
pub struct Marks<'a> {
    /// The places, object coordinates, mm; those that are not finite are passed over.
    pub points: &'a [Point],
    /// Their shape.
    pub form: MarkForm,
    /// Colour.
    pub colour: Rgb,
    /// Half its width, pixels.
    pub radius_px: f32,
    /// What is done where something lies before it.
    pub behind: Behind,
    /// How far something must lie before it to hide it, mm; two pixels are added.
    pub lift_mm: f64,
}

/// The shape of a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkForm {
    /// A full disc.
    Disc,
    /// A circle, 1.5 pixels thick.
    Ring,
    /// A full triangle, one corner up, of the area of the disc.
    Triangle,
    /// A full square, of the area of the disc.
    Square,
    /// Two strokes, upright, 1.5 pixels thick.
    Cross,
}
