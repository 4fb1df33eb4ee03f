//! Meshes: welded, their ends, cut, and the distance to them.

use std::path::Path;

use geom::{Point, TriangleTree, Unit, Vector, Welder};

use crate::Run;
use crate::arrays::{Array, points, singles, whole};

pub const TASKS: &[&str] = &["weld_1M", "loops_1M", "sections_1M_50", "distance_1M_1M"];

pub fn make(task: &str, data: &Path) -> Option<Result<Run, String>> {
    Some(match task {
        "weld_1M" => weld(data),
        "loops_1M" => loops(data),
        "sections_1M_50" => sections(data),
        "distance_1M_1M" => distance(data),
        _ => return None,
    })
}

fn weld(data: &Path) -> Result<Run, String> {
    let soup: Vec<[[f32; 3]; 3]> = singles(data, "soup_1M.f32")?
        .as_chunks::<9>()
        .0
        .iter()
        .map(|c| [[c[0], c[1], c[2]], [c[3], c[4], c[5]], [c[6], c[7], c[8]]])
        .collect();
    Ok(Box::new(move || {
        // As the reader of an STL does.
        let mut welder = Welder::with_room(soup.len() / 2 + soup.len() / 32 + 64);
        let mut triangles = geom::room_for(soup.len());
        welder
            .add_triangles(&soup, &mut triangles)
            .ok_or("too many corners")?;
        Ok(vec![
            ("points", Array::F32x3(welder.into_points())),
            ("tris", Array::U32x3(triangles)),
        ])
    }))
}

type Mesh = (Vec<Point>, Vec<[u32; 3]>);

fn mesh(data: &Path) -> Result<Mesh, String> {
    let triangles = whole(data, "mesh_1M_f.i32")?.as_chunks::<3>().0.to_vec();
    Ok((points(data, "mesh_1M_v.f64")?, triangles))
}

fn loops(data: &Path) -> Result<Run, String> {
    let (vertices, triangles) = mesh(data)?;
    Ok(Box::new(move || {
        let found = geom::boundaries(&triangles, vertices.len(), &|| true).ok_or("called off")?;
        let sizes = found.chains.iter().map(|c| c.vertices.len() as u32);
        Ok(vec![
            ("loop_sizes", Array::U32(sizes.collect())),
            (
                "loop_vertices",
                Array::U32(
                    found
                        .chains
                        .iter()
                        .flat_map(|c| c.vertices.clone())
                        .collect(),
                ),
            ),
        ])
    }))
}

fn sections(data: &Path) -> Result<Run, String> {
    let (vertices, triangles) = mesh(data)?;
    let (first, last) = (-40.123, 590.456);
    let offsets: Vec<f64> = (0..50)
        .map(|k| first + (last - first) * f64::from(k) / 49.0)
        .collect();
    let up = Unit::new_unchecked(Vector::z());
    Ok(Box::new(move || {
        let pieces = geom::cut_mesh(&vertices, &triangles, up, &offsets);
        Ok(vec![("segments", Array::Pieces(pieces))])
    }))
}

fn distance(data: &Path) -> Result<Run, String> {
    let (vertices, triangles) = mesh(data)?;
    let queries = points(data, "query_1M.f64")?;
    Ok(Box::new(move || {
        let near = TriangleTree::new(&vertices, &triangles).nearest_of(&queries);
        Ok(vec![("signed", Array::Distances(near))])
    }))
}
