//! Picks against a search through everything, and what they mean on metal.

use geom::{Blocks, Improper, Point, RawPoints, Rigid, Vector};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use view3d::{
    Camera, Clip, Keeps, Lens, Mesh, Object, Paint, Points, Scene, Shape, SlotSet, View, draw, pick,
};

use crate::scenes::{GO, METAL, flat, front, panel};

/// The rule, applied to every point: the least distance along the sight plus twice that beside it, among the points
/// within the radius; a facing one instead if it costs at most 4 mm more.
fn by_search(scene: &Scene, view: &View, x: f64, y: f64, radius: f64) -> Option<(usize, u32)> {
    let ray = view.ray(x, y);
    let (mut any, mut facing) = (None::<(f64, usize, u32)>, None::<(f64, usize, u32)>);
    for (o, object) in scene.objects.iter().enumerate() {
        let Shape::Points(points) = &object.shape else {
            panic!("only points here");
        };
        for (slot, p) in points.blocks.iter() {
            let w = object.world_from_object.point(&p);
            let Some(seen) = view.project(&w) else {
                continue;
            };
            let along = (w - ray.from).dot(&ray.direction);
            let beside = (w - ray.at(along)).norm();
            if beside > radius / view.px_per_mm(seen.depth).unwrap() {
                continue;
            }
            if !points.shows(slot) || !object.shows(&p) {
                continue;
            }
            let candidate = (along + 2.0 * beside, o, slot);
            if any.is_none_or(|a| candidate < a) {
                any = Some(candidate);
            }
            let faces = points
                .blocks
                .normal(slot)
                .is_none_or(|n| object.world_from_object.vector(&n).dot(&ray.direction) <= 0.0);
            if faces && facing.is_none_or(|f| candidate < f) {
                facing = Some(candidate);
            }
        }
    }
    let any = any?;
    let chosen = facing.filter(|f| f.0 <= any.0 + 4.0).unwrap_or(any);
    Some((chosen.1, chosen.2))
}

#[test]
fn picks_are_those_of_a_search_through_everything() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let mut found = 0;
    for case in 0..40_u64 {
        let far = if case % 2 == 0 { 0.0 } else { 3.0e6 };
        let middle = Point::new(far, -far, 0.5 * far);
        let n = rng.random_range(1..30_000);
        let mut points = Vec::new();
        let mut normals = Vec::new();
        for _ in 0..n {
            let v = Vector::new(
                rng.random_range(-60.0..60.0),
                rng.random_range(-60.0..60.0),
                rng.random_range(-60.0..60.0),
            );
            points.push((middle + v).coords.into());
            normals.push([0, 1, 2].map(|_| rng.random_range(-1.0..1.0)));
        }
        let normals = if case % 3 == 0 { Vec::new() } else { normals };
        let a = Blocks::build(RawPoints::F64(points), 1.0, Vec::new(), normals, GO).unwrap();
        let b = panel(5_000, middle, case);
        let hidden: SlotSet = (0..a.len() as u32).filter(|s| s % 5 == 0).collect();
        let turn = Rigid::new(middle.coords, Vector::new(0.3, 0.2, case as f64))
            * nalgebra::Translation3::from(-middle.coords);
        let scene = Scene {
            objects: vec![
                Object::new(Shape::Points(Points {
                    hidden: Some(&hidden),
                    ..Points::new(&a, METAL)
                })),
                Object::new(Shape::Points(Points::new(&b, METAL)))
                    .placed(Improper::proper(turn))
                    .clipped(Clip {
                        bounds: geom::Aabb::around(&middle, 30.0),
                        keeps: Keeps::Outside,
                    }),
            ],
        };
        let direction = Vector::new(
            rng.random_range(-1.0..1.0),
            rng.random_range(-1.0..1.0),
            rng.random_range(-1.0..1.0),
        );
        let mut camera = Camera::along(middle, &direction, &Vector::z());
        camera.mm_per_px = 0.4;
        if case % 4 > 1 {
            camera.lens = Lens::Perspective { eye_px: 120.0 };
        }
        let view = View {
            camera,
            width: 400,
            height: 300,
        };
        for _ in 0..10 {
            let (x, y) = (rng.random_range(0.0..400.0), rng.random_range(0.0..300.0));
            let radius = rng.random_range(0.5..12.0);
            let picked = pick(&scene, &view, x, y, radius).map(|p| (p.object, p.element));
            assert_eq!(
                picked,
                by_search(&scene, &view, x, y, radius),
                "case {case}"
            );
            found += u32::from(picked.is_some());
        }
    }
    assert!(found > 150, "only {found} picks found something");
}

/// Two skins 1 mm apart, square, 0.5 mm spacing, with normals; the front one has a hole of 3 x 3 points missing.
fn thin_metal(hole: bool) -> Blocks {
    let (mut points, mut normals) = (Vec::new(), Vec::new());
    for i in -40..=40_i32 {
        for j in -40..=40_i32 {
            let (x, z) = (0.5 * f64::from(i), 0.5 * f64::from(j));
            if !(hole && i.abs() <= 1 && j.abs() <= 1) {
                points.push([x, 0.0, z]);
                normals.push([0.0, -1.0, 0.0]);
            }
            points.push([x + 0.2, 1.0, z + 0.2]);
            normals.push([0.0, 1.0, 0.0]);
        }
    }
    Blocks::build(RawPoints::F64(points), 1.0, Vec::new(), normals, GO).unwrap()
}

#[test]
fn the_side_that_faces_the_viewer_is_picked() {
    for hole in [false, true] {
        let blocks = thin_metal(hole);
        let scene = Scene {
            objects: vec![Object::new(Shape::Points(Points::new(&blocks, METAL)))],
        };
        for (direction, side) in [(Vector::y(), 0.0), (-Vector::y(), 1.0)] {
            let mut camera = Camera::along(Point::origin(), &direction, &Vector::z());
            camera.mm_per_px = 0.25;
            let view = View {
                camera,
                width: 60,
                height: 60,
            };
            let mut rng = ChaCha8Rng::seed_from_u64(2);
            for _ in 0..200 {
                let (x, y) = (rng.random_range(5.0..55.0), rng.random_range(5.0..55.0));
                let p = pick(&scene, &view, x, y, 6.0).unwrap();
                assert!((p.place.y - side).abs() < 1e-6, "picked {}", p.place);
                assert!((p.normal.unwrap() + direction).norm() < 1e-3);
            }
        }
    }
}

#[test]
fn without_normals_the_nearest_point_of_the_front_surface_is_picked() {
    let blocks = panel(60_000, Point::origin(), 5);
    let scene = Scene {
        objects: vec![Object::new(Shape::Points(Points::new(&blocks, METAL)))],
    };
    let direction = Vector::new(0.5, 1.0, -0.4);
    let camera = Camera::along(Point::origin(), &direction, &Vector::z());
    let view = View {
        camera,
        width: 240,
        height: 200,
    };
    let at = Point::new(70.0, 0.002 * 70.0 * 70.0, 0.0);
    let seen = view.project(&at).unwrap();
    let p = pick(&scene, &view, seen.x, seen.y, 4.0).unwrap();
    assert!((p.place - at).norm() < 1.5, "{} is far from {at}", p.place);
    assert!((p.place - p.place_in_object).norm() < 1e-9);
    let n = p.normal.unwrap();
    assert!(n.dot(&direction) < 0.0, "turned to the viewer");
    // The surface y = 0.002 r2 slopes by 0.28 there.
    let want = Vector::new(0.28, -1.0, 0.0).normalize();
    assert!(n.angle(&want).to_degrees() < 5.0);
}

#[test]
fn the_picture_and_the_pick_agree() {
    let blocks = panel(100_000, Point::origin(), 6);
    let scene = Scene {
        objects: vec![Object::new(Shape::Points(Points::new(&blocks, METAL)))],
    };
    let view = front(220, 180);
    let picture = draw(&scene, view, flat());
    let mut checked = 0;
    for y in (3..177).step_by(11) {
        for x in (3..217).step_by(11) {
            let (cx, cy) = (f64::from(x) + 0.5, f64::from(y) + 0.5);
            let (Some(hit), Some(p)) = (picture.hit(x, y), pick(&scene, &view, cx, cy, 1.0)) else {
                continue;
            };
            // Both within a pixel of each other beside the sight, on the same surface.
            assert!(
                (hit.place - p.place).norm() < 3.0,
                "{} and {}",
                hit.place,
                p.place
            );
            checked += 1;
        }
    }
    assert!(checked > 150, "only {checked} places were compared");
}

#[test]
fn triangles_are_picked_where_they_are_crossed() {
    let vertices = [
        Point::new(-10.0, 0.0, -10.0),
        Point::new(10.0, 4.0, -10.0),
        Point::new(0.0, 2.0, 10.0),
    ];
    let mesh = Mesh {
        vertices: &vertices,
        triangles: &[[0, 1, 2]],
        paint: Paint::plain(METAL),
        back: None,
    };
    let scene = Scene {
        objects: vec![Object::new(Shape::Mesh(mesh))],
    };
    let view = front(40, 40);
    let p = pick(&scene, &view, 23.0, 22.0, 0.0).unwrap();
    assert!((p.place - Point::new(3.0, 2.6, -2.0)).norm() < 1e-9);
    assert_eq!((p.element, p.off_px), (0, 0.0));
    assert!(p.normal.unwrap().y < 0.0);
    assert!(pick(&scene, &view, 38.0, 2.0, 5.0).is_none());
}
