//! The names used for positions, directions and rigid maps everywhere.

use nalgebra as na;

/// A position, mm.
pub type Point = na::Point3<f64>;
/// A displacement (mm) or a direction.
pub type Vector = na::Vector3<f64>;
/// A direction of length one.
pub type Unit = na::Unit<na::Vector3<f64>>;
/// A proper rigid map (rotation, then shift in mm). Named `a_from_b`: it takes b coordinates to a coordinates.
pub type Rigid = na::Isometry3<f64>;

/// A unit vector perpendicular to `n`, chosen by a fixed rule (cross product with the axis `n` leans on least).
pub fn any_perpendicular(n: &Unit) -> Unit {
    let a = n.abs();
    let axis = if a.x <= a.y && a.x <= a.z {
        Vector::x()
    } else if a.y <= a.z {
        Vector::y()
    } else {
        Vector::z()
    };
    Unit::new_normalize(n.cross(&axis))
}
