//! Gaps to neighbours and hinges, each in a sentence.

use record::{DisplayUnits, Figure, GapDifference, GapStation, MeasuredHinge, PanelGap};

use crate::number::show;
use crate::words::capital;

fn size(f: &Figure) -> Figure {
    Figure {
        value: f.value.abs(),
        ..*f
    }
}

fn told(f: &Figure, units: DisplayUnits) -> String {
    let shown = show(f, units);
    format!("{} {}", shown.with_unit(), shown.in_brackets())
}

/// `Door to wing: left gap 4.1 to 5.0 mm, right 4.0 to 4.9 mm; at 1/2 the left gap is 0.4 mm (give or take 0.1) wider. Proven.`
pub fn gap_sentence(gap: &PanelGap, units: DisplayUnits) -> String {
    let name = capital(&gap.name);
    let mut parts: Vec<String> = Vec::new();
    for (side, stations) in [("left", &gap.left), ("right", &gap.right)] {
        parts.extend(range(side, stations, gap, units));
    }
    if parts.is_empty() {
        return format!("{name}: nothing of the gap was seen.");
    }
    let mut text = format!("{name}: {}.", parts.join("; "));
    if gap.left.is_empty() || gap.right.is_empty() {
        text += " The other side was not measured.";
        return text;
    }
    let mut ranked: Vec<(&GapDifference, usize, Figure)> = gap
        .differences
        .iter()
        .flat_map(|d| {
            let both = [d.gap, d.flush].into_iter().enumerate();
            both.filter_map(move |(k, f)| Some((d, k, f?)))
        })
        .collect();
    ranked.sort_by(|a, b| {
        let share =
            |x: &(&GapDifference, usize, Figure)| (x.0.proven[x.1], x.2.value.abs() / x.2.u95);
        let (x, y) = (share(a), share(b));
        y.0.cmp(&x.0).then(y.1.total_cmp(&x.1))
    });
    let Some((d, k, f)) = ranked.first() else {
        return text;
    };
    let at = format!("{:.0} % of the way from its start", 100.0 * d.share);
    let amount = told(&size(f), units);
    let way = match (k, f.value > 0.0) {
        (0, true) => format!("the left gap is wider by {amount}"),
        (0, false) => format!("the left gap is narrower by {amount}"),
        (_, more) => format!(
            "the {} stands {} by {amount} on the left than on the right",
            gap.panels[0],
            if more { "further out" } else { "further in" }
        ),
    };
    text += &if d.proven[*k] {
        format!(" Left and right differ most {at}: {way}. Proven.")
    } else {
        format!(" No difference of left and right is proven; nearest to it {at}, where {way}.")
    };
    text
}

/// `left gap 4.1 to 5.0 mm, door proud by 0.1 to 0.6`
fn range(
    side: &str,
    stations: &[GapStation],
    gap: &PanelGap,
    units: DisplayUnits,
) -> Option<String> {
    let ends = |of: &dyn Fn(&GapStation) -> Option<Figure>| -> Option<[Figure; 2]> {
        let all: Vec<Figure> = stations.iter().filter_map(of).collect();
        let low = all.iter().min_by(|a, b| a.value.total_cmp(&b.value))?;
        let high = all.iter().max_by(|a, b| a.value.total_cmp(&b.value))?;
        Some([*low, *high])
    };
    let words = |[low, high]: [Figure; 2]| {
        format!(
            "{} to {}",
            show(&low, units).value,
            show(&high, units).with_unit()
        )
    };
    let mut parts: Vec<String> = Vec::new();
    parts.extend(ends(&|s| s.gap).map(|e| format!("{side} gap {}", words(e))));
    parts.extend(ends(&|s| s.flush).map(|e| {
        format!(
            "{side} {} against {} {}",
            gap.panels[0],
            gap.panels[1],
            words(e)
        )
    }));
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// `Left door hinges: the barrels lie on one line as far as can be told: ...`
pub fn hinge_sentence(hinge: &MeasuredHinge, units: DisplayUnits) -> String {
    let name = capital(&hinge.name);
    let mut ranked: Vec<_> = hinge.steps.iter().collect();
    ranked.sort_by(|a, b| {
        let share = |s: &&record::HingeStep| {
            (s.offset.value / s.offset.u95).max(s.angle.value / s.angle.u95)
        };
        let proven = |s: &&record::HingeStep| s.proven.contains(&true);
        proven(b)
            .cmp(&proven(a))
            .then(share(b).total_cmp(&share(a)))
    });
    let mut text = match ranked.first() {
        None => format!("{name}: fewer than two barrels were found, so no line can be judged."),
        Some(s) => {
            let by = format!(
                "the axes of {} and {} miss each other by {} and stand at {}",
                s.between[0],
                s.between[1],
                told(&s.offset, units),
                told(&s.angle, units)
            );
            if s.proven.contains(&true) {
                format!("{name}: the barrels do NOT lie on one line: {by}. Proven.")
            } else {
                format!("{name}: that the barrels are off one line is not proven: {by}.")
            }
        }
    };
    if let Some(s) = &hinge.swing {
        text += &format!(
            " Turned up to {:.0}°, the edge of {} comes within {} of the edge that stays, at {:.0}°; shut it is {} off.",
            s.open_deg,
            s.part,
            told(&s.nearest, units),
            s.at_deg,
            told(&s.shut, units)
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{deg, mm};

    fn station(share: f64, gap: f64, flush: f64) -> GapStation {
        GapStation {
            share,
            from_start_mm: 300.0 * share,
            gap: Some(mm(gap, 0.06)),
            flush: Some(mm(flush, 0.06)),
            by_walls: true,
            at: geom::Point::origin(),
        }
    }

    #[test]
    fn a_gap_in_a_sentence() {
        let mut gap = PanelGap {
            name: "door to wing".to_owned(),
            panels: ["door".to_owned(), "wing".to_owned()],
            left: vec![station(0.0, 4.0, 0.6), station(1.0, 5.0, 0.6)],
            right: vec![station(0.0, 4.0, 0.2), station(1.0, 5.0, 0.2)],
            differences: vec![GapDifference {
                share: 1.0,
                gap: Some(mm(0.0, 0.09)),
                flush: Some(mm(0.4, 0.09)),
                proven: [false, true],
            }],
        };
        assert_eq!(
            gap_sentence(&gap, DisplayUnits::default()),
            "Door to wing: left gap 4.00 to 5.00 mm, left door against wing 0.60 to 0.60 mm; right gap 4.00 to 5.00 mm, right door against wing 0.20 to 0.20 mm. Left and right differ most 100 % of the way from its start: the door stands further out by 0.40 mm (give or take 0.09) on the left than on the right. Proven."
        );
        gap.right.clear();
        gap.differences.clear();
        assert!(
            gap_sentence(&gap, DisplayUnits::default())
                .ends_with("The other side was not measured.")
        );
    }

    #[test]
    fn a_hinge_in_a_sentence() {
        let mut hinge = MeasuredHinge {
            name: "left door hinges".to_owned(),
            barrels: Vec::new(),
            steps: vec![record::HingeStep {
                between: ["lower".to_owned(), "upper".to_owned()],
                offset: mm(0.8, 0.2),
                angle: deg(0.5, 0.1),
                proven: [true, true],
            }],
            swing: None,
        };
        assert_eq!(
            hinge_sentence(&hinge, DisplayUnits::default()),
            "Left door hinges: the barrels do NOT lie on one line: the axes of lower and upper miss each other by 0.8 mm (give or take 0.2) and stand at 0.5° (give or take 0.1). Proven."
        );
        hinge.steps.clear();
        assert!(hinge_sentence(&hinge, DisplayUnits::default()).contains("fewer than two barrels"));
    }
}
