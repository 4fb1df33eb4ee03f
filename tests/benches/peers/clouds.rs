//! Clouds of points: nearest, normals, strays.

use std::path::Path;

use geom::LeafTree;

use crate::Run;
use crate::arrays::{Array, points};

pub const TASKS: &[&str] = &[
    "voxel_10M_1mm",
    "voxel_10M_5mm",
    "kdtree_1M",
    "normals_1M_k20",
    "statistical_1M",
    "radius_1M",
];

pub fn make(task: &str, data: &Path) -> Option<Result<Run, String>> {
    Some(match task {
        "voxel_10M_1mm" => thinned(data, 1.0),
        "voxel_10M_5mm" => thinned(data, 5.0),
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
