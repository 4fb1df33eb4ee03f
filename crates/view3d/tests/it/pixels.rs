//! Simple scenes, pixel by pixel.

use geom::{Aabb, Blocks, Improper, Mirror, Point, Rigid, Vector};
use view3d::{
    Band, Bands, Camera, Clip, Highlight, Keeps, Lens, Mesh, Object, Paint, Picture, Points, Scene,
    Shape, SlotSet, View, draw,
};

use crate::scenes::{INK, METAL, SHEET, flat, front};

fn one(object: Object) -> Scene {
    Scene {
        objects: vec![object],
    }
}

fn points(blocks: &Blocks) -> Object<'_> {
    Object::new(Shape::Points(Points::new(blocks, METAL)))
}

/// Pixels that are not the sheet.
fn shown(picture: &Picture) -> Vec<(u32, u32)> {
    let (w, h) = (picture.view.width, picture.view.height);
    (0..h)
        .flat_map(|y| (0..w).map(move |x| (x, y)))
        .filter(|(x, y)| picture.colour(*x, *y) != Some(SHEET))
        .collect()
}

#[test]
fn a_point_is_where_it_belongs() {
    // 1 mm to the right of and 2 mm above the middle of pixel (10, 8).
    let blocks = Blocks::from_points(&[Point::new(1.5, 5.0, 2.5)]);
    let picture = draw(&one(points(&blocks)), front(20, 16), flat());
    assert_eq!(shown(&picture), [(11, 5)]);
    assert_eq!(picture.colour(11, 5), Some(METAL));
    let hit = picture.hit(11, 5).unwrap();
    assert_eq!((hit.object, hit.element), (0, 0));
    assert!((hit.depth - 5.0).abs() < 1e-4);
    assert!((hit.place - Point::new(1.5, 5.0, 2.5)).norm() < 1e-4);
    assert!(picture.hit(10, 5).is_none() && picture.hit(99, 5).is_none());
    assert_eq!(picture.hit_near(10.5, 5.5, 2.0), Some(hit));
    assert_eq!(picture.hit_near(2.5, 5.5, 2.0), None);
}

#[test]
fn the_nearer_one_shows() {
    let a = Blocks::from_points(&[Point::new(0.5, 3.0, 0.5)]);
    let b = Blocks::from_points(&[Point::new(0.5, 2.0, 0.5)]);
    let other = Shape::Points(Points::new(&b, INK));
    let scene = Scene {
        objects: vec![points(&a), Object::new(other)],
    };
    let picture = draw(&scene, front(8, 8), flat());
    assert_eq!(picture.colour(4, 3), Some(INK));
    assert_eq!(picture.hit(4, 3).unwrap().object, 1);
    // From behind it is the other way round.
    let camera = Camera::along(Point::origin(), &-Vector::y(), &Vector::z());
    let view = View {
        camera,
        ..front(8, 8)
    };
    assert_eq!(draw(&scene, view, flat()).hit(3, 3).unwrap().object, 0);
}

#[test]
fn faded_points_run_into_the_sheet_and_still_hide() {
    let a = Blocks::from_points(&[Point::new(0.5, 2.0, 0.5)]);
    let b = Blocks::from_points(&[Point::new(0.5, 3.0, 0.5)]);
    let scene = Scene {
        objects: vec![points(&a).faded(1.0), points(&b)],
    };
    let picture = draw(&scene, front(8, 8), flat());
    assert_eq!(picture.colour(4, 3), Some(SHEET));
    assert_eq!(picture.hit(4, 3).unwrap().object, 0);
}

#[test]
fn boxes_keep_and_cut() {
    let list: Vec<Point> = (0..6)
        .map(|i| Point::new(f64::from(i) + 0.5, 0.0, 0.5))
        .collect();
    let blocks = Blocks::from_points(&list);
    let bounds = Aabb {
        low: Point::new(1.0, -1.0, 0.0),
        high: Point::new(3.0, 1.0, 1.0),
    };
    let columns = |keeps| {
        let object = points(&blocks).clipped(Clip { bounds, keeps });
        let picture = draw(&one(object), front(16, 8), flat());
        shown(&picture).iter().map(|p| p.0 - 8).collect::<Vec<_>>()
    };
    assert_eq!(columns(Keeps::Inside), [1, 2]);
    assert_eq!(columns(Keeps::Outside), [0, 3, 4, 5]);
}

#[test]
fn hidden_slots_and_highlights() {
    let list: Vec<Point> = (0..4)
        .map(|i| Point::new(f64::from(i) + 0.5, 0.0, 0.5))
        .collect();
    let blocks = Blocks::from_points(&list);
    let slot = |i: usize| {
        let found = blocks.indices().iter().position(|k| *k as usize == i);
        found.unwrap() as u32
    };
    let hidden: SlotSet = [slot(1)].into_iter().collect();
    let lit: SlotSet = [slot(1), slot(2)].into_iter().collect();
    let shape = Points {
        blocks: &blocks,
        paint: Paint {
            colour: METAL,
            highlights: vec![Highlight {
                slots: &lit,
                colour: INK,
            }],
            ..Paint::default()
        },
        hidden: Some(&hidden),
    };
    let picture = draw(
        &one(Object::new(Shape::Points(shape))),
        front(16, 8),
        flat(),
    );
    let row: Vec<_> = (8..12).map(|x| picture.colour(x, 3).unwrap()).collect();
    assert_eq!(row, [METAL, SHEET, INK, METAL]);
}

#[test]
fn own_colours_count_for_their_share() {
    let raw = geom::RawPoints::F64(vec![[0.5, 0.0, 0.5]]);
    let blocks = Blocks::build(raw, 1.0, vec![[100, 0, 200]], Vec::new(), &|| true).unwrap();
    for (share, want) in [(0.0, METAL), (1.0, [100, 0, 200]), (0.5, [153, 106, 205])] {
        let mut shape = Points::new(&blocks, METAL);
        shape.paint.own_share = share;
        let picture = draw(&one(Object::new(Shape::Points(shape))), front(8, 8), flat());
        assert_eq!(picture.colour(4, 3), Some(want));
    }
}

#[test]
fn bands_are_flat_and_minus_is_hatched() {
    // A square of 40 mm, steps -1 at the left corners and 1 at the right ones.
    let p = |x, z| Point::new(x, 0.0, z);
    let vertices = [
        p(-20.0, -20.0),
        p(20.0, -20.0),
        p(20.0, 20.0),
        p(-20.0, 20.0),
    ];
    let (plus, minus, hatch) = ([10, 0, 0], [0, 10, 0], [0, 0, 10]);
    let colours = [
        Band {
            step: 1,
            colour: plus,
            hatch: None,
        },
        Band {
            step: -1,
            colour: minus,
            hatch: Some(hatch),
        },
    ];
    let mesh = Mesh {
        vertices: &vertices,
        triangles: &[[0, 1, 2], [0, 2, 3]],
        paint: Paint {
            colour: METAL,
            bands: Some(Bands {
                steps: &[-1, 1, 1, -1],
                colours: &colours,
            }),
            ..Paint::default()
        },
        back: None,
    };
    let picture = draw(&one(Object::new(Shape::Mesh(mesh))), front(60, 60), flat());
    // The step runs from -1 at x = -20 to 1 at x = 20: bare between -10 and 10, flat beyond.
    for y in 11..49 {
        for x in 21..39 {
            assert_eq!(picture.colour(x, y), Some(METAL));
        }
        for x in 41..49 {
            assert_eq!(picture.colour(x, y), Some(plus));
        }
    }
    // Hatch lines run at 45 degrees: constant along x - y or x + y, 7 pixels apart across.
    let blue = |x: u32, y: u32| picture.colour(x, y).unwrap()[2];
    let mut full = 0;
    for (x, y) in [(12, 20), (13, 21), (14, 22), (15, 23)] {
        assert_eq!(blue(x, y), blue(x + 1, y - 1));
        full += u32::from(blue(x, y) > 4);
    }
    let count = (11..49)
        .flat_map(|y| (11..19).map(move |x| (x, y)))
        .filter(|(x, y)| blue(*x, *y) > 4)
        .count() as f64;
    let share = count / (38.0 * 8.0);
    assert!((0.08..0.3).contains(&share), "{share} is hatched, {full}");
}

#[test]
fn turned_over_is_not_inside_out() {
    // A triangle whose facing side looks at the viewer, red behind. Mirrored it still faces the viewer.
    let p = |x, z| Point::new(x, 0.0, z);
    let vertices = [p(2.0, -6.0), p(9.0, -6.0), p(2.0, 6.0)];
    let back = [200, 0, 0];
    let shape = || {
        Shape::Mesh(Mesh {
            vertices: &vertices,
            triangles: &[[0, 1, 2]],
            paint: Paint::plain(METAL),
            back: Some(back),
        })
    };
    let plain = Object::new(shape());
    let x = geom::Unit::new_normalize(Vector::x());
    let over = Improper {
        mirror: Some(Mirror::through(&Point::origin(), x)),
        rigid: Rigid::identity(),
    };
    let picture = draw(&one(plain.clone()), front(20, 16), flat());
    assert_eq!(picture.colour(13, 10), Some(METAL));
    let picture = draw(&one(plain.placed(over)), front(20, 16), flat());
    assert_eq!(picture.colour(6, 10), Some(METAL), "still faces the viewer");
    assert_eq!(picture.colour(13, 10), Some(SHEET));
    // From behind both show their backs.
    let camera = Camera::along(Point::origin(), &-Vector::y(), &Vector::z());
    let view = View {
        camera,
        ..front(20, 16)
    };
    let picture = draw(&one(Object::new(shape()).placed(over)), view, flat());
    assert_eq!(picture.colour(13, 10), Some(back));
}

#[test]
fn a_mirrored_scan_is_the_mirrored_picture() {
    let blocks = crate::scenes::panel(20_000, Point::origin(), 3);
    let view = front(240, 180);
    let plain = draw(&one(points(&blocks)), view, flat());
    let x = geom::Unit::new_normalize(Vector::x());
    let over = Improper {
        mirror: Some(Mirror::through(&Point::origin(), x)),
        rigid: Rigid::identity(),
    };
    let turned = draw(&one(points(&blocks).placed(over)), view, flat());
    let mut differ = 0;
    for y in 0..180 {
        for x in 0..240 {
            let (a, b) = (plain.hit(x, y), turned.hit(239 - x, y));
            differ += u32::from(a.map(|h| h.element) != b.map(|h| h.element));
        }
    }
    // Squares of two pixels hang to one side; everything else is the same.
    assert!(differ < 240 * 180 / 10, "{differ} pixels differ");
}

#[test]
fn nothing_comes_of_nothing() {
    let empty = Blocks::from_points(&[]);
    let bad = [
        Point::new(f64::NAN, 0.0, 0.0),
        Point::new(0.0, f64::INFINITY, 0.0),
    ];
    let none = Blocks::from_points(&bad);
    let mesh = Mesh {
        vertices: &bad,
        triangles: &[[0, 1, 1], [0, 1, 9]],
        paint: Paint::plain(METAL),
        back: None,
    };
    let line = view3d::Line::new(&bad, true, INK);
    let scene = Scene {
        objects: vec![
            points(&empty),
            points(&none),
            Object::new(Shape::Mesh(mesh)),
            Object::new(Shape::Line(line)),
        ],
    };
    for (w, h) in [(0, 0), (1, 1), (0, 7), (7, 0), (33, 5)] {
        let picture = draw(&scene, front(w, h), flat());
        assert_eq!(picture.rgba.len(), 4 * (w * h) as usize);
        assert!(shown(&picture).is_empty());
    }
    let mut view = front(8, 8);
    view.camera.centre.x = f64::NAN;
    let one_point = Blocks::from_points(&[Point::origin()]);
    assert!(shown(&draw(&one(points(&one_point)), view, flat())).is_empty());
    assert!(view3d::pick(&one(points(&one_point)), &view, 4.0, 4.0, 3.0).is_none());
}

#[test]
fn what_is_behind_the_eye_stays_there() {
    let lens = Lens::Perspective { eye_px: 100.0 };
    let mut view = front(40, 40);
    view.camera.lens = lens;
    // The eye is at y = -100.
    let list = [
        Point::new(0.5, -150.0, 0.5),
        Point::new(0.5, -100.0, 0.5),
        Point::new(0.5, 20.0, 0.5),
    ];
    let blocks = Blocks::from_points(&list);
    let picture = draw(&one(points(&blocks)), view, flat());
    let hit = picture.hit(20, 19).unwrap();
    assert!((hit.depth - 20.0).abs() < 1e-3);
    // A triangle that reaches from behind the eye to before it is cut.
    let vertices = [
        Point::new(-300.0, -200.0, -5.0),
        Point::new(300.0, -200.0, -5.0),
        Point::new(0.0, 900.0, -5.0),
    ];
    let mesh = Mesh {
        vertices: &vertices,
        triangles: &[[0, 1, 2]],
        paint: Paint::plain(METAL),
        back: None,
    };
    let picture = draw(&one(Object::new(Shape::Mesh(mesh))), view, flat());
    // The floor lies 5 mm below the eye: below the horizon everywhere near the middle, nowhere above it.
    for x in 10..30 {
        assert_eq!(picture.colour(x, 35), Some(METAL));
        assert_eq!(picture.colour(x, 15), Some(SHEET));
    }
    let hit = picture.hit(20, 35).unwrap();
    assert!((hit.place.z + 5.0).abs() < 1e-3, "{}", hit.place);
}

#[test]
fn triangles_meet_without_gaps_or_doubles() {
    // A fan about a point that is no pixel middle.
    let mut vertices = vec![Point::new(0.13, 0.0, 0.27)];
    let mut triangles = Vec::new();
    for i in 0..17_u32 {
        let a = std::f64::consts::TAU * f64::from(i) / 17.0;
        vertices.push(Point::new(30.0 * a.cos(), 0.0, 30.0 * a.sin()));
        triangles.push([0, 1 + i, 1 + (i + 1) % 17]);
    }
    let mesh = Mesh {
        vertices: &vertices,
        triangles: &triangles,
        paint: Paint::plain(METAL),
        back: None,
    };
    let picture = draw(&one(Object::new(Shape::Mesh(mesh))), front(64, 64), flat());
    for y in 0..64_u32 {
        for x in 0..64_u32 {
            let (dx, dy) = (f64::from(x) - 31.5, f64::from(y) - 31.5);
            let r = dx.hypot(dy);
            if r < 29.0 {
                assert_eq!(picture.colour(x, y), Some(METAL), "gap at {x}, {y}");
            }
            if r > 30.1 {
                assert_eq!(picture.colour(x, y), Some(SHEET), "too far at {x}, {y}");
            }
        }
    }
}
