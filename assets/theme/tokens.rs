//! The look: colours by role, sizes of type, spacing and lines. The only place where raw values stand.
//!
//! Colours are sRGB. "Paper" is the light sheet, "slate" the dark one. Text reaches a contrast of 4.5 on every ground it
//! may stand on, marks 3 (WCAG 2.1, success criteria 1.4.3 and 1.4.11; checked beside the code that reads this).

/// The role of a colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Ink {
    /// Around the sheet, and inside of an opening.
    Margin,
    /// The sheet.
    Sheet,
    /// Plan, list, empty part of a bar.
    Field,
    /// Chosen step or row, under the pointer, a waiting button.
    Pick,
    /// Band of what is allowed.
    Allowed,
    /// Text, worst place, filled button.
    Ink,
    /// Second line, captions, axes, leaders.
    Ink2,
    /// Give-or-take, hints, what is still to come.
    Ink3,
    /// Sheet edge and lines between fields.
    Rule,
    /// Row lines: never the only sign of anything.
    Hair,
    /// Left side.
    Left,
    /// Right side.
    Right,
    /// Give-or-take band of the left, grown face.
    LeftTint,
    /// Give-or-take band of the right, grown face.
    RightTint,
    /// Verdict.
    Fits,
    /// Verdict, an open question.
    NotProven,
    /// Verdict, the odd one out.
    WillNotFit,
    /// Ground of a row or choice that fits.
    FitsTint,
    /// Ground of a row or choice that is not proven.
    NotProvenTint,
    /// Ground of a row or choice that will not fit.
    WillNotFitTint,
    /// Text on a filled button or black label.
    OnInk,
    /// Left stands further out, one step.
    Proud1,
    /// Left stands further out, two steps.
    Proud2,
    /// Left stands further out, three steps.
    Proud3,
    /// Contour and number of those bands.
    ProudLine,
    /// Left stands further in, one step.
    Shy1,
    /// Left stands further in, two steps.
    Shy2,
    /// Left stands further in, three steps.
    Shy3,
    /// Contour, hatching and number of those bands.
    ShyLine,
}

/// Every role with its value on paper and on slate.
pub const COLOURS: [(Ink, [u8; 3], [u8; 3]); 29] = [
    (Ink::Margin, [0xE6, 0xEA, 0xE7], [0x12, 0x19, 0x1D]),
    (Ink::Sheet, [0xFB, 0xFC, 0xFA], [0x1C, 0x25, 0x2B]),
    (Ink::Field, [0xEF, 0xF2, 0xEF], [0x23, 0x2E, 0x35]),
    (Ink::Pick, [0xE2, 0xE8, 0xE5], [0x2D, 0x3A, 0x42]),
    (Ink::Allowed, [0xE3, 0xEA, 0xE6], [0x2A, 0x36, 0x3D]),
    (Ink::Ink, [0x14, 0x22, 0x2B], [0xEE, 0xF1, 0xED]),
    (Ink::Ink2, [0x43, 0x52, 0x5A], [0xBB, 0xC5, 0xC9]),
    (Ink::Ink3, [0x5C, 0x69, 0x70], [0x98, 0xA5, 0xAB]),
    (Ink::Rule, [0x14, 0x22, 0x2B], [0x7E, 0x8D, 0x95]),
    (Ink::Hair, [0xCB, 0xD3, 0xD0], [0x37, 0x44, 0x4C]),
    (Ink::Left, [0x0A, 0x5A, 0x96], [0x7F, 0xBD, 0xF2]),
    (Ink::Right, [0xA8, 0x4A, 0x05], [0xF2, 0xA5, 0x62]),
    (Ink::LeftTint, [0xD3, 0xE3, 0xEF], [0x20, 0x3E, 0x57]),
    (Ink::RightTint, [0xF3, 0xDE, 0xC9], [0x4C, 0x35, 0x21]),
    (Ink::Fits, [0x0B, 0x66, 0x57], [0x63, 0xC9, 0xB3]),
    (Ink::NotProven, [0x6E, 0x5A, 0x0A], [0xDB, 0xC0, 0x62]),
    (Ink::WillNotFit, [0xA3, 0x12, 0x3F], [0xFF, 0x93, 0xAC]),
    (Ink::FitsTint, [0xDC, 0xEC, 0xE7], [0x1E, 0x3B, 0x38]),
    (Ink::NotProvenTint, [0xF0, 0xEA, 0xD0], [0x3B, 0x37, 0x20]),
    (Ink::WillNotFitTint, [0xF6, 0xE0, 0xE6], [0x46, 0x26, 0x2F]),
    (Ink::OnInk, [0xFB, 0xFC, 0xFA], [0x1C, 0x25, 0x2B]),
    (Ink::Proud1, [0xE6, 0xDD, 0xF1], [0x35, 0x30, 0x4A]),
    (Ink::Proud2, [0xC9, 0xB6, 0xE3], [0x51, 0x43, 0x7A]),
    (Ink::Proud3, [0xA0, 0x88, 0xCB], [0x74, 0x60, 0xAC]),
    (Ink::ProudLine, [0x4B, 0x2E, 0x83], [0xC9, 0xB8, 0xF0]),
    (Ink::Shy1, [0xE0, 0xE9, 0xCF], [0x30, 0x3B, 0x26]),
    (Ink::Shy2, [0xBD, 0xD0, 0x96], [0x48, 0x60, 0x2E]),
    (Ink::Shy3, [0x94, 0xAF, 0x5F], [0x6B, 0x8A, 0x40]),
    (Ink::ShyLine, [0x40, 0x58, 0x1A], [0xBF, 0xD7, 0x8C]),
];

/// Sizes of type, pixels at scale 1; at most four of them on one screen.
pub mod size {
    /// Verdict and question.
    pub const VERDICT: f64 = 28.0;
    /// The verdict where it needs two lines.
    pub const VERDICT_TWO_LINES: f64 = 26.0;
    /// A factor written across a drawing.
    pub const FACTOR: f64 = 44.0;
    /// Angles of the ladder, names of pages.
    pub const HEAD: f64 = 19.0;
    /// Numbers, buttons, running text.
    pub const BODY: f64 = 15.0;
    /// Captions; nothing is smaller.
    pub const CAPTION: f64 = 13.0;
    /// Height of a line over the size of its type.
    pub const LINE: f64 = 1.33;
}

/// Weights of type.
pub mod weight {
    /// Running text.
    pub const REGULAR: u16 = 400;
    /// Numbers and verdicts.
    pub const MEDIUM: u16 = 500;
    /// Names and captions of fields.
    pub const SEMI_BOLD: u16 = 600;
}

/// Spacing, pixels at scale 1: whole multiples of [`space::UNIT`].
pub mod space {
    /// The step of all spacing.
    pub const UNIT: f64 = 4.0;
    /// Around the sheet.
    pub const EDGE: f64 = 8.0;
    /// Between controls.
    pub const GAP: f64 = 8.0;
    /// Between groups of controls.
    pub const WIDE_GAP: f64 = 12.0;
    /// Inside a field.
    pub const INSIDE: f64 = 16.0;
    /// From a field's line to the base line of its caption.
    pub const CAPTION: f64 = 24.0;
    /// A row of a table.
    pub const ROW: f64 = 28.0;
    /// A row with a mark to set.
    pub const TICK_ROW: f64 = 36.0;
    /// A row of two lines.
    pub const TWO_LINE_ROW: f64 = 48.0;
    /// Height of a control.
    pub const CONTROL: f64 = 36.0;
    /// Height of a control in a row, of a blank.
    pub const SMALL_CONTROL: f64 = 32.0;
}

/// Widths of lines, pixels.
pub mod line {
    /// The edge of the sheet.
    pub const SHEET: f64 = 2.0;
    /// Between fields.
    pub const FIELD: f64 = 1.0;
    /// Between rows.
    pub const HAIR: f64 = 1.0;
    /// The edge of a side.
    pub const SIDE: f64 = 2.25;
    /// A contour of a difference.
    pub const CONTOUR: f64 = 1.3;
    /// A leader.
    pub const LEADER: f64 = 0.8;
    /// The leader to the worst place.
    pub const LEADER_WORST: f64 = 1.5;
    /// The dot at the end of a leader.
    pub const DOT: f64 = 2.4;
    /// The dot of the worst place.
    pub const DOT_WORST: f64 = 3.2;
    /// The outline of what has the keyboard.
    pub const FOCUS: f64 = 2.0;
}

/// The type family (SIL Open Font License 1.1, see `plex/OFL.txt`): its digits have one width in all three weights.
pub mod plex {
    /// Weight 400.
    pub const REGULAR: &[u8] = include_bytes!("plex/IBMPlexSansCondensed_400Regular.ttf");
    /// Weight 500.
    pub const MEDIUM: &[u8] = include_bytes!("plex/IBMPlexSansCondensed_500Medium.ttf");
    /// Weight 600.
    pub const SEMI_BOLD: &[u8] = include_bytes!("plex/IBMPlexSansCondensed_600SemiBold.ttf");
    /// Its licence.
    pub const LICENCE: &str = include_str!("plex/OFL.txt");
}
