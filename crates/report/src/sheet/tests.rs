use geom::{Point, Vector};
use nalgebra::Unit;
use record::{PairStation, Study};

use super::*;
use crate::Pair;
use crate::testing::{finding, lamp, mm, next, study};

/// A rounded opening, its right one wider at one place.
fn lamp_with_edges() -> Study {
    let mut made = lamp();
    let n = 72;
    for k in 0..n {
        let phi = std::f64::consts::TAU * f64::from(k) / f64::from(n);
        let radial = Vector::new(phi.cos(), phi.sin(), 0.0);
        let a = Point::from(radial.component_mul(&Vector::new(90.0, 70.0, 0.0)));
        let out =
            1.4 * (-((phi - 0.8) / 0.5).powi(2)).exp() - 0.5 * (-((phi - 4.0) / 0.4).powi(2)).exp();
        made.measured.stations.push(PairStation {
            place: format!("station {k}"),
            share: f64::from(k) / f64::from(n),
            a,
            b: a + radial * out,
            tangent: Unit::new_normalize(Vector::new(-phi.sin(), phi.cos(), 0.0)),
            gap_dir: Unit::new_normalize(-radial),
            flush_dir: Vector::z_axis(),
            gap: mm(-out, 0.2),
            flush: mm(0.0, 0.2),
            seen: true,
        });
    }
    made.measured.a_curve = made.measured.stations.iter().map(|s| s.a).collect();
    made.measured.b_curve = made.measured.stations.iter().map(|s| s.b).collect();
    if let Some(worst) = &mut made.decided.options[3].worst {
        worst.station = Some(9);
    }
    made.decided.next = vec![next("scan the right opening once more, re-seated", None)];
    made.measured.findings = vec![finding(
        record::Severity::Doubt,
        "right <lamp>",
        "12 mm of the edge were not seen",
        "",
    )];
    study(vec![made])
}

fn texts(sheet: &Sheet) -> Vec<&str> {
    sheet
        .items
        .iter()
        .filter_map(|i| {
            if let Item::Text { text, .. } = i {
                Some(text.as_str())
            } else {
                None
            }
        })
        .collect()
}

#[test]
fn the_sheet_carries_the_sentence_the_ladder_the_choices_and_the_caution() {
    let study = lamp_with_edges();
    let sheet = pair_sheet(&Pair::all(&study)[0]);
    let texts = texts(&sheet);
    for wanted in [
        "Lamp surround: mirroring the left one will NOT fit the right side.",
        "LEFT",
        "RIGHT",
        "89.1°",
        "90.4°",
        "−1.3°",
        "Two hands",
        "uses 33 %",
        "chance it fits 98 %",
        "mm, degrees",
        "seated facing forward",
        "×10",
        "+0.5",
        "−1.4",
        crate::terminal::CAUTION,
    ] {
        assert!(texts.contains(&wanted), "{wanted} is missing in {texts:?}");
    }
}

#[test]
fn everything_lies_on_the_sheet() {
    let study = lamp_with_edges();
    let sheet = pair_sheet(&Pair::all(&study)[0]);
    let inside =
        |p: &[f64; 2]| (0.0..=sheet.width).contains(&p[0]) && (0.0..=sheet.height).contains(&p[1]);
    for item in &sheet.items {
        match item {
            Item::Path { points, .. } => assert!(points.iter().all(inside), "{item:?}"),
            Item::Disc { at, .. } | Item::Text { at, .. } => assert!(inside(at), "{item:?}"),
        }
    }
}

#[test]
fn what_can_be_pointed_at_has_its_name() {
    let study = lamp_with_edges();
    let sheet = pair_sheet(&Pair::all(&study)[0]);
    let hits: Vec<&Hit> = sheet
        .items
        .iter()
        .filter_map(|i| match i {
            Item::Path { hit, .. } | Item::Disc { hit, .. } | Item::Text { hit, .. } => {
                hit.as_ref()
            }
        })
        .collect();
    assert!(hits.contains(&&Hit::Station("lamp".into(), 9)));
    assert!(hits.contains(&&Hit::Rung("lamp".into(), 4)));
    assert!(hits.contains(&&Hit::Choice("lamp".into(), OptionKind::TwoHands)));
}

#[test]
fn the_svg_is_well_formed_and_the_themes_differ_in_colour_only() {
    let study = lamp_with_edges();
    let sheet = pair_sheet(&Pair::all(&study)[0]);
    let svg = sheet.svg(Theme::Paper);
    assert!(
        svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\"") && svg.ends_with("</svg>\n")
    );
    assert!(svg.contains("Right &lt;lamp&gt;") && !svg.contains("<lamp>") && !svg.contains("NaN"));
    assert_eq!(
        svg.matches("<text ").count(),
        svg.matches("</text>").count()
    );
    let slate = sheet.svg(Theme::Slate);
    let without_colours = |text: &str| {
        text.split('#')
            .enumerate()
            .map(|(i, t)| if i == 0 { t } else { &t[6..] })
            .collect::<Vec<_>>()
            .join("")
    };
    assert_ne!(svg, slate);
    assert_eq!(without_colours(&svg), without_colours(&slate));
}

#[test]
fn a_pair_without_edges_and_one_side_only_still_make_a_sheet() {
    let plain = study(vec![lamp()]);
    let sheet = pair_sheet(&Pair::all(&plain)[0]);
    assert!(texts(&sheet).contains(&"no edge to lay on the other"));
    let mut alone = lamp();
    alone.measured.b = None;
    alone.decided.options.clear();
    let alone = study(vec![alone]);
    let sheet = pair_sheet(&Pair::all(&alone)[0]);
    assert!(texts(&sheet).contains(&"not measured"));
    assert!(sheet.svg(Theme::Paper).len() > 1000);
}
