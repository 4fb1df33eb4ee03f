//! The ladder of angles as four rows: places, a, b, a minus b.

use record::{AngleRow, Figure, Quantity, Through};

use super::ink::{Line, Look, Role, cut};
use crate::Pair;
use crate::number::{MINUS, show_at, show_signed_at, step_of};

/// Takes one figure from a rung.
type Take = fn(&AngleRow) -> Option<Figure>;

/// Rows of a ladder: each a label, one cell per place (at most `columns`, `gap` spaces apart) and the largest
/// give-or-take of the row.
pub(super) fn ladder(
    pair: &Pair,
    junction: &str,
    rows: &[&AngleRow],
    (columns, gap): (usize, usize),
    look: Look,
) -> Vec<Line> {
    let rows = chosen(rows, columns);
    let units = pair.study.units;
    let many = pair.ladders().len() > 1;
    let through = match rows.first().map(|r| r.through) {
        Some(Through::Air) => "air",
        _ => "metal",
    };
    let head = if many {
        format!("{junction}, {through}")
    } else {
        format!("{through} angle")
    };
    let (a, b) = (pair.a_word(), pair.b_word());
    let minus = if pair.measured.relation == record::Relation::Same {
        format!("first {MINUS} second")
    } else {
        format!("{a} {MINUS} {b}")
    };
    let label = |text: &str| cut(&look.signs(text), 22, look);
    let mut cells: Vec<Vec<String>> = vec![rows.iter().map(|r| cut(&r.place, 10, look)).collect()];
    let mut ends = vec![String::new()];
    let takes: [(Take, bool); 3] = [(|r| r.a, false), (|r| r.b, false), (|r| r.difference, true)];
    for (take, signed) in takes {
        // One step for the whole row: that of its least sure figure, which is the one printed at its end.
        let figures: Vec<Option<Figure>> = rows.iter().map(|r| take(r)).collect();
        let least_sure = figures
            .iter()
            .flatten()
            .max_by(|x, y| x.u95.total_cmp(&y.u95))
            .copied();
        let step = figures
            .iter()
            .flatten()
            .map(|f| step_of(f, units))
            .fold(0.0, f64::max);
        let cell = |figure: &Option<Figure>| {
            let Some(figure) = figure else {
                return look.signs("…");
            };
            let shown = if signed {
                show_signed_at(figure, step, units)
            } else {
                show_at(figure, step, units)
            };
            look.signs(&shown.value)
        };
        cells.push(figures.iter().map(cell).collect());
        ends.push(least_sure.map_or_else(String::new, |figure| {
            let shown = show_at(&figure, step, units);
            if shown.give_or_take.is_empty() {
                String::new()
            } else {
                look.signs(&format!("±{}", shown.give_or_take))
            }
        }));
    }
    debug_assert!(
        rows.iter()
            .all(|r| r.a.is_none_or(|f| f.quantity == Quantity::Angle))
    );
    if cells[1].iter().all(|c| *c == look.signs("…"))
        && cells[2].iter().all(|c| *c == look.signs("…"))
    {
        return Vec::new();
    }
    let labels = [
        label(&format!("{head} °")),
        label(&a),
        label(&b),
        label(&minus),
    ];
    let label_width = labels.iter().map(|l| l.chars().count()).max().unwrap_or(0);
    let end_width = ends.iter().map(|e| e.chars().count()).max().unwrap_or(0);
    (0..4)
        .map(|row| {
            let mut text = String::new();
            for (column, cell) in cells[row].iter().enumerate() {
                let wide = cells
                    .iter()
                    .map(|r| r[column].chars().count())
                    .max()
                    .unwrap_or(0);
                text.extend([" ".repeat(gap), format!("{cell:>wide$}")]);
            }
            let role = if row == 0 { Role::Light } else { Role::Strong };
            let name = if row == 0 { Role::Light } else { Role::Ink };
            Line::of(name, format!("{:label_width$}", labels[row]))
                .and(role, text)
                .and(Role::Light, format!(" {:<end_width$}", ends[row]))
        })
        .collect()
}

/// At most `columns` of the rungs: both ends, the rest evenly, and always the one that differs most.
fn chosen<'a>(rows: &[&'a AngleRow], columns: usize) -> Vec<&'a AngleRow> {
    if rows.len() <= columns || columns < 2 {
        return rows.to_vec();
    }
    let last = rows.len() - 1;
    let mut picked: Vec<usize> = (0..columns)
        .map(|k| (k * last + (columns - 1) / 2) / (columns - 1))
        .collect();
    let size = |i: usize| rows[i].difference.map_or(0.0, |d| d.value.abs());
    let telling = (0..rows.len()).fold(0, |best, i| if size(i) > size(best) { i } else { best });
    if !picked.contains(&telling) && columns > 2 {
        let nearest = (1..columns - 1)
            .min_by_key(|&k| picked[k].abs_diff(telling))
            .unwrap_or(1);
        picked[nearest] = telling;
    }
    picked.sort_unstable();
    picked.dedup();
    picked.into_iter().map(|i| rows[i]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{lamp, rung, study};

    #[test]
    fn both_ends_and_the_worst_rung_stay_when_rungs_are_left_out() {
        let rungs: Vec<AngleRow> = (0..9)
            .map(|i| {
                rung(
                    &format!("{} mm", i * 50),
                    f64::from(i) / 8.0,
                    90.0,
                    if i == 5 { 92.0 } else { 90.0 },
                    0.2,
                )
            })
            .collect();
        let rows: Vec<&AngleRow> = rungs.iter().collect();
        let places: Vec<&str> = chosen(&rows, 3).iter().map(|r| r.place.as_str()).collect();
        assert_eq!(places, ["0 mm", "250 mm", "400 mm"]);
        assert_eq!(chosen(&rows, 5).len(), 5);
        assert_eq!(chosen(&rows, 20).len(), 9);
    }

    #[test]
    fn a_ladder_reads_left_right_and_left_minus_right() {
        let study = study(vec![lamp()]);
        let pair = Pair::all(&study)[0];
        let (name, rows) = &pair.ladders()[0];
        let text: Vec<String> = ladder(&pair, name, rows, (5, 2), Look::default())
            .iter()
            .map(|l| l.render(false))
            .collect();
        assert_eq!(
            text,
            [
                "metal angle °   top   1/4   1/2   3/4  bottom",
                "left           89.1  89.3  89.5  89.6    89.8 ±0.2",
                "right          90.4  90.1  89.8  89.6    89.3 ±0.2",
                "left − right   −1.3  −0.8  −0.3   0.0    +0.5 ±0.2",
            ]
        );
    }
}
