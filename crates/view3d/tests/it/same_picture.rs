//! The same picture whatever the number of threads and however it is sliced.

use geom::{Improper, Point, Rigid, Vector};
use view3d::{
    Budget, Camera, Lens, Line, Object, Picture, Points, Progressive, Scene, Shape, Sliced, Stage,
    View, draw,
};

use crate::scenes::{INK, METAL, on_threads, panel, paper};

fn views() -> [View; 2] {
    let mut camera = Camera::along(Point::origin(), &Vector::new(0.3, 1.0, -0.4), &Vector::z());
    camera.mm_per_px = 0.9;
    let plain = View {
        camera,
        width: 261,
        height: 203,
    };
    camera.lens = Lens::Perspective { eye_px: 400.0 };
    [plain, View { camera, ..plain }]
}

fn with_scene<T>(far: f64, f: impl FnOnce(&Scene, Vector) -> T) -> T {
    let shift = Vector::new(far, -far, far);
    let blocks = panel(60_000, Point::from(shift), 8);
    let ring: Vec<Point> = (0..90)
        .map(|i| {
            let a = f64::from(i) * std::f64::consts::TAU / 90.0;
            Point::new(45.0 * a.cos(), 4.0, 45.0 * a.sin()) + shift
        })
        .collect();
    let back = Improper::proper(Rigid::translation(30.0, 40.0, -20.0));
    let scene = Scene {
        objects: vec![
            Object::new(Shape::Points(Points::new(&blocks, METAL))),
            Object::new(Shape::Points(Points::new(&blocks, [150, 160, 170])))
                .placed(back)
                .faded(0.3),
            Object::new(Shape::Line(Line::new(&ring, true, INK).dashed(8.0, 3.0))),
        ],
    };
    f(&scene, shift)
}

#[test]
fn for_any_number_of_threads() {
    with_scene(0.0, |scene, _| {
        for view in views() {
            let pictures: Vec<Picture> = [1, 2, 5]
                .into_iter()
                .map(|n| on_threads(n, || draw(scene, view, paper())))
                .collect();
            assert!(pictures[0].filled() > 0.3);
            for p in &pictures[1..] {
                assert!(p.rgba == pictures[0].rgba);
                for y in 0..view.height {
                    for x in 0..view.width {
                        assert_eq!(p.hit(x, y), pictures[0].hit(x, y));
                    }
                }
            }
        }
    });
}

#[test]
fn however_it_is_sliced() {
    with_scene(0.0, |scene, _| {
        for view in views() {
            let whole = draw(scene, view, paper());
            let mut p = Progressive::new();
            p.begin(view, paper());
            let never = Budget {
                work: 1,
                go_on: &|| false,
            };
            let (mut slices, mut stages) = (0, Vec::new());
            loop {
                slices += 1;
                match p.slice(scene, &never) {
                    Sliced::UnderWay => {}
                    Sliced::Better(stage) => stages.push(stage),
                    Sliced::Done => break,
                }
            }
            assert_eq!(stages, [Stage::Moving]);
            assert!(slices > 6, "{slices} slices");
            assert_eq!(p.shown(), Some(Stage::Full));
            assert!(!p.wants_more());
            assert!(p.picture().rgba == whole.rgba);
            assert_eq!(p.slice(scene, &never), Sliced::Done);
        }
    });
}

#[test]
fn the_picture_for_moving_shows_the_same_thing() {
    with_scene(0.0, |scene, _| {
        for view in views() {
            let whole = draw(scene, view, paper());
            let mut p = Progressive::new();
            let moving = p.moving(scene, view, paper());
            assert_eq!(moving.rgba.len(), whole.rgba.len());
            let differ: u64 = moving
                .rgba
                .iter()
                .zip(&whole.rgba)
                .map(|(a, b)| u64::from(a.abs_diff(*b)))
                .sum();
            let mean = differ as f64 / whole.rgba.len() as f64;
            assert!(mean < 6.0, "{mean} of 255 on average");
            assert!(moving.hit(130, 20).is_some() == whole.hit(130, 20).is_some());
        }
    });
}

#[test]
fn a_scene_that_changes_under_way_is_begun_again() {
    with_scene(0.0, |scene, _| {
        let view = views()[0];
        let mut smaller = scene.clone();
        smaller.objects.remove(0);
        let mut p = Progressive::new();
        p.begin_at(Stage::Full, view, paper());
        let never = Budget {
            work: 1,
            go_on: &|| false,
        };
        for _ in 0..3 {
            assert_eq!(p.slice(scene, &never), Sliced::UnderWay);
        }
        p.slice(&smaller, &Budget::all());
        assert!(p.picture().rgba == draw(&smaller, view, paper()).rgba);
    });
}

#[test]
fn three_kilometres_from_the_origin_it_stays_crisp() {
    let near = with_scene(0.0, |scene, _| draw(scene, views()[0], paper()));
    // A shift of whole multiples of 2^-10 mm keeps the points' rounding the same.
    let far = with_scene(3.0e6, |scene, shift| {
        let mut view = views()[0];
        view.camera.centre += shift;
        draw(scene, view, paper())
    });
    let differ = near
        .rgba
        .chunks(4)
        .zip(far.rgba.chunks(4))
        .filter(|(a, b)| a.iter().zip(*b).any(|(x, y)| x.abs_diff(*y) > 8))
        .count();
    let share = differ as f64 / (near.rgba.len() / 4) as f64;
    assert!(share < 0.002, "{share} of the pixels differ");
}
