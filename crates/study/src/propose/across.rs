//! What was picked on one side, carried to the other.

use geom::{Point, Rigid, Vector};
use nalgebra::Matrix3;
use record::{
    Cancelled, EdgeKind, EdgePick, FacePick, HolePick, JunctionPick, MeasuredCompare,
    MeasuredOpening, Opening, Prepared, Progress, Relation, ScanId, Side,
};

use super::judge::Found;
use super::shape::{Flat, Laid, carry, lay_mirrored, map_of};

/// A carried place must lie so near the metal, mm; it is moved onto it.
const ON_METAL_MM: f64 = 15.0;
/// Costs above this are no partner; see [`super::pair`].
const TOO_UNLIKE: f64 = 1.0;

/// A map from the scan of one side to that of the other, with a mirror in it where the two are left and right.
#[derive(Clone, Debug, PartialEq)]
pub struct Across {
    from: Point,
    to: Point,
    turn: Matrix3<f64>,
    /// How sure it is, 0 to 1.
    pub sureness: f64,
}

impl Across {
    /// From one side of a measured comparison to the other; `None` unless both edges were laid on each other. `from_a`:
    /// from a to b, else from b to a. `a` is the measured opening a.
    pub fn measured(c: &MeasuredCompare, a: &MeasuredOpening, from_a: bool) -> Option<Self> {
        let a_from_b = c.b_on_a.as_ref()?;
        let scan_from_part: Rigid = a.part_from_scan.inverse();
        let middle = Point::origin();
        let column = |v: Vector| scan_from_part.rotation * a_from_b.vector(&v);
        // a's scan axes from b's, about the origin of b's.
        let turn = Matrix3::from_columns(&[
            column(Vector::x()),
            column(Vector::y()),
            column(Vector::z()),
        ]);
        let image = scan_from_part * a_from_b.point(&middle);
        Some(if from_a {
            // The turn is orthogonal.
            Self {
                from: image,
                to: middle,
                turn: turn.transpose(),
                sureness: 0.9,
            }
        } else {
            Self {
                from: middle,
                to: image,
                turn,
                sureness: 0.9,
            }
        })
    }

    /// Between two scans of one side, of which it is known how they lie.
    pub fn rigid(to_from: &Rigid, sureness: f64) -> Self {
        Self {
            from: Point::origin(),
            to: to_from * Point::origin(),
            turn: to_from.rotation.to_rotation_matrix().into_inner(),
            sureness,
        }
    }

    /// A place, scan axes, mm.
    pub fn point(&self, p: &Point) -> Point {
        self.to + self.turn * (p - self.from)
    }

    /// A direction.
    pub fn vector(&self, v: &Vector) -> Vector {
        self.turn * v
    }
}

/// The picks of an opening as they are carried to the other side.
#[derive(Clone, Debug, PartialEq)]
pub struct Carried {
    /// The opening on the other side: names of faces, junctions and holes as on this one, so that they are partners.
    pub opening: Opening,
    /// What could not be carried because there is no metal near its image.
    pub lost: Vec<String>,
}

/// Carries the picks of an opening to scan `id`. The side becomes the other one where `relation` says so.
pub fn carried(
    opening: &Opening,
    across: &Across,
    relation: Relation,
    (id, scan): (&ScanId, &Prepared),
) -> Carried {
    let mut lost = Vec::new();
    let on_metal = |p: &Point| {
        let q = across.point(p);
        let (slot, _) = scan.blocks.nearest(&q, ON_METAL_MM)?;
        Some(scan.blocks.point(slot))
    };
    let faces: Vec<FacePick> = opening
        .faces
        .iter()
        .filter_map(|f| {
            let near = on_metal(&f.near);
            if near.is_none() {
                lost.push(format!("face {}", f.id));
            }
            Some(FacePick {
                near: near?,
                facing: f.facing.map(|v| across.vector(&v)),
                ..f.clone()
            })
        })
        .collect();
    let junctions: Vec<JunctionPick> = opening
        .junctions
        .iter()
        .filter(|j| {
            [&j.a, &j.b]
                .iter()
                .all(|id| faces.iter().any(|f| f.id == **id))
        })
        .map(|j| JunctionPick {
            start: across.point(&j.start),
            ..j.clone()
        })
        .collect();
    let holes: Vec<HolePick> = opening
        .holes
        .iter()
        .filter_map(|h| {
            // The middle of a hole is not on metal; its rim is.
            let near = across.point(&h.near);
            let reach = ON_METAL_MM + h.diameter_mm.unwrap_or(0.0);
            if scan.blocks.nearest(&near, reach).is_none() {
                lost.push(format!("hole {}", h.id));
                return None;
            }
            Some(HolePick { near, ..h.clone() })
        })
        .collect();
    let edge = opening.edge.as_ref().and_then(|e| {
        let near = on_metal(&e.near);
        if near.is_none() {
            lost.push("the edge".to_owned());
        }
        Some(EdgePick {
            near: near?,
            kind: e.kind,
            by_hand: Vec::new(),
            closed: e.closed,
        })
    });
    let side = match (relation, opening.side) {
        (Relation::Same, side) => side,
        (_, Side::Left) => Side::Right,
        (_, Side::Right) => Side::Left,
        (_, other) => other,
    };
    Carried {
        opening: Opening {
            id: opening.id.clone(),
            name: opening.name.clone(),
            scan: id.clone(),
            side,
            edge,
            top: opening.top.map(|t| across.point(&t)),
            outward: opening.outward.map(|v| across.vector(&v)),
            faces,
            junctions,
            holes,
            repeat_of: None,
            sureness: Some(across.sureness),
            note: String::new(),
        },
        lost,
    }
}

/// Looks for the mirror image of an opening in a scan, by shape and holes, and carries the picks there. `None` if
/// nothing like it is there. Both may be one scan: the opening itself is then no answer. Cost: some seconds.
///
/// # Errors
/// [`Cancelled`] if `at` says so.
pub fn find_across(
    opening: &Opening,
    from: (&ScanId, &Prepared),
    to: (&ScanId, &Prepared),
    at: &dyn Progress,
) -> Result<Option<Carried>, Cancelled> {
    let here = super::find(from.0, from.1, at)?;
    let there = if from.0 == to.0 {
        here.clone()
    } else {
        super::find(to.0, to.1, at)?
    };
    let Some(a) = own(opening, &here) else {
        return Ok(None);
    };
    let flat = Flat::of(a);
    let best = there
        .iter()
        .filter(|b| from.0 != to.0 || (b.centre - a.centre).norm() > 1.0)
        .map(|b| {
            let fb = Flat::of(b);
            let laid = lay_mirrored(&flat, &fb);
            (super::pair::cost(a, b, &flat, &laid), b, fb, laid)
        })
        .min_by(|x, y| x.0.total_cmp(&y.0));
    Ok(best
        .filter(|b| b.0 < TOO_UNLIKE)
        .map(|(cost, b, fb, laid)| found_across(opening, a, b, (&flat, &fb, &laid), cost, to)))
}

fn found_across(
    opening: &Opening,
    a: &Found,
    b: &Found,
    (flat, fb, laid): (&Flat, &Flat, &Laid),
    cost: f64,
    to: (&ScanId, &Prepared),
) -> Carried {
    let turned = if laid.ambiguous { 0.5 } else { 1.0 };
    let across = Across {
        from: a.centre,
        to: b.centre,
        turn: map_of(flat, fb, laid),
        sureness: (turned * (1.0 - cost / TOO_UNLIKE)).clamp(0.05, 0.95),
    };
    let mut carried = carried(opening, &across, Relation::Mirrored, to);
    let o = &mut carried.opening;
    // What was found there itself is nearer than what is carried.
    if opening.edge.is_some() {
        carried.lost.retain(|l| l != "the edge");
        o.edge = Some(EdgePick {
            near: b.near,
            kind: opening.edge.as_ref().map_or(EdgeKind::Auto, |e| e.kind),
            by_hand: Vec::new(),
            closed: true,
        });
    }
    if let Some(top) = opening.top {
        o.top = Some(carry(flat, fb, laid, &top));
    }
    for h in &mut o.holes {
        let near = b
            .holes
            .iter()
            .map(|r| ((r.centre - h.near).norm(), r.centre))
            .min_by(|x, y| x.0.total_cmp(&y.0));
        if let Some((_, centre)) = near.filter(|n| n.0 < ON_METAL_MM) {
            h.near = centre;
        }
    }
    carried
}

/// The opening as it was found in its own scan: the one whose edge runs nearest to what was picked.
fn own<'f>(opening: &Opening, found: &'f [Found]) -> Option<&'f Found> {
    let edge = opening.edge.as_ref()?;
    let near = edge.by_hand.first().unwrap_or(&edge.near);
    let distance = |o: &Found| {
        o.edge
            .iter()
            .map(|p| (p - near).norm())
            .fold(f64::INFINITY, f64::min)
    };
    found
        .iter()
        .map(|o| (distance(o), o))
        .min_by(|x, y| x.0.total_cmp(&y.0))
        .filter(|x| x.0 < 3.0 * ON_METAL_MM)
        .map(|x| x.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use geom::{Improper, Mirror, Unit};

    #[test]
    fn there_and_back_is_the_same_place() {
        let rigid =
            |x: f64| Rigid::new(Vector::new(x, 2.0, -30.0), Vector::new(0.3, -0.2 * x, 0.7));
        let a = MeasuredOpening {
            id: "a".into(),
            name: String::new(),
            side: Side::Left,
            part_from_scan: rigid(40.0),
            edge: None,
            faces: Vec::new(),
            junctions: Vec::new(),
            holes: Vec::new(),
            findings: Vec::new(),
        };
        let c = MeasuredCompare {
            id: "c".into(),
            relation: Relation::Mirrored,
            part: "p".into(),
            a: "a".into(),
            b: Some("b".into()),
            sides: [Side::Left, Side::Right],
            b_on_a: Some(Improper {
                mirror: Some(Mirror::through(
                    &Point::new(1.0, 2.0, 3.0),
                    Unit::new_normalize(Vector::new(0.2, 1.0, -0.4)),
                )),
                rigid: rigid(-7.0),
            }),
            stations: Vec::new(),
            a_spread: None,
            b_spread: None,
            a_curve: Vec::new(),
            b_curve: Vec::new(),
            closed: true,
            modes: Vec::new(),
            rest: None,
            angles: Vec::new(),
            holes: Vec::new(),
            findings: Vec::new(),
        };
        let (there, back) = (
            Across::measured(&c, &a, true).unwrap(),
            Across::measured(&c, &a, false).unwrap(),
        );
        let p = Point::new(120.0, -45.0, 60.0);
        assert!((back.point(&there.point(&p)) - p).norm() < 1e-9);
        // In part axes of a, both are the same place.
        let q = there.point(&p);
        let in_part = c.b_on_a.as_ref().unwrap().point(&q);
        assert!((in_part - a.part_from_scan * p).norm() < 1e-9);
        assert!(there.turn.determinant() < 0.0, "a mirror");
    }
}
