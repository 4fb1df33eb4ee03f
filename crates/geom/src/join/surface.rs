//! The surface of a scan as a join sees it.

use crate::{LeafTree, Point, Vector, normals_of_nearest};

/// Neighbours of the plane through a point.
const NEIGHBOURS: usize = 30;

/// Points of a surface with their normals, ready for searches.
#[derive(Clone, Debug)]
pub struct JoinSurface {
    pub(super) points: Vec<Point>,
    /// Zero where there is none.
    pub(super) normals: Vec<Vector>,
    /// Whether the normals point to the facing side.
    pub(super) facing: bool,
    /// Median distance of neighbours, mm.
    pub(super) spacing: f64,
    pub(super) tree: LeafTree,
}

impl JoinSurface {
    /// `points` (mm) about `spacing` apart. Normals are those of the planes through 30 neighbours; where `facing` gives one per
    /// point, however rough, its side is kept, so that the back of thin metal is not taken for its front.
    ///
    /// Cost: a search of 30 neighbours per point.
    pub fn new(points: Vec<Point>, facing: Option<&[Vector]>, spacing: f64) -> Self {
        let tree = LeafTree::new(&points);
        let own = normals_of_nearest(&tree, NEIGHBOURS);
        let facing = facing.filter(|f| f.len() == points.len());
        let normals = own
            .into_iter()
            .enumerate()
            .map(|(k, n)| {
                let n = Vector::new(n[0].into(), n[1].into(), n[2].into());
                match facing {
                    Some(f) if f[k].dot(&n) < 0.0 => -n,
                    _ => n,
                }
            })
            .collect();
        Self {
            normals,
            facing: facing.is_some(),
            spacing,
            tree,
            points,
        }
    }

    /// The same with the points for which `leave` holds set aside: they lie against nothing any more.
    pub(super) fn without(&self, leave: impl Fn(&Point) -> bool) -> Self {
        let mut out = self.clone();
        for (n, p) in out.normals.iter_mut().zip(&self.points) {
            if leave(p) {
                *n = Vector::zeros();
            }
        }
        out
    }

    /// Share of the points without a normal, 0 to 1.
    pub(super) fn aside(&self) -> f64 {
        let none = self.normals.iter().filter(|n| **n == Vector::zeros());
        none.count() as f64 / self.len().max(1) as f64
    }

    /// How many points.
    pub fn len(&self) -> usize {
        self.points.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }
}
