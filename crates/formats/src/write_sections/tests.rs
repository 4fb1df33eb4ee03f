use super::*;
use crate::sample::{panel, study};

fn sections() -> Sections {
    Sections {
        pairs: vec![panel()],
        ..Sections::default()
    }
}

#[test]
fn every_step_has_a_row_and_what_was_not_seen_is_blank() {
    let tables = section_tables(&study(), &sections()).unwrap();
    let names: Vec<&str> = tables.iter().map(|t| t.0.as_str()).collect();
    assert_eq!(names, ["lamps, sections.csv", "lamps, panel.csv"]);
    let text = String::from_utf8(tables[0].1.bytes.clone()).unwrap();
    let rows: Vec<&str> = text.lines().collect();
    assert_eq!(rows.len(), 13);
    assert_eq!(
        rows[3],
        "1,upper outer corner,0.01000,0.000,panel,15.100,95.100,0.000,-0.040,-0.040,0.030,-0.450,0.040,0.410,0.060,30.0,noise,yes"
    );
    // Not seen on b: blank, never 0.
    assert!(rows[8].ends_with("-0.010,0.030,,,,,,,"), "{}", rows[8]);
    let map = String::from_utf8(tables[1].1.bytes.clone()).unwrap();
    assert!(map.contains("band,0.300,0.500,14.0,14.0,,,,,"), "{map}");
    assert!(
        map.contains("worst place,,,,,upper outer corner,15.100,0.410,0.060,yes"),
        "{map}"
    );
}

#[test]
fn measured_numbers_are_objects() {
    let text = sections_json(&study(), &sections());
    let value: Value = serde_json::from_str(&text).unwrap();
    let worst = &value["pairs"][0]["worst"]["difference"];
    for field in ["value", "u95", "nu", "source", "unit"] {
        assert!(!worst[field].is_null(), "{field}");
    }
    assert_eq!(
        value["pairs"][0]["sections"][1]["steps"][1]["b"],
        Value::Null
    );
    assert_eq!(value["pairs"][0]["b_side"], "right");
}

#[test]
fn gaps_and_hinges_have_tables_of_their_own() {
    use geom::Vector;
    use record::{GapDifference, GapStation, HingeStep, MeasuredHinge, PanelGap, Quantity, Source};
    let f = |value: f64, quantity| Figure {
        value,
        u95: 0.05,
        nu: f64::INFINITY,
        source: Source::Noise,
        quantity,
    };
    let station = GapStation {
        share: 0.5,
        from_start_mm: 150.0,
        gap: Some(f(4.5, Quantity::Length)),
        flush: None,
        by_walls: true,
        at: Point::new(1.0, 2.0, 3.0),
    };
    let all = Sections {
        gaps: vec![PanelGap {
            name: "door to wing".to_owned(),
            panels: ["door".to_owned(), "wing".to_owned()],
            left: vec![station.clone()],
            right: vec![station],
            differences: vec![GapDifference {
                share: 0.5,
                gap: Some(f(0.0, Quantity::Length)),
                flush: None,
                proven: [false; 2],
            }],
        }],
        hinges: vec![MeasuredHinge {
            name: "door".to_owned(),
            barrels: vec![record::HingeBarrel {
                name: "upper".to_owned(),
                middle: Point::origin(),
                axis: Vector::z_axis(),
                diameter: f(12.0, Quantity::Length),
                arc_deg: 150.0,
            }],
            steps: vec![HingeStep {
                between: ["lower".to_owned(), "upper".to_owned()],
                offset: f(0.8, Quantity::Length),
                angle: f(0.5, Quantity::Angle),
                proven: [true, false],
            }],
            swing: None,
        }],
        ..sections()
    };
    let tables = gap_and_hinge_tables(&study(), &all).unwrap();
    let text = |k: usize| String::from_utf8(tables[k].bytes.clone()).unwrap();
    let left = "door to wing,door,wing,left,0.5000,150.000,1.000,2.000,3.000,4.500,0.050,yes,,,,";
    assert!(text(0).contains(left), "{}", text(0));
    assert!(
        text(0).contains("left minus right,0.5000,,,,,0.000,0.050,,,,no,"),
        "{}",
        text(0)
    );
    assert!(
        text(1).contains("door,one line,lower,upper,0.800,0.050,yes,0.500,0.050,no"),
        "{}",
        text(1)
    );
    let value: Value = serde_json::from_str(&sections_json(&study(), &all)).unwrap();
    assert_eq!(value["gaps"][0]["left"][0]["flush"], Value::Null);
    assert_eq!(value["hinges"][0]["steps"][0]["angle"]["unit"], "deg");
    assert!(
        gap_and_hinge_tables(&study(), &sections())
            .unwrap()
            .is_empty()
    );
}
