//! Draws blocks of points, meshes, lines and marks on the CPU.
//!
//! A [`Scene`] borrows what is drawn, a [`View`] says from where, a [`Look`] in which colours. [`draw`] makes the whole
//! picture, [`Progressive`] makes it in slices, coarse first. A [`Picture`] holds colours and, for each pixel, depth and
//! number of the point or triangle; [`pick()`] finds the exact point under the pointer. Nothing here knows a window, a
//! clock or a colour of its own, and the same scene gives the same pixels for any number of threads.
//!
//! ```
//! use geom::{Blocks, Point, Vector};
//! use view3d::{Camera, Look, Object, Points, Scene, Shape, View};
//!
//! let blocks = Blocks::from_points(&[Point::origin(), Point::new(0.0, 10.0, 0.0)]);
//! let mut scene = Scene::default();
//! scene.objects.push(Object::new(Shape::Points(Points::new(&blocks, [200, 205, 204]))));
//! let camera = Camera::along(Point::origin(), &Vector::x(), &Vector::z());
//! let view = View {
//!     camera: camera.fitted_to(&blocks.bounds(), (64, 48), 8.0),
//!     width: 64,
//!     height: 48,
//! };
//! let look = Look::calm([251, 252, 250], [255, 255, 255], [20, 34, 43]);
//! let picture = view3d::draw(&scene, view, look);
//! assert_eq!(picture.rgba.len(), 64 * 48 * 4);
//! ```

mod camera;
mod colour;
mod drawing;
mod look;
mod mark_form;
mod overlay;
mod pick;
mod picture;
mod progressive;
mod raster;
mod scene;
mod shade;
mod slot_set;
mod splat;
mod triangles;
mod view;

pub use camera::{Camera, Lens, Stand};
pub use colour::{Rgb, mix};
pub use drawing::Budget;
pub use look::Look;
pub use pick::{Pick, Touch, pick, touch};
pub use picture::{Hit, Picture};
pub use progressive::{Progressive, Sliced, Stage, draw};
pub use scene::{
    Band, Bands, Behind, Clip, Dash, Highlight, Keeps, Line, MarkForm, Marks, Mesh, Object, Paint,
    Points, Scene, Shape,
};
pub use slot_set::SlotSet;
pub use view::{Ray, Seen, View};
