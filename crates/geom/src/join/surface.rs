//! The surface of a scan as a join sees it.

use nalgebra::{Matrix3, SymmetricEigen};

use crate::{Aabb, LeafTree, Mirror, Plane, Point, Unit, Vector, normals_of_nearest};

/// Neighbours of the plane through a point.
const NEIGHBOURS: usize = 30;
/// A surface nearer to a mirror than so many distances between points, with its normal so much along that of the mirror
/// (cosine), is its own image.
const NEAR: f64 = 3.0;
const ALONG: f64 = 0.8;

/// Points of a surface with their normals, ready for searches.
#[derive(Clone, Debug)]
pub struct JoinSurface {
    pub(super) points: Vec<Point>,
    /// Zero where there is none.
    pub(super) normals: Vec<Vector>,
    /// Whether the normals point to the facing side.
    pub(super) facing: bool,
    /// Median distance of neighbours, mm.
    pub(crate) spacing: f64,
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

    /// At most `most` of the points, evenly taken, with the normals they have.
    pub(crate) fn thinned(&self, most: usize) -> Self {
        let every = self.len().div_ceil(most.max(1)).max(1);
        let points: Vec<Point> = self.points.iter().step_by(every).copied().collect();
        Self {
            tree: LeafTree::new(&points),
            normals: self.normals.iter().step_by(every).copied().collect(),
            facing: self.facing,
            spacing: self.spacing * (every as f64).sqrt(),
            points,
        }
    }

    /// Middle of the points and the diagonal of their extent, mm.
    pub(crate) fn middle_and_size(&self) -> (Point, f64) {
        let sum: Vector = self.points.iter().map(|p| p.coords).sum();
        let size = Aabb::of(self.points.iter()).size().norm();
        (Point::from(sum / self.len().max(1) as f64), size)
    }

    /// The direction in `plane` in which the points are spread most.
    pub(crate) fn longest_in(&self, plane: &Plane) -> Unit {
        let (middle, _) = self.middle_and_size();
        let spread: Matrix3<f64> = self
            .points
            .iter()
            .map(|p| {
                let d = plane.foot(p) - plane.foot(&middle);
                d * d.transpose()
            })
            .sum();
        let eigen = SymmetricEigen::new(spread);
        Unit::new_normalize(eigen.eigenvectors.column(eigen.eigenvalues.imax()).into())
    }

    /// The mirror image about `plane` of at most `most` points, for laying it on something: nothing can be laid on it.
    ///
    /// Where normals do not tell the facing side, points of a surface that nearly lies in the plane are left out: such a surface is
    /// its own image and says nothing.
    pub(crate) fn image(&self, plane: &Plane, most: usize) -> Self {
        self.image_of(plane, most, (0..self.len()).collect())
    }

    /// As [`Self::image`], of the half with fewer points; whether that is the one on the normal's side.
    pub(crate) fn half_image(&self, plane: &Plane, most: usize) -> (Self, bool) {
        let (on, off): (Vec<usize>, Vec<usize>) =
            (0..self.len()).partition(|&k| plane.distance(&self.points[k]) > 0.0);
        let fewer = on.len() <= off.len();
        (
            self.image_of(plane, most, if fewer { on } else { off }),
            fewer,
        )
    }

    fn image_of(&self, plane: &Plane, most: usize, mut which: Vec<usize>) -> Self {
        if !self.facing {
            let near = NEAR * self.spacing;
            which.retain(|&k| {
                let flat = self.normals[k].dot(&plane.normal).abs() > ALONG;
                !flat || plane.distance(&self.points[k]).abs() > near
            });
        }
        let every = which.len().div_ceil(most.max(1)).max(1);
        let mirror = Mirror { plane: *plane };
        let taken = || which.iter().step_by(every).copied();
        Self {
            points: taken().map(|k| mirror.point(&self.points[k])).collect(),
            normals: taken().map(|k| mirror.vector(&self.normals[k])).collect(),
            facing: self.facing,
            spacing: self.spacing * (every as f64).sqrt(),
            tree: LeafTree::new(&[]),
        }
    }
}
