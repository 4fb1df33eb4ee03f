//! What a figure means, how it was got, and how to try it at the car.

use record::{AngleRow, DisplayUnits, Figure, PairStation, Quantity, Source, Through};

use crate::Pair;
use crate::number::{THIN, show, show_signed, to_shown_unit, to_step, unit_text};
use crate::sentence::headline_option;
use crate::sheet::Hit;
use crate::words::out_by;

/// A figure in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explained {
    /// What it is called: `Angle at upper junction, top`.
    pub title: String,
    /// Its values, each with unit and give-or-take.
    pub values: Vec<String>,
    /// What it means.
    pub means: String,
    /// How it was got, and what its give-or-take comes from.
    pub how: Vec<String>,
    /// How to set or try it with hand tools; may be empty.
    pub at_the_car: Vec<String>,
    /// One line with value, unit, give-or-take, side and mark, as it goes into the clipboard.
    pub copy: String,
}

/// The leg on which a feeler shows an angle, mm.
const LEG_MM: f64 = 30.0;

/// The figure of a rung or a station; `None` for what is no figure.
pub fn explain(pair: &Pair, hit: &Hit) -> Option<Explained> {
    match hit {
        Hit::Rung(_, k) => Some(rung(pair, pair.measured.angles.get(*k)?)),
        Hit::Station(_, k) => Some(station(pair, *k, pair.measured.stations.get(*k)?)),
        _ => None,
    }
}

/// An angle as the thickness of a feeler at the end of a 30 mm leg: `0.68 mm feeler at 30 mm`.
///
/// `degrees` is a difference; the thickness is 30 mm times its tangent. Degenerate: at 90 degrees and more nothing is said.
pub fn as_feeler(degrees: f64, units: DisplayUnits) -> Option<String> {
    if !degrees.is_finite() || degrees.abs() >= 90.0 {
        return None;
    }
    let thick = LEG_MM * degrees.abs().to_radians().tan();
    let unit = unit_text(Quantity::Length, units);
    let step = match units.length {
        record::LengthDisplay::Millimetre => 0.01,
        record::LengthDisplay::Inch => 0.001,
    };
    let shown =
        |mm: f64, step: f64| to_step(to_shown_unit(mm, Quantity::Length, units), step, units);
    Some(format!(
        "{}{unit} feeler at {}{unit}",
        shown(thick, step),
        shown(LEG_MM, 0.01).trim_end_matches(".00")
    ))
}

fn rung(pair: &Pair, row: &AngleRow) -> Explained {
    let units = pair.study.units;
    let (a, b) = (pair.a_word(), pair.b_word());
    let through = match row.through {
        Through::Material => "through the metal",
        Through::Air => "through the air",
    };
    let title = format!("Angle at {}, {}", row.junction, row.place);
    let mut values = Vec::new();
    for (word, figure) in [(&a, row.a), (&b, row.b)] {
        values.push(figure.map_or_else(
            || format!("{word}: not measured"),
            |f| format!("{word}: {}", show(&f, units).plus_minus()),
        ));
    }
    if let Some(difference) = row.difference {
        values.push(format!(
            "{a} minus {b}: {}",
            show_signed(&difference, units).plus_minus()
        ));
    }
    let mut how = vec![format!(
        "Two faces were fitted beside the junction; the angle stands in the plane across it, at {} of its length.",
        share_word(row.share)
    )];
    for (word, id) in [(&a, Some(&pair.measured.a)), (&b, pair.measured.b.as_ref())] {
        let junction = id.and_then(|id| pair.opening(id)).and_then(|o| {
            o.junctions
                .iter()
                .find(|j| j.id == row.junction)
                .map(|j| (o, j))
        });
        if let Some((opening, junction)) = junction {
            let [first, second] = junction.widths_mm;
            let points: usize = opening.faces.iter().map(|f| f.points).sum();
            how.push(format!(
                "{word}: {} long, faces {} and {} wide, {} points on the faces of this opening.",
                length(junction.length_mm, units),
                length(first, units),
                length(second, units),
                grouped(points)
            ));
        }
    }
    how.extend(row.difference.or(row.a).or(row.b).map(|f| doubt_of(&f)));
    let mut at_the_car = Vec::new();
    for (word, figure) in [(&a, row.a), (&b, row.b)] {
        if let Some(f) = figure {
            at_the_car.push(format!(
                "Bevel on the {word}: {}.",
                show(&f, units).with_unit()
            ));
        }
    }
    if let Some(feeler) = row.difference.and_then(|d| as_feeler(d.value, units)) {
        at_the_car.push(format!(
            "The difference shows as {feeler}: set the bevel to one side, try it on the other."
        ));
    }
    let mark = &pair.measured.id;
    let copied: Vec<&str> = values.iter().map(String::as_str).collect();
    let copy = format!("{} ({mark}), {through}: {}", title, copied.join("; "));
    Explained {
        title,
        values,
        means: format!(
            "The angle between the two faces, {through}, in the plane across the junction. It needs no centreline: the mirror \
             image of a body has the same angles."
        ),
        how,
        at_the_car,
        copy,
    }
}

fn station(pair: &Pair, number: usize, station: &PairStation) -> Explained {
    let units = pair.study.units;
    let (a, b) = (pair.a_word(), pair.b_word());
    let title = format!("Station {number}, {}", station.place);
    let mut values = if station.seen {
        vec![
            format!(
                "gap, {a} minus {b}: {}",
                show_signed(&station.gap, units).plus_minus()
            ),
            format!(
                "flush, {a} minus {b}: {}",
                show_signed(&station.flush, units).plus_minus()
            ),
        ]
    } else {
        vec!["not seen on both sides: nothing is guessed here".to_owned()]
    };
    let mark = &pair.measured.id;
    let mut how = vec![
        "The smoothed edges are compared in the plane across the edge at this station, not at the closest point.".to_owned(),
        doubt_of(&station.gap),
    ];
    if let Some((choice, out)) = where_it_sits(pair, number) {
        values.push(format!("{choice}, as it would sit: {out}"));
        how.push(
            "A part sits by its holes and its edge together, as evenly as can be: where its holes pull it over, the gap beside \
             it is not the difference of the two edges."
                .to_owned(),
        );
    }
    Explained {
        copy: format!("{title} ({mark}): {}", values.join("; ")),
        title,
        values,
        means: format!(
            "How the two opening edges differ here once the {b} one is turned over and laid on the {a} one as well as it goes. \
             Gap: + where the {a} opening is wider. Flush: + where {a} stands proud."
        ),
        how,
        at_the_car: Vec::new(),
    }
}

/// The choice of the headline and how far it is out at a station, where that is its worst place.
fn where_it_sits(pair: &Pair, station: usize) -> Option<(String, String)> {
    let option = headline_option(pair)?;
    let worst = option.worst.as_ref()?;
    if worst.station != Some(station) {
        return None;
    }
    let amount = show(&worst.amount, pair.study.units).plus_minus();
    Some((
        pair.choice_word(option.kind),
        out_by(worst.direction, &amount),
    ))
}

/// The table of a pair for the clipboard: angles, then stations; columns parted by tabs.
pub fn table(pair: &Pair) -> String {
    let units = pair.study.units;
    let (a, b) = (pair.a_word(), pair.b_word());
    let cell = |f: Option<Figure>| f.map_or_else(String::new, |f| show(&f, units).value);
    let doubt = |f: Option<Figure>| f.map_or_else(String::new, |f| show(&f, units).give_or_take);
    let length = unit_text(Quantity::Length, units).trim();
    let mut rows = vec![format!(
        "{}\tplace\t{a} (°)\t{b} (°)\t{a} minus {b} (°)\tgive or take (°)",
        pair.title()
    )];
    for r in &pair.measured.angles {
        rows.push(format!(
            "{}\t{}\t{}\t{}\t{}\t{}",
            r.junction,
            r.place,
            cell(r.a),
            cell(r.b),
            cell(r.difference),
            doubt(r.difference)
        ));
    }
    rows.push(format!(
        "station\tplace\tgap {a} minus {b} ({length})\tgive or take\tflush {a} minus {b} ({length})\tgive or take"
    ));
    for (k, s) in pair.measured.stations.iter().enumerate() {
        let seen = |f| s.seen.then_some(f);
        let (gap, flush) = (seen(s.gap), seen(s.flush));
        rows.push(format!(
            "{k}\t{}\t{}\t{}\t{}\t{}",
            s.place,
            cell(gap),
            doubt(gap),
            cell(flush),
            doubt(flush)
        ));
    }
    rows.join("\n").replace(THIN, "")
}

fn share_word(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn length(mm: f64, units: DisplayUnits) -> String {
    let step = match units.length {
        record::LengthDisplay::Millimetre => 1.0,
        record::LengthDisplay::Inch => 0.1,
    };
    let unit = unit_text(Quantity::Length, units);
    format!(
        "{}{unit}",
        to_step(to_shown_unit(mm, Quantity::Length, units), step, units)
    )
}

fn grouped(count: usize) -> String {
    to_step(count as f64, 1.0, DisplayUnits::default())
}

fn doubt_of(figure: &Figure) -> String {
    let from = match figure.source {
        Source::Noise => "noise of the scan, which runs together over neighbouring points",
        Source::Place => "where the face lies: it is curved",
        Source::Repeats => "how repeated scans differ",
        Source::Centreline => "the centreline",
        Source::Instrument => "the instrument",
        Source::Join => "how well the scans are joined",
        Source::EdgeSight => {
            "how well the edge is seen: spacing of the points, rounding of the edge"
        }
    };
    format!("Give or take (95 %): mostly {from}.")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{lamp, lamp_with_edges, study};

    #[test]
    fn an_angle_reads_as_a_feeler() {
        // 30 mm x tan(1.3 deg) = 0.6808 mm (plain trigonometry).
        assert_eq!(
            as_feeler(1.3, DisplayUnits::default()).as_deref(),
            Some("0.68 mm feeler at 30 mm")
        );
        assert_eq!(
            as_feeler(-1.3, DisplayUnits::default()).as_deref(),
            Some("0.68 mm feeler at 30 mm")
        );
        assert_eq!(as_feeler(90.0, DisplayUnits::default()), None);
        assert_eq!(as_feeler(f64::NAN, DisplayUnits::default()), None);
    }

    #[test]
    fn a_rung_says_both_sides_with_doubt_unit_and_mark() {
        let study = study(vec![lamp()]);
        let pair = Pair::all(&study)[0];
        let explained = explain(&pair, &Hit::Rung("lamp".into(), 0)).expect("it is a figure");
        assert!(
            explained.copy.contains("left: 89.1° ±0.2"),
            "{}",
            explained.copy
        );
        assert!(
            explained.copy.contains("right: 90.4° ±0.2"),
            "{}",
            explained.copy
        );
        assert!(
            explained.copy.contains("(lamp), through the metal"),
            "{}",
            explained.copy
        );
        assert!(
            explained.at_the_car[0].contains("Bevel on the left: 89.1°"),
            "{:?}",
            explained.at_the_car
        );
        assert_eq!(explain(&pair, &Hit::Next("lamp".into())), None);
        let table = table(&pair);
        assert!(table.lines().count() > pair.measured.angles.len());
        assert!(table.contains("89.1\t90.4\t−1.3\t0.2"), "{table}");
    }
    #[test]
    fn the_worst_station_says_how_far_out_the_part_would_sit_there() {
        let study = lamp_with_edges();
        let pair = Pair::all(&study)[0];
        let values = |k| {
            let hit = Hit::Station("lamp".into(), k);
            explain(&pair, &hit).expect("it is a figure").values
        };
        // The edges differ by something else than the part is out by where it sits.
        assert_eq!(values(9)[0], "gap, left minus right: −1.4 ±0.2 mm");
        assert_eq!(
            values(9)[2],
            "mirror the left one, as it would sit: the gap 1.4 ±0.3 mm too tight"
        );
        assert_eq!(values(10).len(), 2);
    }
}
