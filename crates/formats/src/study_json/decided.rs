//! What was decided, and what it was decided with, as JSON.

use record::{
    Box4, CureWay, DecidedCompare, DiffersBy, Direction, Fastener, Fixing, Matters, Need, NeedKind,
    OptionKind, OptionResult, Part, Slot, Verdict, WayOfDiffering, WorstPlace,
};
use serde_json::{Value, json};

use super::{figure, findings, maybe, side};

pub(super) fn part(p: &Part) -> Value {
    json!({
        "id": p.id.0,
        "name": p.name,
        "gap_mm": p.gap_mm,
        "allowed": {
            "tight_mm": p.allowed.tight_mm,
            "wide_mm": p.allowed.wide_mm,
            "proud_mm": p.allowed.proud_mm,
            "shy_mm": p.allowed.shy_mm,
            "angle_deg": p.allowed.angle_deg,
        },
        "evenness": p.evenness.map(|e| json!({
            "within_mm": e.within_mm, "taper_mm_per_100": e.taper_mm,
        })),
        "fasteners": p.fasteners.iter().map(fastener).collect::<Vec<_>>(),
        "gasket": p.gasket.map(|g| json!({
            "thickness_mm": g.thickness_mm, "least_share": g.least, "most_share": g.most,
        })),
        "finish": { "name": p.finish.name, "part_mm": p.finish.part_mm, "body_mm": p.finish.body_mm },
        "cutter_radius_mm": p.cutter_radius_mm,
        "load_bearing": p.load_bearing,
        "must_not_mirror": p.must_not_mirror,
        "seen_together": p.seen_together,
        "note": p.note,
    })
}

pub(super) fn slot(s: &Slot) -> Value {
    json!({ "along": s.along, "extra_mm": s.extra_mm })
}

fn fastener(f: &Fastener) -> Value {
    json!({
        "hole": f.hole.0,
        "fastener_mm": f.fastener_mm,
        "part_hole_mm": f.part_hole_mm,
        "body_hole_mm": f.body_hole_mm,
        "fixing": match f.fixing { Fixing::Fixed => "fixed", Fixing::Floating => "floating" },
        "slot": f.slot.as_ref().map(slot),
        "shim_least_mm": f.shim_mm.0,
        "shim_most_mm": f.shim_mm.1,
    })
}

/// The word for an option that stands in files.
pub(crate) fn option_word(kind: OptionKind) -> &'static str {
    match kind {
        OptionKind::OneShape => "one-shape",
        OptionKind::MirrorA => "mirror-a",
        OptionKind::MirrorB => "mirror-b",
        OptionKind::Midway => "midway",
        OptionKind::OneShapeWithSlots => "one-shape-with-slots",
        OptionKind::OneShapeWithShims => "one-shape-with-shims",
        OptionKind::MirrorAWithSlots => "mirror-a-with-slots",
        OptionKind::MidwayWithSlots => "midway-with-slots",
        OptionKind::MirrorAWithShims => "mirror-a-with-shims",
        OptionKind::MidwayWithShims => "midway-with-shims",
        OptionKind::TwoHands => "two-hands",
    }
}

/// The verdict as it stands in files.
pub(crate) fn verdict_word(v: Verdict) -> &'static str {
    match v {
        Verdict::Fits => "fits",
        Verdict::NotProven => "not-proven",
        Verdict::WillNotFit => "will-not-fit",
        Verdict::NotMeasured => "not-measured",
    }
}

/// Which way something is out, as it stands in files.
pub(crate) fn direction_word(d: Direction) -> &'static str {
    match d {
        Direction::Tight => "tight",
        Direction::Wide => "wide",
        Direction::Proud => "proud",
        Direction::Shy => "shy",
        Direction::AngleLarge => "angle-large",
        Direction::AngleSmall => "angle-small",
    }
}

/// What an option asks for, as it stands in files.
pub(crate) fn need_word(k: NeedKind) -> &'static str {
    match k {
        NeedKind::SlotLength => "slot-length",
        NeedKind::HoleRadius => "hole-radius",
        NeedKind::Shim => "shim",
        NeedKind::Gasket => "gasket",
        NeedKind::TakeOff => "take-off",
    }
}

fn worst(w: &WorstPlace) -> Value {
    json!({
        "place": w.place,
        "side": side(w.side),
        "direction": direction_word(w.direction),
        "amount": figure(&w.amount),
        "allowed": w.allowed,
        "station": w.station,
    })
}

fn need(n: &Need) -> Value {
    json!({
        "kind": need_word(n.kind),
        "hole": n.hole.as_ref().map(|h| h.0.clone()),
        "amount_mm": n.amount_mm,
        "along": n.along,
    })
}

fn option(o: &OptionResult) -> Value {
    json!({
        "option": option_word(o.kind),
        "verdict": verdict_word(o.verdict),
        "uses": maybe(o.uses.as_ref()),
        "worst": o.worst.as_ref().map(worst),
        "worst_gap_mm": o.worst_gap_mm,
        "chance": o.chance.map(|c| json!({ "fits_share": c.fits, "draws": c.draws })),
        "even": o.even.as_ref().map(|e| json!({
            "uses": figure(&e.uses), "wider_mm": e.wider_mm,
        })),
        "band_percent": o.band_percent,
        "needs": o.needs.iter().map(need).collect::<Vec<_>>(),
        "incurable": o.incurable,
        "least_oversize_mm": o.least_oversize_mm,
    })
}

fn matters_word(m: Matters) -> &'static str {
    match m {
        Matters::Harmless => "harmless",
        Matters::Open => "open",
        Matters::Matters => "matters",
    }
}

fn way_word(w: WayOfDiffering) -> &'static str {
    match w {
        WayOfDiffering::Shift => "shift",
        WayOfDiffering::Turn => "turn",
        WayOfDiffering::Tilt => "tilt",
        WayOfDiffering::StandOff => "stand-off",
        WayOfDiffering::Width => "width",
        WayOfDiffering::Height => "height",
        WayOfDiffering::Shear => "shear",
        WayOfDiffering::Twist => "twist",
        WayOfDiffering::Bow => "bow",
        WayOfDiffering::LocalWave => "local-wave",
        WayOfDiffering::HolePattern => "hole-pattern",
    }
}

fn cure_word(c: CureWay) -> &'static str {
    match c {
        CureWay::Slots => "slots",
        CureWay::TaperedShim => "tapered-shim",
        CureWay::Shims => "shims",
        CureWay::Gasket => "gasket",
        CureWay::WiderFlange => "wider-flange",
        CureWay::Bend => "bend",
        CureWay::FileOrFill => "file-or-fill",
        CureWay::Scribe => "scribe",
        CureWay::TransferDrill => "transfer-drill",
        CureWay::TwoHands => "two-hands",
    }
}

fn differs(d: &DiffersBy) -> Value {
    json!({
        "way": way_word(d.way),
        "amount": figure(&d.amount),
        "allowed": d.allowed,
        "matters": matters_word(d.matters),
        "place": d.place,
        "cures": d.cures.iter().map(|c| cure_word(*c)).collect::<Vec<_>>(),
    })
}

fn weighed(b: &Box4) -> Value {
    json!({
        "name": b.name,
        "difference": figure(&b.difference),
        "allowed": b.allowed,
        "real": b.real,
        "matters": matters_word(b.matters),
        "conforming_share": b.conforming,
    })
}

pub(super) fn compare(d: &DecidedCompare) -> Value {
    json!({
        "part": d.part.0,
        "options": d.options.iter().map(option).collect::<Vec<_>>(),
        "joint": d.joint.as_ref().map(|j| json!({
            "difference_proven": j.proven,
            "p": j.p,
            "largest": j.largest,
            "figures": j.figures,
            "within_mm": j.within_mm,
        })),
        "boxes": d.boxes.iter().map(weighed).collect::<Vec<_>>(),
        "differs": d.differs.iter().map(differs).collect::<Vec<_>>(),
        "next": d.next.iter().map(|n| json!({
            "what": n.what,
            "side": side(n.side),
            "option": n.option.map(option_word),
            "settles_share": n.settles,
        })).collect::<Vec<_>>(),
        "findings": findings(&d.findings),
    })
}
