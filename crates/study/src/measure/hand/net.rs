//! The network of an opening: its points from all readings together, what contradicts them, and what is too weak.

use geom::{
    Adjusted, Blunder, GlobalTest, NetPoint, Network, NetworkError, Observation, Observed, Point,
};
use nalgebra::{DMatrix, Matrix3};
use record::{Code, Finding, HandKind, HandTable, Number, Opening, Quantity, Severity};

use super::pool::Pooled;
use super::words::{list, of_tie, reading_words, slip};

/// So many wrong readings are named one after the other.
const MOST_NAMED: usize = 4;
/// More points than this are no opening.
const MOST_POINTS: usize = 80;
/// So many readings in doubt are few.
const FEW: usize = 6;
/// A point whose place is known to less than this is not held in practice, mm.
const LOOSE: f64 = 15.0;

/// The adjusted points of an opening.
#[derive(Clone)]
pub struct Laid {
    /// Names of the points.
    pub names: Vec<String>,
    /// Their places, in axes of the network, mm.
    pub points: Vec<Point>,
    /// Factor of their covariance: rows = point x 3 + axis.
    pub factor: DMatrix<f64>,
    /// Degrees of freedom of that.
    pub nu: f64,
    /// Other places the ties allow, all points.
    pub other: Vec<(Vec<usize>, Vec<Point>)>,
    /// Whether the readings tell the shape from its mirror image.
    pub handed: bool,
    net: Network,
}

impl Laid {
    /// The point of a name.
    pub fn index(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|n| n == name)
    }

    /// Covariance of a point, mm2.
    pub fn covariance(&self, i: usize) -> Matrix3<f64> {
        let f = self.factor.rows(3 * i, 3);
        let c = f * f.transpose();
        Matrix3::from_fn(|a, b| c[(a, b)])
    }

    /// The same shape at other places that its ties allow as well; `None` if the ties do not settle there.
    pub fn moved_to(&self, places: &[Point]) -> Option<Self> {
        let a = self.net.adjust_from(places).ok()?;
        Some(Self {
            names: self.names.clone(),
            points: a.points.clone(),
            factor: a.factor(),
            nu: a.nu(),
            other: Vec::new(),
            handed: self.handed,
            net: self.net.clone(),
        })
    }

    /// The mirror image, which lengths alone cannot tell from it.
    #[must_use]
    pub fn mirrored(mut self) -> Self {
        let turn = |points: &mut Vec<Point>| points.iter_mut().for_each(|p| p.x = -p.x);
        turn(&mut self.points);
        self.other.iter_mut().for_each(|o| turn(&mut o.1));
        for i in 0..self.points.len() {
            let mut row = self.factor.row_mut(3 * i);
            row *= -1.0;
        }
        self
    }
}

/// Works out the points of an opening. What is wrong stands in `findings`; `None` where there is no answer.
pub fn lay_out(
    opening: &Opening,
    table: &HandTable,
    readings: &[Pooled],
    findings: &mut Vec<Finding>,
) -> Option<Laid> {
    let ties: Vec<&Pooled> = readings.iter().filter(|r| is_tie(r.kind)).collect();
    if ties.is_empty() {
        return None;
    }
    let mut names: Vec<String> = Vec::new();
    for r in &ties {
        for n in r.from.iter().chain(&r.to) {
            if !names.contains(n) {
                names.push(n.clone());
            }
        }
    }
    if names.len() > MOST_POINTS {
        findings.push(finding(
            Code::HandRowNotUsed,
            Severity::Stop,
            opening,
            format!(
                "its table has {} points, at most {MOST_POINTS} go into one opening",
                names.len()
            ),
            "put each opening into a table of its own, or say in \"opening\" whose rows they are",
        ));
        return None;
    }
    let dimensions = if table.flat { 2 } else { 3 };
    let mut used: Vec<&Pooled> = Vec::new();
    let mut net = Network {
        dimensions,
        points: vec![NetPoint::unknown(); names.len()],
        observations: Vec::new(),
    };
    for r in ties {
        match observed(r, &names, table.flat) {
            Ok(o) => {
                used.push(r);
                net.observations.push(o);
            }
            Err(says) => findings.push(finding(
                Code::HandRowNotUsed,
                Severity::Doubt,
                opening,
                format!("{}: {says}", of_tie(r)),
                "correct the row, or take it out",
            )),
        }
    }
    let mut adjusted = adjusted(opening, &net, &names, findings)?;
    for _ in 0..MOST_NAMED {
        let Blunder::Named {
            observation,
            sureness,
            by,
        } = adjusted.verdict
        else {
            break;
        };
        findings.push(named(
            opening,
            used[observation],
            by,
            sureness,
            &net.observations[observation],
        ));
        used.remove(observation);
        net.observations.remove(observation);
        let flips = std::mem::take(&mut adjusted.flips);
        adjusted = net.adjust_from(&adjusted.points).ok()?;
        adjusted.flips = flips;
    }
    judge(opening, &net, &adjusted, &used, &names, findings);
    let handed = net
        .observations
        .iter()
        .any(|o| matches!(o.what, Observed::FromPlane { .. }))
        || table.flat
            && net
                .observations
                .iter()
                .any(|o| matches!(o.what, Observed::FromLine { .. }));
    Some(Laid {
        factor: adjusted.factor(),
        nu: adjusted.nu(),
        other: adjusted
            .flips
            .iter()
            .map(|f| (f.points.clone(), f.at.clone()))
            .collect(),
        points: adjusted.points,
        names,
        handed,
        net,
    })
}

fn is_tie(kind: HandKind) -> bool {
    use HandKind as K;
    matches!(
        kind,
        K::Length
            | K::Tram
            | K::Level
            | K::Height
            | K::Rise
            | K::FromString
            | K::FromPlane
            | K::CornerAngle
    )
}

fn observed(r: &Pooled, names: &[String], flat: bool) -> Result<Observation, String> {
    let at = |list: &[String], k: usize| -> Result<usize, String> {
        let name = list.get(k).ok_or("a point is missing")?;
        names
            .iter()
            .position(|n| n == name)
            .ok_or_else(|| format!("point {name} is not known"))
    };
    let from = at(&r.from, 0)?;
    let to = |k: usize| at(&r.to, k);
    let out_of_flat = "heights mean nothing in a table that says all points lie in one plane";
    let mut value = r.value;
    let mut sigma = r.sigma();
    let what = match r.kind {
        HandKind::Tram => Observed::Bar {
            from,
            to: to(0)?,
            drop: r.drop,
        },
        HandKind::Level if !flat => Observed::Plan { from, to: to(0)? },
        HandKind::Height if !flat => Observed::Coordinate {
            point: from,
            axis: 2,
        },
        HandKind::Rise if !flat => Observed::Step {
            from,
            to: to(0)?,
            axis: 2,
        },
        HandKind::FromPlane if !flat => Observed::FromPlane {
            point: from,
            a: to(0)?,
            b: to(1)?,
            c: to(2)?,
        },
        HandKind::FromString => {
            if !flat {
                value = value.abs();
            }
            Observed::FromLine {
                point: from,
                from: to(0)?,
                to: to(1)?,
            }
        }
        HandKind::CornerAngle => {
            value = value.to_radians();
            sigma = sigma.to_radians();
            Observed::Angle {
                at: from,
                from: to(0)?,
                to: to(1)?,
            }
        }
        HandKind::Length => Observed::Distance { from, to: to(0)? },
        _ => return Err(out_of_flat.to_owned()),
    };
    let mut points = what.points();
    points.sort_unstable();
    if points.windows(2).any(|w| w[0] == w[1]) {
        return Err("it names one point twice".to_owned());
    }
    let lengths = matches!(
        what,
        Observed::Distance { .. } | Observed::Bar { .. } | Observed::Plan { .. }
    );
    if lengths && value <= 0.0 {
        return Err(
            "a length of 0 or less is no reading; leave it blank if it was not measured".to_owned(),
        );
    }
    if matches!(what, Observed::Angle { .. }) && !(0.0..=std::f64::consts::PI).contains(&value) {
        return Err("an angle between two legs lies from 0 to 180 degrees".to_owned());
    }
    Ok(Observation { what, value, sigma })
}

fn finding(
    code: Code,
    severity: Severity,
    opening: &Opening,
    says: String,
    advice: impl Into<String>,
) -> Finding {
    Finding {
        code,
        severity,
        subject: opening.name.clone(),
        says,
        advice: advice.into(),
        numbers: Vec::new(),
    }
}

fn adjusted(
    opening: &Opening,
    net: &Network,
    names: &[String],
    findings: &mut Vec<Finding>,
) -> Option<Adjusted> {
    let of = |points: &[usize]| list(points.iter().map(|p| names[*p].clone()));
    match net.adjust() {
        Ok(a) => Some(a),
        Err(error) => {
            let (code, says, advice) = match &error {
                NetworkError::Loose(p) | NetworkError::NoStart(p) => (
                    Code::HandTooFewTies,
                    if p.len() == 1 {
                        format!("{} is not held by its ties: it could lie elsewhere", of(p))
                    } else {
                        format!(
                            "{} are not held by their ties: they could lie elsewhere",
                            of(p)
                        )
                    },
                    if net.dimensions == 3 {
                        "tie it to four points at least that do not lie in one plane; six ties, three of them to points raised \
                         off the plane, let a wrong reading be found. If all lies in one plane, say so: flat"
                    } else {
                        "tie it to three points at least"
                    },
                ),
                NetworkError::NoConvergence => (
                    Code::HandReadingsDisagree,
                    "no shape comes near all of its readings: one of them must be grossly wrong"
                        .to_owned(),
                    "look for swapped points and misread lengths, and measure the longest lengths once more",
                ),
                NetworkError::BadObservation(_) | NetworkError::BadPoint(_) => {
                    (Code::HandRowNotUsed, format!("{error}"), "correct the row")
                }
            };
            findings.push(finding(code, Severity::Stop, opening, says, advice));
            None
        }
    }
}

/// A reading that contradicts all others.
fn named(opening: &Opening, tie: &Pooled, by: f64, sureness: f64, o: &Observation) -> Finding {
    let angle = matches!(o.what, Observed::Angle { .. });
    let (amount, unit, quantity) = if angle {
        (by.to_degrees(), "deg", Quantity::Angle)
    } else {
        (by, "mm", Quantity::Length)
    };
    let way = if by > 0.0 { "more" } else { "less" };
    let like = if angle {
        None
    } else {
        slip(by.abs(), 3.0 * o.sigma)
    };
    let number = |name: &str, value: f64, quantity: Option<Quantity>| Number {
        name: name.to_owned(),
        value,
        quantity,
    };
    Finding {
        code: Code::HandReadingWrong,
        severity: Severity::Doubt,
        subject: opening.name.clone(),
        says: format!(
            "{} is {:.1} {unit} {way} than all other readings say{}; it was set aside",
            reading_words(tie),
            amount.abs(),
            like.map_or_else(String::new, |l| format!(", about {l}")),
        ),
        advice: "measure it once more and write the new reading in its place".to_owned(),
        numbers: vec![
            number("too long by", amount, Some(quantity)),
            number("sureness", sureness, None),
            number("line", f64::from(tie.lines[0]), None),
        ],
    }
}

/// Says what the adjusted readings leave in doubt.
fn judge(
    opening: &Opening,
    net: &Network,
    a: &Adjusted,
    used: &[&Pooled],
    names: &[String],
    findings: &mut Vec<Finding>,
) {
    match &a.verdict {
        Blunder::Among { observations, tie } => {
            // One of a hundred good readings stands out so far by chance: where all together agree and no few stand out,
            // it is not worth a doubt.
            let severity = if a.global == GlobalTest::WorseThanSaid || observations.len() <= FEW {
                Severity::Doubt
            } else {
                Severity::Note
            };
            let which = list(observations.iter().take(6).map(|i| reading_words(used[*i])));
            let more = observations.len().saturating_sub(6);
            let advice = match tie {
                _ if observations.len() == 1 => {
                    "measure it once more and write the reading into its next box".to_owned()
                }
                Some(t) => format!(
                    "measure {} to {} as well: it tells them apart best; then each of these once more",
                    names[t.from], names[t.to]
                ),
                None => "every length there is was read: measure each of these once more".to_owned(),
            };
            let tail = if more > 0 {
                format!(", or {more} others")
            } else {
                String::new()
            };
            let says = if observations.len() == 1 {
                format!("{which} stands out from all other readings, not far enough to be set aside for sure")
            } else {
                format!(
                    "its readings contradict each other more than they may; which is wrong cannot be told: {which}{tail}"
                )
            };
            let mut f = finding(Code::HandReadingsDisagree, severity, opening, says, advice);
            f.numbers.push(Number {
                name: "scatter over what was said".to_owned(),
                value: a.sigma0,
                quantity: None,
            });
            findings.push(f);
        }
        Blunder::NoCheck => findings.push(finding(
            Code::HandTooFewTies,
            Severity::Doubt,
            opening,
            "there are just as many readings as are needed: nothing checks them, and a wrong one would not be seen".to_owned(),
            "add ties: six to every point, three of them to points raised off the plane, let a wrong reading be found and named",
        )),
        Blunder::None | Blunder::Named { .. } => {}
    }
    let weak = a.weak_ties();
    let unchecked: Vec<String> = weak
        .iter()
        .filter(|w| w.redundancy < 0.1)
        .map(|w| reading_words(used[w.observation]))
        .collect();
    if a.dof > 0 && 4 * unchecked.len() > net.observations.len() {
        let worst = a
            .minimal
            .iter()
            .copied()
            .filter(|m| m.is_finite())
            .fold(0.0, f64::max);
        let mut f = finding(
            Code::HandTooFewTies,
            Severity::Note,
            opening,
            format!(
                "{} of {} readings are hardly checked by the others, such as {}",
                unchecked.len(),
                net.observations.len(),
                unchecked[0]
            ),
            "add ties across, and to points raised off the plane",
        );
        f.numbers.push(Number {
            name: "largest wrong reading that would go unseen".to_owned(),
            value: worst,
            quantity: Some(Quantity::Length),
        });
        findings.push(f);
    }
    let vague: Vec<usize> = (0..names.len())
        .filter(|i| a.covariance(*i).trace().sqrt() > LOOSE)
        .collect();
    if !vague.is_empty() {
        findings.push(finding(
            Code::HandTooFewTies,
            Severity::Doubt,
            opening,
            format!(
                "{} is hardly held by its ties: all of them run nearly in one plane",
                list(vague.iter().map(|p| names[*p].clone()))
            ),
            "tie it to points raised off the plane, or give its height",
        ));
    }
}
