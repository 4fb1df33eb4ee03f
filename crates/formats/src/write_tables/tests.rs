use super::*;
use crate::sample::study;

fn all(units: DisplayUnits) -> Vec<(&'static str, String)> {
    let study = study();
    tables(&study, &study.measured.compares[0], units)
        .unwrap()
        .into_iter()
        .map(|t| (t.name, String::from_utf8(t.bytes).unwrap()))
        .collect()
}

fn table(units: DisplayUnits, name: &str) -> String {
    all(units).into_iter().find(|t| t.0 == name).unwrap().1
}

#[test]
fn there_is_a_table_for_everything_measured() {
    let names: Vec<_> = all(DisplayUnits::default())
        .into_iter()
        .map(|t| t.0)
        .collect();
    assert_eq!(names, ["angles", "edge", "holes", "sizes", "options"]);
}

#[test]
fn angles_by_station() {
    let text = table(DisplayUnits::default(), "angles");
    let mut lines = text.trim_start_matches('\u{feff}').lines();
    assert!(
        lines
            .next()
            .unwrap()
            .starts_with("junction,place,share,taken,drawn_deg,a_deg,a_u95_deg")
    );
    let row = "bowl,top,0.0000,through the metal,90.000,89.100,0.140,90.400,0.140,-1.300,0.200";
    assert_eq!(lines.next(), Some(row));
    // Not measured on b: blank, never 0.
    assert_eq!(
        lines.next(),
        Some("bowl,bottom,1.0000,through the metal,,89.100,0.140,,,,")
    );
}

#[test]
fn inches_and_decimal_commas() {
    let units = DisplayUnits {
        length: LengthDisplay::Inch,
        decimal_comma: true,
    };
    let text = table(units, "edge");
    let mut lines = text.trim_start_matches('\u{feff}').lines();
    assert!(lines.next().unwrap().contains(";a_x_in;"));
    assert!(
        lines
            .next()
            .unwrap()
            .starts_with("1;upper outer corner;0,00000;yes;1,0000;2,0000;0,0000;")
    );
}

#[test]
fn nothing_reads_as_minus_nothing() {
    let sheet = Sheet::new(DisplayUnits::default(), &["x_mm"]);
    assert_eq!(sheet.length(-0.0001), "0.000");
    assert_eq!(sheet.length(-0.001), "-0.001");
    assert_eq!(sheet.length(f64::NAN), "");
}
