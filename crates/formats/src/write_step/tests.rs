use super::*;
use crate::sample::drawing;
use record::Side as CarSide;

#[test]
fn two_sides_are_two_named_products() {
    let left = drawing();
    let mut right = drawing();
    right.side = CarSide::Right;
    let products = read_step(&step_text(&[&left, &right], "test").unwrap()).unwrap();
    let names: Vec<_> = products.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["Lamp surround, left", "Lamp surround, right"]);
    for p in &products {
        let StepCurve::Spline { poles, .. } = p.curve("opening edge").unwrap() else {
            panic!("a smooth edge is written as a spline")
        };
        assert!(poles.len() > 100);
        assert_eq!(p.faces, ["face bowl"]);
        assert_eq!(p.points[0].0, "upper outer corner");
    }
}

#[test]
fn lengths_are_those_of_the_drawing() {
    let d = drawing();
    let product = &read_step(&step_text(&[&d], "test").unwrap()).unwrap()[0];
    let chain = Polyline::new(d.edge.iter().copied(), true).unwrap();
    let found = Polyline::new(product.curve("opening edge").unwrap().samples(8), false).unwrap();
    assert!((found.length() - chain.length()).abs() < 1e-4 * chain.length());
    let cut = product.flat_path("cut", true).unwrap();
    assert!((cut.length() - d.cut.unwrap().length()).abs() < 1e-9);
}

#[test]
fn a_sharp_edge_is_written_as_its_points() {
    let mut d = drawing();
    let corners = [[0.0, 0.0], [80.0, 0.0], [80.0, 50.0], [0.0, 50.0]];
    let square = Polyline::new(corners.map(|c| Point::new(c[0], c[1], 0.0)), true).unwrap();
    d.edge = square.resample(130, 0.0);
    d.cut = None;
    d.mark = None;
    let product = &read_step(&step_text(&[&d], "test").unwrap()).unwrap()[0];
    assert!(
        matches!(product.curve("opening edge"), Some(StepCurve::Polyline(p)) if p.len() == 131)
    );
}

#[test]
fn an_open_edge_stays_open() {
    let mut d = drawing();
    d.edge.truncate(200);
    d.edge_closed = false;
    step_text(&[&d], "test").unwrap();
}

type Spoil = (&'static str, fn(&mut Drawing));

#[test]
fn what_does_not_read_back_is_refused() {
    let d = drawing();
    let good = read_step(&step_text(&[&d], "test").unwrap())
        .unwrap()
        .remove(0);
    check(&d, &good).unwrap();
    let spoil: [Spoil; 7] = [
        ("name", |d| d.part_name.push('x')),
        ("edge moved", |d| d.edge[3].z += 0.01),
        ("outline", |d| {
            d.cut = d.cut.take().map(|c| c.scaled(1.0001));
        }),
        ("outline reversed", |d| {
            d.cut = d.cut.take().map(|c| c.reversed());
        }),
        ("hole", |d| d.holes[0].centre.x += 1e-3),
        ("junction", |d| d.junctions[0].end.y += 1e-3),
        ("station", |d| d.stations[0].at.y += 1e-3),
    ];
    for (what, how) in spoil {
        let mut other = drawing();
        how(&mut other);
        assert!(check(&other, &good).is_err(), "{what}");
    }
}

#[test]
fn names_outside_ascii_come_back() {
    let mut d = drawing();
    d.part_name = "Lüfter 'Ø' \\ 日本".into();
    let product = &read_step(&step_text(&[&d], "test").unwrap()).unwrap()[0];
    assert_eq!(product.name, "Lüfter 'Ø' \\ 日本, left");
}
