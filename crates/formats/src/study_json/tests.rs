use super::*;
use crate::sample::study;

/// Names of plain numbers and lists of numbers: settings, coordinates, counts, shares. Everything else that is a
/// number has to be an object with its give-or-take.
const PLAIN: &[&str] = &[
    "schema",
    "seed",
    "draws",
    "points",
    "figures",
    "station",
    "share",
    "p",
    "ruled_p",
    "at",
    "a",
    "b",
    "start",
    "end",
    "centre",
    "axis",
    "normal",
    "gap_dir",
    "flush_dir",
    "part_from_scan",
    "reference",
    "along",
    "bulge",
    "allowed",
    "value",
];

/// Endings of plain numbers that state their unit themselves.
const PLAIN_ENDINGS: &[&str] = &["_mm", "_mm2", "_deg", "_share", "_deg_per_mm"];

fn walk(name: &str, value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            if map.contains_key("u95") {
                let keys: Vec<_> = map.keys().map(String::as_str).collect();
                assert_eq!(keys, ["nu", "source", "u95", "unit", "value"], "{name}");
                return;
            }
            for (key, v) in map {
                walk(key, v, found);
            }
        }
        Value::Array(items) => items.iter().for_each(|v| walk(name, v, found)),
        Value::Number(_) => found.push(name.to_owned()),
        _ => {}
    }
}

#[test]
fn every_measured_number_carries_its_give_or_take() {
    let text = study_json(&study());
    let value: Value = serde_json::from_str(&text).unwrap();
    let mut plain = Vec::new();
    walk("", &value, &mut plain);
    for name in plain {
        let known =
            PLAIN.contains(&name.as_str()) || PLAIN_ENDINGS.iter().any(|e| name.ends_with(e));
        assert!(known, "\"{name}\" is a plain number");
    }
    assert!(text.contains("\"u95\""));
}

#[test]
fn what_a_study_was_made_from_is_in_it() {
    let value: Value = serde_json::from_str(&study_json(&study())).unwrap();
    assert_eq!(value["schema"], 1);
    let p = &value["provenance"];
    assert_eq!(
        (&p["job_blake3"], &p["seed"], &p["draws"]),
        (&json!("ab12"), &json!(7), &json!(2000))
    );
    assert_eq!(p["scans"][0]["blake3"], "cd34");
    assert_eq!(p["version"], "0.1.0");
}

#[test]
fn known_uncertainty_has_no_degrees_of_freedom() {
    let value: Value = serde_json::from_str(&study_json(&study())).unwrap();
    let row = &value["compares"][0]["angles"][0];
    assert_eq!(row["a"]["nu"], 12.0);
    assert_eq!(row["difference"]["nu"], Value::Null);
    assert_eq!(row["difference"]["value"], -1.3);
    assert_eq!(row["difference"]["unit"], "deg");
    assert_eq!(value["drawings"][0]["side"], "left");
}

#[test]
fn the_same_study_gives_the_same_text() {
    assert_eq!(study_json(&study()), study_json(&study()));
}
