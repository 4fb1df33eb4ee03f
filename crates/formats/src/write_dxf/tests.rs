use super::*;
use crate::sample::drawing;

fn text(unit: LengthDisplay) -> String {
    String::from_utf8(dxf_bytes(&drawing(), unit).unwrap()).unwrap()
}

#[test]
fn the_file_holds_outline_edge_holes_and_the_line_of_known_length() {
    let read = read_dxf(&text(LengthDisplay::Millimetre)).unwrap();
    assert_eq!(
        (read.insunits, read.measurement, read.version.as_str()),
        (Some(4), Some(1), "AC1015")
    );
    for layer in ["CUT", "MARK", "REF"] {
        assert!(read.layers.iter().any(|l| l == layer), "{layer}");
    }
    let d = drawing();
    let cut: Vec<_> = read.paths.iter().filter(|p| p.0 == "CUT").collect();
    // The outline and one slot.
    assert_eq!(cut.len(), 2);
    assert!((cut[0].1.area() - d.cut.as_ref().unwrap().area()).abs() < 1e-6);
    assert!(cut.iter().all(|c| c.1.is_closed() && c.1.area() > 0.0));
    // Slot 6.5 wide and 4 longer than wide.
    let slot = std::f64::consts::PI * 3.25 * 3.25 + 4.0 * 6.5;
    assert!((cut[1].1.area() - slot).abs() < 1e-9);
    assert_eq!(read.circles.iter().filter(|c| c.0 == "MARK").count(), 2);
    assert_eq!(read.texts.len(), 1);
}

#[test]
fn inches_are_the_same_thing_smaller() {
    let (mm, inch) = (
        read_dxf(&text(LengthDisplay::Millimetre)).unwrap(),
        read_dxf(&text(LengthDisplay::Inch)).unwrap(),
    );
    assert_eq!((inch.insunits, inch.measurement), (Some(1), Some(0)));
    assert!((mm.paths[0].1.length() - 25.4 * inch.paths[0].1.length()).abs() < 1e-9);
    let [a, b] = inch.lines[0].1;
    assert!(((b - a).norm() * 25.4 - 100.0).abs() < 1e-9);
}

#[test]
fn the_same_drawing_gives_the_same_bytes() {
    let first = text(LengthDisplay::Millimetre);
    std::thread::sleep(std::time::Duration::from_millis(20));
    assert_eq!(first, text(LengthDisplay::Millimetre));
}

#[test]
fn arcs_wider_than_half_a_circle_are_split() {
    let mut d = drawing();
    d.cut = Some(ArcPath::closed([
        ([0.0, 0.0], bulge_of(5.0)),
        ([10.0, 0.0], 0.0),
    ]));
    let bytes = dxf_bytes(&d, LengthDisplay::Millimetre).unwrap();
    let read = read_dxf(std::str::from_utf8(&bytes).unwrap()).unwrap();
    assert_eq!(read.paths[0].1.pieces.len(), 3);
    assert!((read.paths[0].1.area() - d.cut.unwrap().area()).abs() < 1e-9);
}

type Spoil = (&'static str, fn(&mut DxfShapes));

#[test]
fn what_does_not_read_back_is_refused() {
    let d = drawing();
    let shapes = shapes(&d).unwrap();
    let good = read_dxf(&text(LengthDisplay::Millimetre)).unwrap();
    let try_it =
        |read: &DxfShapes| check(&d, &shapes, DxfUnit::of(LengthDisplay::Millimetre), read);
    try_it(&good).unwrap();
    let spoil: [Spoil; 8] = [
        ("unit", |r| r.insunits = Some(1)),
        ("moved corner", |r| r.paths[0].1.pieces[0].start.x += 1e-4),
        ("turned round", |r| r.paths[0].1 = r.paths[0].1.reversed()),
        ("opened", |r| r.paths[0].1.end = Some(Point2::origin())),
        ("other layer", |r| "MARK".clone_into(&mut r.paths[0].0)),
        ("hole lost", |r| {
            r.circles.pop();
        }),
        ("hole grown", |r| r.circles[0].2 += 1e-3),
        ("line lost", |r| r.lines.clear()),
    ];
    for (what, how) in spoil {
        let mut bad = good.clone();
        how(&mut bad);
        assert!(try_it(&bad).is_err(), "{what}");
    }
}

#[test]
fn a_drawing_without_an_edge_is_refused() {
    let mut d = drawing();
    d.cut = None;
    d.mark = None;
    assert!(dxf_bytes(&d, LengthDisplay::Millimetre).is_err());
}

#[test]
fn names_outside_ascii_survive() {
    let mut d = drawing();
    d.part_name = "Lüfter-Gitter Ø".into();
    let bytes = dxf_bytes(&d, LengthDisplay::Millimetre).unwrap();
    let text = String::from_utf8(bytes).unwrap();
    assert!(
        text.contains("L\\U+00FCfter") || text.contains("Lüfter"),
        "{text}"
    );
}
