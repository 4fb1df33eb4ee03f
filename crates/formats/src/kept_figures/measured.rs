//! What was measured, as bytes.

use geom::{
    ArcPath, ArcPiece, DoubtPart, Improper, Kernel, Mirror, NoiseModel, NoisePoint, OwnImage,
    Plane, PoseDoubt,
};
use record::{
    AngleRow, Code, CompareId, CornerRadius, Dimension, EdgeGap, EdgeKind, EdgeSpread, EdgeStation,
    FaceId, Figure, Finding, HoleId, HoleKind, HolePair, ImageOf, JoinAt, Joined, JoinedBy,
    JoinedPlaceRow, JoinedScan, JunctionId, LocalRest, Measured, MeasuredCompare, MeasuredEdge,
    MeasuredFace, MeasuredHole, MeasuredJunction, MeasuredOpening, ModeKind, Number, OpeningId,
    Overlap, PairStation, PartId, Quantity, Relation, ScanId, Severity, ShapeMode, Side, Source,
    StationAngle, TapedRow, Through, VisitId, VisitNoise, WeakWay,
};

use super::plain::{Plain, plain_enums, plain_names, plain_structs};

plain_names!(
    CompareId, FaceId, HoleId, JunctionId, OpeningId, PartId, ScanId, VisitId
);

plain_enums! {
    EdgeKind { Auto, Free, Bend }
    HoleKind { Hole, Stud }
    JoinedBy { Places, Surfaces, PlacesAndSurfaces }
    Kernel { Gaussian, Exponential, Matern }
    ModeKind { Width, Height, Shear, Twist, BowAcross, BowUp }
    Quantity { Length, Angle, TwistRate, Area, Percent }
    Relation { Mirrored, Same, Itself }
    Severity { Note, Doubt, Stop }
    Side { Left, Right, Centre, NotSaid }
    Source { Noise, Place, Repeats, Centreline, Instrument, EdgeSight, Join }
    Through { Material, Air }
}

impl Plain for Code {
    fn put(&self, to: &mut Vec<u8>) {
        self.word().to_owned().put(to);
    }

    fn take(from: &mut &[u8]) -> Option<Self> {
        let word = String::take(from)?;
        Self::ALL.iter().copied().find(|c| c.word() == word)
    }
}

plain_structs! {
    ArcPath { pieces, end }
    ArcPiece { start, bulge }
    Improper { mirror, rigid }
    Mirror { plane }
    NoiseModel { points, dof, patches, side_mm }
    NoisePoint { weight, white_var, corr_var, kernel, range_mm }
    Plane { normal, offset }

    Figure { value, u95, nu, source, quantity }
    Finding { code, severity, subject, says, advice, numbers }
    Number { name, value, quantity }

    Measured { noise, openings, compares, joined, own_image, findings }
    VisitNoise { visit, model, faces }
    MeasuredOpening { id, name, side, part_from_scan, edge, faces, junctions, holes, findings }
    MeasuredEdge {
        kind, closed, stations, gaps, pieces, pieces_error_mm, dimensions, corners, edge_bias_mm, spread,
    }
    EdgeStation { along_mm, at, tangent, gap_dir, flush_dir, gap_u_mm, flush_u_mm, seen }
    EdgeGap { from_mm, length_mm }
    EdgeSpread { gap, flush, shared, nu }
    Dimension { name, figure }
    CornerRadius { place, radius, arc_deg, along_mm }
    MeasuredFace {
        id, plane, centre, size_mm, points, seen, scatter_mm, sag, radius_mm, turn_deg_per_mm, findings,
    }
    MeasuredJunction {
        id, through, start, end, length_mm, stations, twist, flat_error, ruled, ruled_p, widths_mm, findings,
    }
    StationAngle { place, share, from_start_mm, angle, at }
    MeasuredHole { id, kind, centre, axis, centre_u95, diameter, arc_deg, findings }

    MeasuredCompare {
        id, relation, part, a, b, sides, b_on_a, stations, a_spread, b_spread, a_curve, b_curve, closed, modes, rest,
        angles, holes, findings,
    }
    PairStation { place, share, a, b, tangent, gap_dir, flush_dir, gap, flush, seen }
    ShapeMode { kind, amount }
    LocalRest { rms_mm, place, worst }
    AngleRow { junction, place, share, through, a, b, difference, drawn_deg, independent }
    Joined { joins, lengths, findings }
    JoinedScan { scan, to, by, to_from, doubt, places, scatter_mm, overlap, weak, at }
    JoinedPlaceRow { name, side, off, kept, chance }
    Overlap { share, left_mm, patches }
    WeakWay { turns, direction, through, held, goes }
    JoinAt { opening, name, shift, turn }
    TapedRow { from, to, scans, taped, off }
    ImageOf { scan, laid, findings }
    OwnImage { plane, centre, long, slid, turned, halves, share, left, next_best }
    PoseDoubt { about, parts, free }
    DoubtPart { motions, nu }

    HolePair { id, a, b, axis, right, up, a_u_mm, b_u_mm, a_diameter, b_diameter, pattern_rest_mm }
}
