//! Things by the cube of space they lie in, and those about a place.

use crate::{Point, Vector};

/// The cube of a place: cubes are `size` wide, the first one begins at the origin.
pub(super) fn voxel(p: &Point, size: f64) -> [i64; 3] {
    [p.x, p.y, p.z].map(|x| (x / size).floor() as i64)
}

/// Which way a normal mostly points: two sheets in one cube are kept apart.
pub(super) fn way(n: &Vector) -> u8 {
    let k = n.iamax();
    2 * k as u8 + u8::from(n[k] < 0.0)
}

/// The cubes within `reach` of one.
pub(super) fn around(at: [i64; 3], reach: i64) -> impl Iterator<Item = [i64; 3]> {
    columns(at, reach)
        .flat_map(move |[x, y]| (at[2] - reach..=at[2] + reach).map(move |z| [x, y, z]))
}

fn columns(at: [i64; 3], reach: i64) -> impl Iterator<Item = [i64; 2]> {
    (at[0] - reach..=at[0] + reach)
        .flat_map(move |x| (at[1] - reach..=at[1] + reach).map(move |y| [x, y]))
}

/// Things in the order of their cubes; those of one cube in the order they were given.
pub(super) struct Cubes {
    all: Vec<([i64; 3], u32)>,
}

impl Cubes {
    pub(super) fn new(things: impl IntoIterator<Item = ([i64; 3], u32)>) -> Self {
        let mut all: Vec<_> = things.into_iter().collect();
        all.sort_by_key(|(cube, _)| *cube);
        Self { all }
    }

    pub(super) fn iter(&self) -> impl ExactSizeIterator<Item = u32> {
        self.all.iter().map(|(_, thing)| *thing)
    }

    /// Those up to `reach` cubes away from one along each axis, in order. One search a column of cubes.
    pub(super) fn within(&self, at: [i64; 3], reach: i64) -> impl Iterator<Item = u32> {
        columns(at, reach).flat_map(move |[x, y]| {
            let from = [x, y, at[2] - reach];
            let to = [x, y, at[2] + reach];
            let begin = self.all.partition_point(|(cube, _)| *cube < from);
            self.all[begin..]
                .iter()
                .take_while(move |(cube, _)| *cube <= to)
                .map(|(_, thing)| *thing)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn those_about_a_place_are_those_of_all_cubes_about_it() {
        let places: Vec<[i64; 3]> = (0..400_i64)
            .map(|k| [k * 7 % 11 - 5, k * 5 % 13 - 6, k * 3 % 17 - 8])
            .collect();
        let cubes = Cubes::new((0..).zip(&places).map(|(k, p)| (*p, k)));
        for reach in [0, 1, 4] {
            for at in [[0, 0, 0], [-5, 6, 8], [40, 0, 0]] {
                let found: Vec<u32> = cubes.within(at, reach).collect();
                let each = around(at, reach).flat_map(|v| {
                    (0..)
                        .zip(&places)
                        .filter(move |(_, p)| **p == v)
                        .map(|(k, _)| k)
                });
                assert_eq!(found, each.collect::<Vec<u32>>(), "{at:?} {reach}");
            }
        }
    }
}
