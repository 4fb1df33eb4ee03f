//! What is still wanted of the person, in the order in which it is best done.

use record::{
    CompareId, LengthUnit, Mounting, OpeningId, PartId, Relation, ScanId, Side, Surface,
    UnitSource, VisitId,
};

use crate::document::Document;

/// Something still wanted. The window makes a sentence of it and leads to its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// A scan to begin with.
    Scan,
    /// The unit of a scan, which was guessed.
    Unit(ScanId, LengthUnit),
    /// The side a scan shows: left, right, or across.
    ScanSide(ScanId),
    /// A place picked in a scan that has none.
    Place(ScanId),
    /// A look at a proposed opening: keep it or skip it.
    Look(OpeningId),
    /// The side of an opening.
    Side(OpeningId),
    /// The edge of an opening, or at least a face.
    EdgeOrFace(OpeningId),
    /// The top of an opening: nearly round ones have none of their own.
    Top(OpeningId),
    /// The other side of an opening.
    OtherSide(OpeningId),
    /// The part a comparison is about.
    Part(CompareId),
    /// An agreed gap above zero, or the word that there is none.
    Gap(PartId),
    /// The state the body was in; asked only once two sides are compared.
    BodyState(VisitId),
}

impl Document {
    /// What is still wanted, most pressing first; empty when everything can be answered.
    pub fn wanted(&self) -> Vec<Wanted> {
        let job = self.job();
        let mut out = Vec::new();
        if job.scans.is_empty() && job.hand.is_empty() && self.incoming().is_empty() {
            out.push(Wanted::Scan);
        }
        for s in &job.scans {
            if s.unit_source == UnitSource::Guessed {
                out.push(Wanted::Unit(s.id.clone(), s.unit));
            }
            let mut here = job.openings.iter().filter(|o| o.scan == s.id).peekable();
            let none = here.peek().is_none();
            if s.side == Side::NotSaid && (none || here.any(|o| o.side == Side::NotSaid)) {
                out.push(Wanted::ScanSide(s.id.clone()));
            }
            if none {
                out.push(Wanted::Place(s.id.clone()));
            }
        }
        for o in &job.openings {
            if o.sureness.is_some() {
                out.push(Wanted::Look(o.id.clone()));
            }
            if o.side == Side::NotSaid {
                out.push(Wanted::Side(o.id.clone()));
            }
            if job.hand_of(o).is_some() {
                // Its edge and its top are rows of the table.
            } else if o.edge.is_none() && o.faces.is_empty() {
                out.push(Wanted::EdgeOrFace(o.id.clone()));
            } else if o.top.is_none() {
                out.push(Wanted::Top(o.id.clone()));
            }
            let compared = job.compares.iter().any(|c| {
                let alone = c.relation != Relation::Itself && c.b.is_none();
                (c.a == o.id && !alone) || c.b.as_ref() == Some(&o.id)
            });
            if !compared && matches!(o.side, Side::Left | Side::Right) {
                out.push(Wanted::OtherSide(o.id.clone()));
            }
        }
        for c in &job.compares {
            match job.choices.parts.iter().find(|p| p.id == c.part) {
                None => out.push(Wanted::Part(c.id.clone())),
                Some(p) if p.gap_mm == 0.0 => out.push(Wanted::Gap(p.id.clone())),
                Some(_) => {}
            }
        }
        if job.compares.iter().any(|c| c.b.is_some()) {
            for v in &job.visits {
                let s = &v.state;
                let said = s.mounting != Mounting::NotNoted
                    && s.left != Surface::NotNoted
                    && s.right != Surface::NotNoted;
                if !said && job.scans.iter().any(|x| x.visit == v.id) {
                    out.push(Wanted::BodyState(v.id.clone()));
                }
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use record::{Job, Opening, ScanRef};

    use super::*;

    fn scan() -> ScanRef {
        ScanRef {
            id: "left".into(),
            visit: "v".into(),
            path: "left.ply".into(),
            hash: None,
            unit: LengthUnit::Millimetre,
            unit_source: UnitSource::Guessed,
            side: Side::Left,
            keep: Vec::new(),
            aside: Vec::new(),
            largest_piece_only: false,
            note: String::new(),
        }
    }

    fn wanted(job: Job) -> Vec<Wanted> {
        Document::new(Arc::new(job), None).wanted()
    }

    #[test]
    fn one_thing_after_the_other() {
        assert_eq!(wanted(Job::default()), [Wanted::Scan]);
        let mut job = Job {
            scans: vec![scan()],
            ..Job::default()
        };
        let unit = Wanted::Unit("left".into(), LengthUnit::Millimetre);
        assert_eq!(wanted(job.clone()), [unit, Wanted::Place("left".into())]);
        job.scans[0].unit_source = UnitSource::Stated;
        job.openings
            .push(Opening::unpicked("nose".into(), "left".into(), Side::Left));
        assert_eq!(
            wanted(job.clone()),
            [
                Wanted::EdgeOrFace("nose".into()),
                Wanted::OtherSide("nose".into())
            ]
        );
        job.openings[0].edge = Some(study::probe::edge_pick(geom::Point::origin()));
        job.openings[0].sureness = Some(0.5);
        assert_eq!(
            wanted(job),
            [
                Wanted::Look("nose".into()),
                Wanted::Top("nose".into()),
                Wanted::OtherSide("nose".into())
            ]
        );
    }

    #[test]
    fn nothing_is_wanted_of_the_coach() {
        assert_eq!(wanted(demo::Coach::new(3).job()), []);
    }
}
