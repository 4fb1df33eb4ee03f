//! The likely unit of a scan that states none.

mod fineness;
#[cfg(test)]
mod tests;

use geom::RawPoints;
use record::LengthUnit;

use fineness::Fineness;

/// How often units are met in scans that do not state theirs (common practice; no source).
const MET: [(LengthUnit, f64); 5] = [
    (LengthUnit::Millimetre, 0.50),
    (LengthUnit::Metre, 0.25),
    (LengthUnit::Inch, 0.14),
    (LengthUnit::Centimetre, 0.08),
    (LengthUnit::Foot, 0.03),
];
/// A unit is offered down to this share of the best one's chance.
const OFFERED: f64 = 0.02;
/// How much one quantity may speak against a unit, in standard deviations squared: files hold smoothed meshes and
/// leftovers, too.
const MOST_AGAINST: f64 = 16.0;
/// Share of scans that are not of body work although nothing else tells.
const OTHER_WORK: f64 = 0.02;

/// What is usual of a kind of scan: middle and factor of spread (one standard deviation of the logarithm), mm.
struct Usual {
    size: (f64, f64),
    spacing: (f64, f64),
    rough: (f64, f64),
    least_standpoint_mm: f64,
}

/// Body work with a hand-held scanner or one on a short tripod (common practice; no source).
const BODY_WORK: Usual = Usual {
    size: (900.0, 2.6),
    spacing: (0.8, 2.4),
    rough: (0.04, 2.6),
    least_standpoint_mm: 0.0,
};
/// Rooms and yards from a standing scanner (common practice; no source).
const ROOM: Usual = Usual {
    size: (12_000.0, 3.0),
    spacing: (12.0, 3.0),
    rough: (2.5, 3.0),
    // Nothing is scanned all round from nearer.
    least_standpoint_mm: 700.0,
};

/// A unit that the points allow.
#[derive(Clone, Debug, PartialEq)]
pub struct UnitCandidate {
    /// The unit.
    pub unit: LengthUnit,
    /// How likely it is among the five units, 0 to 1. It rests on what is usual, not on a measurement.
    pub chance: f64,
    /// What the scan would be in it: "743 mm across, points 0.6 mm apart, scatter 0.1 mm".
    pub says: String,
}

/// A guess at the unit of a file.
#[derive(Clone, Debug, PartialEq)]
pub struct UnitGuess {
    /// The likeliest unit.
    pub unit: LengthUnit,
    /// Why, in words, with the others that are possible.
    pub reason: String,
    /// What was seen besides sizes: that the points were taken from within, all round. In words.
    pub sight: Option<String>,
    /// Every plausible unit, likeliest first; never empty.
    pub candidates: Vec<UnitCandidate>,
}

/// The likely unit of `points`, from the size of what was scanned, the distance of neighbouring points, their scatter
/// about smooth places, and whether they were seen all round from the origin, as a scanner standing in a room does.
///
/// It is a guess: a length taped on the body settles it. Degenerate: without points, or with points in one place, it is
/// millimetres and the reason says so. Fewer than some hundred points are judged by their size alone.
pub fn guess_unit(points: &RawPoints) -> UnitGuess {
    by_fineness(&Fineness::of(points))
}

fn by_fineness(f: &Fineness) -> UnitGuess {
    if !(f.largest > 0.0 && f.largest.is_finite()) {
        let says = "there is no size to judge by".to_owned();
        return UnitGuess {
            unit: LengthUnit::Millimetre,
            reason: format!("taken as mm: {says}"),
            sight: None,
            candidates: vec![UnitCandidate {
                unit: LengthUnit::Millimetre,
                chance: 1.0,
                says,
            }],
        };
    }
    let weights: Vec<(LengthUnit, f64)> = MET
        .iter()
        .map(|&(unit, met)| (unit, met * likelihood(f, unit.in_mm())))
        .collect();
    let sum: f64 = weights.iter().map(|w| w.1).sum();
    let mut candidates: Vec<UnitCandidate> = weights
        .into_iter()
        .map(|(unit, w)| UnitCandidate {
            unit,
            chance: w / sum,
            says: says(f, unit.in_mm()),
        })
        .collect();
    // A stable sort: of two alike the one that is met more often.
    candidates.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    let best = candidates[0].chance;
    candidates.retain(|c| c.chance >= OFFERED * best);
    let unit = candidates[0].unit;
    let sight = f.standpoint.map(|d| {
        format!(
            "the points lie all round the origin and sparser with distance, as seen by a scanner standing there, \
             three quarters of them within {}",
            length(d * unit.in_mm())
        )
    });
    UnitGuess {
        unit,
        reason: reason(sight.as_deref(), &candidates),
        sight,
        candidates,
    }
}

/// How usual the file is with a unit of `mm`: among scans of body work, or among those of rooms.
fn likelihood(f: &Fineness, mm: f64) -> f64 {
    let body = if f.standpoint.is_some() {
        OTHER_WORK
    } else {
        1.0 - OTHER_WORK
    };
    body * usual(f, mm, &BODY_WORK) + (1.0 - body) * usual(f, mm, &ROOM)
}

fn usual(f: &Fineness, mm: f64, usual: &Usual) -> f64 {
    let off = |value: Option<f64>, (middle, factor): (f64, f64)| {
        value.filter(|v| *v > 0.0).map_or(0.0, |v| {
            let z = (v * mm / middle).ln() / factor.ln();
            // Densities of logarithms, so that a narrow kind of scan counts the more where it fits.
            0.5 * (z * z).min(MOST_AGAINST) + factor.ln().ln()
        })
    };
    // A scatter far below what any scanner leaves is that of a drawn or smoothed mesh and says nothing.
    let rough = f.rough.filter(|r| *r > 1e-6 * f.largest);
    let stands = f
        .standpoint
        .is_none_or(|d| d * mm >= usual.least_standpoint_mm);
    let against = off(Some(f.largest), usual.size)
        + off(f.spacing, usual.spacing)
        + off(rough, usual.rough)
        + if stands { 0.0 } else { 0.5 * MOST_AGAINST };
    (-against).exp()
}

/// What the file is with a unit of `mm`.
fn says(f: &Fineness, mm: f64) -> String {
    let mut out = format!("{} across", length(f.largest * mm));
    if let Some(s) = f.spacing {
        out += &format!(", points {} apart", length(s * mm));
    }
    if let Some(r) = f.rough {
        out += &format!(", scatter {}", length(r * mm));
    }
    out
}

fn reason(sight: Option<&str>, candidates: &[UnitCandidate]) -> String {
    let best = &candidates[0];
    let mut out = format!("as {} it is {}", best.unit.word(), best.says);
    if let Some(sight) = sight {
        out += &format!("; {sight}");
    }
    let others: Vec<String> = candidates[1..]
        .iter()
        .map(|c| format!("{} ({})", c.unit.word(), c.says))
        .collect();
    if !others.is_empty() {
        out += &format!("; also possible: {}", others.join("; "));
    }
    out
}

/// A length with two or three figures and the unit that suits it.
fn length(mm: f64) -> String {
    if mm >= 10_000.0 {
        format!("{:.1} m", mm / 1000.0)
    } else if mm >= 100.0 {
        format!("{mm:.0} mm")
    } else if mm >= 0.1 {
        format!("{mm:.1} mm")
    } else {
        format!("{mm:.3} mm")
    }
}
