//! Where a triangle mesh ends.
//!
//! A boundary edge belongs to one triangle only. Boundary edges are chained so that the metal lies on the left seen
//! from the facing side. Where loops touch in one vertex (a pinch vertex) the chain goes on along the same void, and
//! what still passes a vertex twice is taken apart there: every loop is simple. Taking any outgoing edge would join
//! loops that are apart.

use rayon::prelude::*;

use crate::GoOn;

/// Triangles handled between two questions whether to go on.
const CHUNK: usize = 1 << 16;
/// Marks a half-edge that runs from the higher to the lower vertex.
const DOWN: u32 = 1 << 31;

/// A chain of boundary edges.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Boundary {
    /// Vertices in order; metal on the left seen from the facing side. A closed one starts at its lowest vertex.
    pub vertices: Vec<u32>,
    /// Whether the last is joined to the first. Open chains happen only where the winding of triangles disagrees.
    pub closed: bool,
}

/// Boundaries of a mesh and what is wrong with it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Boundaries {
    /// Chains, ordered by first vertex.
    pub chains: Vec<Boundary>,
    /// Edges shared by more than two triangles. They are no boundary.
    pub many_triangles: usize,
    /// Edges whose two triangles disagree on which side is the front. They are no boundary.
    pub unlike_winding: usize,
    /// Vertices in which boundaries touch.
    pub pinches: usize,
}

/// Boundaries of `triangles` over vertices `0..vertex_count` (below 2^31). Triangles with a vertex twice are passed
/// over. Vertices are told apart by index: weld first. `None` if `go_on` said no. Cost: linear; 28 bytes a vertex
/// for a closed mesh while it runs.
pub fn boundaries(triangles: &[[u32; 3]], vertex_count: usize, go_on: GoOn) -> Option<Boundaries> {
    let (mut out, mut edges) = boundary_edges(triangles, vertex_count, go_on)?;
    edges.sort_unstable();
    let turns = pinch_turns(triangles, &edges, &mut out.pinches);
    out.chains = chain(&edges, &turns)
        .iter()
        .flat_map(simple_parts)
        .collect();
    out.chains.sort_by(|a, b| a.vertices.cmp(&b.vertices));
    Some(out)
}

/// A triangle has two equal corners.
fn degenerate(t: &[u32; 3]) -> bool {
    t[0] == t[1] || t[1] == t[2] || t[2] == t[0]
}

/// Directed edges of one triangle only.
fn boundary_edges(
    triangles: &[[u32; 3]],
    vertex_count: usize,
    go_on: GoOn,
) -> Option<(Boundaries, Vec<(u32, u32)>)> {
    // Half-edges by their lower vertex, as one array with starts: the other end and the direction.
    let mut starts = vec![0_u32; vertex_count + 1];
    for chunk in triangles.chunks(CHUNK) {
        if !go_on() {
            return None;
        }
        for t in chunk.iter().filter(|t| !degenerate(t)) {
            for k in 0..3 {
                starts[t[k].min(t[(k + 1) % 3]) as usize] += 1;
            }
        }
    }
    let mut sum = 0;
    for s in &mut starts {
        sum += *s;
        *s = sum;
    }
    let mut ends = vec![0_u32; sum as usize];
    for chunk in triangles.chunks(CHUNK) {
        if !go_on() {
            return None;
        }
        for t in chunk.iter().filter(|t| !degenerate(t)) {
            for k in 0..3 {
                let (a, b) = (t[k], t[(k + 1) % 3]);
                let start = &mut starts[a.min(b) as usize];
                *start -= 1;
                ends[*start as usize] = if a < b { b } else { a | DOWN };
            }
        }
    }
    let vertices: Vec<usize> = (0..vertex_count).step_by(CHUNK).collect();
    let parts: Vec<(Boundaries, Vec<(u32, u32)>)> = vertices
        .par_iter()
        .map(|&first| {
            let mut part = (Boundaries::default(), Vec::new());
            let mut here = Vec::new();
            for v in first..vertex_count.min(first + CHUNK) {
                here.clear();
                here.extend_from_slice(&ends[starts[v] as usize..starts[v + 1] as usize]);
                here.sort_unstable_by_key(|e| e & !DOWN);
                for same in here.chunk_by(|a, b| a & !DOWN == b & !DOWN) {
                    judge_edge(v as u32, same, &mut part);
                }
            }
            go_on().then_some(part)
        })
        .collect::<Option<_>>()?;
    let mut all = (Boundaries::default(), Vec::new());
    for (b, e) in parts {
        all.0.many_triangles += b.many_triangles;
        all.0.unlike_winding += b.unlike_winding;
        all.1.extend(e);
    }
    Some(all)
}

/// Counts or keeps the edge from `low` to the common far end of `same`.
fn judge_edge(low: u32, same: &[u32], part: &mut (Boundaries, Vec<(u32, u32)>)) {
    match same {
        [e] if e & DOWN == 0 => part.1.push((low, *e)),
        [e] => part.1.push((e & !DOWN, low)),
        [a, b] => part.0.unlike_winding += usize::from(a & DOWN == b & DOWN),
        _ => part.0.many_triangles += 1,
    }
}

/// For vertices with several outgoing boundary edges: (vertex, where it came from) -> where it goes on, sorted.
fn pinch_turns(
    triangles: &[[u32; 3]],
    edges: &[(u32, u32)],
    pinches: &mut usize,
) -> Vec<((u32, u32), u32)> {
    let mut pinched: Vec<u32> = edges
        .windows(2)
        .filter(|w| w[0].0 == w[1].0)
        .map(|w| w[0].0)
        .collect();
    pinched.dedup();
    *pinches = pinched.len();
    if pinched.is_empty() {
        return Vec::new();
    }
    // Around each pinched vertex: the third corner of the triangle that comes in from a neighbour.
    let is_pinched = |v: u32| pinched.binary_search(&v).is_ok();
    let mut fan: Vec<((u32, u32), u32)> = triangles
        .par_iter()
        .filter(|t| !degenerate(t))
        .flat_map_iter(|t| {
            (0..3)
                .filter(|&k| is_pinched(t[k]))
                .map(|k| ((t[k], t[(k + 2) % 3]), t[(k + 1) % 3]))
        })
        .collect();
    fan.sort_unstable();
    let mut turns = Vec::new();
    for &(from, v) in edges {
        if !is_pinched(v) {
            continue;
        }
        let mut w = from;
        for _ in 0..=fan.len() {
            let Ok(i) = fan.binary_search_by_key(&(v, w), |f| f.0) else {
                break;
            };
            w = fan[i].1;
            if edges.binary_search(&(v, w)).is_ok() {
                turns.push(((v, from), w));
                break;
            }
        }
    }
    turns.sort_unstable();
    // With two fans there are two voids, each between the end of one fan and the start of the other.
    for here in turns.chunk_by_mut(|a, b| a.0.0 == b.0.0) {
        if let [a, b] = here {
            std::mem::swap(&mut a.1, &mut b.1);
        }
    }
    turns
}

/// Takes a chain apart where it passes a vertex again.
fn simple_parts(chain: &Boundary) -> Vec<Boundary> {
    let mut out = Vec::new();
    let mut stack: Vec<u32> = Vec::new();
    let mut place = std::collections::BTreeMap::new();
    for &v in &chain.vertices {
        if let Some(&at) = place.get(&v) {
            let part: Vec<u32> = stack.drain(at..).collect();
            for u in &part {
                place.remove(u);
            }
            if part.len() > 2 {
                out.push(closed_from_lowest(part));
            }
        }
        place.insert(v, stack.len());
        stack.push(v);
    }
    if chain.closed && stack.len() > 2 {
        out.push(closed_from_lowest(stack));
    } else if !chain.closed && stack.len() > 1 {
        out.push(Boundary {
            vertices: stack,
            closed: false,
        });
    }
    out
}

fn closed_from_lowest(mut vertices: Vec<u32>) -> Boundary {
    if let Some(lowest) = (0..vertices.len()).min_by_key(|&i| vertices[i]) {
        vertices.rotate_left(lowest);
    }
    Boundary {
        vertices,
        closed: true,
    }
}

/// Chains directed edges, sorted.
fn chain(edges: &[(u32, u32)], turns: &[((u32, u32), u32)]) -> Vec<Boundary> {
    let next = |from: u32, v: u32| -> Option<usize> {
        let first = edges.partition_point(|e| e.0 < v);
        let end = edges.partition_point(|e| e.0 <= v);
        match end - first {
            0 => None,
            1 => Some(first),
            _ => {
                let t = turns.binary_search_by_key(&(v, from), |t| t.0).ok()?;
                edges.binary_search(&(v, turns[t].1)).ok()
            }
        }
    };
    let follow = |first: usize, used: &mut Vec<bool>| -> Boundary {
        let mut vertices = vec![edges[first].0];
        let mut at = first;
        loop {
            used[at] = true;
            match next(edges[at].0, edges[at].1) {
                Some(i) if i == first => {
                    return Boundary {
                        vertices,
                        closed: true,
                    };
                }
                Some(i) if !used[i] => {
                    vertices.push(edges[i].0);
                    at = i;
                }
                _ => {
                    vertices.push(edges[at].1);
                    return Boundary {
                        vertices,
                        closed: false,
                    };
                }
            }
        }
    };
    let mut used = vec![false; edges.len()];
    let mut entered = vec![false; edges.len()];
    for e in edges {
        if let Some(i) = next(e.0, e.1) {
            entered[i] = true;
        }
    }
    // Open chains first, from edges nobody leads to; what is left is closed.
    let mut out = Vec::new();
    for first in (0..edges.len()).filter(|&i| !entered[i]) {
        out.push(follow(first, &mut used));
    }
    for first in 0..edges.len() {
        if !used[first] {
            out.push(follow(first, &mut used));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sheet of `w` x `h` squares without those for which `gone` holds; vertices row by row.
    fn sheet(w: u32, h: u32, gone: impl Fn(u32, u32) -> bool) -> (Vec<[u32; 3]>, usize) {
        let mut t = Vec::new();
        for y in 0..h {
            for x in 0..w {
                if !gone(x, y) {
                    let v = |x: u32, y: u32| y * (w + 1) + x;
                    t.push([v(x, y), v(x + 1, y), v(x + 1, y + 1)]);
                    t.push([v(x, y), v(x + 1, y + 1), v(x, y + 1)]);
                }
            }
        }
        (t, ((w + 1) * (h + 1)) as usize)
    }

    fn lengths(b: &Boundaries) -> Vec<(usize, bool)> {
        b.chains
            .iter()
            .map(|c| (c.vertices.len(), c.closed))
            .collect()
    }

    #[test]
    fn outer_border_and_a_hole() {
        let (t, n) = sheet(6, 5, |x, y| x == 2 && (1..3).contains(&y));
        let b = boundaries(&t, n, &|| true).unwrap();
        assert_eq!(lengths(&b), [(22, true), (6, true)]);
        // Metal on the left: the outer border runs counter-clockwise, along +x first.
        assert_eq!(b.chains[0].vertices[..3], [0, 1, 2]);
        assert_eq!((b.pinches, b.many_triangles, b.unlike_winding), (0, 0, 0));
    }

    #[test]
    fn touching_holes_stay_apart() {
        let (t, n) = sheet(6, 6, |x, y| (x, y) == (2, 2) || (x, y) == (3, 3));
        let b = boundaries(&t, n, &|| true).unwrap();
        assert_eq!(b.pinches, 1);
        assert_eq!(lengths(&b), [(24, true), (4, true), (4, true)]);
        // A hole that touches the outer border stays a hole.
        let (t, n) = sheet(6, 6, |x, y| (x, y) == (0, 0) || (x, y) == (1, 1));
        let b = boundaries(&t, n, &|| true).unwrap();
        assert_eq!(b.pinches, 1);
        let mut seen = lengths(&b);
        seen.sort_unstable();
        assert_eq!(seen, [(4, true), (24, true)]);
        // Two holes that touch twice.
        let (t, n) = sheet(8, 8, |x, y| {
            (2..5).contains(&x) && (2..5).contains(&y) && (x != 3 || y == 3) && (x, y) != (3, 3)
                || (x, y) == (3, 5)
                || (x, y) == (3, 1)
        });
        let b = boundaries(&t, n, &|| true).unwrap();
        assert_eq!(b.pinches, 4);
        let mut seen = lengths(&b);
        seen.sort_unstable();
        assert_eq!(
            seen,
            [(4, true), (4, true), (8, true), (8, true), (32, true)]
        );
    }

    #[test]
    fn two_sheets_that_touch_in_a_point_have_two_borders() {
        let (mut t, n) = sheet(2, 2, |_, _| false);
        // The second sheet hangs on vertex 8, the far corner of the first.
        let m = n as u32;
        t.push([8, m, m + 1]);
        let b = boundaries(&t, n + 2, &|| true).unwrap();
        assert_eq!(b.pinches, 1);
        assert_eq!(lengths(&b), [(8, true), (3, true)]);
    }

    #[test]
    fn three_triangles_on_an_edge_are_noted() {
        let t = [[0, 1, 2], [1, 0, 3], [0, 1, 4]];
        let b = boundaries(&t, 5, &|| true).unwrap();
        assert_eq!(b.many_triangles, 1);
        let t = [[0, 1, 2], [0, 1, 3]];
        let b = boundaries(&t, 4, &|| true).unwrap();
        assert_eq!(b.unlike_winding, 1);
        assert_eq!(
            b.chains
                .iter()
                .map(|c| c.vertices.len() - usize::from(!c.closed))
                .sum::<usize>(),
            4
        );
    }

    #[test]
    fn closed_and_empty_meshes_have_none() {
        let tetrahedron = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]];
        assert_eq!(
            boundaries(&tetrahedron, 4, &|| true).unwrap(),
            Boundaries::default()
        );
        assert_eq!(boundaries(&[], 0, &|| true).unwrap(), Boundaries::default());
        assert!(boundaries(&tetrahedron, 4, &|| false).is_none());
        assert_eq!(
            boundaries(&[[1, 1, 2]], 3, &|| true).unwrap(),
            Boundaries::default()
        );
    }
}
