//! Fits: robust plane, circle and cylinder, and the smallest greatest error.

use std::path::Path;

use geom::{Minimax, Outcome, Point, Round, RoundShape, Unit, Vector};

use crate::Run;
use crate::arrays::{Array, doubles, points};

pub const TASKS: &[&str] = &[
    "plane_1M",
    "circle_100k",
    "cylinder_100k",
    "minimax_6",
    "minimax_206",
];

/// Three standard deviations of the noise, as the peers are told, mm.
const BAND: f64 = 0.15;
/// Bound of the unknowns of single stations.
const LOCAL: f64 = 0.2;

pub fn make(task: &str, data: &Path) -> Option<Result<Run, String>> {
    Some(match task {
        "plane_1M" => plane(data),
        "circle_100k" => round(data, Round::Circle, "circle", 41.0),
        "cylinder_100k" => round(data, Round::Cylinder, "cylinder", 13.0),
        "minimax_6" => minimax(data, 6),
        "minimax_206" => minimax(data, 206),
        _ => return None,
    })
}

fn plane(data: &Path) -> Result<Run, String> {
    let cloud = points(data, "plane_1M.f64")?;
    Ok(Box::new(move || {
        let found = geom::plane_among(&cloud, BAND).map_err(|e| e.to_string())?;
        let n = found.plane.normal;
        let plane = vec![n.x, n.y, n.z, -found.plane.offset];
        Ok(vec![("plane", Array::F64(plane))])
    }))
}

fn round(data: &Path, kind: Round, name: &'static str, radius: f64) -> Result<Run, String> {
    let cloud = points(data, &format!("{name}_100k.f64"))?;
    let start = doubles(data, "round_start.f64")?;
    let [a, b, c, x, y, z] = start[..] else {
        return Err("round_start.f64: expected six numbers".to_owned());
    };
    let start = RoundShape {
        centre: Point::new(x, y, z),
        axis: Unit::new_normalize(Vector::new(a, b, c)),
        radius,
    };
    Ok(Box::new(move || {
        let found =
            geom::round_among(&cloud, kind, &start, 3.0, BAND / 3.0).map_err(|e| e.to_string())?;
        let RoundShape {
            centre: p,
            axis: n,
            radius,
        } = found.shape;
        Ok(vec![(
            name,
            Array::F64(vec![p.x, p.y, p.z, n.x, n.y, n.z, radius]),
        )])
    }))
}

fn minimax(data: &Path, unknowns: usize) -> Result<Run, String> {
    let rows = doubles(data, &format!("lp_a{unknowns}.f64"))?;
    let aims = doubles(data, "lp_b.f64")?;
    Ok(Box::new(move || {
        let mut problem = Minimax::new(unknowns);
        for (row, aim) in rows.chunks_exact(unknowns).zip(&aims) {
            problem.within(row, -aim, 1.0, 1.0);
        }
        for j in 6..unknowns {
            problem.between(j, -LOCAL, LOCAL);
        }
        match problem.solve() {
            Outcome::Optimal(o) => Ok(vec![("q", Array::F64(o.x))]),
            Outcome::Infeasible(_) => Err("no solution".to_owned()),
        }
    }))
}
