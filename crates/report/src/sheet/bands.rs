//! Flat bands beside an edge: where one side stands proud or shy of the other, with the numbers on the metal.

use geom::Point;
use record::PairStation;

use super::page::PageView;
use super::{Dash, Hit, Sheet};
use crate::Pair;
use crate::number::show_signed;
use crate::theme::{Ink, line};

/// Where a band begins and ends, pixels outward from the edge.
const FROM: f64 = 4.0;
const TO: f64 = 30.0;
/// Distance of hatching lines, pixels.
const HATCH: f64 = 7.0;

/// The step of the bands, mm: the smallest of 0.2, 0.5, 1, 2, 5 not below the give-or-take that needs at most three a side.
pub fn band_step(stations: &[PairStation]) -> f64 {
    let proven = |s: &&PairStation| s.seen && s.flush.value.abs() > s.flush.u95;
    let most = stations
        .iter()
        .filter(proven)
        .map(|s| s.flush.value.abs())
        .fold(0.0, f64::max);
    let doubt = stations
        .iter()
        .filter(proven)
        .map(|s| s.flush.u95)
        .fold(0.0, f64::max);
    [0.2, 0.5, 1.0, 2.0]
        .into_iter()
        .find(|&step| step >= doubt && most < 4.0 * step)
        .unwrap_or(5.0)
}

/// How many steps a station stands out (+) or in (-), at most three; 0 below the give-or-take or where not seen.
fn band_of(station: &PairStation, step: f64) -> i32 {
    if !station.seen || station.flush.value.abs() <= station.flush.u95 {
        return 0;
    }
    let steps = (station.flush.value.abs() / step).floor().min(3.0) as i32;
    if station.flush.value < 0.0 {
        -steps
    } else {
        steps
    }
}

/// Draws the bands along the edge that `at` gives.
pub(super) fn draw(
    sheet: &mut Sheet,
    pair: &Pair,
    page: PageView,
    at: &dyn Fn(&PairStation) -> Point,
) {
    let all = &pair.measured.stations;
    let step = band_step(all);
    let classes: Vec<i32> = all.iter().map(|s| band_of(s, step)).collect();
    let place = |k: usize, reach: f64| {
        let station = &all[k % all.len()];
        let p = page.at(&at(station));
        let out = PageView::towards(&-station.gap_dir.into_inner());
        [p[0] + reach * out[0], p[1] + reach * out[1]]
    };
    for (first, last, class) in runs(&classes, pair.measured.closed) {
        if class == 0 {
            continue;
        }
        let inner: Vec<[f64; 2]> = (first..=last).map(|k| place(k, FROM)).collect();
        let outer: Vec<[f64; 2]> = (first..=last).map(|k| place(k, TO)).collect();
        let mut ring = inner;
        ring.extend(outer.iter().rev());
        let (fill, contour) = inks(class);
        sheet.path(ring, true, None, Some(fill));
        let dash = if class < 0 {
            for k in first..last {
                let quad = [
                    place(k, FROM),
                    place(k + 1, FROM),
                    place(k + 1, TO),
                    place(k, TO),
                ];
                hatch(sheet, &quad, contour);
            }
            Dash::Minus
        } else {
            Dash::Full
        };
        sheet.path(outer, false, Some((contour, line::CONTOUR, dash)), None);
        for k in [first, last] {
            sheet.path(
                vec![place(k, FROM), place(k, TO)],
                false,
                Some((contour, line::CONTOUR, dash)),
                None,
            );
        }
    }
    numbers(sheet, pair, &classes, &place);
}

/// One signed number in each stretch that stands out or in, at its farthest station.
fn numbers(
    sheet: &mut Sheet,
    pair: &Pair,
    classes: &[i32],
    place: &dyn Fn(usize, f64) -> [f64; 2],
) {
    let all = &pair.measured.stations;
    let signs: Vec<i32> = classes.iter().map(|c| c.signum()).collect();
    for (first, last, sign) in runs(&signs, pair.measured.closed) {
        if sign == 0 {
            continue;
        }
        let farthest = (first..=last).max_by(|x, y| {
            let size = |k: &usize| all[k % all.len()].flush.value.abs();
            size(x).total_cmp(&size(y))
        });
        let Some(k) = farthest else { continue };
        let station = &all[k % all.len()];
        let shown = show_signed(&station.flush, pair.study.units);
        let ink = if sign > 0 {
            Ink::ProudLine
        } else {
            Ink::ShyLine
        };
        sheet.boxed_number(place(k, TO), ink, shown.value);
        sheet.named(Hit::Station(pair.measured.id.clone(), k % all.len()));
    }
}

/// The ground and the contour of a band: 1 to 3 steps proud, -1 to -3 shy; beyond, as the third.
pub fn inks(class: i32) -> (Ink, Ink) {
    match class {
        1 => (Ink::Proud1, Ink::ProudLine),
        2 => (Ink::Proud2, Ink::ProudLine),
        3.. => (Ink::Proud3, Ink::ProudLine),
        -1 => (Ink::Shy1, Ink::ShyLine),
        -2 => (Ink::Shy2, Ink::ShyLine),
        _ => (Ink::Shy3, Ink::ShyLine),
    }
}

/// Stretches of one value: first and last station (last may pass the end of a closed edge) and the value.
fn runs(values: &[i32], closed: bool) -> Vec<(usize, usize, i32)> {
    let n = values.len();
    let Some(&first_value) = values.first() else {
        return Vec::new();
    };
    // A closed edge begins where the value changes, so that no stretch is cut at station 0.
    let start = if closed {
        (0..n).find(|&k| values[(k + n - 1) % n] != values[k])
    } else {
        Some(0)
    };
    let Some(start) = start else {
        return vec![(0, n, first_value)];
    };
    let length = if closed { n } else { n - 1 };
    let mut found = Vec::new();
    let mut begun = start;
    for k in start + 1..=start + length {
        let value = values[k % n];
        let here = values[begun % n];
        if value != here || k == start + length {
            found.push((begun, k, here));
            begun = k;
        }
    }
    found
}

/// Lines at 45 degrees inside a convex quadrilateral.
pub(super) fn hatch(sheet: &mut Sheet, quad: &[[f64; 2]; 4], ink: Ink) {
    let along = |p: &[f64; 2]| p[0] + p[1];
    let low = quad.iter().map(along).fold(f64::INFINITY, f64::min);
    let high = quad.iter().map(along).fold(f64::NEG_INFINITY, f64::max);
    let mut level = (low / HATCH).ceil() * HATCH;
    while level < high {
        let mut cuts = Vec::new();
        for (i, p) in quad.iter().enumerate() {
            let q = &quad[(i + 1) % 4];
            let (from, to) = (along(p) - level, along(q) - level);
            if (from < 0.0) != (to < 0.0) {
                let share = from / (from - to);
                cuts.push([p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1])]);
            }
        }
        if let [p, q] = cuts[..] {
            sheet.line(&[p, q], ink, 0.8);
        }
        level += HATCH;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_of_a_closed_edge_are_not_cut_at_its_start() {
        assert_eq!(runs(&[1, 0, 0, 1, 1], true), vec![(1, 3, 0), (3, 6, 1)]);
        assert_eq!(runs(&[2, 2, 2], true), vec![(0, 3, 2)]);
        assert_eq!(runs(&[0, 1, 1], false), vec![(0, 1, 0), (1, 2, 1)]);
        assert!(runs(&[], true).is_empty());
    }

    #[test]
    fn hatching_stays_inside() {
        let mut sheet = Sheet::empty([100.0, 100.0], String::new());
        hatch(
            &mut sheet,
            &[[10.0, 10.0], [60.0, 10.0], [60.0, 40.0], [10.0, 40.0]],
            Ink::ShyLine,
        );
        assert!(sheet.items.len() > 8, "{}", sheet.items.len());
        for item in &sheet.items {
            if let super::super::Item::Path { points, .. } = item {
                for p in points {
                    assert!((9.99..=60.01).contains(&p[0]) && (9.99..=40.01).contains(&p[1]));
                    assert!(
                        ((p[0] + p[1]) / HATCH).fract().abs() < 1e-6
                            || ((p[0] + p[1]) / HATCH).fract() > 1.0 - 1e-6
                    );
                }
            }
        }
    }
}
