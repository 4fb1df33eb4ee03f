//! The exact point or triangle under the pointer.
//!
//! All in f64 on the points themselves; the picture is not looked at. A blunt cone is pushed along the line of sight:
//! the first point it touches is meant. So a point on the line of sight wins over its neighbours on the same surface,
//! and a surface in front wins over one behind, even where the line of sight passes between its points.

use geom::{Block, Neighbours, Point, Vector, local_plane};

use crate::raster::{Placed, starts};
use crate::scene::{Mesh, Object, Points, Shape};
use crate::triangles;
use crate::{Ray, Scene, View};

/// How much farther along the sight a point counts for each mm beside it: surfaces seen up to atan 2 = 63 degrees
/// from head-on give their nearest point.
const BLUNT: f64 = 2.0;
/// A side that faces the viewer is preferred if it lies no more than this behind one that does not, mm: the back of
/// thin metal is not picked through its front.
const THIN_MM: f64 = 4.0;
/// Neighbours that give the normal.
const NEIGHBOURS: usize = 24;

/// What was picked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pick {
    /// Index of the object in the scene.
    pub object: usize,
    /// Slot of the point, or index of the triangle.
    pub element: u32,
    /// The point itself, or the place on the triangle; world, mm.
    pub place: Point,
    /// The same in the coordinates of the object, mm.
    pub place_in_object: Point,
    /// Unit normal there, world: that of the scan or triangle if it has one, otherwise of the plane through the 24
    /// nearest points, turned to the viewer. `None` where there is no plane.
    pub normal: Option<Vector>,
    /// Distance from the pointer, pixels.
    pub off_px: f64,
}

/// A candidate; the least wins.
#[derive(Clone, Copy, Debug)]
struct Candidate {
    cost: f64,
    object: usize,
    element: u32,
    faces: bool,
    /// Beside the line of sight and pixel length there, mm.
    beside: f64,
    mm_per_px: f64,
    /// View axes.
    at: Vector,
}

impl Candidate {
    fn before(&self, other: &Self) -> bool {
        self.cost
            .total_cmp(&other.cost)
            .then(self.object.cmp(&other.object))
            .then(self.element.cmp(&other.element))
            .is_lt()
    }
}

/// The best of all and the best of those that face the viewer.
#[derive(Default)]
struct Best {
    any: Option<Candidate>,
    facing: Option<Candidate>,
}

impl Best {
    fn offer(&mut self, c: Candidate) {
        if self.any.is_none_or(|b| c.before(&b)) {
            self.any = Some(c);
        }
        if c.faces && self.facing.is_none_or(|b| c.before(&b)) {
            self.facing = Some(c);
        }
    }

    /// Costs above this change nothing any more.
    fn limit(&self) -> f64 {
        self.any.map_or(f64::INFINITY, |a| a.cost + THIN_MM)
    }

    fn chosen(&self) -> Option<Candidate> {
        let any = self.any?;
        Some(
            self.facing
                .filter(|f| f.cost <= any.cost + THIN_MM)
                .unwrap_or(any),
        )
    }
}

/// The line of sight in view axes.
struct Sight {
    ray: Ray,
    radius_px: f64,
    /// Distance of the eye before the centre, mm and pixels.
    eye: Option<(f64, f64)>,
    mm_per_px: f64,
}

impl Sight {
    fn new(view: &View, x: f64, y: f64, radius_px: f64) -> Self {
        let c = &view.camera;
        let world = view.ray(x, y);
        Self {
            ray: Ray {
                from: Point::from(c.view_from_world * (world.from - c.centre)),
                direction: c.view_from_world * world.direction,
            },
            radius_px,
            eye: match c.lens {
                crate::Lens::Parallel => None,
                crate::Lens::Perspective { eye_px } => Some((eye_px * c.mm_per_px, eye_px)),
            },
            mm_per_px: c.mm_per_px,
        }
    }

    /// Length of a pixel at a place in view axes, mm; not above zero behind the eye.
    fn mm_per_px(&self, v: &Vector) -> f64 {
        match self.eye {
            None => self.mm_per_px,
            Some((mm, px)) => (mm - v.z) / px,
        }
    }

    /// Distances along and beside the line of sight, mm.
    fn along(&self, v: &Vector) -> (f64, f64) {
        let w = v - self.ray.from.coords;
        let d = &self.ray.direction;
        (w.dot(d), w.cross(d).norm())
    }

    /// Least cost in a ball, infinite if none of it is within reach.
    fn least(&self, middle: &Vector, radius: f64) -> f64 {
        let (along, beside) = self.along(middle);
        let beside = (beside - radius).max(0.0);
        let far = Vector::new(middle.x, middle.y, middle.z - radius);
        if beside > self.radius_px * self.mm_per_px(&far).max(0.0) {
            return f64::INFINITY;
        }
        along - radius + BLUNT * beside
    }

    /// Calls `offer` with the points of a block that are in reach.
    fn block(
        &self,
        (object, number): (&Object, usize),
        points: &Points,
        placed: &Placed,
        block: usize,
        best: &mut Best,
    ) {
        let normals = points.blocks.has_normals();
        for (slot, p) in points.blocks.points_of(block) {
            let v = placed.place(&p);
            let mm_per_px = self.mm_per_px(&v);
            if mm_per_px <= 0.0 {
                continue;
            }
            let (along, beside) = self.along(&v);
            let cost = along + BLUNT * beside;
            if beside > self.radius_px * mm_per_px || cost > best.limit() {
                continue;
            }
            if !points.shows(slot) || !object.shows(&p) {
                continue;
            }
            let faces = !normals
                || points
                    .blocks
                    .normal(slot)
                    .is_none_or(|n| (placed.turn * n).dot(&self.ray.direction) <= 0.0);
            best.offer(Candidate {
                cost,
                object: number,
                element: slot,
                faces,
                beside,
                mm_per_px,
                at: v,
            });
        }
    }

    fn mesh(
        &self,
        (object, number): (&Object, usize),
        mesh: &Mesh,
        placed: &Placed,
        best: &mut Best,
    ) {
        for i in 0..mesh.triangles.len() as u32 {
            let Some(c) = triangles::corners_of(mesh, placed, i) else {
                continue;
            };
            let Some(along) = self.crossing(&c) else {
                continue;
            };
            let at = self.ray.at(along).coords;
            let mm_per_px = self.mm_per_px(&at);
            if mm_per_px <= 0.0 || along > best.limit() || !object.shows(&placed.back(&at)) {
                continue;
            }
            let faces =
                triangles::normal_of(placed, &c).is_none_or(|n| n.dot(&self.ray.direction) <= 0.0);
            best.offer(Candidate {
                cost: along,
                object: number,
                element: i,
                faces,
                beside: 0.0,
                mm_per_px,
                at,
            });
        }
    }

    /// Where the line of sight crosses a triangle. T. Moeller and B. Trumbore, "Fast, minimum storage ray-triangle
    /// intersection", Journal of Graphics Tools 2 (1997).
    fn crossing(&self, c: &[Vector; 3]) -> Option<f64> {
        let (e1, e2) = (c[1] - c[0], c[2] - c[0]);
        let p = self.ray.direction.cross(&e2);
        let det = e1.dot(&p);
        if det == 0.0 {
            return None;
        }
        let s = self.ray.from.coords - c[0];
        let u = s.dot(&p) / det;
        let q = s.cross(&e1);
        let v = self.ray.direction.dot(&q) / det;
        let inside = u >= 0.0 && v >= 0.0 && u + v <= 1.0;
        inside.then(|| e2.dot(&q) / det).filter(|t| t.is_finite())
    }
}

/// The point or triangle meant by pointing at (`x`, `y`) pixels. Points count up to `radius_px` from the pointer (as
/// far as a pixel is wide at their depth), triangles only under it. The first that a blunt cone pushed along the
/// line of sight touches wins; a side that faces away (by the normals of the scan) gives way to one that faces the
/// viewer up to 4 mm behind. Hidden and clipped points do not count. Of equals the first object, then the lowest slot.
/// `None` where nothing is in reach. Cost: the blocks along the line of sight, and every triangle.
pub fn pick(scene: &Scene, view: &View, x: f64, y: f64, radius_px: f64) -> Option<Pick> {
    let usable = x.is_finite() && y.is_finite() && radius_px >= 0.0 && radius_px.is_finite();
    if !usable || !view.camera.is_sound() {
        return None;
    }
    let sight = Sight::new(view, x, y, radius_px);
    let placed: Vec<Placed> = scene
        .objects
        .iter()
        .map(|o| Placed::new(view, &o.world_from_object))
        .collect();
    let starts = starts(scene);
    let mut best = Best::default();
    let mut blocks = Vec::new();
    for (o, object) in scene.objects.iter().enumerate() {
        if starts[o] == starts[o + 1] {
            continue;
        }
        match &object.shape {
            Shape::Points(points) => {
                for (b, block) in points.blocks.blocks().iter().enumerate() {
                    let least = sight.least_in(&placed[o], block);
                    if least < f64::INFINITY {
                        blocks.push((least, o, b));
                    }
                }
            }
            Shape::Mesh(mesh) => sight.mesh((object, o), mesh, &placed[o], &mut best),
            Shape::Line(_) | Shape::Marks(_) => {}
        }
    }
    blocks.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    for (least, o, b) in blocks {
        if least > best.limit() {
            break;
        }
        let object = &scene.objects[o];
        if let Shape::Points(points) = &object.shape {
            sight.block((object, o), points, &placed[o], b, &mut best);
        }
    }
    let found = best.chosen()?;
    Some(finished(scene, view, &sight, &placed[found.object], &found))
}

impl Sight {
    fn least_in(&self, placed: &Placed, block: &Block) -> f64 {
        // A little more than half the diagonal, so that rounding loses no point.
        let radius = 0.5 * block.bounds.size().norm() * (1.0 + 1e-9) + 1e-6;
        self.least(&placed.place(&block.bounds.centre()), radius)
    }
}

fn finished(scene: &Scene, view: &View, sight: &Sight, placed: &Placed, c: &Candidate) -> Pick {
    let object = &scene.objects[c.object];
    let mut place_in_object = placed.back(&c.at);
    let normal_in_view = match &object.shape {
        Shape::Points(points) => {
            place_in_object = points.blocks.point(c.element);
            points
                .blocks
                .normal(c.element)
                .map(|n| placed.turn * n)
                .or_else(|| {
                    let near = Neighbours::Nearest(NEIGHBOURS);
                    let plane =
                        local_plane(points.blocks, &place_in_object, near, &mut Vec::new())?;
                    let n = placed.turn * plane.normal;
                    Some(if n.dot(&sight.ray.direction) > 0.0 {
                        -n
                    } else {
                        n
                    })
                })
        }
        Shape::Mesh(mesh) => triangles::corners_of(mesh, placed, c.element)
            .and_then(|corners| triangles::normal_of(placed, &corners)),
        Shape::Line(_) | Shape::Marks(_) => None,
    };
    Pick {
        object: c.object,
        element: c.element,
        place: object.world_from_object.point(&place_in_object),
        place_in_object,
        normal: normal_in_view.map(|n| view.camera.view_from_world.inverse() * n),
        off_px: c.beside / c.mm_per_px,
    }
}

/// A line or mark near the pointer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Touch {
    /// Index of the object in the scene.
    pub object: usize,
    /// Index of the segment of the line (from its point of this index to the next), or of the mark.
    pub index: usize,
    /// Share of the segment, 0 to 1; 0 for a mark.
    pub share: f64,
    /// The place on the line, or of the mark; world, mm.
    pub place: Point,
    /// Distance from the pointer, pixels.
    pub off_px: f64,
}

/// The line or mark nearest to (`x`, `y`) pixels within `radius_px`, whether something lies before it or not; of
/// equally near ones the one drawn last. Segments that reach behind the eye do not count.
pub fn touch(scene: &Scene, view: &View, x: f64, y: f64, radius_px: f64) -> Option<Touch> {
    if !view.camera.is_sound() {
        return None;
    }
    let mut best: Option<Touch> = None;
    let mut offer = |t: Touch| {
        if t.off_px <= radius_px && best.is_none_or(|b| t.off_px <= b.off_px) {
            best = Some(t);
        }
    };
    for (o, object) in scene.objects.iter().enumerate() {
        let world = |p: &Point| object.world_from_object.point(p);
        match &object.shape {
            Shape::Line(line) => {
                let n = line.points.len();
                let count = if line.closed && n > 2 {
                    n
                } else {
                    n.saturating_sub(1)
                };
                for i in 0..count {
                    let (a, b) = (world(&line.points[i]), world(&line.points[(i + 1) % n]));
                    let (Some(p), Some(q)) = (view.project(&a), view.project(&b)) else {
                        continue;
                    };
                    let (dx, dy) = (q.x - p.x, q.y - p.y);
                    let l2 = dx * dx + dy * dy;
                    let t = if l2 > 0.0 {
                        (((x - p.x) * dx + (y - p.y) * dy) / l2).clamp(0.0, 1.0)
                    } else {
                        0.0
                    };
                    // Even steps in the picture are even in the inverse of the distance from the eye.
                    let share = match (view.px_per_mm(p.depth), view.px_per_mm(q.depth)) {
                        (Some(sp), Some(sq)) if sp != sq => t * sq / (sp + t * (sq - sp)),
                        _ => t,
                    };
                    offer(Touch {
                        object: o,
                        index: i,
                        share,
                        place: a + (b - a) * share,
                        off_px: (p.x + t * dx - x).hypot(p.y + t * dy - y),
                    });
                }
            }
            Shape::Marks(marks) => {
                for (i, p) in marks.points.iter().enumerate() {
                    let place = world(p);
                    if let Some(s) = view.project(&place) {
                        offer(Touch {
                            object: o,
                            index: i,
                            share: 0.0,
                            place,
                            off_px: (s.x - x).hypot(s.y - y),
                        });
                    }
                }
            }
            Shape::Points(_) | Shape::Mesh(_) => {}
        }
    }
    best
}
