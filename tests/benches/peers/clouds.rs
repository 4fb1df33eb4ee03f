//! Clouds of points: nearest, normals, strays.

use std::path::Path;

use geom::{LeafTree, Point, Rigid, Vector};

use crate::Run;
use crate::arrays::{Array, doubles, points};

pub const TASKS: &[&str] = &[
    "voxel_10M_1mm",
    "voxel_10M_5mm",
    "register_100k",
    "register_1M",
    "kdtree_1M",
    "normals_1M_k20",
    "statistical_1M",
    "radius_1M",
];

pub fn make(task: &str, data: &Path) -> Option<Result<Run, String>> {
    Some(match task {
        "voxel_10M_1mm" => thinned(data, 1.0),
        "voxel_10M_5mm" => thinned(data, 5.0),
        "register_100k" => registered(data, "100k"),
        "register_1M" => registered(data, "1M"),
        "kdtree_1M" => nearest(data),
        "normals_1M_k20" => normals(data),
        "statistical_1M" => strays(data, |t| geom::keep_by_distance(t, 20, 2.0)),
        "radius_1M" => strays(data, |t| geom::keep_by_radius(t, 10, 3.0)),
        _ => return None,
    })
}

fn thinned(data: &Path, size: f64) -> Result<Run, String> {
    let cloud = points(data, "left_10M.f64")?;
    Ok(Box::new(move || {
        let means = geom::cell_means(&cloud, size).map_err(|e| e.to_string())?;
        Ok(vec![("points", Array::Places(means))])
    }))
}

fn nearest(data: &Path) -> Result<Run, String> {
    let (left, queries) = (points(data, "left_1M.f64")?, points(data, "query_1M.f64")?);
    Ok(Box::new(move || {
        let found = LeafTree::new(&left).nearest_of(&queries, f64::INFINITY);
        Ok(vec![("index", Array::Near(found))])
    }))
}

fn registered(data: &Path, size: &str) -> Result<Run, String> {
    let left = points(data, &format!("left_{size}.f64"))?;
    let right = points(data, &format!("right_{size}.f64"))?;
    let start = doubles(data, "register_start.f64")?;
    if start.len() != 16 {
        return Err("register_start.f64: expected sixteen numbers".to_owned());
    }
    let start = nalgebra::Matrix4::from_row_slice(&start);
    let turn = nalgebra::Rotation3::from_matrix(&start.fixed_view::<3, 3>(0, 0).into_owned());
    let shift = Vector::new(start[(0, 3)], start[(1, 3)], start[(2, 3)]);
    let start = Rigid::from_parts(shift.into(), turn.into());
    Ok(Box::new(move || {
        let mirrored: Vec<Point> = left.iter().map(|p| Point::new(p.x, -p.y, p.z)).collect();
        let tree = LeafTree::new(&right);
        let normals = geom::normals_of_nearest(&tree, 20);
        let found = geom::lay_onto(&mirrored, &tree, &right, &normals, &start, [15.0, 1.5])
            .map_err(|e| e.to_string())?;
        let matrix = found.surface_from_points.to_homogeneous().transpose();
        Ok(vec![("transform", Array::F64(matrix.as_slice().to_vec()))])
    }))
}

fn normals(data: &Path) -> Result<Run, String> {
    let left = points(data, "left_1M.f64")?;
    Ok(Box::new(move || {
        let normals = geom::normals_of_nearest(&LeafTree::new(&left), 20);
        Ok(vec![("normals", Array::F32x3(normals))])
    }))
}

fn strays(data: &Path, keep: fn(&LeafTree) -> Vec<bool>) -> Result<Run, String> {
    let cloud = points(data, "outlier_1M.f64")?;
    Ok(Box::new(move || {
        Ok(vec![("keep", Array::Bool(keep(&LeafTree::new(&cloud))))])
    }))
}
