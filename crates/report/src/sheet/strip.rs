//! The strip along the edge: the difference of gap and of flush by station, its give-or-take, what is allowed.

use record::{Figure, LengthDisplay, PairStation, Quantity};

use super::book::{station_disc, tick_step, worst_station};
use super::{Anchor, Dash, Hit, Sheet};
use crate::Pair;
use crate::number::{show_signed, to_shown_unit, to_step};
use crate::theme::{Ink, size, space, weight};

/// Which figure a strip shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Shows {
    Gap,
    Flush,
}

impl Shows {
    fn of(self, station: &PairStation) -> &Figure {
        match self {
            Self::Gap => &station.gap,
            Self::Flush => &station.flush,
        }
    }
}

/// A strip and how its stations stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// The picture.
    pub sheet: Sheet,
    /// Where the first and the last station stand, pixels.
    pub from_to: [f64; 2],
    /// Number of stations.
    pub stations: usize,
}

impl Strip {
    /// The station at a place across the strip; `None` outside of it.
    pub fn station_at(&self, x: f64) -> Option<usize> {
        let [from, to] = self.from_to;
        if self.stations == 0 || x < from - 4.0 || x > to + 4.0 {
            return None;
        }
        let share = ((x - from) / (to - from)).clamp(0.0, 1.0);
        Some((share * (self.stations - 1) as f64).round() as usize)
    }
}

/// Sets the strip of a pair into `width` x `height`, gap above flush.
///
/// Degenerate: without stations one line says so.
pub fn strip_field(pair: &Pair, [width, height]: [f64; 2], pointed: Option<usize>) -> Strip {
    let mut sheet = Sheet::empty([width, height], String::new());
    let all = &pair.measured.stations;
    let from_to = [space::INSIDE + 56.0, width - space::INSIDE - 96.0];
    let unit = match pair.study.units.length {
        LengthDisplay::Millimetre => "mm",
        LengthDisplay::Inch => "in",
    };
    let base = space::CAPTION;
    sheet.text(
        [space::INSIDE, base],
        (size::CAPTION, weight::SEMI_BOLD),
        Anchor::Start,
        Ink::Ink2,
        "Along the edge",
    );
    let turned = match pair.measured.relation {
        record::Relation::Same => "",
        record::Relation::Mirrored | record::Relation::Itself => " turned over",
    };
    let says = format!(
        "{} minus {}{turned}, {unit}; shaded: give or take (95 %); dotted: what you allow",
        pair.a_word(),
        pair.b_word()
    );
    sheet.text(
        [space::INSIDE + 96.0, base],
        (size::CAPTION, weight::REGULAR),
        Anchor::Start,
        Ink::Ink2,
        says,
    );
    if all.len() < 2 {
        let at = [space::INSIDE, base + 32.0];
        let says = "Stands here once both edges are measured.";
        sheet.text(
            at,
            (size::BODY, weight::REGULAR),
            Anchor::Start,
            Ink::Ink3,
            says,
        );
        return Strip {
            sheet,
            from_to,
            stations: 0,
        };
    }
    let foot = 38.0;
    let each = (height - base - 10.0 - foot) / 2.0;
    for (i, shows) in [Shows::Gap, Shows::Flush].into_iter().enumerate() {
        let top = base + 10.0 + each * i as f64;
        chart(
            &mut sheet,
            pair,
            shows,
            [top, top + each - 16.0],
            from_to,
            pointed,
        );
    }
    axis(&mut sheet, pair, from_to, height - foot, pointed);
    Strip {
        sheet,
        from_to,
        stations: all.len(),
    }
}

fn x_of(k: usize, count: usize, [from, to]: [f64; 2]) -> f64 {
    from + (to - from) * k as f64 / (count - 1) as f64
}

fn chart(
    sheet: &mut Sheet,
    pair: &Pair,
    shows: Shows,
    [top, bottom]: [f64; 2],
    from_to: [f64; 2],
    pointed: Option<usize>,
) {
    let all = &pair.measured.stations;
    let units = pair.study.units;
    let allowed = pair.part.map(|p| match shows {
        Shows::Gap => [-p.allowed.tight_mm, p.allowed.wide_mm],
        Shows::Flush => [-p.allowed.shy_mm, p.allowed.proud_mm],
    });
    let mut reach = allowed.map_or(0.0, |[low, high]| high.max(-low));
    for s in all.iter().filter(|s| s.seen) {
        let f = shows.of(s);
        reach = reach.max(f.value.abs() + f.u95.min(10.0 * f.value.abs().max(0.1)));
    }
    let reach = reach.max(0.05) * 1.08;
    let middle = f64::midpoint(top, bottom);
    let y_of = |v: f64| middle - (v / reach).clamp(-1.0, 1.0) * (bottom - top) / 2.0;
    let x = |k: usize| x_of(k, all.len(), from_to);
    if let Some([low, high]) = allowed {
        let tall = y_of(low) - y_of(high);
        sheet.rect(
            [from_to[0], y_of(high)],
            [from_to[1] - from_to[0], tall],
            None,
            Some(Ink::Allowed),
        );
    }
    for (first, last) in seen_runs(all) {
        let edge = |sign: f64| -> Vec<[f64; 2]> {
            (first..=last)
                .map(|k| {
                    let f = shows.of(&all[k]);
                    [x(k), y_of(f.value + sign * f.u95)]
                })
                .collect()
        };
        let mut ring = edge(1.0);
        ring.extend(edge(-1.0).into_iter().rev());
        sheet.path(ring, true, None, Some(Ink::Pick));
    }
    if let Some([low, high]) = allowed {
        for v in [low, high] {
            let y = y_of(v);
            let dotted = Some((Ink::Ink2, 1.0, Dash::Dotted));
            sheet.path(vec![[from_to[0], y], [from_to[1], y]], false, dotted, None);
            let says = format!("allowed {}", signed(v, units));
            sheet.text(
                [from_to[1] + 8.0, y + 4.5],
                (size::CAPTION, weight::REGULAR),
                Anchor::Start,
                Ink::Ink2,
                says,
            );
        }
    }
    sheet.line(
        &[[from_to[0], middle], [from_to[1], middle]],
        Ink::Rule,
        1.0,
    );
    let name = match shows {
        Shows::Gap => "gap",
        Shows::Flush => "flush",
    };
    let at = [from_to[0] - 10.0, middle + 4.5];
    sheet.text(
        at,
        (size::CAPTION, weight::SEMI_BOLD),
        Anchor::End,
        Ink::Ink,
        name,
    );
    for (first, last) in seen_runs(all) {
        let points = (first..=last)
            .map(|k| [x(k), y_of(shows.of(&all[k]).value)])
            .collect();
        sheet.path(points, false, Some((Ink::Ink, 2.0, Dash::Full)), None);
    }
    let Some(k) = pointed
        .filter(|k| *k < all.len())
        .or_else(|| worst_station(pair))
    else {
        return;
    };
    sheet.line(&[[x(k), top], [x(k), bottom]], Ink::Ink, 1.5);
    let shown = show_signed(shows.of(&all[k]), units);
    let y = (y_of(shows.of(&all[k]).value) - 8.0).max(top + 12.0);
    let (anchor, dx) = if x(k) > f64::midpoint(from_to[0], from_to[1]) {
        (Anchor::End, -8.0)
    } else {
        (Anchor::Start, 8.0)
    };
    let says = if all[k].seen {
        shown.plus_minus()
    } else {
        "not seen here".to_owned()
    };
    sheet.disc([x(k), y_of(shows.of(&all[k]).value)], 4.0, Ink::Ink);
    // The number stands on bare ground, beside the mark: the line may run below it.
    let wide = crate::theme::text_width(&says, size::BODY, weight::SEMI_BOLD);
    let from = if anchor == Anchor::End {
        x(k) + dx - wide
    } else {
        x(k) + dx
    };
    sheet.rect(
        [from - 3.0, y - 13.0],
        [wide + 6.0, 17.0],
        None,
        Some(Ink::Sheet),
    );
    sheet.text(
        [x(k) + dx, y],
        (size::BODY, weight::SEMI_BOLD),
        anchor,
        Ink::Ink,
        says,
    );
    sheet.named(Hit::Station(pair.measured.id.clone(), k));
}

fn signed(mm: f64, units: record::DisplayUnits) -> String {
    let step = match units.length {
        LengthDisplay::Millimetre => 0.1,
        LengthDisplay::Inch => 0.001,
    };
    let text = to_step(to_shown_unit(mm, Quantity::Length, units), step, units);
    if mm > 0.0 { format!("+{text}") } else { text }
}

fn axis(sheet: &mut Sheet, pair: &Pair, from_to: [f64; 2], top: f64, pointed: Option<usize>) {
    let all = &pair.measured.stations;
    let x = |k: usize| x_of(k, all.len(), from_to);
    let at = [from_to[0] - 10.0, top + 14.0];
    sheet.text(
        at,
        (size::CAPTION, weight::REGULAR),
        Anchor::End,
        Ink::Ink2,
        "station",
    );
    let mark = pointed
        .filter(|k| *k < all.len())
        .or_else(|| worst_station(pair));
    for k in (0..all.len()).step_by(tick_step(all.len())) {
        if mark.is_none_or(|m| (x(m) - x(k)).abs() > 26.0) {
            let at = [x(k), top + 14.0];
            sheet.text(
                at,
                (size::CAPTION, weight::REGULAR),
                Anchor::Middle,
                Ink::Ink2,
                k.to_string(),
            );
        }
    }
    if let Some(k) = mark {
        station_disc(sheet, [x(k), top + 9.0], k);
        sheet.named(Hit::Station(pair.measured.id.clone(), k));
    }
    // Names of places, each once where its stretch lies in the middle, as far as they do not run into each other.
    let mut taken = f64::NEG_INFINITY;
    for (first, last) in place_runs(all) {
        let name = &all[first].place;
        let wide = crate::theme::text_width(name, size::CAPTION, weight::REGULAR);
        let middle = f64::midpoint(x(first), x(last))
            .clamp(from_to[0] + wide / 2.0, from_to[1] - wide / 2.0);
        if middle - wide / 2.0 > taken + 10.0 {
            taken = middle + wide / 2.0;
            let at = [middle, top + 32.0];
            sheet.text(
                at,
                (size::CAPTION, weight::REGULAR),
                Anchor::Middle,
                Ink::Ink2,
                name.clone(),
            );
        }
    }
}

/// Stretches seen on both sides: first and last station.
fn seen_runs(all: &[PairStation]) -> Vec<(usize, usize)> {
    let mut runs = Vec::new();
    let mut begun = None;
    for (k, s) in all.iter().enumerate() {
        match (s.seen, begun) {
            (true, None) => begun = Some(k),
            (false, Some(b)) => {
                runs.push((b, k - 1));
                begun = None;
            }
            _ => {}
        }
    }
    runs.extend(begun.map(|b| (b, all.len() - 1)));
    runs
}

/// Stretches of one place name.
fn place_runs(all: &[PairStation]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (k, s) in all.iter().enumerate() {
        match runs.last_mut() {
            Some((first, last)) if all[*first].place == s.place => *last = k,
            _ => runs.push((k, k)),
        }
    }
    runs
}
