//! The profiles of a pair as chains of points, for drawings.

use geom::Point;
use nalgebra::Point2;
use record::{PairPanel, SheetKind, Side};

use crate::side_word;

/// The profile of one side over one sheet of one section; what was not seen parts it into several.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Profile {
    /// Number of the section, from 0.
    pub section: usize,
    /// Which side: 0 a, 1 b.
    pub of: usize,
    /// Points in the section plane, mm: away from the opening, outward; the edge of a is at the origin.
    pub flat: Vec<Point2<f64>>,
    /// The same in part axes of a.
    pub in_space: Vec<Point>,
}

/// Every profile of a pair with two points at least, by section, then side, the panel before the flange.
pub(crate) fn profiles(pair: &PairPanel) -> Vec<Profile> {
    let mut found = Vec::new();
    for (section, s) in pair.sections.iter().enumerate() {
        for of in 0..2 {
            for sheet in [SheetKind::Panel, SheetKind::Flange] {
                let axes = s.axes(sheet);
                let steps = pair
                    .steps
                    .iter()
                    .filter(|x| x.section == section && x.sheet == sheet);
                let heights: Vec<Option<(f64, f64)>> = steps
                    .map(|x| {
                        let f = if of == 0 { x.a } else { x.b };
                        f.map(|f| (x.from_edge_mm, f.value))
                    })
                    .collect();
                for chain in heights.split(Option::is_none).filter(|c| c.len() > 1) {
                    let in_space: Vec<Point> = chain
                        .iter()
                        .flatten()
                        .map(|(t, h)| {
                            s.edge + axes.along.into_inner() * *t + axes.out.into_inner() * *h
                        })
                        .collect();
                    let flat = in_space
                        .iter()
                        .map(|p| {
                            let d = p - s.edge;
                            Point2::new(d.dot(&s.panel.along), d.dot(&s.panel.out))
                        })
                        .collect();
                    found.push(Profile {
                        section,
                        of,
                        flat,
                        in_space,
                    });
                }
            }
        }
    }
    found
}

/// What the two sides are called in drawings: the side, and whether it is turned over.
pub(crate) fn side_names(pair: &PairPanel) -> [String; 2] {
    let [a, b] = pair.sides.map(|s| match s {
        Side::NotSaid => "side not said".to_owned(),
        s => side_word(s).to_owned(),
    });
    match pair.relation {
        record::Relation::Mirrored => [a, format!("{b}, mirrored")],
        record::Relation::Itself => [a.clone(), format!("{a}, mirrored")],
        record::Relation::Same => [format!("{a}, first"), format!("{b}, second")],
    }
}
