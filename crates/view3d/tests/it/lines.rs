//! Lines and marks.

use geom::{Blocks, Point};
use view3d::{Behind, Line, MarkForm, Marks, Object, Picture, Points, Scene, Shape, draw, touch};

use crate::scenes::{INK, METAL, SHEET, flat, front};

/// Share of the ink in a pixel on the bare sheet, 0 to 1.
fn ink(picture: &Picture, x: u32, y: u32) -> f64 {
    let c = picture.colour(x, y).unwrap();
    f64::from(SHEET[0] - c[0]) / f64::from(SHEET[0] - INK[0])
}

fn lines(list: Vec<Line>) -> Scene {
    Scene {
        objects: list
            .into_iter()
            .map(|l| Object::new(Shape::Line(l)))
            .collect(),
    }
}

#[test]
fn a_line_has_its_width() {
    for (width, slope) in [(1.0, 0.0), (2.0, 0.0), (2.25, 0.37), (3.5, 1.0), (0.5, 0.2)] {
        let points = [
            Point::new(-40.0, 0.0, -40.0 * slope),
            Point::new(40.0, 0.0, 40.0 * slope),
        ];
        let line = Line {
            width_px: width,
            ..Line::new(&points, false, INK)
        };
        let picture = draw(&lines(vec![line]), front(100, 100), flat());
        // Ink in a column, across the line, is width / cos.
        let want = f64::from(width) * (1.0 + slope * slope).sqrt();
        let columns = 30..70;
        let all: f64 = columns
            .clone()
            .map(|x| (0..100).map(|y| ink(&picture, x, y)).sum::<f64>())
            .sum();
        let mean = all / columns.len() as f64;
        assert!(
            (mean - want).abs() < 0.06 * want + 0.02,
            "{mean} is not {want}"
        );
    }
}

#[test]
fn joints_and_crossings_of_one_line_are_not_darker() {
    // Every pixel of a thin zigzag that turns back on itself holds at most the ink of a single line.
    let points: Vec<Point> = (0..40)
        .map(|i| Point::new(f64::from(i % 2) * 20.0 - 10.0, 0.0, f64::from(i) * 0.05))
        .collect();
    let line = Line {
        width_px: 0.5,
        ..Line::new(&points, false, INK)
    };
    let picture = draw(&lines(vec![line]), front(40, 40), flat());
    for y in 0..40 {
        for x in 0..40 {
            assert!(ink(&picture, x, y) < 0.51);
        }
    }
}

/// Ink along a circle of 150 px radius, at one place per pixel of length.
fn around(points: &[Point], dash: Option<(f32, f32)>) -> Vec<f64> {
    let mut line = Line {
        width_px: 3.0,
        ..Line::new(points, true, INK)
    };
    if let Some((on, off)) = dash {
        line = line.dashed(on, off);
    }
    let picture = draw(&lines(vec![line]), front(340, 340), flat());
    let steps = 942;
    (0..steps)
        .map(|i| {
            let a = std::f64::consts::TAU * f64::from(i) / f64::from(steps);
            let (x, y) = (170.0 + 150.0 * a.cos(), 170.0 - 150.0 * a.sin());
            ink(&picture, x as u32, y as u32)
        })
        .collect()
}

fn circle(n: usize) -> Vec<Point> {
    (0..n)
        .map(|i| {
            let a = std::f64::consts::TAU * i as f64 / n as f64;
            Point::new(150.0 * a.cos(), 0.0, 150.0 * a.sin())
        })
        .collect()
}

/// Lengths of runs of ink and of none, from the first start of a run of ink, once round.
fn dash_lengths(along: &[f64]) -> (Vec<usize>, Vec<usize>) {
    let n = along.len();
    let on = |i: usize| along[i % n] > 0.5;
    let start = (0..n).find(|i| !on(i + n - 1) && on(*i)).unwrap();
    let (mut dashes, mut gaps) = (Vec::new(), Vec::new());
    let mut i = start;
    while i < start + n {
        let first = i;
        while i < start + n && on(i) == on(first) {
            i += 1;
        }
        if on(first) {
            dashes.push(i - first);
        } else {
            gaps.push(i - first);
        }
    }
    (dashes, gaps)
}

#[test]
fn dashes_run_on_along_the_whole_curve() {
    // Segments far shorter than a dash, and far longer: the pattern is the same, also where the circle closes.
    for n in [60, 700] {
        let points = circle(n);
        assert!(around(&points, None).iter().all(|s| *s > 0.9));
        let (dashes, gaps) = dash_lengths(&around(&points, Some((9.0, 3.0))));
        assert!((76..=80).contains(&dashes.len()), "{} dashes", dashes.len());
        assert_eq!(dashes.len(), gaps.len());
        for d in dashes {
            assert!((7..=11).contains(&d), "a dash of {d}");
        }
        for g in gaps {
            assert!((2..=5).contains(&g), "a gap of {g}");
        }
    }
}

#[test]
fn dashes_without_a_gap_are_a_full_line() {
    let points = circle(90);
    for dash in [(9.0, 0.0), (f32::NAN, 3.0), (9.0, -1.0)] {
        assert!(around(&points, Some(dash)).iter().all(|s| *s > 0.9));
    }
}

/// A wall of points 10 mm before a line, right half only.
fn behind_a_wall(behind: Behind, lift_mm: f64) -> (f64, f64) {
    let wall: Vec<Point> = (0..40)
        .flat_map(|i| {
            (-20..20).map(move |j| Point::new(f64::from(i) * 0.5, 0.0, f64::from(j) * 0.5))
        })
        .collect();
    let blocks = Blocks::from_points(&wall);
    let points = [Point::new(-15.0, 10.0, 0.5), Point::new(15.0, 10.0, 0.5)];
    let line = Line {
        behind,
        lift_mm,
        ..Line::new(&points, false, INK)
    };
    let scene = Scene {
        objects: vec![
            Object::new(Shape::Points(Points::new(&blocks, SHEET))),
            Object::new(Shape::Line(line)),
        ],
    };
    let picture = draw(&scene, front(40, 40), flat());
    (ink(&picture, 10, 19), ink(&picture, 30, 19))
}

#[test]
fn hidden_parts_are_drawn_as_told() {
    let (free, hidden) = behind_a_wall(Behind::Hidden, 1.0);
    assert!(free > 0.95 && hidden == 0.0);
    let (free, hidden) = behind_a_wall(Behind::Faint(0.3), 1.0);
    assert!(free > 0.95 && (hidden - 0.3).abs() < 0.02);
    let (free, shown) = behind_a_wall(Behind::Shown, 1.0);
    assert!(free > 0.95 && shown > 0.95);
    // Something 10 mm before does not hide a line that is lifted by 12.
    let (free, lifted) = behind_a_wall(Behind::Hidden, 12.0);
    assert!(free > 0.95 && lifted > 0.95);
}

#[test]
fn marks_are_of_constant_size() {
    let points = [Point::new(0.0, 0.0, 0.0)];
    let area = |form, mm_per_px: f64| {
        let marks = Marks {
            points: &points,
            form,
            colour: INK,
            radius_px: 6.0,
            behind: Behind::Shown,
            lift_mm: 0.0,
        };
        let mut view = front(41, 41);
        view.camera.mm_per_px = mm_per_px;
        let scene = Scene {
            objects: vec![Object::new(Shape::Marks(marks))],
        };
        let picture = draw(&scene, view, flat());
        (0..41 * 41)
            .map(|i| ink(&picture, i % 41, i / 41))
            .sum::<f64>()
    };
    let disc = std::f64::consts::PI * 36.0;
    for form in [MarkForm::Disc, MarkForm::Square, MarkForm::Triangle] {
        for mm_per_px in [0.01, 3.0] {
            let a = area(form, mm_per_px);
            assert!((a / disc - 1.0).abs() < 0.03, "{form:?}: {a}");
        }
    }
    assert!(area(MarkForm::Ring, 1.0) < 0.5 * disc);
    assert!(area(MarkForm::Cross, 1.0) < 0.5 * disc);
}

#[test]
fn pointing_at_lines_and_marks() {
    let points = [
        Point::new(-10.0, 0.0, 0.0),
        Point::new(0.0, 0.0, 0.0),
        Point::new(0.0, 0.0, 10.0),
    ];
    let mark = [Point::new(5.0, 0.0, 5.0)];
    let marks = Marks {
        points: &mark,
        form: MarkForm::Disc,
        colour: METAL,
        radius_px: 3.0,
        behind: Behind::Shown,
        lift_mm: 0.0,
    };
    let scene = Scene {
        objects: vec![
            Object::new(Shape::Line(Line::new(&points, false, INK))),
            Object::new(Shape::Marks(marks)),
        ],
    };
    let view = front(40, 40);
    let t = touch(&scene, &view, 13.0, 21.5, 3.0).unwrap();
    assert_eq!((t.object, t.index), (0, 0));
    assert!((t.share - 0.3).abs() < 1e-9 && (t.off_px - 1.5).abs() < 1e-9);
    assert!((t.place - Point::new(-7.0, 0.0, 0.0)).norm() < 1e-9);
    let t = touch(&scene, &view, 25.0, 14.0, 3.0).unwrap();
    assert_eq!((t.object, t.index), (1, 0));
    assert!(touch(&scene, &view, 35.0, 35.0, 3.0).is_none());
    assert!(touch(&scene, &view, f64::NAN, 35.0, 3.0).is_none());
}
