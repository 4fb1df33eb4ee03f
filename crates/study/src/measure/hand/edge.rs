//! The opening edge from the points of a network.

use geom::{Point, Unit, Vector};
use nalgebra::DMatrix;
use record::{Code, Finding, HandKind, HandTable, Opening, Severity};

use super::net::Laid;
use super::outline::{Outline, counts, misses, places};
use super::pool::Pooled;
use super::words::list;
use crate::measure::edge_fit::{DoubtTable, FittedEdge};

/// Fewer points do not make an edge.
const FEWEST: usize = 6;
/// With half the distance between points a smooth line is missed by a quarter: what leaving one out shows, over this, is the
/// standard uncertainty half way between two points.
const CLOSER: f64 = 4.0;
/// Heights out of the flat that were not measured: standard uncertainty, mm.
const FLAT_ASSUMED: f64 = 3.0;
/// Points of an edge nearer to each other than this are one, mm.
const APART: f64 = 0.1;
/// Stretches that change with a point.
const REACH: usize = 6;
/// A step for derivatives, mm.
const STEP: f64 = 1e-3;
/// Points that are raised by less than this from the flat say nothing of its side, mm.
const RAISED: f64 = 2.0;

/// An edge longer than this is none that was measured by hand, mm: fitting it costs the cube of its length, and what is so
/// long comes of readings that belong elsewhere.
const LONGEST: f64 = 6000.0;

/// An edge by hand.
pub struct HandEdge {
    /// As any other edge.
    pub fitted: FittedEdge,
    /// Degrees of freedom of its doubt.
    pub nu: f64,
    /// The point that is its top, if one was named.
    pub top: Option<Point>,
    /// The points, settled: of the shapes that the ties allow the one that rows agree with.
    pub laid: Laid,
}

impl HandEdge {
    /// Lays a smooth line through the points of the edge; decides, as far as rows say so, which of a shape and its mirror
    /// image it is.
    pub fn new(
        opening: &Opening,
        table: &HandTable,
        laid: &Laid,
        rows: &Pooled,
        findings: &mut Vec<Finding>,
    ) -> Option<Self> {
        let order = Order::read(opening, laid, rows, findings)?;
        let raised = RaisedPoints::read(opening, table, laid);
        let settled = settled(opening, table, laid, &order, &raised, findings);
        let laid = &settled;
        let mut ids = order.ids.clone();
        let points: Vec<Point> = ids.iter().map(|i| laid.points[*i]).collect();
        let n = points.len();
        let next = |i: usize| points[(i + 1) % n];
        let apart = (0..n).all(|i| (next(i) - points[i]).norm() > APART);
        let out = outward(&points, order.clockwise).filter(|_| apart);
        let Some(out) = out else {
            findings.push(Finding {
                code: Code::HandReadingsDisagree,
                severity: Severity::Stop,
                subject: opening.name.clone(),
                says: "by its readings, points of its edge lie in one place or in one line"
                    .to_owned(),
                advice: "check the order of the edge and the lengths to its points".to_owned(),
                numbers: Vec::new(),
            });
            return None;
        };
        if order.clockwise {
            ids.reverse();
        }
        let along: Vec<Point> = ids.iter().map(|i| laid.points[*i]).collect();
        let length = length_of(&along, order.closed);
        if length > LONGEST {
            findings.push(Finding {
                code: Code::HandReadingsDisagree,
                severity: Severity::Stop,
                subject: opening.name.clone(),
                says: format!(
                    "by its readings its edge is {:.1} m long: some of them must be far off",
                    length / 1000.0
                ),
                advice: "check the lengths to the points of the edge, and their unit; an edge of more than 6 m is measured as \
                         two openings"
                    .to_owned(),
                numbers: Vec::new(),
            });
            return None;
        }
        let top = top_of(opening, table, laid);
        let (fitted, nu) = line(laid, &ids, out, order.closed, table.flat)?;
        Some(Self {
            fitted,
            nu,
            top,
            laid: settled,
        })
    }
}

/// The points of the edge and the way they run.
struct Order {
    ids: Vec<usize>,
    clockwise: bool,
    closed: bool,
}

impl Order {
    fn read(
        opening: &Opening,
        laid: &Laid,
        rows: &Pooled,
        findings: &mut Vec<Finding>,
    ) -> Option<Self> {
        let mut fail = |says: String, advice: &str| {
            findings.push(Finding {
                code: Code::HandRowNotUsed,
                severity: Severity::Doubt,
                subject: opening.name.clone(),
                says: format!("line {}: {says}", rows.lines[0]),
                advice: advice.to_owned(),
                numbers: Vec::new(),
            });
        };
        let missing: Vec<String> = rows
            .from
            .iter()
            .filter(|n| laid.index(n).is_none())
            .cloned()
            .collect();
        if !missing.is_empty() {
            let says = format!(
                "nothing was measured to {} of the edge",
                list(missing.into_iter())
            );
            fail(says, "measure them, or take them out of the row");
            return None;
        }
        let ids: Vec<usize> = rows.from.iter().filter_map(|n| laid.index(n)).collect();
        let mut once = ids.clone();
        once.sort_unstable();
        once.dedup();
        if once.len() < ids.len() || ids.len() < FEWEST {
            fail(
                format!("the edge needs {FEWEST} points or more, each once"),
                "name every point of the edge once, in order; more of them at corners",
            );
            return None;
        }
        let word = rows.station.to_lowercase();
        if !word.contains("clockwise") {
            fail(
                "it is not said which way round the points of the edge run".to_owned(),
                "write \"clockwise\" or \"counter-clockwise\", as seen from outside, into \"station\"",
            );
            return None;
        }
        let clockwise = !(word.contains("counter") || word.contains("anti"));
        Some(Self {
            ids,
            clockwise,
            closed: !word.contains("open"),
        })
    }
}

/// Points known to lie outward or inward of the flat.
struct RaisedPoints(Vec<(usize, f64)>);

impl RaisedPoints {
    fn read(opening: &Opening, table: &HandTable, laid: &Laid) -> Self {
        Self(
            table
                .readings
                .iter()
                .filter(|r| r.kind == HandKind::Raised && r.is_of(opening))
                .filter_map(|r| {
                    let inward = r.station.to_lowercase().contains("in");
                    Some((
                        laid.index(r.from.first()?)?,
                        if inward { -1.0 } else { 1.0 },
                    ))
                })
                .collect(),
        )
    }

    /// How many of them a shape puts on the wrong side.
    fn wrong(&self, points: &[Point], order: &Order) -> usize {
        let edge: Vec<Point> = order.ids.iter().map(|i| points[*i]).collect();
        let Some(out) = outward(&edge, order.clockwise) else {
            return self.0.len();
        };
        let middle = middle_of(&edge);
        self.0
            .iter()
            .filter(|(i, side)| (points[*i] - middle).dot(&out) * side < 0.0)
            .count()
    }
}

/// The one of the shapes that the ties allow which agrees with the points said to be raised. What stays open is said.
fn settled(
    opening: &Opening,
    table: &HandTable,
    laid: &Laid,
    order: &Order,
    raised: &RaisedPoints,
    findings: &mut Vec<Finding>,
) -> Laid {
    let mut shapes = vec![(Vec::new(), laid.moved_to(&laid.points))];
    for (which, places) in &laid.other {
        shapes.push((which.clone(), laid.moved_to(places)));
    }
    let mut all: Vec<(Vec<usize>, Laid)> = shapes
        .into_iter()
        .filter_map(|(w, l)| Some((w, l?)))
        .collect();
    if all.is_empty() {
        all.push((Vec::new(), laid.clone()));
    }
    if !laid.handed {
        let images: Vec<(Vec<usize>, Laid)> = all
            .iter()
            .map(|(w, l)| (w.clone(), l.clone().mirrored()))
            .collect();
        all.extend(images);
    }
    let wrong: Vec<usize> = all
        .iter()
        .map(|(_, l)| raised.wrong(&l.points, order))
        .collect();
    let least = wrong.iter().copied().min().unwrap_or(0);
    let mut good: Vec<(Vec<usize>, Laid)> = all
        .into_iter()
        .zip(wrong)
        .filter(|(_, w)| *w == least)
        .map(|(l, _)| l)
        .collect();
    let names = |w: &[usize]| list(w.iter().map(|i| laid.names[*i].clone()));
    let mut say = |says: String, advice: &str| {
        findings.push(Finding {
            code: Code::HandTwoPlaces,
            severity: Severity::Doubt,
            subject: opening.name.clone(),
            says,
            advice: advice.to_owned(),
            numbers: Vec::new(),
        });
    };
    if least > 0 {
        say(
            format!(
                "{least} of the points said to be raised lie on the other side, whichever way the ties are read"
            ),
            "check the rows of kind \"raised\", and which way round the points of the edge run",
        );
    }
    let open: Vec<&Vec<usize>> = good[1..]
        .iter()
        .map(|g| &g.0)
        .filter(|w| !w.is_empty())
        .collect();
    if let Some(which) = open.first() {
        say(
            format!(
                "its ties leave {} two places: on either side of the points it is tied to",
                names(which)
            ),
            "say which of the points is raised off the plane (a row of kind \"raised\"), or tie it to one that is",
        );
    } else if good.len() > 1 && !table.flat {
        let deep = depth(&good[0].1, order);
        if deep > RAISED {
            say(
                format!(
                    "lengths alone cannot tell whether it bows outward or inward ({deep:.0} mm out of its flat)"
                ),
                "say of one point that it is raised outward or inward (a row of kind \"raised\")",
            );
        }
    }
    good.swap_remove(0).1
}

/// How far points of the edge lie out of its flat, mm.
fn depth(laid: &Laid, order: &Order) -> f64 {
    let edge: Vec<Point> = order.ids.iter().map(|i| laid.points[*i]).collect();
    let Some(out) = outward(&edge, order.clockwise) else {
        return 0.0;
    };
    let middle = middle_of(&edge);
    edge.iter()
        .map(|p| (p - middle).dot(&out).abs())
        .fold(0.0, f64::max)
}

fn middle_of(points: &[Point]) -> Point {
    Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / points.len() as f64)
}

/// Normal of the flat towards the outside.
fn outward(points: &[Point], clockwise: bool) -> Option<Unit> {
    let middle = middle_of(points);
    let area: Vector = (0..points.len())
        .map(|i| {
            let next = points[(i + 1) % points.len()];
            (points[i] - middle).cross(&(next - middle))
        })
        .sum();
    Unit::try_new(if clockwise { -area } else { area }, 1e-9)
}

/// The top: a point, or the middle of two.
fn top_of(opening: &Opening, table: &HandTable, laid: &Laid) -> Option<Point> {
    let row = table
        .readings
        .iter()
        .find(|r| r.kind == HandKind::Top && r.is_of(opening))?;
    let points: Vec<Point> = row
        .from
        .iter()
        .filter_map(|n| laid.index(n))
        .map(|i| laid.points[i])
        .collect();
    (!points.is_empty()).then(|| middle_of(&points))
}

/// How long the smooth line through points is, mm.
fn length_of(points: &[Point], closed: bool) -> f64 {
    let dense = places(points, closed, &counts(points, closed));
    let back = dense.first().zip(dense.last()).filter(|_| closed);
    let back = back.map_or(0.0, |(first, last)| (first - last).norm());
    dense.windows(2).map(|w| (w[1] - w[0]).norm()).sum::<f64>() + back
}

/// The line through the points with its doubt: that of the points, and how it runs between them.
fn line(
    laid: &Laid,
    ids: &[usize],
    out: Unit,
    closed: bool,
    flat: bool,
) -> Option<(FittedEdge, f64)> {
    let points: Vec<Point> = ids.iter().map(|i| laid.points[*i]).collect();
    let n = points.len();
    let count = counts(&points, closed);
    let dense = places(&points, closed, &count);
    let m = dense.len();
    let length = length_of(&points, closed);
    let mut shares = Vec::with_capacity(m);
    let mut along = 0.0;
    for (i, p) in dense.iter().enumerate() {
        if i > 0 {
            along += (p - dense[i - 1]).norm();
        }
        shares.push(along / length);
    }
    let inward: Vec<Unit> = (0..m)
        .map(|i| {
            let (a, b) = if closed {
                (dense[(i + m - 1) % m], dense[(i + 1) % m])
            } else {
                (dense[i.saturating_sub(1)], dense[(i + 1).min(m - 1)])
            };
            Unit::new_normalize(out.cross(&(b - a)))
        })
        .collect();
    let factors = laid.factor.ncols();
    let spans = count.len();
    // Own factors of each stretch, then those of the points, which gap and flush share.
    let flat_own = usize::from(flat);
    let mut gap = DMatrix::zeros(m, spans + factors);
    let mut flush = DMatrix::zeros(m, spans + flat_own + factors);
    let mut add = |place: usize, by: Vector, row: &[f64]| {
        let (x, z) = (by.dot(&inward[place]), by.dot(&out));
        for (k, f) in row.iter().enumerate() {
            gap[(place, spans + k)] += x * f;
            flush[(place, spans + flat_own + k)] += z * f;
        }
    };
    for (j, id) in ids.iter().enumerate() {
        for axis in 0..3 {
            let row: Vec<f64> = laid.factor.row(3 * id + axis).iter().copied().collect();
            if row.iter().all(|v| *v == 0.0) {
                continue;
            }
            let mut moved = points.clone();
            moved[j][axis] += STEP;
            let line = Outline::new(&moved, closed);
            // Only the stretches about a point change with it.
            for k in 0..REACH {
                let Some(span) = (if closed {
                    Some((j + n + k - REACH / 2) % n)
                } else {
                    (j + k).checked_sub(REACH / 2).filter(|s| *s < spans)
                }) else {
                    continue;
                };
                let first: usize = count[..span].iter().sum();
                for i in 0..count[span] {
                    let at = line.at(span, i as f64 / count[span] as f64);
                    add(first + i, (at - dense[first + i]) / STEP, &row);
                }
            }
            if !closed && j == n - 1 {
                let mut e = Vector::zeros();
                e[axis] = 1.0;
                add(m - 1, e, &row);
            }
        }
    }
    let miss = misses(&points, closed);
    for (span, c) in count.iter().enumerate() {
        let first: usize = count[..span].iter().sum();
        let worst = |direction: &dyn Fn(usize) -> Vector| -> f64 {
            [span, (span + 1) % n]
                .iter()
                .filter_map(|p| {
                    let at: usize = if *p < spans {
                        count[..*p].iter().sum()
                    } else {
                        m - 1
                    };
                    miss[*p].map(|v| v.dot(&direction(at)).abs())
                })
                .fold(0.0, f64::max)
                / CLOSER
        };
        let (x, z) = (
            worst(&|i| inward[i].into_inner()),
            worst(&|_| out.into_inner()),
        );
        for i in 0..*c {
            let t = i as f64 / *c as f64;
            let bump = 4.0 * t * (1.0 - t);
            gap[(first + i, span)] = x * bump;
            flush[(first + i, span)] = z * bump;
        }
    }
    if flat {
        flush.column_mut(spans).fill(FLAT_ASSUMED);
    }
    let table = |rows: DMatrix<f64>| DoubtTable {
        shares: shares.clone(),
        rows,
    };
    let tables = [table(gap), table(flush)];
    let fitted = FittedEdge::through_places(&dense, out, closed, tables, factors)?;
    Some((fitted, laid.nu))
}
