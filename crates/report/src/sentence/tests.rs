use record::{Direction, DisplayUnits, LengthDisplay, Relation, Severity, Side, Study};

use super::*;
use crate::testing::{Made, deg, finding, joint, lamp, mm, next, option, rung, slot, study, worst};

fn check(made: Made, expected: &str) {
    check_study(&study(vec![made]), expected);
}

fn check_study(study: &Study, expected: &str) {
    let text = pair_text(&Pair::all(study)[0]);
    assert_eq!(text.full(), expected);
}

#[test]
fn the_first_thing_anyone_wants_to_see() {
    check(
        lamp(),
        "Lamp surround: mirroring the left one will NOT fit the right side. Worst place: top inner corner, the gap \
         1.4 mm too tight (give or take 0.3). You allow 0.8 mm. Slots do not cure it; two hands do. Angle at the top: left \
         89.1°, right 90.4° (give or take 0.2): set your bevel there to these.",
    );
}

#[test]
fn the_same_in_inches_with_a_decimal_comma() {
    let mut study = study(vec![lamp()]);
    study.units = DisplayUnits {
        length: LengthDisplay::Inch,
        decimal_comma: true,
    };
    check_study(
        &study,
        "Lamp surround: mirroring the left one will NOT fit the right side. Worst place: top inner corner, the gap \
         0,055 in too tight (give or take 0,012). You allow 0,0315 in. Slots do not cure it; two hands do. Angle at the top: left \
         89,1°, right 90,4° (give or take 0,2): set your bevel there to these.",
    );
}

#[test]
fn a_part_that_fits_is_said_in_one_line() {
    let mut plate = Made::new("step", "Step plate", Relation::Mirrored, 0.6);
    plate.decided.options = vec![option(OptionKind::MirrorA, Verdict::Fits, 50.0, 0.99)];
    plate.decided.joint = Some(joint(true, "width", 0.2));
    check(
        plate,
        "Step plate: mirror the left one. It fits both sides and uses 50 % (give or take 5) of what you allow. The two \
         do differ, most clearly in width; it stays within what you allow.",
    );
}

#[test]
fn no_difference_proven() {
    let mut vent = Made::new("vent", "rear vents", Relation::Mirrored, 0.6);
    vent.decided.options = vec![option(OptionKind::MirrorA, Verdict::Fits, 20.0, 1.0)];
    vent.decided.joint = Some(joint(false, "height", 0.2));
    check(
        vent,
        "Rear vents: no difference proven, and none can be larger than 0.2 mm. Mirror the left one; it fits both sides and \
         uses 20 % (give or take 2) of what you allow.",
    );
}

#[test]
fn the_right_one_is_mirrored_where_only_that_fits() {
    let mut plate = Made::new("step", "Step plate", Relation::Mirrored, 0.6);
    plate.decided.options = vec![
        option(OptionKind::MirrorB, Verdict::Fits, 60.0, 0.97),
        option(OptionKind::MirrorA, Verdict::WillNotFit, 160.0, 0.0),
    ];
    check(
        plate,
        "Step plate: mirror the right one. It fits both sides and uses 60 % (give or take 6) of what you allow.",
    );
}

#[test]
fn not_proven_names_the_reading_that_settles_it() {
    let mut made = Made::new("shape", "Midway panel", Relation::Mirrored, 0.6);
    let mut mirror = option(OptionKind::MirrorA, Verdict::NotProven, 92.0, 0.42);
    mirror.worst = Some(worst("station 8", Direction::Wide, mm(0.55, 0.2), 0.6));
    made.decided.options = vec![
        option(OptionKind::TwoHands, Verdict::Fits, 20.0, 0.99),
        mirror,
    ];
    made.decided.next = vec![
        next(
            "scan the left lamp opening once more",
            Some(OptionKind::Midway),
        ),
        next(
            "read the gap at station 8 three times",
            Some(OptionKind::MirrorA),
        ),
    ];
    check(
        made,
        "Midway panel: not proven that the left one, mirrored, fits the right side. Worst place: station 8, the gap 0.6 mm too \
         wide (give or take 0.2). You allow 0.6 mm. Chance it fits: 42 %. Two hands are proven to fit. To settle it: read \
         the gap at station 8 three times.",
    );
}

#[test]
fn slots_that_cure_make_two_hands_needless() {
    let mut made = Made::new("handle", "Handle plate", Relation::Mirrored, 0.5);
    let mut mirror = option(OptionKind::MirrorA, Verdict::WillNotFit, 140.0, 0.0);
    mirror.worst = Some(worst("rear edge", Direction::Wide, mm(0.7, 0.1), 0.5));
    let mut slots = option(OptionKind::MirrorAWithSlots, Verdict::Fits, 60.0, 0.99);
    slots.needs = vec![slot(0.4), slot(1.15)];
    made.decided.options = vec![
        slots,
        option(OptionKind::TwoHands, Verdict::Fits, 20.0, 0.99),
        mirror,
    ];
    check(
        made,
        "Handle plate: mirroring the left one will NOT fit the right side. Worst place: rear edge, the gap 0.7 mm too \
         wide (give or take 0.1). You allow 0.5 mm. Slots with 1.2 mm of travel sideways cure it; two hands are not needed.",
    );
}

#[test]
fn a_twist_beside_a_ladder_goes_without_its_amount() {
    let twist = || record::DiffersBy {
        way: record::WayOfDiffering::Twist,
        amount: deg(2.5, 0.1),
        allowed: 0.5,
        matters: record::Matters::Matters,
        place: None,
        cures: vec![record::CureWay::Bend, record::CureWay::TwoHands],
    };
    let text = |made: Made| pair_text(&Pair::all(&study(vec![made]))[0]).reason;
    let mut with_ladder = lamp();
    with_ladder.decided.differs = vec![twist()];
    let said = text(with_ladder);
    assert!(
        said.ends_with("It is mostly a twist of the edge over its height; bending it true or two hands can cure that."),
        "{said}"
    );
    let mut without = lamp();
    without.measured.angles.clear();
    without.decided.differs = vec![twist()];
    let said = text(without);
    assert!(
        said.contains(
            "over its height: 2.5° (give or take 0.1); bending it true or two hands can cure that."
        ),
        "{said}"
    );
}

#[test]
fn a_midway_shape_that_fits_is_offered() {
    let mut made = Made::new("handle", "Handle plate", Relation::Mirrored, 0.5);
    let mut mirror = option(OptionKind::MirrorA, Verdict::WillNotFit, 140.0, 0.0);
    mirror.worst = Some(worst("rear edge", Direction::Shy, mm(0.7, 0.1), 0.5));
    made.decided.options = vec![
        option(OptionKind::Midway, Verdict::Fits, 70.0, 0.99),
        mirror,
    ];
    check(
        made,
        "Handle plate: mirroring the left one will NOT fit the right side. Worst place: rear edge, 0.7 mm shy (give or \
         take 0.1). You allow 0.5 mm. One shape midway between the two, mirrored, fits.",
    );
}

#[test]
fn where_nothing_is_proven_to_fit_the_next_reading_is_named() {
    let mut made = Made::new("handle", "Handle plate", Relation::Mirrored, 0.5);
    let mut mirror = option(OptionKind::MirrorA, Verdict::WillNotFit, 240.0, 0.0);
    mirror.worst = Some(worst("top", Direction::AngleLarge, deg(1.3, 0.2), 0.6));
    made.decided.options = vec![
        option(OptionKind::TwoHands, Verdict::NotProven, 99.0, 0.5),
        option(OptionKind::Midway, Verdict::NotProven, 120.0, 0.06),
        option(
            OptionKind::MirrorAWithSlots,
            Verdict::WillNotFit,
            230.0,
            0.0,
        ),
        option(OptionKind::MirrorAWithShims, Verdict::NotProven, 110.0, 0.3),
        mirror,
    ];
    made.decided.next = vec![next("scan the right opening once more, re-seated", None)];
    check(
        made,
        "Handle plate: mirroring the left one will NOT fit the right side. Worst place: top, the angle 1.3° too large \
         (give or take 0.2). You allow 0.6°. Slots do not cure it; shims may cure it (chance it fits 30 %); a midway shape may \
         fit (chance it fits 6 %); no choice is proven to fit. To settle it: scan the right opening once more, re-seated.",
    );
}

#[test]
fn fasteners_that_cannot_be_started() {
    let mut made = Made::new("vent", "Vent", Relation::Mirrored, 0.5);
    let mut mirror = option(OptionKind::MirrorA, Verdict::WillNotFit, 0.0, 0.0);
    mirror.uses = None;
    mirror.least_oversize_mm = Some(0.1);
    made.decided.options = vec![
        option(OptionKind::TwoHands, Verdict::Fits, 10.0, 1.0),
        mirror,
    ];
    check(
        made,
        "Vent: mirroring the left one will NOT fit the right side. The fasteners cannot be started: the holes want at \
         least 0.1 mm more on the radius. Two hands fit.",
    );
}

#[test]
fn one_side_only() {
    let mut made = Made::new("vent", "Vent", Relation::Mirrored, 0.5);
    made.measured.b = None;
    made.measured.angles = vec![rung("top", 0.0, 89.1, 0.0, 0.2)];
    made.measured.angles[0].b = None;
    made.measured.angles[0].difference = None;
    check(
        made,
        "Vent: the right side is not measured. All figures of the left side stand; there is no verdict. Angle at the \
         top: left 89.1° (give or take 0.2).",
    );
}

#[test]
fn a_stop_takes_the_place_of_the_verdict() {
    let mut made = Made::new("vent", "Vent", Relation::Mirrored, 0.5);
    made.measured.findings = vec![
        finding(
            Severity::Doubt,
            "vent left",
            "12 mm of the edge were not seen",
            "",
        ),
        finding(
            Severity::Stop,
            "vent",
            "the two sides look swapped",
            "say which is which",
        ),
    ];
    check(
        made,
        "Vent: stop. The two sides look swapped. Say which is which.",
    );
}

#[test]
fn a_centre_opening_against_itself() {
    let mut made = Made::new("grille", "Grille", Relation::Itself, 0.8);
    let mut mirror = option(OptionKind::MirrorA, Verdict::WillNotFit, 150.0, 0.0);
    mirror.worst = Some(worst("lower corner", Direction::Tight, mm(1.2, 0.2), 0.8));
    made.decided.options = vec![
        option(OptionKind::Midway, Verdict::Fits, 75.0, 0.99),
        mirror,
    ];
    check(
        made,
        "Grille: drawing the left half and mirroring it will NOT fit the right half. Worst place: lower corner, the gap \
         1.2 mm too tight (give or take 0.2). You allow 0.8 mm. The midway of the halves fits.",
    );
    let mut made = Made::new("grille", "Grille", Relation::Itself, 0.8);
    made.decided.options = vec![option(OptionKind::MirrorA, Verdict::Fits, 30.0, 1.0)];
    made.decided.joint = Some(joint(false, "width", 0.25));
    check(
        made,
        "Grille: no difference proven, and none can be larger than 0.3 mm. A part drawn to the left half and mirrored fits \
         and uses 30 % (give or take 3) of what you allow.",
    );
}

#[test]
fn like_against_like() {
    let mut made = Made::new("door", "Door handle", Relation::Same, 0.5);
    let mut one = option(OptionKind::OneShape, Verdict::WillNotFit, 240.0, 0.0);
    one.worst = Some(worst("front edge", Direction::Proud, mm(0.9, 0.1), 0.5));
    made.decided.options = vec![option(OptionKind::TwoHands, Verdict::Fits, 20.0, 0.99), one];
    check(
        made,
        "Door handle: one shape will NOT fit both door left and door right. Worst place: front edge, 0.9 mm proud (give \
         or take 0.1). You allow 0.5 mm. Two shapes fit.",
    );
}

#[test]
fn a_part_that_carries_load_gets_no_short_cut() {
    let mut made = Made::new("hinge", "Hinge", Relation::Mirrored, 0.5);
    made.part.load_bearing = true;
    made.decided.options = vec![option(OptionKind::TwoHands, Verdict::Fits, 20.0, 0.99)];
    check(
        made,
        "Hinge: two hands. It fits and uses 20 % (give or take 2) of what you allow. It carries load or safety: no \
         mirror short cut is offered; qualified design and test decide.",
    );
}

#[test]
fn unnamed_sides_are_not_called_left_and_right() {
    let mut made = lamp();
    made.measured.sides = [Side::NotSaid, Side::NotSaid];
    let study = study(vec![made]);
    let text = pair_text(&Pair::all(&study)[0]);
    assert_eq!(
        text.headline,
        "Lamp surround: mirroring the first one will NOT fit the second side."
    );
}

#[test]
fn findings_read_as_sentences() {
    let f = finding(
        Severity::Doubt,
        "right lamp",
        "12 mm of the edge were not seen",
        "scan it once more",
    );
    assert_eq!(
        finding_text(&f),
        "Doubt: right lamp: 12 mm of the edge were not seen. Scan it once more."
    );
    let f = finding(
        Severity::Note,
        "right lamp",
        "The right lamp is curved.",
        "",
    );
    assert_eq!(finding_text(&f), "Note: The right lamp is curved.");
}
