use super::*;
use crate::sample::panel;

#[test]
fn both_sides_are_products_of_named_chains() {
    let text = section_step_text(&panel(), "unmirror test").unwrap();
    let read = read_step(&text).unwrap();
    let names: Vec<&str> = read.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "lamp opening, sections, left",
            "lamp opening, sections, right, mirrored"
        ]
    );
    let name = "section 1, upper outer corner, part 1";
    let Some(StepCurve::Polyline(points)) = read[0].curve(name) else {
        panic!("{name} is missing");
    };
    assert_eq!(points.len(), 4);
    assert!((points[0] - Point::new(85.1, 0.0, 0.0)).norm() < 1e-9);
    // The flange hangs down from the edge.
    let Some(StepCurve::Polyline(flange)) = read[0].curve("section 1, upper outer corner, part 2")
    else {
        panic!("the flange is missing");
    };
    assert!(flange[1].z < flange[0].z);
}

#[test]
fn what_does_not_read_back_is_refused() {
    let pair = panel();
    let all = profiles(&pair);
    let sides = side_names(&pair);
    let text = section_step_text(&pair, "unmirror test").unwrap();
    assert!(check(&pair, &all, &sides, &text).is_ok());
    let moved = text.replacen("(85.1,", "(85.2,", 1);
    assert_ne!(moved, text);
    assert!(check(&pair, &all, &sides, &moved).is_err());
    let renamed = text.replace("section 2", "section 3");
    assert!(check(&pair, &all, &sides, &renamed).is_err());
}
