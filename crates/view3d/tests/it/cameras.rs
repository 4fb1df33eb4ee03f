//! Cameras: where things are seen, and what moves keep.

use geom::{Aabb, Point, Unit, Vector};
use view3d::{Camera, Lens, Seen, Stand, View};

fn near(a: &Point, b: &Point, within: f64) {
    assert!((a - b).norm() <= within, "{a} is not {b}");
}

fn views() -> Vec<View> {
    let c = Camera {
        mm_per_px: 0.37,
        ..Camera::along(
            Point::new(900.0, -600.0, 700.0),
            &Vector::new(0.4, 0.8, -0.3),
            &Vector::z(),
        )
    };
    let lens = Lens::Perspective { eye_px: 1500.0 };
    [c, Camera { lens, ..c }]
        .map(|camera| View {
            camera,
            width: 640,
            height: 400,
        })
        .to_vec()
}

#[test]
fn places_come_back() {
    for view in views() {
        for p in [
            Point::new(950.0, -610.0, 720.0),
            Point::new(870.0, -500.0, 610.0),
        ] {
            let s = view.project(&p).unwrap();
            near(&view.unproject(&s), &p, 1e-9);
            let ray = view.ray(s.x, s.y);
            let along = (p - ray.from).dot(&ray.direction);
            near(&ray.at(along), &p, 1e-9);
        }
        let (x, y) = view.middle();
        let middle = view.unproject(&Seen { x, y, depth: 0.0 });
        near(&middle, &view.camera.centre, 1e-9);
    }
}

#[test]
fn plain_views_of_the_car() {
    // Car axes: X rearward, Y to the right, Z up. Written as: right in the picture, up in the picture.
    let (x, y, z) = (Vector::x(), Vector::y(), Vector::z());
    for (stand, right, up) in [
        (Stand::Front, -y, z),
        (Stand::Rear, y, z),
        (Stand::Left, x, z),
        (Stand::Right, -x, z),
        (Stand::Above, y, -x),
        (Stand::Below, -y, -x),
    ] {
        let c = Camera::standing(stand, Point::origin());
        assert!((c.right() - right).norm() < 1e-12, "{stand:?}");
        assert!((c.up() - up).norm() < 1e-12, "{stand:?}");
        assert!((c.right().cross(&c.up()) + c.forward()).norm() < 1e-12);
    }
}

#[test]
fn turning_keeps_the_pivot_and_never_falls_over() {
    let pivot = Point::new(930.0, -590.0, 690.0);
    let up = Unit::new_normalize(Vector::z());
    for view in views() {
        let before = view.project(&pivot).unwrap();
        let mut camera = view.camera;
        for i in 0..200 {
            camera = camera.turned(0.05, if i < 100 { 0.04 } else { -0.06 }, &pivot, &up);
            let after = View { camera, ..view }.project(&pivot).unwrap();
            assert!((after.x - before.x).abs() < 1e-6 && (after.y - before.y).abs() < 1e-6);
            let upright = camera.view_from_world * up.into_inner();
            assert!(upright.y > -1e-9, "upside down");
            assert!(upright.x.abs() < 1e-9, "leaning sideways");
        }
    }
}

#[test]
fn the_front_follows_the_pointer() {
    let c = Camera::standing(Stand::Left, Point::origin());
    let up = Unit::new_normalize(Vector::z());
    let nearest = Point::new(0.0, -100.0, 0.0);
    let view = |camera| View {
        camera,
        width: 100,
        height: 100,
    };
    let at = |c: &Camera| view(*c).project(&nearest).unwrap();
    let before = at(&c);
    let right = at(&c.turned(0.1, 0.0, &Point::origin(), &up));
    assert!(right.x > before.x + 1.0);
    let down = at(&c.turned(0.0, 0.1, &Point::origin(), &up));
    assert!(down.y > before.y + 1.0);
}

#[test]
fn panning_and_zooming_keep_what_is_held() {
    for view in views() {
        let (x0, y0) = view.middle();
        let held = view.unproject(&Seen {
            x: x0 + 90.0,
            y: y0 - 50.0,
            depth: 0.0,
        });
        let camera = view.camera.zoomed(1.7, 90.0, -50.0);
        let s = View { camera, ..view }.project(&held).unwrap();
        assert!((s.x - x0 - 90.0).abs() < 1e-6 && (s.y - y0 + 50.0).abs() < 1e-6);
        let camera = view.camera.panned(12.0, 7.0);
        let s = View { camera, ..view }.project(&held).unwrap();
        assert!((s.x - x0 - 102.0).abs() < 1e-6 && (s.y - y0 + 43.0).abs() < 1e-6);
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(view.camera.zoomed(bad, 1.0, 1.0), view.camera);
        }
    }
}

#[test]
fn a_box_fits_and_touches() {
    let bounds = Aabb {
        low: Point::new(400.0, -900.0, 300.0),
        high: Point::new(1400.0, -500.0, 1000.0),
    };
    for view in views() {
        let camera = view.camera.fitted_to(&bounds, (640, 400), 20.0);
        let fitted = View { camera, ..view };
        let (l, h) = (bounds.low, bounds.high);
        let mut closest = f64::INFINITY;
        for i in 0..8 {
            let p = Point::new(
                if i & 1 == 0 { l.x } else { h.x },
                if i & 2 == 0 { l.y } else { h.y },
                if i & 4 == 0 { l.z } else { h.z },
            );
            let s = fitted.project(&p).unwrap();
            let room = (s.x - 20.0)
                .min(620.0 - s.x)
                .min(s.y - 20.0)
                .min(380.0 - s.y);
            assert!(room > -1e-6, "a corner is {room} outside");
            closest = closest.min(room);
        }
        assert!(closest < 1e-6, "there is room left: {closest}");
        assert_eq!(
            view.camera.fitted_to(&Aabb::empty(), (640, 400), 0.0),
            view.camera
        );
    }
}

#[test]
fn zooming_to_a_box_on_the_picture() {
    let view = views()[0];
    let camera = view.camera.zoomed_to(&view, (100.0, 50.0), (260.0, 150.0));
    let zoomed = View { camera, ..view };
    let place = |x, y| view.unproject(&Seen { x, y, depth: 0.0 });
    let a = zoomed.project(&place(100.0, 50.0)).unwrap();
    let b = zoomed.project(&place(260.0, 150.0)).unwrap();
    assert!((a.x - 0.0).abs() < 1e-6 && (a.y - 0.0).abs() < 1e-6);
    assert!((b.x - 640.0).abs() < 1e-6 && (b.y - 400.0).abs() < 1e-6);
    assert_eq!(
        view.camera.zoomed_to(&view, (5.0, 5.0), (5.0, 9.0)),
        view.camera
    );
}

#[test]
fn on_the_way_between_two() {
    let [a, b] = [
        views()[0].camera,
        Camera::standing(Stand::Front, Point::origin()),
    ];
    let close = |x: &Camera, y: &Camera| {
        near(&x.centre, &y.centre, 1e-9);
        assert!(x.view_from_world.angle_to(&y.view_from_world) < 1e-7);
        assert!((x.mm_per_px - y.mm_per_px).abs() < 1e-12);
    };
    close(&a.towards(&b, 0.0), &a);
    close(&a.towards(&b, 1.0), &b);
    let half = a.towards(&b, 0.5);
    assert!((half.mm_per_px - (0.37_f64).sqrt()).abs() < 1e-12);
}

#[test]
fn odd_directions() {
    for (direction, up) in [
        (Vector::z(), Vector::z()),
        (Vector::zeros(), Vector::x()),
        (Vector::x(), Vector::zeros()),
    ] {
        let c = Camera::along(Point::origin(), &direction, &up);
        assert!(c.is_sound());
        assert!((c.view_from_world.norm() - 1.0).abs() < 1e-12);
    }
    let broken = Camera {
        mm_per_px: f64::NAN,
        ..Camera::standing(Stand::Left, Point::origin())
    };
    assert!(!broken.is_sound());
}
