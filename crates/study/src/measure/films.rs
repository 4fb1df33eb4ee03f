//! Films on the metal while it was measured, and what is taken off so that unlike sides are compared as bare metal.

use std::collections::{BTreeMap, BTreeSet};

use record::{BodyState, Job, Opening, OpeningId, Side, Surface};

/// Share of a film that its thickness varies by over an opening, where no give-or-take is stated (common practice for
/// primer and paint by hand; no source), and the least, mm.
const VARIES: f64 = 0.2;
const LEAST_U95_MM: f64 = 0.005;
/// The thickest film of a kind that was not measured, mm: a heavy coat of primer; a paint system of 0.10 mm to 0.18 mm
/// over it (common practice; no source).
const THICKEST_PRIMER_MM: f64 = 0.20;
const THICKEST_PAINT_MM: f64 = 0.35;

/// A film to take off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    /// Thickness that is taken off, mm.
    pub mm: f64,
    /// Standard uncertainty, mm.
    pub u_mm: f64,
    /// Whether the thickness was stated (or is none, on bare metal).
    pub known: bool,
}

impl Film {
    /// Nothing.
    pub const NONE: Self = Self {
        mm: 0.0,
        u_mm: 0.0,
        known: true,
    };

    /// Whether there is anything to take off or to doubt.
    pub fn matters(&self) -> bool {
        self.mm > 0.0 || self.u_mm > 0.0
    }

    /// Give-or-take (95 %), mm.
    pub fn u95_mm(&self) -> f64 {
        geom::u95(self.u_mm, f64::INFINITY)
    }
}

/// What covered an opening while it was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cover {
    /// The surface.
    pub surface: Surface,
    stated_um: Option<f64>,
    u95_um: Option<f64>,
}

impl Cover {
    /// The cover of `opening` in the state of its visit. Openings across the centre and those of no side go with the left.
    pub fn of(state: &BodyState, opening: &Opening) -> Self {
        Self::on(state, opening.side)
    }

    /// The cover of a side of the body.
    pub fn on(state: &BodyState, side: Side) -> Self {
        match side {
            Side::Right => Self {
                surface: state.right,
                stated_um: state.right_film_um,
                u95_um: state.right_film_u95_um,
            },
            Side::Left | Side::Centre | Side::NotSaid => Self {
                surface: state.left,
                stated_um: state.left_film_um,
                u95_um: state.left_film_u95_um,
            },
        }
    }

    /// The film. One of unknown thickness is not taken off; that it may be anything from nothing to the thickest is its
    /// doubt (half-width of an even distribution, JCGM 100:2008, 4.3.7).
    pub fn film(&self) -> Film {
        let thickest = match self.surface {
            Surface::Bare => 0.0,
            Surface::Primed => THICKEST_PRIMER_MM,
            Surface::Painted | Surface::NotNoted => THICKEST_PAINT_MM,
        };
        match self.stated_um {
            Some(um) => {
                let mm = um / 1000.0;
                let varies = if mm > 0.0 {
                    (VARIES * mm).max(LEAST_U95_MM)
                } else {
                    0.0
                };
                let u95 = self.u95_um.map_or(varies, |u| u / 1000.0);
                Film {
                    mm,
                    u_mm: u95 / geom::t_quantile(0.975, f64::INFINITY),
                    known: true,
                }
            }
            None if self.surface == Surface::Bare => Film::NONE,
            None => Film {
                mm: 0.0,
                u_mm: thickest / 3.0_f64.sqrt(),
                known: false,
            },
        }
    }

    /// Whether the same was on both as far as is known: alike covers need nothing taken off.
    pub fn alike(&self, other: &Self) -> bool {
        self.surface == other.surface && self.stated_um == other.stated_um
    }
}

/// The state of the body when `opening` was measured.
pub fn state_of<'a>(job: &'a Job, opening: &Opening) -> Option<&'a BodyState> {
    let visit = job.visit_of(opening)?;
    let visit = job.visits.iter().find(|v| v.id == *visit)?;
    Some(&visit.state)
}

/// What is to be taken off each opening. Openings that are compared under unlike covers are all brought to bare metal,
/// and so is whatever they are compared with; the others stay as they were measured.
pub fn films(job: &Job) -> BTreeMap<OpeningId, Film> {
    let opening = |id: &OpeningId| job.openings.iter().find(|o| o.id == *id);
    let cover = |id: &OpeningId| {
        let o = opening(id)?;
        Some(Cover::of(state_of(job, o)?, o))
    };
    // Readings of one opening go with it.
    let repeats = job
        .openings
        .iter()
        .filter_map(|o| Some((o.repeat_of.clone()?, o.id.clone())));
    let pairs: Vec<(OpeningId, OpeningId)> = job
        .compares
        .iter()
        .filter_map(|c| Some((c.a.clone(), c.b.clone()?)))
        .chain(repeats)
        .collect();
    let mut bare: BTreeSet<OpeningId> = BTreeSet::new();
    for (a, b) in &pairs {
        if let (Some(ca), Some(cb)) = (cover(a), cover(b))
            && !ca.alike(&cb)
        {
            bare.extend([a.clone(), b.clone()]);
        }
    }
    // What is compared with bare metal has to be bare as well.
    loop {
        let before = bare.len();
        for (a, b) in &pairs {
            if bare.contains(a) || bare.contains(b) {
                bare.extend([a.clone(), b.clone()]);
            }
        }
        if bare.len() == before {
            break;
        }
    }
    bare.into_iter()
        .filter_map(|id| {
            let film = cover(&id)?.film();
            Some((id, film))
        })
        .filter(|(_, f)| f.matters())
        .collect()
}

/// What is to be taken off one opening.
pub fn film_of(job: &Job, id: &OpeningId) -> Film {
    films(job).get(id).copied().unwrap_or(Film::NONE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn cover(surface: Surface, stated_um: Option<f64>, u95_um: Option<f64>) -> Cover {
        Cover {
            surface,
            stated_um,
            u95_um,
        }
    }

    #[test]
    fn films_and_their_doubt() {
        let f = cover(Surface::Primed, Some(150.0), Some(20.0)).film();
        assert_eq!(f.mm, 0.15);
        assert_relative_eq!(f.u95_mm(), 0.02, epsilon = 1e-9);
        // Not stated how well: a fifth.
        let f = cover(Surface::Primed, Some(150.0), None).film();
        assert_relative_eq!(f.u95_mm(), 0.03, epsilon = 1e-9);
        assert_eq!(cover(Surface::Bare, None, None).film(), Film::NONE);
        let f = cover(Surface::Painted, None, None).film();
        assert!(!f.known && f.mm == 0.0 && f.u95_mm() > 0.35, "{f:?}");
        assert!(!cover(Surface::NotNoted, None, None).film().known);
    }
}
