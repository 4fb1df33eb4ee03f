use super::*;
use crate::sample::{panel, study};

fn sections() -> Sections {
    Sections {
        pairs: vec![panel()],
        findings: Vec::new(),
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
