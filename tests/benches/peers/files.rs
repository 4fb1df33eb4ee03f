//! Files: read, and welded while they are read.

use std::path::{Path, PathBuf};

use formats::{StlCorners, read_geometry};
use record::Quiet;

use crate::Run;
use crate::arrays::Array;

pub const TASKS: &[(&str, &str)] = &[
    ("read_stl_1M", "mesh_1M.stl"),
    ("read_stl_10M", "mesh_10M.stl"),
    ("read_stl_ascii_100k", "mesh_100k_ascii.stl"),
    ("read_plymesh_1M", "mesh_1M.ply"),
    ("read_ply_10M", "left_10M.ply"),
    ("read_xyz_1M", "left_1M.xyz"),
    ("read_xyz_10M", "left_10M.xyz"),
    ("read_csv_10M", "left_10M.csv"),
    ("read_e57_1M", "left_1M.e57"),
    ("read_e57_10M", "left_10M.e57"),
    ("read_e57_scaled_10M", "left_10M_scaled.e57"),
    ("readweld_stl_1M", "mesh_1M.stl"),
];

pub fn make(task: &str, data: &Path) -> Option<Result<Run, String>> {
    // What a user's program does with the same file: hash, joined corners, notes and all.
    let (name, whole) = match task.strip_prefix("whole_") {
        Some(rest) => (rest, true),
        None => (task, false),
    };
    let (_, file) = TASKS.iter().find(|t| t.0 == name)?;
    let path = data.join(file);
    if !path.is_file() {
        return Some(Err(format!("{}: no such file", path.display())));
    }
    Some(Ok(if whole {
        scan(path)
    } else {
        geometry(path, name.starts_with("readweld"))
    }))
}

fn geometry(path: PathBuf, weld: bool) -> Run {
    let corners = if weld {
        StlCorners::Joined
    } else {
        StlCorners::Apart
    };
    Box::new(move || {
        let found = read_geometry(&path, corners, &Quiet).map_err(|e| e.to_string())?;
        Ok(if found.apart {
            vec![("corners", Array::points(found.points))]
        } else if found.triangles.is_empty() {
            vec![("points", Array::points(found.points))]
        } else {
            vec![
                ("points", Array::points(found.points)),
                ("tris", Array::U32x3(found.triangles)),
            ]
        })
    })
}

fn scan(path: PathBuf) -> Run {
    Box::new(move || {
        let scan = formats::read_scan(&path, &Quiet).map_err(|e| e.to_string())?;
        let points = Array::points(scan.points);
        Ok(if scan.triangles.is_empty() {
            vec![("points", points)]
        } else {
            vec![("points", points), ("tris", Array::U32x3(scan.triangles))]
        })
    })
}
