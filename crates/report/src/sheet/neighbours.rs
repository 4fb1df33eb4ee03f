//! Gaps to neighbours and hinges drawn: gap and flush along a gap, left against right; barrels against their common line.

use geom::{Point, Vector};
use record::{DisplayUnits, Figure, GapStation, MeasuredHinge, PanelGap, Quantity};

use super::marks::side_mark;
use super::sections::scale_bar;
use super::{Anchor, Dash, Sheet, cut};
use crate::number::{show, to_step, unit_text};
use crate::sections::{gap_sentence, hinge_sentence};
use crate::theme::{Ink, line, size, space, weight};

const CAPTION: (f64, u16) = (size::CAPTION, weight::REGULAR);
const HEAD: (f64, u16) = (size::CAPTION, weight::SEMI_BOLD);

/// Height of one chart of a gap.
const CHART: f64 = 74.0;
/// Height of the drawing of a hinge.
const HINGE: f64 = 148.0;

/// One of the two figures of a gap.
type Of = fn(&GapStation) -> Option<Figure>;

/// Gap and flush along a gap from its named start, one above the other, the left and the right in their lines with their give or
/// take; a dot below where the difference of the two is proven. `width` wide and as high as it is.
///
/// Degenerate: what was not seen is left open; without any station the picture is empty.
pub fn gap_strip(gap: &PanelGap, units: DisplayUnits, width: f64) -> Sheet {
    let mut sheet = Sheet::empty([width, 0.0], gap_sentence(gap, units));
    if gap.left.is_empty() && gap.right.is_empty() {
        return sheet;
    }
    let flush = format!("+ : {} stands proud", gap.panels[0]);
    let charts: [(&str, String, Of, usize); 2] = [
        ("Gap", String::new(), |s| s.gap, 0),
        ("Flush", flush, |s| s.flush, 1),
    ];
    let mut y = 0.0;
    for (name, more, of, which) in charts {
        y = chart(&mut sheet, gap, units, (name, &more), (of, which), y);
    }
    let [from, to] = ends(width);
    sheet.text([from, y + 14.0], CAPTION, Anchor::Start, Ink::Ink2, "start");
    sheet.text([to, y + 14.0], CAPTION, Anchor::End, Ink::Ink2, "end");
    let says = "a dot: left and right differ, proven";
    sheet.text(
        [f64::midpoint(from, to), y + 14.0],
        CAPTION,
        Anchor::Middle,
        Ink::Ink2,
        says,
    );
    sheet.height = y + 22.0;
    sheet
}

fn ends(width: f64) -> [f64; 2] {
    [44.0, width - 8.0]
}

/// One chart below `top`; where it ends.
fn chart(
    sheet: &mut Sheet,
    gap: &PanelGap,
    units: DisplayUnits,
    (name, more): (&str, &str),
    (of, which): (Of, usize),
    top: f64,
) -> f64 {
    let unit = unit_text(Quantity::Length, units).trim();
    let head = if more.is_empty() {
        format!("{name}, {unit}")
    } else {
        format!("{name}, {unit}: {more}")
    };
    let base = top + 16.0;
    let [from, to] = ends(sheet.width);
    let head = cut(&head, to - 120.0, HEAD.0, HEAD.1);
    sheet.text([0.0, base], HEAD, Anchor::Start, Ink::Ink2, head);
    side_mark(sheet, true, [to - 96.0, base - 5.0], 4.5);
    sheet.text([to - 86.0, base], CAPTION, Anchor::Start, Ink::Left, "left");
    side_mark(sheet, false, [to - 46.0, base - 5.0], 4.5);
    sheet.text(
        [to - 34.0, base],
        CAPTION,
        Anchor::Start,
        Ink::Right,
        "right",
    );
    let [above, foot] = [base + 10.0, base + 10.0 + CHART];
    let all = gap.left.iter().chain(&gap.right).filter_map(of);
    let reach = all.fold([f64::INFINITY, f64::NEG_INFINITY], |r, f| {
        let doubt = f.u95.min(2.0);
        [r[0].min(f.value - doubt), r[1].max(f.value + doubt)]
    });
    if reach[0] > reach[1] {
        let at = [from, above + 16.0];
        sheet.text(at, CAPTION, Anchor::Start, Ink::Ink3, "not seen");
        return above + 24.0;
    }
    let span = (reach[1] - reach[0]).max(0.2);
    let at_y = |v: f64| foot - (v - reach[0]) / span * CHART;
    let at_x = |share: f64| from + share * (to - from);
    sheet.rect(
        [from, above],
        [to - from, CHART],
        Some((Ink::Hair, line::HAIR, Dash::Full)),
        None,
    );
    if reach[0] < 0.0 && reach[1] > 0.0 {
        let zero = at_y(0.0);
        sheet.line(&[[from, zero], [to, zero]], Ink::Ink2, line::HAIR);
    }
    for v in reach {
        let text = to_step(
            crate::number::to_shown_unit(v, Quantity::Length, units),
            step(units),
            units,
        );
        let y = at_y(v).clamp(above + 9.0, foot - 1.0);
        sheet.text([from - 6.0, y + 2.0], CAPTION, Anchor::End, Ink::Ink2, text);
    }
    for (stations, ink, tint, dash) in [
        (&gap.left, Ink::Left, Ink::LeftTint, Dash::Full),
        (&gap.right, Ink::Right, Ink::RightTint, Dash::Right),
    ] {
        for run in seen(stations, of) {
            for pair in run.windows(2) {
                let [(a, f), (b, g)] = [pair[0], pair[1]];
                let quad = vec![
                    [at_x(a), at_y(f.value - f.u95.min(2.0))],
                    [at_x(b), at_y(g.value - g.u95.min(2.0))],
                    [at_x(b), at_y(g.value + g.u95.min(2.0))],
                    [at_x(a), at_y(f.value + f.u95.min(2.0))],
                ];
                sheet.path(quad, true, None, Some(tint));
            }
        }
        for run in seen(stations, of) {
            let points: Vec<[f64; 2]> =
                run.iter().map(|(s, f)| [at_x(*s), at_y(f.value)]).collect();
            match points.as_slice() {
                [p] => sheet.disc(*p, 2.4, ink),
                _ => sheet.path(points, false, Some((ink, line::SIDE, dash)), None),
            }
        }
    }
    for d in gap.differences.iter().filter(|d| d.proven[which]) {
        sheet.disc([at_x(d.share), foot + 6.0], 3.0, Ink::Ink);
    }
    foot + 12.0
}

/// A hundredth of a millimetre is more than a gap carries; a tenth is not.
fn step(units: DisplayUnits) -> f64 {
    match units.length {
        record::LengthDisplay::Millimetre => 0.1,
        record::LengthDisplay::Inch => 0.005,
    }
}

/// Runs of neighbouring stations that were seen: share of the length, figure.
fn seen(stations: &[GapStation], of: Of) -> Vec<Vec<(f64, Figure)>> {
    let mut out: Vec<Vec<(f64, Figure)>> = Vec::new();
    let mut open = false;
    for s in stations {
        match (of(s), open) {
            (Some(f), true) => {
                if let Some(run) = out.last_mut() {
                    run.push((s.share, f));
                }
            }
            (Some(f), false) => out.push(vec![(s.share, f)]),
            (None, _) => {}
        }
        open = of(s).is_some();
    }
    out
}

/// The barrels of a hinge from the side, lying along their common line (the chain line), what each is off that line and tilted
/// against it drawn as many times as large as is written there. `width` wide.
///
/// Degenerate: with fewer than two barrels the picture is empty.
pub fn hinge_drawing(hinge: &MeasuredHinge, units: DisplayUnits, width: f64) -> Sheet {
    let mut sheet = Sheet::empty([width, 0.0], hinge_sentence(hinge, units));
    let Some(seen) = Side::of(hinge) else {
        return sheet;
    };
    sheet.height = HINGE;
    let half = |k: usize| 1.5 * hinge.barrels[k].diameter.value;
    let low = (0..seen.along.len())
        .map(|k| seen.along[k] - half(k))
        .fold(f64::INFINITY, f64::min);
    let high = (0..seen.along.len())
        .map(|k| seen.along[k] + half(k))
        .fold(f64::NEG_INFINITY, f64::max);
    let mm = (width - 2.0 * space::INSIDE) / (high - low).max(1.0);
    let middle = 64.0;
    let off = (0..seen.along.len())
        .map(|k| seen.off[k].abs() + seen.tilt[k].abs() * half(k))
        .fold(0.0, f64::max);
    let thick = hinge
        .barrels
        .iter()
        .map(|b| b.diameter.value)
        .fold(0.0, f64::max)
        * mm
        / 2.0;
    let room = (38.0 - thick).max(8.0);
    let factor = [100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0]
        .into_iter()
        .find(|f| f * off * mm <= room)
        .unwrap_or(1.0);
    let at = |along: f64, off: f64| {
        [
            space::INSIDE + mm * (along - low),
            middle - mm * factor * off,
        ]
    };
    let chain = Some((Ink::Ink2, 1.0, Dash::Chain));
    sheet.path(vec![at(low, 0.0), at(high, 0.0)], false, chain, None);
    for (k, barrel) in hinge.barrels.iter().enumerate() {
        let [from, to] = [-1.0, 1.0].map(|end| {
            let along = end * half(k);
            at(seen.along[k] + along, seen.off[k] + seen.tilt[k] * along)
        });
        let r = 0.5 * barrel.diameter.value * mm;
        let ring = vec![
            [from[0], from[1] - r],
            [to[0], to[1] - r],
            [to[0], to[1] + r],
            [from[0], from[1] + r],
        ];
        let proven = hinge
            .steps
            .iter()
            .any(|s| s.between.contains(&barrel.name) && s.proven.contains(&true));
        let wide = if proven { line::SIDE } else { 1.0 };
        sheet.path(
            ring,
            true,
            Some((Ink::Ink, wide, Dash::Full)),
            Some(Ink::Field),
        );
        sheet.line(&[from, to], Ink::Ink, 1.0);
        let x = f64::midpoint(from[0], to[0]);
        let name = format!(
            "{}, Ø {}",
            barrel.name,
            show(&barrel.diameter, units).plus_minus()
        );
        sheet.text(
            [x.clamp(64.0, (width - 64.0).max(64.0)), 16.0],
            CAPTION,
            Anchor::Middle,
            Ink::Ink2,
            name,
        );
    }
    for s in &hinge.steps {
        let place = |name: &String| hinge.barrels.iter().position(|b| b.name == *name);
        let (Some(a), Some(b)) = (place(&s.between[0]), place(&s.between[1])) else {
            continue;
        };
        let x = at(f64::midpoint(seen.along[a], seen.along[b]), 0.0)[0];
        let text = format!(
            "off {}, {}",
            show(&s.offset, units).plus_minus(),
            show(&s.angle, units).plus_minus()
        );
        let letter = if s.proven.contains(&true) {
            HEAD
        } else {
            CAPTION
        };
        sheet.text([x, HINGE - 34.0], letter, Anchor::Middle, Ink::Ink, text);
    }
    scale_bar(
        &mut sheet,
        mm,
        (factor, "what is off the line is drawn"),
        units,
    );
    sheet
}

/// Barrels as they are seen from the side where they stray most.
struct Side {
    /// Along the common line, mm.
    along: Vec<f64>,
    /// Off it, mm.
    off: Vec<f64>,
    /// Off it by so much a mm along.
    tilt: Vec<f64>,
}

impl Side {
    fn of(hinge: &MeasuredHinge) -> Option<Self> {
        let all = &hinge.barrels;
        if all.len() < 2 {
            return None;
        }
        let n = all.len() as f64;
        let sum: Vector = all.iter().map(|b| b.middle.coords).sum();
        let middle = Point::from(sum / n);
        let run = all.last()?.middle - all.first()?.middle;
        let axes: Vector = all
            .iter()
            .map(|b| b.axis.into_inner() * b.axis.dot(&run).signum())
            .sum();
        let line = axes.try_normalize(1e-9)?;
        let across = |v: Vector| v - line * v.dot(&line);
        let reach = |b: &record::HingeBarrel| {
            let tilt = across(b.axis.into_inner() * b.axis.dot(&line).signum());
            [across(b.middle - middle), tilt * (1.5 * b.diameter.value)]
        };
        let most = all
            .iter()
            .flat_map(reach)
            .max_by(|a, b| a.norm().total_cmp(&b.norm()))?;
        let side = most.try_normalize(1e-12).unwrap_or_else(|| {
            let mut axis = Vector::zeros();
            axis[line.iamin()] = 1.0;
            across(axis).normalize()
        });
        Some(Self {
            along: all.iter().map(|b| (b.middle - middle).dot(&line)).collect(),
            off: all.iter().map(|b| (b.middle - middle).dot(&side)).collect(),
            tilt: all
                .iter()
                .map(|b| b.axis.dot(&side) / b.axis.dot(&line))
                .collect(),
        })
    }
}

#[cfg(test)]
mod tests {
    use geom::Unit;
    use record::{GapDifference, HingeBarrel, HingeStep};

    use super::*;
    use crate::sheet::Item;
    use crate::testing::{figure, mm as length};

    fn station(share: f64, gap: Option<f64>) -> GapStation {
        GapStation {
            share,
            from_start_mm: 300.0 * share,
            gap: gap.map(|g| length(g, 0.1)),
            flush: Some(length(0.3 - share, 0.05)),
            by_walls: true,
            at: Point::origin(),
        }
    }

    fn gap() -> PanelGap {
        let all = |add: f64| -> Vec<GapStation> {
            (0..11)
                .map(|k| {
                    let share = f64::from(k) / 10.0;
                    // The sixth was not seen.
                    station(share, (k != 5).then_some(4.0 + share + add))
                })
                .collect()
        };
        PanelGap {
            name: "door to wing".to_owned(),
            panels: ["door".to_owned(), "wing".to_owned()],
            left: all(0.0),
            right: all(0.6),
            differences: vec![GapDifference {
                share: 0.3,
                gap: Some(length(-0.6, 0.14)),
                flush: None,
                proven: [true, false],
            }],
        }
    }

    fn lines(sheet: &Sheet, of: Ink) -> Vec<Vec<[f64; 2]>> {
        let line = |i: &Item| match i {
            Item::Path {
                points,
                stroke: Some((ink, ..)),
                ..
            } if *ink == of => Some(points.clone()),
            _ => None,
        };
        sheet.items.iter().filter_map(line).collect()
    }

    #[test]
    fn a_gap_is_drawn_left_and_right_with_a_hole_where_it_was_not_seen() {
        let sheet = gap_strip(&gap(), DisplayUnits::default(), 400.0);
        // Two pieces of the gap and one of the flush a side.
        for ink in [Ink::Left, Ink::Right] {
            let found = lines(&sheet, ink);
            let counts: Vec<usize> = found.iter().map(Vec::len).collect();
            assert_eq!(counts, [5, 5, 11], "{ink:?}");
        }
        // The right gap is wider: it is drawn higher.
        let [left, right] = [Ink::Left, Ink::Right].map(|ink| lines(&sheet, ink)[0][0][1]);
        assert!(right < left);
        let dots = |i: &&Item| matches!(i, Item::Disc { fill: Ink::Ink, .. });
        assert_eq!(sheet.items.iter().filter(dots).count(), 1);
        for item in &sheet.items {
            if let Item::Path { points, .. } = item {
                for p in points {
                    assert!((-0.01..=400.01).contains(&p[0]), "{p:?}");
                    assert!((-0.01..=sheet.height).contains(&p[1]), "{p:?}");
                }
            }
        }
        let none = PanelGap {
            left: Vec::new(),
            right: Vec::new(),
            ..gap()
        };
        let sheet = gap_strip(&none, DisplayUnits::default(), 400.0);
        assert!(sheet.items.is_empty());
    }

    #[test]
    fn barrels_lie_along_their_line_and_the_one_that_is_off_it_is_drawn_off_it() {
        let barrel = |name: &str, z: f64, off: f64| HingeBarrel {
            name: name.to_owned(),
            middle: Point::new(off, 0.0, z),
            axis: Unit::new_normalize(Vector::z()),
            diameter: length(12.0, 0.1),
            arc_deg: 200.0,
        };
        let step = |a: &str, b: &str, proven: bool| HingeStep {
            between: [a.to_owned(), b.to_owned()],
            offset: length(0.8, 0.1),
            angle: figure(0.1, 0.2, Quantity::Angle),
            proven: [proven, false],
        };
        let hinge = MeasuredHinge {
            name: "left door hinges".to_owned(),
            barrels: vec![
                barrel("lower", 0.0, 0.0),
                barrel("middle", 200.0, 0.8),
                barrel("upper", 400.0, 0.0),
            ],
            steps: vec![
                step("lower", "middle", true),
                step("middle", "upper", false),
            ],
            swing: None,
        };
        let sheet = hinge_drawing(&hinge, DisplayUnits::default(), 400.0);
        let axes: Vec<Vec<[f64; 2]>> = lines(&sheet, Ink::Ink)
            .into_iter()
            .filter(|l| l.len() == 2)
            .collect();
        assert_eq!(axes.len(), 3);
        let y = |k: usize| axes[k][0][1];
        assert!(
            (y(0) - y(2)).abs() < 1e-6 && (y(1) - y(0)).abs() > 8.0,
            "{axes:?}"
        );
        assert!(
            axes.windows(2).all(|w| w[0][1][0] < w[1][0][0]),
            "along the line"
        );
        let alone = MeasuredHinge {
            barrels: hinge.barrels[..1].to_vec(),
            ..hinge
        };
        let sheet = hinge_drawing(&alone, DisplayUnits::default(), 400.0);
        assert!(sheet.items.is_empty());
    }
}
