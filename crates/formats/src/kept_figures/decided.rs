//! What was decided, as bytes.

use record::{
    Box4, Chance, CureWay, DecidedCompare, DiffersBy, Direction, EvenGap, JointVerdict, Matters,
    Need, NeedKind, NextReading, OptionKind, OptionResult, Verdict, WayOfDiffering, WorstPlace,
};

use super::plain::{Plain, plain_enums, plain_structs};

plain_enums! {
    CureWay { Slots, TaperedShim, Shims, Gasket, WiderFlange, Bend, FileOrFill, Scribe, TransferDrill, TwoHands }
    Direction { Tight, Wide, Proud, Shy, AngleLarge, AngleSmall }
    Matters { Harmless, Open, Matters }
    NeedKind { SlotLength, HoleRadius, Shim, Gasket, TakeOff }
    OptionKind {
        OneShape, MirrorA, MirrorB, Midway, MirrorAWithSlots, MidwayWithSlots, MirrorAWithShims, MidwayWithShims, TwoHands, OneShapeWithSlots,
        OneShapeWithShims,
    }
    Verdict { Fits, NotProven, WillNotFit, NotMeasured }
    WayOfDiffering { Shift, Turn, Tilt, StandOff, Width, Height, Shear, Twist, Bow, LocalWave, HolePattern }
}

plain_structs! {
    DecidedCompare { id, part, options, joint, boxes, differs, next, findings }
    OptionResult {
        kind, uses, worst, worst_gap_mm, chance, even, band_percent, verdict, needs, incurable, least_oversize_mm,
    }
    WorstPlace { place, side, direction, amount, allowed, station }
    Chance { fits, draws }
    EvenGap { uses, wider_mm }
    Need { kind, hole, amount_mm, along }
    JointVerdict { proven, p, largest, figures, within_mm }
    Box4 { name, difference, allowed, real, matters, conforming }
    DiffersBy { way, amount, allowed, matters, place, cures }
    NextReading { what, side, option, settles }
}
