//! Rough places of points from their ties alone.
//!
//! Incremental trilateration: a pair (a triangle in space) is laid down, then the point with most ties to what is laid
//! down is placed wherever its ties allow. Where they allow two places both are followed; of all that is followed the best
//! few are kept. Several pairs or triangles are tried.

use nalgebra::{DMatrix, Matrix3};

use super::model::{Network, NetworkError, Observation, Observed};
use super::observe::predict;
use crate::{Point, Rigid, Unit, Vector};

/// How many layouts are followed, and how many are handed on.
const FOLLOWED: usize = 16;
const HANDED_ON: usize = 8;
/// How many pairs or triangles are begun with.
const BEGINNINGS: usize = 4;
/// Places of a point that are followed from one layout.
const PLACES: usize = 3;
/// A squared misfit counts at most this much: one wrong reading must not decide.
const MOST: f64 = 100.0;
/// Squared misfit per tie below which a point is where it belongs; share of the cost that a better place may have.
const AGREES: f64 = 4.0;
const MUCH_BETTER: f64 = 0.5;
/// Rounds of the search for the place of one point.
const ROUNDS: usize = 40;

#[derive(Clone)]
struct Layout {
    at: Vec<Option<Point>>,
    cost: f64,
    /// Whether it lies in the axes of the network already.
    oriented: bool,
}

/// Places of all points to begin with, likeliest first.
pub fn starts(net: &Network) -> Result<Vec<Vec<Point>>, NetworkError> {
    let given = given(net);
    if let Some(all) = given.iter().copied().collect::<Option<Vec<Point>>>() {
        return Ok(vec![all]);
    }
    if net.dimensions == 1 {
        // Levelled nets are linear: anywhere will do.
        let n = 0..given.len();
        return Ok(vec![
            n.map(|i| given[i].unwrap_or(Point::new(i as f64, 0.0, 0.0)))
                .collect(),
        ]);
    }
    let mut layouts = beginnings(net, &given);
    let mut done: Vec<Layout> = Vec::new();
    let mut stuck: Option<Vec<usize>> = None;
    while let Some(first) = layouts.first() {
        let missing: Vec<usize> = (0..first.at.len())
            .filter(|i| first.at[*i].is_none())
            .collect();
        if missing.is_empty() {
            done.append(&mut layouts);
            break;
        }
        let Some(next) = next_point(net, first, &missing) else {
            if !first.oriented && net.observations.iter().any(|o| needs_axes(&o.what)) {
                layouts = layouts.iter().flat_map(|l| oriented(net, l)).collect();
                continue;
            }
            stuck = Some(missing);
            break;
        };
        let mut grown: Vec<Layout> = layouts.iter().flat_map(|l| placed(net, l, next)).collect();
        if grown.is_empty() {
            stuck = Some(missing);
            break;
        }
        best_of(&mut grown, FOLLOWED);
        layouts = grown;
    }
    if done.is_empty() {
        return Err(NetworkError::NoStart(
            stuck.unwrap_or_else(|| (0..net.points.len()).collect()),
        ));
    }
    let mut done: Vec<Layout> = done
        .iter()
        .flat_map(|l| {
            if l.oriented {
                vec![l.clone()]
            } else {
                oriented(net, l)
            }
        })
        .collect();
    best_of(&mut done, HANDED_ON);
    let whole = |l: &Layout| l.at.iter().copied().collect::<Option<Vec<Point>>>();
    Ok(done.iter().filter_map(whole).collect())
}

fn best_of(layouts: &mut Vec<Layout>, most: usize) {
    layouts.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    layouts.truncate(most);
}

/// Starts as said, and places of which every coordinate was observed.
fn given(net: &Network) -> Vec<Option<Point>> {
    let mut at: Vec<Option<Point>> = net.points.iter().map(|p| p.start).collect();
    for (i, a) in at.iter_mut().enumerate().filter(|(_, a)| a.is_none()) {
        let coordinate = |axis: usize| {
            net.observations.iter().find_map(|o| match o.what {
                Observed::Coordinate { point, axis: x } if (point, x) == (i, axis) => Some(o.value),
                _ => None,
            })
        };
        let mut p = Point::origin();
        let all = (0..net.dimensions).all(|axis| {
            coordinate(axis).is_some_and(|v| {
                p[axis] = v;
                true
            })
        });
        *a = all.then_some(p);
    }
    at
}

/// Whether an observation means something only in the axes of the network.
fn needs_axes(what: &Observed) -> bool {
    matches!(
        what,
        Observed::Coordinate { .. } | Observed::Step { .. } | Observed::Plan { .. }
    )
}

fn distance(net: &Network, a: usize, b: usize) -> Option<f64> {
    net.observations.iter().find_map(|o| match o.what {
        Observed::Distance { from, to } if (from, to) == (a, b) || (to, from) == (a, b) => {
            Some(o.value)
        }
        Observed::Bar { from, to, drop } if (from, to) == (a, b) || (to, from) == (a, b) => {
            Some(o.value.hypot(drop))
        }
        _ => None,
    })
}

/// Layouts with the first points laid down.
fn beginnings(net: &Network, given: &[Option<Point>]) -> Vec<Layout> {
    let n = given.len();
    let known = given.iter().flatten().count();
    if known >= net.dimensions.min(3) {
        return vec![Layout {
            at: given.to_vec(),
            cost: 0.0,
            oriented: true,
        }];
    }
    let mut table = DMatrix::zeros(n, n);
    for a in 0..n {
        for b in 0..a {
            if let Some(d) = distance(net, a, b) {
                table[(a, b)] = d;
                table[(b, a)] = d;
            }
        }
    }
    let ties = |i: usize| table.row(i).iter().filter(|d| **d > 0.0).count() as f64;
    let mut found: Vec<(Vec<usize>, f64)> = Vec::new();
    for a in 0..n {
        for b in a + 1..n {
            if table[(a, b)] == 0.0 {
                continue;
            }
            if net.dimensions == 2 {
                found.push((vec![a, b], table[(a, b)] * ties(a).min(ties(b))));
                continue;
            }
            for c in b + 1..n {
                if table[(a, c)] == 0.0 || table[(b, c)] == 0.0 {
                    continue;
                }
                let (_, y) = corner(table[(a, b)], table[(a, c)], table[(b, c)]);
                if y > 0.0 {
                    let most = ties(a).min(ties(b)).min(ties(c));
                    found.push((vec![a, b, c], table[(a, b)] * y * most));
                }
            }
        }
    }
    found.sort_by(|p, q| q.1.total_cmp(&p.1).then(p.0.cmp(&q.0)));
    let mut chosen: Vec<Vec<usize>> = Vec::new();
    for (points, _) in found {
        let alike = |c: &Vec<usize>| points.iter().filter(|p| c.contains(p)).count() > 1;
        if !chosen.iter().any(alike) {
            chosen.push(points);
        }
        if chosen.len() == BEGINNINGS {
            break;
        }
    }
    // Each beginning is a search of its own: they place their points in different orders.
    let mut layouts = Vec::new();
    for points in chosen {
        let mut at = vec![None; n];
        let ab = table[(points[0], points[1])];
        at[points[0]] = Some(Point::origin());
        at[points[1]] = Some(Point::new(ab, 0.0, 0.0));
        if let Some(c) = points.get(2) {
            let (x, y) = corner(ab, table[(points[0], *c)], table[(points[1], *c)]);
            at[*c] = Some(Point::new(x, y, 0.0));
        }
        layouts.push(Layout {
            at,
            cost: 0.0,
            oriented: false,
        });
    }
    grown_apart(net, layouts)
}

/// Every beginning followed on its own as far as it goes without axes; those that got farthest, best first.
fn grown_apart(net: &Network, beginnings: Vec<Layout>) -> Vec<Layout> {
    let mut all: Vec<Layout> = Vec::new();
    for b in beginnings {
        let mut layouts = vec![b];
        loop {
            let missing: Vec<usize> = (0..layouts[0].at.len())
                .filter(|i| layouts[0].at[*i].is_none())
                .collect();
            let Some(next) = next_point(net, &layouts[0], &missing) else {
                break;
            };
            let mut grown: Vec<Layout> =
                layouts.iter().flat_map(|l| placed(net, l, next)).collect();
            if grown.is_empty() {
                break;
            }
            best_of(&mut grown, FOLLOWED);
            layouts = grown;
        }
        all.append(&mut layouts);
    }
    let placed = |l: &Layout| l.at.iter().flatten().count();
    let most = all.iter().map(placed).max().unwrap_or(0);
    all.retain(|l| placed(l) == most);
    let mut first = all.clone();
    best_of(&mut first, FOLLOWED);
    // All must lack the same points to go on together.
    let lacks = |l: &Layout| l.at.iter().map(Option::is_none).collect::<Vec<_>>();
    if let Some(f) = first.first().map(lacks) {
        first.retain(|l| lacks(l) == f);
    }
    first
}

/// Third corner of a triangle whose first side lies along X: the sides `ac` and `bc` meet there.
fn corner(ab: f64, ac: f64, bc: f64) -> (f64, f64) {
    let x = (ab * ab + ac * ac - bc * bc) / (2.0 * ab);
    (x, (ac * ac - x * x).max(0.0).sqrt())
}

/// Observations of a point to points that are laid down.
fn ties<'a>(
    net: &'a Network,
    layout: &'a Layout,
    point: usize,
) -> impl Iterator<Item = &'a Observation> {
    net.observations.iter().filter(move |o| {
        let points = o.what.points();
        points.contains(&point)
            && (layout.oriented || !needs_axes(&o.what))
            && points
                .iter()
                .all(|p| *p == point || layout.at[*p].is_some())
    })
}

/// The point with most ties to what is laid down, if one has enough.
fn next_point(net: &Network, layout: &Layout, missing: &[usize]) -> Option<usize> {
    missing
        .iter()
        .map(|i| (*i, ties(net, layout, *i).count()))
        .filter(|(_, n)| *n >= net.dimensions)
        .max_by(|a, b| a.1.cmp(&b.1).then(b.0.cmp(&a.0)))
        .map(|b| b.0)
}

/// A layout with one more point, once for every place its ties allow.
fn placed(net: &Network, layout: &Layout, point: usize) -> Vec<Layout> {
    let own: Vec<Observation> = ties(net, layout, point).copied().collect();
    let mut at: Vec<Point> = layout
        .at
        .iter()
        .map(|p| p.unwrap_or(Point::origin()))
        .collect();
    places(net, &own, &mut at, point)
        .into_iter()
        .take(PLACES)
        .map(|(p, cost)| {
            let mut next = layout.clone();
            next.at[point] = Some(p);
            next.cost += cost;
            next
        })
        .collect()
}

/// All points with those moved that agree much better with their ties elsewhere, each with all others at rest; `None` if
/// there is none.
pub fn replaced(net: &Network, at: &[Point]) -> Option<Vec<Point>> {
    let mut at = at.to_vec();
    let mut any = false;
    for point in (0..at.len()).filter(|i| !net.points[*i].fixed) {
        let own: Vec<Observation> = net
            .observations
            .iter()
            .filter(|o| o.what.points().contains(&point))
            .copied()
            .collect();
        let cost = |at: &[Point]| -> f64 {
            own.iter()
                .map(|o| {
                    let value = predict(&o.what, at, net.dimensions).0;
                    ((value - o.value) / o.sigma).powi(2).min(MOST)
                })
                .sum()
        };
        let (before, was) = (cost(&at), at[point]);
        // A point whose ties agree is left alone.
        if before < AGREES * own.len() as f64 {
            continue;
        }
        let best = places(net, &own, &mut at, point).into_iter().next();
        at[point] = was;
        if let Some((p, c)) = best
            && c < MUCH_BETTER * before
        {
            at[point] = p;
            any = true;
        }
    }
    any.then_some(at)
}

/// Every place at which a point agrees with its ties better than all around, best first, with the cost there.
fn places(net: &Network, own: &[Observation], at: &mut [Point], point: usize) -> Vec<(Point, f64)> {
    let neighbours: Vec<Point> = own
        .iter()
        .flat_map(|o| o.what.points())
        .filter(|p| *p != point)
        .map(|p| at[p])
        .collect();
    let n = neighbours.len().max(1) as f64;
    let middle = Point::from(neighbours.iter().map(|p| p.coords).sum::<Vector>() / n);
    let mut reach: Vec<f64> = own
        .iter()
        .filter(|o| matches!(o.what, Observed::Distance { .. } | Observed::Bar { .. }))
        .map(|o| o.value)
        .collect();
    reach.sort_by(f64::total_cmp);
    let reach = reach.get(reach.len() / 2).copied().unwrap_or_else(|| {
        let far = neighbours.iter().map(|p| (p - middle).norm());
        far.fold(1.0, f64::max)
    });
    let mut found: Vec<(Point, f64)> = Vec::new();
    let begin = by_distances(net, own, at, point).unwrap_or_else(|| {
        directions(net.dimensions)
            .into_iter()
            .map(|d| middle + d * reach)
            .collect()
    });
    for start in begin {
        at[point] = start;
        let cost = settle_one(net, own, at, point);
        let p = at[point];
        if cost.is_finite() && !found.iter().any(|(q, _)| (p - q).norm() < 1e-3 * reach) {
            found.push((p, cost));
        }
    }
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    found
}

/// Where a point may be by distances to points that are not all on one line (in one, in two dimensions): the differences of
/// their squares are linear; across what the others span, on either side. `None` where it has other ties, or too few.
fn by_distances(
    net: &Network,
    own: &[Observation],
    at: &[Point],
    point: usize,
) -> Option<Vec<Point>> {
    let d = net.dimensions;
    let mut near: Vec<(Point, f64)> = Vec::new();
    for o in own {
        let (from, to, length) = match o.what {
            Observed::Distance { from, to } => (from, to, o.value),
            Observed::Bar { from, to, drop } => (from, to, o.value.hypot(drop)),
            _ => return None,
        };
        near.push((at[if from == point { to } else { from }], length));
    }
    if near.len() < d {
        return None;
    }
    let n = near.len() as f64;
    let middle = Point::from(near.iter().map(|p| p.0.coords).sum::<Vector>() / n);
    let squares = near
        .iter()
        .map(|(p, l)| (p - middle).norm_squared() - l * l)
        .sum::<f64>()
        / n;
    let (mut m, mut v) = (Matrix3::zeros(), Vector::zeros());
    for (p, l) in &near {
        let a = p - middle;
        m += a * a.transpose();
        v += a * (0.5 * (a.norm_squared() - l * l - squares));
    }
    let eigen = m.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|a, b| eigen.eigenvalues[*b].total_cmp(&eigen.eigenvalues[*a]));
    // What is known along the directions in which the others lie apart.
    let part = |k: usize| {
        let e: Vector = eigen.eigenvectors.column(order[k]).into_owned();
        e * (e.dot(&v) / eigen.eigenvalues[order[k]].max(1e-300))
    };
    let spread = |k: usize| eigen.eigenvalues[order[k]];
    if spread(d - 2) < 1e-8 * spread(0) {
        return None;
    }
    let within: Vector = (0..d - 1).map(part).sum();
    let across: Vector = eigen.eigenvectors.column(order[d - 1]).into_owned();
    let height2 = near
        .iter()
        .map(|(p, l)| l * l - (middle + within - p).norm_squared())
        .sum::<f64>()
        / n;
    let height = height2.max(0.0).sqrt().max(1e-3 * near[0].1);
    let foot = middle + within;
    let mut all = vec![foot + across * height, foot - across * height];
    if spread(d - 1) > 1e-6 * spread(0) {
        all.push(foot + part(d - 1));
    }
    Some(all)
}

fn directions(dimensions: usize) -> Vec<Vector> {
    if dimensions == 2 {
        return (0..8)
            .map(|k| {
                let a = std::f64::consts::FRAC_PI_4 * (f64::from(k) + 0.3);
                Vector::new(a.cos(), a.sin(), 0.0)
            })
            .collect();
    }
    let mut all = Vec::new();
    for x in -1..=1 {
        for y in -1..=1 {
            for z in -1..=1 {
                let v = Vector::new(f64::from(x), f64::from(y), f64::from(z));
                if x != 0 && (y == 0) == (z == 0) || x == 0 && (y == 0) != (z == 0) {
                    // A little askew, so that no direction lies in the plane of axes that are.
                    all.push((v + Vector::new(0.11, 0.07, 0.05)).normalize());
                }
            }
        }
    }
    all
}

/// Moves one point to where its ties agree best nearby; the cost there, capped per tie.
fn settle_one(net: &Network, own: &[Observation], at: &mut [Point], point: usize) -> f64 {
    let d = net.dimensions;
    let equations = |at: &[Point]| -> (Matrix3<f64>, Vector, f64) {
        let (mut m, mut v, mut sum) = (Matrix3::zeros(), Vector::zeros(), 0.0);
        for o in own {
            let (value, by) = predict(&o.what, at, d);
            let r = (value - o.value) / o.sigma;
            let mut a = Vector::zeros();
            for (i, g) in by {
                if i == point {
                    a += g / o.sigma;
                }
            }
            m += a * a.transpose();
            v += a * r;
            sum += r * r;
        }
        (m, v, sum)
    };
    let mut damping = 1e-3;
    let (mut m, mut v, mut sum) = equations(at);
    for _ in 0..ROUNDS {
        let scale = m.trace().max(1e-300) / d as f64;
        let damped = m + Matrix3::identity() * (damping * scale);
        let Some(inverse) = damped.try_inverse() else {
            break;
        };
        let mut step = -(inverse * v);
        for axis in d..3 {
            step[axis] = 0.0;
        }
        let before = at[point];
        at[point] += step;
        let (m2, v2, s2) = equations(at);
        if s2 <= sum {
            (m, v, sum) = (m2, v2, s2);
            damping = (damping * 0.1).max(1e-12);
            if step.norm() < 1e-9 * (1.0 + before.coords.norm()) {
                break;
            }
        } else {
            at[point] = before;
            damping *= 10.0;
            if damping > 1e9 {
                break;
            }
        }
    }
    own.iter()
        .map(|o| {
            ((predict(&o.what, at, d).0 - o.value) / o.sigma)
                .powi(2)
                .min(MOST)
        })
        .sum()
}

/// A layout turned into the axes of the network: onto the starts that were said, and by the heights along the last axis.
/// Where heights leave two ways, both.
fn oriented(net: &Network, layout: &Layout) -> Vec<Layout> {
    let mut ways = vec![layout.at.clone()];
    let given = given(net);
    if given.iter().flatten().count() > 0 {
        ways = ways
            .iter()
            .flat_map(|at| onto_given(at, &given, net.dimensions))
            .collect();
    } else if net.observations.iter().any(|o| needs_axes(&o.what)) {
        ways = ways.iter().flat_map(|at| by_heights(net, at)).collect();
    }
    ways.into_iter()
        .map(|at| {
            let all: Vec<Point> = at.iter().map(|p| p.unwrap_or(Point::origin())).collect();
            let cost = net
                .observations
                .iter()
                .filter(|o| o.what.points().iter().all(|p| at[*p].is_some()))
                .map(|o| {
                    let value = predict(&o.what, &all, net.dimensions).0;
                    ((value - o.value) / o.sigma).powi(2).min(MOST)
                })
                .sum();
            Layout {
                at,
                cost,
                oriented: true,
            }
        })
        .collect()
}

/// Laid on the given places as they are, and mirrored.
fn onto_given(
    at: &[Option<Point>],
    given: &[Option<Point>],
    dimensions: usize,
) -> Vec<Vec<Option<Point>>> {
    let pairs: Vec<(Point, Point)> = at
        .iter()
        .zip(given)
        .filter_map(|(a, g)| Some(((*a)?, (*g)?)))
        .collect();
    [1.0, -1.0]
        .into_iter()
        .map(|hand| {
            let turned = |p: &Point| {
                let mut q = *p;
                q[dimensions - 1] *= hand;
                q
            };
            let from: Vec<Point> = pairs.iter().map(|p| turned(&p.0)).collect();
            let to: Vec<Point> = pairs.iter().map(|p| p.1).collect();
            let map = rigid_onto(&from, &to);
            let mut all: Vec<Option<Point>> = at
                .iter()
                .map(|p| p.as_ref().map(|p| map * turned(p)))
                .collect();
            for (a, g) in all.iter_mut().zip(given) {
                if g.is_some() {
                    *a = *g;
                }
            }
            all
        })
        .collect()
}

/// The proper rigid map that lays points best on others; any of them if there are several. Two-dimensional points stay
/// in their plane.
pub fn rigid_onto(from: &[Point], to: &[Point]) -> Rigid {
    let n = from.len().max(1) as f64;
    let middle = |p: &[Point]| p.iter().map(|p| p.coords).sum::<Vector>() / n;
    let (cf, ct) = (middle(from), middle(to));
    let mut m = Matrix3::zeros();
    for (f, t) in from.iter().zip(to) {
        m += (t.coords - ct) * (f.coords - cf).transpose();
    }
    let flat = from.iter().chain(to).all(|p| p.z == 0.0);
    let rotation = if flat {
        let angle = (m[(1, 0)] - m[(0, 1)]).atan2(m[(0, 0)] + m[(1, 1)]);
        nalgebra::Rotation3::from_axis_angle(&Vector::z_axis(), angle)
    } else {
        let svd = m.svd(true, true);
        let (Some(u), Some(vt)) = (svd.u, svd.v_t) else {
            return Rigid::identity();
        };
        let mut s = Matrix3::identity();
        let least = svd.singular_values.imin();
        s[(least, least)] = (u * vt).determinant().signum();
        nalgebra::Rotation3::from_matrix_unchecked(u * s * vt)
    };
    let rotation = nalgebra::UnitQuaternion::from_rotation_matrix(&rotation);
    Rigid::from_parts((ct - rotation * cf).into(), rotation)
}

/// Turned so that the last coordinate agrees with what was observed of it.
fn by_heights(net: &Network, at: &[Option<Point>]) -> Vec<Vec<Option<Point>>> {
    let last = net.dimensions - 1;
    let mut rows: Vec<([f64; 4], f64)> = Vec::new();
    for o in &net.observations {
        match o.what {
            Observed::Coordinate { point, axis } if axis == last => {
                if let Some(p) = at[point] {
                    rows.push(([p.x, p.y, p.z, 1.0], o.value));
                }
            }
            Observed::Step { from, to, axis } if axis == last => {
                if let (Some(p), Some(q)) = (at[from], at[to]) {
                    let d = q - p;
                    rows.push(([d.x, d.y, d.z, 0.0], o.value));
                }
            }
            _ => {}
        }
    }
    if rows.is_empty() {
        return vec![at.to_vec()];
    }
    let a = DMatrix::from_fn(rows.len(), 4, |i, k| rows[i].0[k]);
    let b = nalgebra::DVector::from_fn(rows.len(), |i, _| rows[i].1);
    let svd = a.svd(true, true);
    let largest = svd.singular_values.iter().copied().fold(0.0, f64::max);
    let Ok(x) = svd.solve(&b, 1e-3 * largest) else {
        return vec![at.to_vec()];
    };
    let in_them = Vector::new(x[0], x[1], x[2]);
    let short = (1.0 - in_them.norm_squared()).max(0.0).sqrt();
    // Points in one plane say nothing of the part of the direction across it: both ways.
    let across = thinnest(at);
    let ways: Vec<Vector> = if short > 0.05 {
        vec![in_them + across * short, in_them - across * short]
    } else {
        vec![in_them]
    };
    ways.into_iter()
        .filter_map(|up| {
            let up = Unit::try_new(up, 1e-9)?;
            let mut e = Vector::zeros();
            e[last] = 1.0;
            let turn = nalgebra::UnitQuaternion::rotation_between(&up, &e).unwrap_or_else(|| {
                nalgebra::UnitQuaternion::from_axis_angle(&Vector::x_axis(), std::f64::consts::PI)
            });
            Some(
                at.iter()
                    .map(|p| p.map(|p| turn * p + e * x[3]))
                    .collect::<Vec<_>>(),
            )
        })
        .collect()
}

/// The direction across which points extend least.
fn thinnest(at: &[Option<Point>]) -> Vector {
    let points: Vec<Point> = at.iter().flatten().copied().collect();
    let n = points.len().max(1) as f64;
    let middle = Point::from(points.iter().map(|p| p.coords).sum::<Vector>() / n);
    let mut m = Matrix3::zeros();
    for p in &points {
        m += (p - middle) * (p - middle).transpose();
    }
    let eigen = m.symmetric_eigen();
    eigen
        .eigenvectors
        .column(eigen.eigenvalues.imin())
        .into_owned()
}
