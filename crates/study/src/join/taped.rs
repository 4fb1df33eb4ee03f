//! Taped lengths against the joined scans: drift along a long part shows here.

use geom::Uncertain;
use record::{
    Code, Figure, Finding, Job, Joined, Number, Place, PlaceName, Quantity, Severity, Source,
    TapedLength, TapedRow,
};

use super::common_axes::{CommonAxes, doubt_of, motions};
use super::doubts::named;

/// Quantile of the normal distribution behind a give-or-take of 95 %.
const WITHIN_95: f64 = 1.959_963_984_540_054;

/// Rows and findings for every taped length whose ends lie in common axes.
pub(super) fn check(job: &Job, joined: &mut Joined) {
    for taped in &job.taped {
        let Some((from, to)) = ends(job, joined, taped) else {
            joined.findings.push(Finding {
                code: Code::ScansNotJoined,
                severity: Severity::Doubt,
                subject: taped.from.name.clone(),
                says: format!(
                    "the taped length from {} to {} has its ends in scans that are not joined",
                    named(&taped.from.name, taped.from.side),
                    named(&taped.to.name, taped.to.side)
                ),
                advice: "join the scans, or pick both ends in one".to_owned(),
                numbers: Vec::new(),
            });
            continue;
        };
        let row = row(joined, taped, from, to);
        if row.off.value.abs() > row.off.u95 {
            joined.findings.push(disagrees(&row));
        }
        joined.lengths.push(row);
    }
}

/// The two picks, in two scans where that can be, because then the join is checked too.
fn ends<'j>(job: &'j Job, joined: &Joined, taped: &TapedLength) -> Option<(&'j Place, &'j Place)> {
    let picks = |n: &PlaceName| -> Vec<&'j Place> {
        let all = job.every_place();
        all.filter(|p| p.name == n.name && p.side == n.side)
            .collect()
    };
    let (from, to) = (picks(&taped.from), picks(&taped.to));
    let both = || from.iter().flat_map(|a| to.iter().map(move |b| (*a, *b)));
    let apart = both().find(|(a, b)| {
        a.scan != b.scan
            && CommonAxes::of(&joined.joins, &a.scan)
                .from(&b.scan)
                .is_some()
    });
    apart.or_else(|| both().find(|(a, b)| a.scan == b.scan))
}

fn row(joined: &Joined, taped: &TapedLength, from: &Place, to: &Place) -> TapedRow {
    let length = |axes: &CommonAxes| -> f64 {
        let at = |p: &Place| axes.from(&p.scan).map(|m| m * p.at);
        match (at(from), at(to)) {
            (Some(a), Some(b)) => (a - b).norm(),
            _ => f64::NAN,
        }
    };
    let scanned = length(&CommonAxes::of(&joined.joins, &from.scan));
    let motions = motions(&joined.joins);
    let changes: Vec<f64> = motions
        .iter()
        .map(|m| length(&CommonAxes::off(&joined.joins, &from.scan, m.join, &m.by)) - scanned)
        .collect();
    let known = |s: f64| Uncertain::new(s, f64::INFINITY);
    let tape = known(taped.u95_mm / WITHIN_95);
    let picks = known(from.sigma_mm.hypot(to.sigma_mm));
    let join = doubt_of(&motions, &changes);
    let all = join.map(|j| Uncertain::combined(&[tape, picks, j]));
    let most = [
        (tape.s, Source::Instrument),
        (picks.s, Source::Noise),
        (join.map_or(f64::INFINITY, |j| j.s), Source::Join),
    ]
    .into_iter()
    .fold(
        (0.0, Source::Instrument),
        |m, p| if p.0 > m.0 { p } else { m },
    );
    TapedRow {
        from: named(&from.name, from.side),
        to: named(&to.name, to.side),
        scans: [from.scan.clone(), to.scan.clone()],
        taped: Figure {
            value: taped.length_mm,
            u95: taped.u95_mm,
            nu: f64::INFINITY,
            source: Source::Instrument,
            quantity: Quantity::Length,
        },
        off: Figure {
            value: scanned - taped.length_mm,
            u95: all.map_or(f64::NAN, |a| a.u95),
            nu: all.map_or(f64::NAN, |a| a.nu),
            source: most.1,
            quantity: Quantity::Length,
        },
    }
}

fn disagrees(row: &TapedRow) -> Finding {
    let off = row.off.value;
    let way = if off > 0.0 { "longer" } else { "shorter" };
    let across = row.scans[0] != row.scans[1];
    Finding {
        code: Code::TapeDisagrees,
        severity: Severity::Doubt,
        subject: format!("{} to {}", row.from, row.to),
        says: format!(
            "{} makes {} to {} {:.1} mm {way} than the tape (give or take {:.1})",
            if across {
                format!("{} joined to {}", row.scans[1], row.scans[0])
            } else {
                format!("the scan {}", row.scans[0])
            },
            row.from,
            row.to,
            off.abs(),
            row.off.u95
        ),
        advice: if across {
            "tape it again; if it stands, the join bends or a scan drifts along its length: scan in shorter stretches with more places in both"
        } else {
            "tape it again; if it stands, the scan drifts along its length or has the wrong scale: scan in shorter stretches"
        }
        .to_owned(),
        numbers: vec![Number {
            name: "scan minus tape".to_owned(),
            value: off,
            quantity: Some(Quantity::Length),
        }],
    }
}
