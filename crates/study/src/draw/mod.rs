//! Drawing to the real side: what is measured and chosen becomes outlines, holes and lines in part axes.

mod cut;
mod midway;
mod offset;
mod side;

use record::{Choices, Decided, Drawing, Measured, MeasuredCompare, OptionKind, Part, Relation};

use side::{as_measured, mirrored};

/// One drawing per side and comparison, in the order of the comparisons, by the option chosen for it:
///
/// - two hands, or nothing chosen: each side by its own opening;
/// - a (or b) mirrored: a's (b's) drawing for its own side, its mirror image for the other;
/// - midway: the curve midway between both edges as laid on each other, and its mirror image;
/// - one shape, or an opening against its own mirror image: a's drawing alone.
///
/// Where the relation is "like against like" nothing is mirrored. The cut path is the opening edge as lines and arcs,
/// moved inwards in the flat of the part by gap + film to come on the body + build-up on the part, inside corners not
/// below the radius of the cutter. A comparison whose part is not in the choices, and a side without an edge, is left
/// out.
pub fn draw(measured: &Measured, decided: &Decided, choices: &Choices) -> Vec<Drawing> {
    let mut drawings = Vec::new();
    for compare in &measured.compares {
        if let Some(part) = choices.parts.iter().find(|p| p.id == compare.part) {
            let pair = Pair::new(measured, decided, choices, compare, part);
            drawings.extend(pair.draw());
        }
    }
    drawings
}

/// All that the drawings of a comparison depend on.
struct Pair<'a> {
    measured: &'a Measured,
    compare: &'a MeasuredCompare,
    part: &'a Part,
    option: OptionKind,
    chosen: bool,
    needs: &'a [record::Need],
}

impl<'a> Pair<'a> {
    fn new(
        measured: &'a Measured,
        decided: &'a Decided,
        choices: &'a Choices,
        compare: &'a MeasuredCompare,
        part: &'a Part,
    ) -> Self {
        let choice = choices
            .chosen
            .iter()
            .find(|c| c.0 == compare.id)
            .map(|c| c.1);
        let option = choice.unwrap_or(OptionKind::TwoHands);
        let needs = decided
            .compares
            .iter()
            .find(|d| d.id == compare.id)
            .and_then(|d| d.options.iter().find(|o| o.kind == option))
            .map(|o| o.needs.as_slice())
            .unwrap_or_default();
        Self {
            measured,
            compare,
            part,
            option,
            chosen: choice.is_some(),
            needs,
        }
    }

    fn draw(&self) -> Vec<Drawing> {
        let [a, b] = [0, 1].map(|which| as_measured(self, which));
        let alone = self.compare.b.is_none() || self.compare.relation == Relation::Itself;
        let mut drawings: Vec<Drawing> = match self.option {
            _ if alone => a.into_iter().collect(),
            OptionKind::OneShape
            | OptionKind::OneShapeWithSlots
            | OptionKind::OneShapeWithShims => a.into_iter().collect(),
            OptionKind::TwoHands => a.into_iter().chain(b).collect(),
            OptionKind::MirrorA | OptionKind::MirrorAWithSlots | OptionKind::MirrorAWithShims => {
                self.with_other_hand(a, 1)
            }
            OptionKind::MirrorB => {
                let mut both = self.with_other_hand(b, 0);
                both.reverse();
                both
            }
            OptionKind::Midway | OptionKind::MidwayWithSlots | OptionKind::MidwayWithShims => {
                self.with_other_hand(midway::midway(self), 1)
            }
        };
        for d in &mut drawings {
            cut::add_cut(d, self.part);
        }
        drawings
    }

    /// A drawing and the one for the other side, mirrored where left is set against right.
    fn with_other_hand(&self, one: Option<Drawing>, other: usize) -> Vec<Drawing> {
        let Some(one) = one else {
            return Vec::new();
        };
        let mut second = if self.compare.relation == Relation::Mirrored {
            mirrored(&one)
        } else {
            one.clone()
        };
        second.side = self.compare.sides[other];
        vec![one, second]
    }
}

#[cfg(test)]
mod tests;
