use super::*;
use crate::sample::panel;

fn text(unit: LengthDisplay) -> String {
    String::from_utf8(section_dxf_bytes(&panel(), unit).unwrap()).unwrap()
}

#[test]
fn every_profile_stands_in_its_layer_and_gaps_stay_gaps() {
    let read = read_dxf(&text(LengthDisplay::Millimetre)).unwrap();
    assert_eq!((read.insunits, read.measurement), (Some(4), Some(1)));
    let count = |layer: &str| read.paths.iter().filter(|p| p.0 == layer).count();
    // Panel and flange of two sections; the second panel of b is parted: its first step alone is no profile.
    assert_eq!((count("FIRST"), count("SECOND")), (4, 4));
    let second: Vec<usize> = read
        .paths
        .iter()
        .filter(|p| p.0 == "SECOND")
        .map(|p| p.1.segments().len())
        .collect();
    assert_eq!(second, [3, 1, 1, 1]);
    assert!(
        read.texts
            .iter()
            .any(|t| t.1.contains("FIRST left, SECOND right, mirrored"))
    );
    assert!(read.texts.iter().any(|t| t.1 == "1: upper outer corner"));
}

#[test]
fn inches_are_the_same_thing_smaller() {
    let read = |unit| read_dxf(&text(unit)).unwrap();
    let (mm, inch) = (read(LengthDisplay::Millimetre), read(LengthDisplay::Inch));
    assert_eq!((inch.insunits, inch.measurement), (Some(1), Some(0)));
    assert!((mm.paths[0].1.length() - 25.4 * inch.paths[0].1.length()).abs() < 1e-6);
    let [a, b] = inch.lines[0].1;
    assert!(((b - a).norm() * 25.4 - 100.0).abs() < 1e-9);
}

#[test]
fn what_does_not_read_back_is_refused() {
    let pair = panel();
    let all = profiles(&pair);
    let sheet = Layout::of(&pair, &all);
    let unit = LengthDisplay::Millimetre;
    let good = read_dxf(&text(unit)).unwrap();
    let judged = |read: &DxfShapes| check(&pair, &all, &sheet, DxfUnit::of(unit), read);
    assert!(judged(&good).is_ok());
    let mut moved = good.clone();
    moved.paths[2].1.pieces[0].start.x += 1e-4;
    let mut lost = good.clone();
    lost.paths.pop();
    let mut swapped = good.clone();
    swapped.paths[0].0 = "SECOND".to_owned();
    let mut short = good.clone();
    short.lines[0].1[1].x -= 0.1;
    let mut inch = good.clone();
    inch.insunits = Some(1);
    for wrong in [moved, lost, swapped, short, inch] {
        assert!(judged(&wrong).is_err());
    }
    let empty = PairPanel {
        steps: Vec::new(),
        ..panel()
    };
    assert!(section_dxf_bytes(&empty, unit).is_err());
}
