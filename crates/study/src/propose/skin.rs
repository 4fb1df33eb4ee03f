//! A thinned copy of a scan with agreeing normals: what openings are looked for on.

use std::collections::BTreeMap;

use geom::{Blocks, Neighbours, Point, RawPoints, Vector, carry_facing, local_planes};
use rayon::prelude::*;
use record::Prepared;

/// About how many points are kept.
const KEPT: f64 = 400_000.0;
/// How many loose pieces get a facing side of their own where the scan has no normals.
const PIECES: usize = 12;

/// Points about evenly spaced over the surface of a scan, each with a unit normal.
pub(super) struct Skin {
    pub blocks: Blocks,
    /// About how far apart they are, mm.
    pub step: f64,
}

impl Skin {
    /// Thins by cells of a grid; front and back of thin metal stay apart because a cell counts once for each of the six
    /// directions a normal can lean to.
    pub fn of(scan: &Prepared) -> Self {
        let n = scan.blocks.len() as f64;
        let step = scan.spacing_mm * (n / KEPT).sqrt().max(1.0);
        let thin = step > 1.3 * scan.spacing_mm;
        let (points, normals) = if scan.blocks.has_normals() {
            thinned(&scan.blocks, if thin { step } else { 0.0 })
        } else {
            let (points, _) = thinned(&scan.blocks, if thin { step } else { 0.0 });
            let normals = estimated(&scan.blocks, &points, step, scan.spacing_mm);
            points
                .into_iter()
                .zip(normals)
                .filter_map(|(p, n)| Some((p, n?)))
                .unzip()
        };
        let packed = |v: &Vector| [v.x as f32, v.y as f32, v.z as f32];
        let raw = RawPoints::F64(points.iter().map(|p| [p.x, p.y, p.z]).collect());
        let blocks = Blocks::build(
            raw,
            1.0,
            Vec::new(),
            normals.iter().map(packed).collect(),
            &|| true,
        )
        .unwrap_or_default();
        let step = if thin { step } else { scan.spacing_mm };
        Self { blocks, step }
    }

    /// The mean place and normal of the points near `at` that face like `facing`; weights fall to the rim of the ball.
    pub fn around(
        &self,
        at: &Point,
        r: f64,
        facing: &Vector,
        least_dot: f64,
    ) -> Option<(Point, Vector, usize)> {
        let (mut sum, mut normal, mut weight, mut count) =
            (Vector::zeros(), Vector::zeros(), 0.0, 0);
        self.blocks.in_ball(at, r, |s, p, d2| {
            if let Some(n) = self.blocks.normal(s)
                && n.dot(facing) > least_dot
            {
                let w = 1.0 - d2 / (r * r) + 0.05;
                sum += (p - at) * w;
                normal += n * w;
                weight += w;
                count += 1;
            }
        });
        let normal = normal.try_normalize(1e-9)?;
        Some((at + sum / weight, normal, count))
    }
}

/// One mean point a cell and lean; all points where `side` is 0. Normals are zero where there are none.
fn thinned(blocks: &Blocks, side: f64) -> (Vec<Point>, Vec<Vector>) {
    if side <= 0.0 {
        return blocks
            .iter()
            .filter_map(|(s, p)| {
                let n = blocks.normal(s);
                (n.is_some() || !blocks.has_normals()).then(|| (p, n.unwrap_or_else(Vector::zeros)))
            })
            .unzip();
    }
    let low = blocks.bounds().low;
    let mut keyed: Vec<(u64, u32)> = (0..blocks.blocks().len())
        .into_par_iter()
        .flat_map_iter(|b| {
            blocks.points_of(b).map(|(s, p)| {
                let c = ((p - low) / side).map(|x| (x as u64).min((1 << 20) - 1));
                let lean = blocks.normal(s).map_or(6, |n| lean(&n));
                ((c.x << 43) | (c.y << 23) | (c.z << 3) | lean, s)
            })
        })
        .collect();
    keyed.par_sort_unstable();
    let groups: Vec<&[(u64, u32)]> = keyed.chunk_by(|a, b| a.0 == b.0).collect();
    groups
        .par_iter()
        .filter_map(|g| {
            let base = blocks.point(g[0].1);
            let (mut sum, mut normal) = (Vector::zeros(), Vector::zeros());
            for &(_, s) in *g {
                sum += blocks.point(s) - base;
                normal += blocks.normal(s).unwrap_or_else(Vector::zeros);
            }
            let normal = normal.try_normalize(1e-9);
            (normal.is_some() || !blocks.has_normals()).then(|| {
                (
                    base + sum / g.len() as f64,
                    normal.unwrap_or_else(Vector::zeros),
                )
            })
        })
        .unzip()
}

/// Which of +x, -x, +y, -y, +z, -z a direction leans to most.
fn lean(n: &Vector) -> u64 {
    let a = n.iamax();
    (2 * a + usize::from(n[a] < 0.0)) as u64
}

/// Normals of a cloud without any: planes through neighbours, made to agree piece by piece. Which side of a piece is
/// its front cannot be seen in points alone; the hollow side is taken as the back, as of a body panel.
fn estimated(blocks: &Blocks, points: &[Point], step: f64, spacing: f64) -> Vec<Option<Vector>> {
    let planes = local_planes(
        blocks,
        points,
        Neighbours::Within((2.5 * spacing).max(1.2 * step)),
    );
    let mut normals: Vec<Option<Vector>> = planes.iter().map(|p| p.map(|p| p.normal)).collect();
    let mut out = vec![None; points.len()];
    for _ in 0..PIECES {
        let Some(seed) = normals.iter().position(Option::is_some) else {
            break;
        };
        let mut piece = normals.clone();
        let facing = normals[seed].unwrap_or_else(Vector::z);
        carry_facing(points, &mut piece, seed, &facing, 10, 3.0 * step);
        let members: BTreeMap<usize, Vector> = piece
            .iter()
            .enumerate()
            .filter_map(|(i, n)| Some((i, (*n)?)))
            .collect();
        let centre =
            members.keys().map(|&i| points[i].coords).sum::<Vector>() / members.len().max(1) as f64;
        let outward: f64 = members
            .iter()
            .map(|(&i, n)| n.dot(&(points[i].coords - centre)))
            .sum();
        let sign = if outward < 0.0 { -1.0 } else { 1.0 };
        for (i, n) in members {
            out[i] = Some(n * sign);
            normals[i] = None;
        }
    }
    out
}
