//! Part axes: the flat of the part is XY, its top +Y, outward +Z, the origin in the middle of the opening.

use geom::{Point, Rigid, Unit, Vector, any_perpendicular};
use nalgebra::{Matrix3, Rotation3, SymmetricEigen, Translation3, UnitQuaternion};

/// Part axes from scan axes for an edge.
///
/// `points` and `outs`: the edge in order and the panel normals there; `closed`: whether it closes; `top`: the
/// clicked top, if any. Without a top, +Y is an arbitrary fixed direction. The flat is the least-squares plane of
/// the edge; the middle is the middle of its area (of its length if it is open).
pub fn of_edge(points: &[Point], outs: &[Unit], closed: bool, top: Option<&Point>) -> Rigid {
    let n = points.len() as f64;
    let centre = Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / n);
    let mut m = Matrix3::zeros();
    for p in points {
        let d = p - centre;
        m += d * d.transpose();
    }
    let eigen = SymmetricEigen::new(m);
    let mut z: Vector = eigen
        .eigenvectors
        .column(eigen.eigenvalues.imin())
        .into_owned();
    let out: Vector = outs.iter().map(|o| o.into_inner()).sum();
    if z.dot(&out) < 0.0 {
        z = -z;
    }
    let z = Unit::new_normalize(z);
    let middle = if closed {
        area_middle(points, &centre, &z)
    } else {
        centre
    };
    axes(&middle, &z, top.map(|t| t - middle))
}

/// Part axes from an origin, the outward direction and a rough upward one.
pub fn axes(origin: &Point, z: &Unit, up: Option<Vector>) -> Rigid {
    let flat = up.map(|u| u - z.into_inner() * z.dot(&u));
    let y = match flat {
        Some(f) if f.norm() > 1e-6 => Unit::new_normalize(f),
        _ => any_perpendicular(z),
    };
    let x = Unit::new_normalize(y.cross(z));
    let scan_from_part = Matrix3::from_columns(&[x.into_inner(), y.into_inner(), z.into_inner()]);
    let rotation =
        UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(scan_from_part));
    Rigid::from_parts(Translation3::from(origin.coords), rotation).inverse()
}

fn area_middle(points: &[Point], centre: &Point, z: &Unit) -> Point {
    let mut area = 0.0;
    let mut sum = Vector::zeros();
    for (i, p) in points.iter().enumerate() {
        let q = &points[(i + 1) % points.len()];
        let (a, b) = (p - centre, q - centre);
        let twice = a.cross(&b).dot(z);
        area += twice;
        sum += (a + b) * (twice / 3.0);
    }
    if area.abs() < 1e-9 {
        *centre
    } else {
        centre + sum / area
    }
}
