//! The words of the workshop for the values of the record.

use record::{Direction, NeedKind, OptionKind, Relation, Severity, Side, Verdict};

/// The verdict in capitals, as it stands beside its mark.
pub fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fits => "FITS",
        Verdict::NotProven => "NOT PROVEN",
        Verdict::WillNotFit => "WILL NOT FIT",
        Verdict::NotMeasured => "NOT MEASURED",
    }
}

/// The mark of a verdict: a full, half, crossed or dotted square.
pub fn mark(verdict: Verdict) -> char {
    match verdict {
        Verdict::Fits => '■',
        Verdict::NotProven => '◪',
        Verdict::WillNotFit => '⊠',
        Verdict::NotMeasured => '⬚',
    }
}

/// The mark where only plain letters can be shown.
pub fn ascii_mark(verdict: Verdict) -> char {
    match verdict {
        Verdict::Fits => '#',
        Verdict::NotProven => '/',
        Verdict::WillNotFit => 'X',
        Verdict::NotMeasured => '.',
    }
}

/// A side, lower case.
pub fn side(side: Side) -> &'static str {
    match side {
        Side::Left => "left",
        Side::Right => "right",
        Side::Centre => "centre",
        Side::NotSaid => "side not said",
    }
}

/// What a choice is called in a list; `a` and `b` are what the two openings are called.
pub fn choice(kind: OptionKind, relation: Relation, a: &str, b: &str) -> String {
    let (base, extra) = match kind {
        OptionKind::OneShape => ("one shape for both".to_owned(), ""),
        OptionKind::MirrorA => (mirrored(a, relation), ""),
        OptionKind::MirrorB => (mirrored(b, relation), ""),
        OptionKind::Midway => (midway(relation).to_owned(), ""),
        OptionKind::OneShapeWithSlots => ("one shape for both".to_owned(), ", slotted"),
        OptionKind::OneShapeWithShims => ("one shape for both".to_owned(), ", shimmed"),
        OptionKind::MirrorAWithSlots => (mirrored(a, relation), ", slotted"),
        OptionKind::MidwayWithSlots => (midway(relation).to_owned(), ", slotted"),
        OptionKind::MirrorAWithShims => (mirrored(a, relation), ", shimmed"),
        OptionKind::MidwayWithShims => (midway(relation).to_owned(), ", shimmed"),
        OptionKind::TwoHands => (
            match relation {
                Relation::Mirrored => "two hands",
                Relation::Same => "two shapes",
                Relation::Itself => "drawn to both halves",
            }
            .to_owned(),
            "",
        ),
    };
    format!("{base}{extra}")
}

fn mirrored(which: &str, relation: Relation) -> String {
    match relation {
        Relation::Mirrored => format!("mirror the {which} one"),
        Relation::Same => format!("the shape of {which}"),
        Relation::Itself => format!("{which} half, mirrored"),
    }
}

fn midway(relation: Relation) -> &'static str {
    match relation {
        Relation::Mirrored => "midway shape, mirrored",
        Relation::Same => "midway shape",
        Relation::Itself => "midway of the halves",
    }
}

/// `1.4 mm` and a direction: `the gap 1.4 mm too tight`, `0.5 mm proud`.
pub fn out_by(direction: Direction, amount: &str) -> String {
    match direction {
        Direction::Tight => format!("the gap {amount} too tight"),
        Direction::Wide => format!("the gap {amount} too wide"),
        Direction::Proud => format!("{amount} proud"),
        Direction::Shy => format!("{amount} shy"),
        Direction::AngleLarge => format!("the angle {amount} too large"),
        Direction::AngleSmall => format!("the angle {amount} too small"),
    }
}

/// What is asked for, before its amount: `slots 1.4 mm longer than wide`.
pub fn need(kind: NeedKind, amount: &str) -> String {
    match kind {
        NeedKind::SlotLength => format!("slots with {amount} of travel"),
        NeedKind::HoleRadius => format!("holes {amount} larger in radius"),
        NeedKind::Shim => format!("shims up to {amount}"),
        NeedKind::Gasket => format!("a gasket that takes up {amount}"),
        NeedKind::TakeOff => format!("{amount} taken off its edge"),
    }
}

/// A severity, as the first word of a finding.
pub fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Note => "Note",
        Severity::Doubt => "Doubt",
        Severity::Stop => "Stop",
    }
}

/// First letter as a capital.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// `text` with a full stop, unless it ends a sentence already or is empty.
pub fn full_stop(text: &str) -> String {
    let text = text.trim();
    if text.is_empty() || text.ends_with(['.', '?', '!', ':']) {
        text.to_owned()
    } else {
        format!("{text}.")
    }
}

/// Words for positions on the car.
pub mod position {
    use record::PositionKind;

    /// What the figure is called.
    pub fn name(kind: PositionKind) -> &'static str {
        match kind {
            PositionKind::SetBack => "set-back",
            PositionKind::Out => "out from centreline",
            PositionKind::Height => "height",
            PositionKind::Toe => "toe, + outward",
            PositionKind::Camber => "camber, + upward",
            PositionKind::Level => "level, + top outward",
        }
    }

    /// What the left does more than the right: "sits higher".
    pub fn than(kind: PositionKind, more: bool) -> &'static str {
        match (kind, more) {
            (PositionKind::SetBack, true) => "sits further back",
            (PositionKind::SetBack, false) => "sits further forward",
            (PositionKind::Out, true) => "sits further out",
            (PositionKind::Out, false) => "sits further in",
            (PositionKind::Height, true) => "sits higher",
            (PositionKind::Height, false) => "sits lower",
            (PositionKind::Toe, true) => "faces further outward",
            (PositionKind::Toe, false) => "faces further inward",
            (PositionKind::Camber, true) => "faces further up",
            (PositionKind::Camber, false) => "faces further down",
            (PositionKind::Level, true) => "leans its top further outward",
            (PositionKind::Level, false) => "leans its top further inward",
        }
    }
}
