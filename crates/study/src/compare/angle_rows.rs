//! The ladder of angles of a pair.

use geom::u95;
use record::{AngleRow, Figure};

use crate::measure::OpeningWork;

/// The ladder of angles: junctions of the same name on both sides, station by station at equal share of the length.
pub fn angles(a: &OpeningWork, b: Option<&OpeningWork>) -> Vec<AngleRow> {
    let mut rows = Vec::new();
    for ja in &a.measured.junctions {
        let jb = b.and_then(|b| b.measured.junctions.iter().find(|j| j.id == ja.id));
        let last = ja.stations.len().saturating_sub(1);
        for (i, sa) in ja.stations.iter().enumerate() {
            let sb = jb.and_then(|j| {
                j.stations
                    .iter()
                    .find(|s| (s.share - sa.share).abs() < 1e-6)
            });
            let difference = sb.map(|sb| difference(&sa.angle, &sb.angle));
            rows.push(AngleRow {
                junction: ja.id.clone(),
                place: sa.place.clone(),
                share: sa.share,
                through: ja.through,
                a: Some(sa.angle),
                b: sb.map(|s| s.angle),
                difference,
                drawn_deg: a.drawn(&ja.id),
                independent: difference.is_some() && (!ja.ruled || i == 0 || i == last),
            });
        }
    }
    rows
}

/// a minus b of independent figures.
fn difference(a: &Figure, b: &Figure) -> Figure {
    let s = |f: &Figure| f.u95 / geom::t_quantile(0.975, f.nu);
    let (u, nu) = geom::welch_satterthwaite(&[(s(a), a.nu), (s(b), b.nu)]);
    Figure {
        value: a.value - b.value,
        u95: u95(u, nu),
        nu,
        source: if a.u95 >= b.u95 { a.source } else { b.source },
        quantity: a.quantity,
    }
}
