//! Every number of the coach, in one place. Lengths in mm.
//!
//! A small coach-builder's touring coach of the 1950s; it never existed. The left side is made as drawn here; the right
//! side is its mirror image with the [`Differences`] added.

/// Thickness of the sheet.
pub(crate) const SHEET: f64 = 1.0;
/// Radius of every bend, seen skin.
pub(crate) const BEND_RADIUS: f64 = 2.0;
/// How far behind the panel its back is seen round an opening.
pub(crate) const BACK_STRIP: f64 = 9.0;
/// How deep the wall of a bolt hole is seen.
pub(crate) const HOLE_WALL: f64 = 0.6;

/// A bolt hole in the panel.
#[derive(Debug)]
pub(crate) struct HoleNumbers {
    pub id: &'static str,
    /// Place about the middle of the opening, in the (u, v) of the panel.
    pub at: [f64; 2],
    pub diameter: f64,
}

/// An opening with the tile of panel that carries it.
#[derive(Debug)]
pub(crate) struct OpeningNumbers {
    /// Stem of its name in the job: "lamp" gives "lamp-left" and "lamp-right".
    pub stem: &'static str,
    pub name: &'static str,
    pub part: &'static str,
    pub part_name: &'static str,
    /// Middle, in the (u, v) of the panel.
    pub centre: [f64; 2],
    /// The tile: least u, greatest u, least v, greatest v.
    pub tile: [f64; 4],
    /// Sharp corners about the middle: lower inner, lower outer, upper outer, upper inner.
    pub corners: [[f64; 2]; 4],
    pub radii: [f64; 4],
    /// Depth of the return flange from the sharp line.
    pub flange: f64,
    /// By how much the metal turns into the flange, degrees.
    pub turn_deg: f64,
    pub holes: &'static [HoleNumbers],
    /// Agreed gap between part and edge.
    pub gap: f64,
    /// Allowed, the same in every direction.
    pub allowed: f64,
    /// Allowed at junctions, degrees.
    pub allowed_deg: f64,
    /// Diameter of the fasteners.
    pub fastener: f64,
    /// Hole in the part.
    pub part_hole: f64,
}

/// The plain tiles of a side, which carry nothing: least u, greatest u, least v, greatest v.
pub(crate) const PLAIN_TILES: [[f64; 4]; 2] = [CHEEK_TILE, [450.0, 590.0, 10.0, 160.0]];

/// The near-flat face beside the lamp, from the start of the bend.
pub(crate) const CHEEK_TILE: [f64; 4] = [
    JUNCTION_U + BEND_RADIUS,
    -40.0,
    -JUNCTION_LENGTH / 2.0,
    JUNCTION_LENGTH / 2.0,
];
/// Where the trim junction is, in the u of the panel.
pub(crate) const JUNCTION_U: f64 = -100.0;
/// Length of the trim junction.
pub(crate) const JUNCTION_LENGTH: f64 = 300.0;
/// Width of either face across the trim junction.
pub(crate) const CHEEK_WIDTH: f64 = 60.0;
/// Angle of the trim junction through the metal on the left, degrees.
pub(crate) const JUNCTION_LEFT_DEG: f64 = 89.6;

/// Where the panel of a side begins to bend round: x, w (from the centreline), z.
pub(crate) const SIDE_ANCHOR: [f64; 3] = [20.0, 430.0, 700.0];
/// Which way the panel faces there, degrees outward from straight ahead.
pub(crate) const SIDE_YAW_DEG: f64 = 12.0;
/// u of that place.
pub(crate) const SIDE_BEND_FROM: f64 = -40.0;
/// Radius in plan.
pub(crate) const SIDE_PLAN_RADIUS: f64 = 790.0;
/// Radius of the crown.
pub(crate) const SIDE_CROWN_RADIUS: f64 = 1800.0;
/// u over which the crown grows.
pub(crate) const SIDE_CROWN_GROWS: (f64, f64) = (-40.0, 20.0);
/// By how much the whole front leans back, degrees.
pub(crate) const RAKE_DEG: f64 = 8.0;

/// Foremost place of the centre panel: x, w, z.
pub(crate) const CENTRE_ANCHOR: [f64; 3] = [-60.0, 0.0, 640.0];
/// Radius in plan of the centre panel.
pub(crate) const CENTRE_PLAN_RADIUS: f64 = 1400.0;
/// Radius of the crown of the centre panel.
pub(crate) const CENTRE_CROWN_RADIUS: f64 = 1500.0;

/// The openings of a side.
pub(crate) static SIDE_OPENINGS: [OpeningNumbers; 4] = [
    OpeningNumbers {
        stem: "lamp",
        name: "Lamp opening",
        part: "lamp-surround",
        part_name: "Lamp surround",
        centre: [110.0, 10.0],
        tile: [-40.0, 260.0, -150.0, 150.0],
        corners: [[-100.0, -86.0], [99.0, -82.0], [96.0, 85.0], [-101.0, 87.0]],
        radii: [38.0, 46.0, 58.0, 42.0],
        flange: 14.0,
        turn_deg: 90.0,
        holes: &[
            HoleNumbers {
                id: "upper",
                at: [4.0, 113.0],
                diameter: 5.5,
            },
            HoleNumbers {
                id: "outer",
                at: [123.0, -4.0],
                diameter: 5.5,
            },
            HoleNumbers {
                id: "lower",
                at: [-6.0, -112.0],
                diameter: 5.5,
            },
            HoleNumbers {
                id: "inner",
                at: [-126.0, 6.0],
                diameter: 5.5,
            },
        ],
        gap: 2.0,
        allowed: 0.6,
        allowed_deg: 0.5,
        fastener: 5.0,
        part_hole: 5.5,
    },
    OpeningNumbers {
        stem: "vent",
        name: "Cowl vent opening",
        part: "cowl-vent",
        part_name: "Cowl vent",
        centre: [425.0, -80.0],
        tile: [260.0, 590.0, -170.0, 10.0],
        corners: [
            [-120.0, -45.0],
            [118.0, -44.0],
            [121.0, 45.0],
            [-119.0, 46.0],
        ],
        radii: [18.0, 15.0, 20.0, 16.0],
        flange: 10.0,
        turn_deg: 90.0,
        holes: &[
            HoleNumbers {
                id: "front",
                at: [-142.0, 3.0],
                diameter: 6.0,
            },
            HoleNumbers {
                id: "rear",
                at: [143.0, -2.0],
                diameter: 6.0,
            },
            HoleNumbers {
                id: "upper",
                at: [30.0, 67.0],
                diameter: 6.0,
            },
            HoleNumbers {
                id: "lower",
                at: [-34.0, -66.0],
                diameter: 6.0,
            },
        ],
        gap: 1.5,
        allowed: 0.6,
        allowed_deg: 0.5,
        fastener: 5.0,
        part_hole: 6.0,
    },
    OpeningNumbers {
        stem: "step",
        name: "Step plate opening",
        part: "step-plate",
        part_name: "Step plate",
        centre: [780.0, -30.0],
        tile: [590.0, 970.0, -120.0, 60.0],
        corners: [
            [-150.0, -55.0],
            [150.0, -54.0],
            [148.0, 55.0],
            [-151.0, 56.0],
        ],
        radii: [20.0, 18.0, 22.0, 19.0],
        flange: 10.0,
        turn_deg: 90.0,
        holes: &[
            HoleNumbers {
                id: "front",
                at: [-171.0, 2.0],
                diameter: 6.5,
            },
            HoleNumbers {
                id: "rear",
                at: [170.0, -3.0],
                diameter: 6.5,
            },
        ],
        gap: 1.5,
        allowed: 0.5,
        allowed_deg: 0.5,
        fastener: 6.0,
        part_hole: 6.5,
    },
    OpeningNumbers {
        stem: "marker",
        name: "Marker lamp opening",
        part: "marker-bezel",
        part_name: "Marker lamp bezel",
        centre: [355.0, 85.0],
        tile: [260.0, 450.0, 10.0, 160.0],
        corners: [[-55.0, -40.0], [55.0, -39.0], [54.0, 40.0], [-56.0, 41.0]],
        radii: [14.0, 16.0, 18.0, 15.0],
        flange: 10.0,
        turn_deg: 90.0,
        holes: &[
            HoleNumbers {
                id: "front",
                at: [-75.0, 4.0],
                diameter: 5.5,
            },
            HoleNumbers {
                id: "rear",
                at: [74.0, -3.0],
                diameter: 5.5,
            },
        ],
        gap: 1.5,
        allowed: 0.4,
        allowed_deg: 0.5,
        fastener: 4.0,
        part_hole: 5.5,
    },
];

/// The opening across the centreline.
pub(crate) static CENTRE_OPENING: OpeningNumbers = OpeningNumbers {
    stem: "grille",
    name: "Grille opening",
    part: "grille",
    part_name: "Grille",
    centre: [0.0, 0.0],
    tile: [-310.0, 310.0, -150.0, 150.0],
    corners: [
        [-205.0, -80.0],
        [205.0, -80.0],
        [212.0, 80.0],
        [-212.0, 80.0],
    ],
    radii: [46.0, 46.0, 32.0, 32.0],
    flange: 12.0,
    turn_deg: 90.0,
    holes: &[
        HoleNumbers {
            id: "lower left",
            at: [-120.0, -108.0],
            diameter: 7.0,
        },
        HoleNumbers {
            id: "lower right",
            at: [120.0, -108.0],
            diameter: 7.0,
        },
        HoleNumbers {
            id: "upper right",
            at: [130.0, 107.0],
            diameter: 7.0,
        },
        HoleNumbers {
            id: "upper left",
            at: [-130.0, 107.0],
            diameter: 7.0,
        },
    ],
    gap: 2.5,
    allowed: 1.0,
    allowed_deg: 0.5,
    fastener: 6.0,
    part_hole: 7.0,
};

/// By what the right side differs from the mirror image of the left, and the grille from its own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Differences {
    /// Angle of the trim junction through the metal at its top on the right, degrees.
    pub junction_top_deg: f64,
    /// The same at its bottom; linear between.
    pub junction_bottom_deg: f64,
    /// Twist of the panel round the lamp: the upper inner corner of the right one stands this far proud, its neighbours as
    /// far shy, mm.
    pub lamp_twist_mm: f64,
    /// By how much the right lamp opening is smaller at the upper inner corner, mm.
    pub lamp_corner_mm: f64,
    /// By how much the right vent opening is larger at its lower outer corner, mm.
    pub vent_corner_mm: f64,
    /// By how much the rear hole of the right vent lies further back, mm.
    pub vent_hole_mm: f64,
    /// By how much the holes of the right step plate lie further back, mm.
    pub step_holes_mm: f64,
    /// By how much the right marker lamp opening is wider, mm.
    pub marker_width_mm: f64,
    /// By how much the grille opening is larger at its lower right corner, mm.
    pub grille_corner_mm: f64,
}

impl Differences {
    /// What the demonstration shows: two hands, fits, slots, not proven, a centre opening nearly like itself.
    pub const DEMO: Self = Self {
        junction_top_deg: 89.1,
        junction_bottom_deg: 90.9,
        lamp_twist_mm: 1.65,
        lamp_corner_mm: 1.4,
        vent_corner_mm: 0.08,
        vent_hole_mm: 0.1,
        step_holes_mm: 1.2,
        marker_width_mm: 0.86,
        grille_corner_mm: 0.8,
    };

    /// A body that is exactly symmetric.
    pub const NONE: Self = Self {
        junction_top_deg: JUNCTION_LEFT_DEG,
        junction_bottom_deg: JUNCTION_LEFT_DEG,
        lamp_twist_mm: 0.0,
        lamp_corner_mm: 0.0,
        vent_corner_mm: 0.0,
        vent_hole_mm: 0.0,
        step_holes_mm: 0.0,
        marker_width_mm: 0.0,
        grille_corner_mm: 0.0,
    };
}

/// How far a local departure of an edge reaches (standard deviation), mm.
pub(crate) const CORNER_SD: f64 = 32.0;
/// Half-size at which the twist of the lamp's panel is stated: where the corners of the edge are.
pub(crate) const TWIST_AT: [f64; 2] = [88.0, 74.0];
/// How far from the lamp's middle that twist reaches.
pub(crate) const TWIST_REACH: [f64; 2] = [149.0, 139.0];
