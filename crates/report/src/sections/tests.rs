use record::{PairPanel, Sections, Study};

use super::*;
use crate::testing::panel;

fn text(pair: PairPanel) -> String {
    let study = Study {
        title: "Coach".to_owned(),
        ..Study::default()
    };
    let sections = Sections {
        pairs: vec![pair],
        ..Sections::default()
    };
    sections_text(&study, &sections, Look::default())
}

#[test]
fn the_sentence_says_where_and_how_much() {
    let said = text(panel());
    let first = "Lamp opening: the panel differs most at the upper outer corner, 15 mm from the edge: the left stands 0.41 mm (give or take 0.06) proud of the right. Proven.";
    assert!(said.replace('\n', " ").contains(first), "{said}");
    assert!(
        said.contains("86 % within 0.1 mm; 14 % proud, up to 0.5 mm (14 % proven)"),
        "{said}"
    );
    assert!(said.contains("+0.41*"), "{said}");
    assert!(said.ends_with(&format!("{CAUTION}\n")), "{said}");
}

#[test]
fn what_is_not_proven_is_not_claimed() {
    let mut pair = panel();
    if let Some(w) = &mut pair.worst {
        w.proven = false;
        w.difference.value = -0.05;
    }
    let said = text(pair).replace('\n', " ");
    let first = "Lamp opening: no difference of the panel is proven; nearest to it at the upper outer corner, 15 mm from the edge, where the left stands 0.05 mm (give or take 0.06) shy of the right.";
    assert!(said.contains(first), "{said}");
}

#[test]
fn the_answer_keeps_to_the_screen() {
    let study = Study {
        title: "Coach".to_owned(),
        ..Study::default()
    };
    for count in 1..7 {
        let sections = Sections {
            pairs: (0..count).map(|_| panel()).collect(),
            ..Sections::default()
        };
        let look = Look::default();
        let said = sections_text(&study, &sections, look);
        assert!(said.lines().count() <= look.height, "{count}: {said}");
        assert!(
            said.lines().all(|l| l.chars().count() <= look.width),
            "{said}"
        );
    }
    let nothing = sections_text(&study, &Sections::default(), Look::default());
    assert!(nothing.contains("No section was cut"), "{nothing}");
}
