//! Geometry and estimation in f64, millimetres and radians.
//!
//! This crate knows points, surfaces, noise and fits; it knows no job, no side and no file.
//! One shape or algorithm per file.

mod aabb;
mod arc_fit;
mod arc_path;
mod blocks;
mod caliper;
mod cell_grid;
mod cell_means;
mod centreline;
mod circle_fit;
mod curvature;
mod curve_order;
mod cylinder_fit;
mod envelope;
mod fit_error;
mod join;
mod junction_fit;
mod kernel;
mod lagged;
mod lagged_places;
mod large_pages;
mod lay_onto;
mod leaf_tree;
mod least_squares;
mod line_fit;
mod local_axes;
mod loops;
mod mesh_cuts;
mod minimax;
mod minimum_zone;
mod mirror;
mod morton;
mod near_normals;
mod network;
mod noise;
mod noise_estimate;
mod noise_left_over;
mod noise_patch;
mod normals;
mod plane;
mod plane_among;
mod polyline;
mod quantile;
mod repeats;
mod robust;
mod round_among;
mod similarity;
mod space;
mod spline;
mod stray_points;
mod surface_fit;
mod triangle_tree;
mod two_sheets;
mod weighted_rows;
mod weld;
mod wide_boxes;

pub use aabb::Aabb;
pub use arc_fit::{ArcFit, fit_arcs, fit_few_arcs};
pub use arc_path::{ArcPath, ArcPiece, ArcSegment, bulge_of};
pub use blocks::{Block, Blocks, BlocksParts, GoOn, RawPoints};
pub use caliper::caliper;
pub use cell_grid::{Cell, CellGrid};
pub use cell_means::cell_means;
pub use centreline::{
    BodyMode, BodyModeKind, Landmark, MidPlane, NoMidPlane, NoOwnImage, OddOnes, OwnImage,
    PlaneDoubt, Rival, RivalKind, Suspect, ThreeTwoOne, body_modes, fit_mid_plane,
    fit_midpoints_only, odd_ones, own_image, rivals, three_two_one,
};
pub use circle_fit::{
    Circle2Fit, CircleFit, fit_circle, fit_circle_2d, fit_circle_2d_robust, fit_circle_robust,
};
pub use curvature::Curvature;
pub use cylinder_fit::{CylinderFit, fit_cylinder};
pub use envelope::{Envelope, EnvelopeFactor};
pub use fit_error::FitError;
pub use join::{
    BothJoin, ChangeCell, ChangeMap, ChangedArea, DoubtPart, JoinSurface, JoinedPlace,
    LaidUnworked, NoRefine, PlaceJoin, PoseDoubt, Refined, TwicePlace, WeakMotion, join_places,
    lay_unworked, refine,
};
pub use junction_fit::{JunctionFace, JunctionFit, LackOfFit, LocalAngle};
pub use kernel::Kernel;
pub use lagged::{LagGrid, Lagged};
pub use large_pages::{list_of, room_for};
pub use lay_onto::{LaidOnto, lay_onto};
pub use leaf_tree::{LeafTree, NearPoint};
pub use least_squares::{LeastSquares, PolynomialFit, fit_polynomial, least_squares};
pub use line_fit::{Line2Fit, LineFit, WeightedLine, fit_line, fit_line_2d, fit_line_weighted};
pub use local_axes::LocalAxes;
pub use loops::{Boundaries, Boundary, boundaries};
pub use mesh_cuts::{CutPiece, cut_mesh};
pub use minimax::{Active, Minimax, Optimum, Outcome, Solver};
pub use minimum_zone::{FlatZone, RoundZone, StraightZone, flatness, roundness, straightness};
pub use mirror::{Improper, Mirror};
pub use near_normals::normals_of_nearest;
pub use network::{
    Adjusted, Blunder, Flip, GlobalTest, NetPoint, Network, NetworkError, NewTie, Observation,
    Observed, WeakTie,
};
pub use noise::{NoiseModel, NoisePoint, Uncertain};
pub use noise_patch::{NoisePatch, PatchCell, Removed};
pub use normals::{LocalPlane, Neighbours, carry_facing, face_towards, local_plane, local_planes};
pub use plane::Plane;
pub use plane_among::{PlaneAmong, plane_among};
pub use polyline::{OnPolyline, Polyline};
pub use quantile::{
    chi_square_quantile, chi_square_sf, conforming, f_quantile, f_sf, normal_cdf, normal_density,
    normal_quantile, normal_sf, t_cdf, t_quantile, t_sf, u95, welch_satterthwaite,
};
pub use repeats::repeat_scatter;
pub use round_among::{Round, RoundAmong, RoundShape, round_among};
pub use similarity::{
    Similarity, Similarity2, fit_improper, fit_rigid, fit_similarity, fit_similarity_2d,
};
pub use space::{Point, Rigid, Unit, Vector, any_perpendicular};
pub use spline::{Spline, SplineBasis, SplineFit, SplinePolynomials, covariance_factor};
pub use stray_points::{keep_by_distance, keep_by_radius};
pub use surface_fit::{SurfaceFit, SurfaceOrder, fit_surface, fit_surface_while, settle_surface};
pub use triangle_tree::{NearTriangle, TriangleTree};
pub use two_sheets::{SheetLevel, TwoSheets, fit_two_sheets};
pub use weld::{Welded, Welder, weld_within};
