//! Junction angles by protractor, station by station.

use geom::{Rigid, u95};
use record::{
    Code, Figure, Finding, HandKind, MeasuredJunction, Opening, Quantity, Severity, Source,
    StationAngle, Through,
};

use super::pool::Pooled;

/// The junctions that rows of kind "angle" name, in the order in which they come. Their places are not known: they are
/// shown along the middle of the opening, top to bottom.
pub fn junctions(
    opening: &Opening,
    readings: &[Pooled],
    part_from_net: &Rigid,
    half_height: f64,
    findings: &mut Vec<Finding>,
) -> Vec<MeasuredJunction> {
    let rows: Vec<&Pooled> = readings
        .iter()
        .filter(|r| r.kind == HandKind::Angle)
        .collect();
    let mut names: Vec<&str> = Vec::new();
    for r in rows.iter().filter(|r| share_of(&r.station, 1.0).is_none()) {
        findings.push(Finding {
            code: Code::HandRowNotUsed,
            severity: Severity::Doubt,
            subject: opening.name.clone(),
            says: format!(
                "line {}: \"{}\" is no place along a junction",
                r.lines[0], r.station
            ),
            advice: "write top, 1/4, 1/2, 3/4, bottom, a share such as 30 %, or a length such as 120 mm into \"station\""
                .to_owned(),
            numbers: Vec::new(),
        });
    }
    for r in &rows {
        if let Some(n) = r.from.first()
            && !names.contains(&n.as_str())
        {
            names.push(n);
        }
    }
    names
        .into_iter()
        .map(|name| {
            let own: Vec<&Pooled> = rows
                .iter()
                .filter(|r| r.from.first().is_some_and(|n| n == name))
                .copied()
                .collect();
            junction(name, &own, part_from_net, half_height)
        })
        .collect()
}

fn junction(
    name: &str,
    rows: &[&Pooled],
    part_from_net: &Rigid,
    half_height: f64,
) -> MeasuredJunction {
    let farthest = rows
        .iter()
        .filter_map(|r| millimetres(&r.station))
        .fold(0.0, f64::max);
    let length = if farthest > 0.0 {
        farthest
    } else {
        2.0 * half_height
    };
    let net_from_part = part_from_net.inverse();
    let at = |share: f64| {
        let y = half_height * (1.0 - 2.0 * share);
        net_from_part * geom::Point::new(0.0, y, 0.0)
    };
    let mut stations: Vec<StationAngle> = rows
        .iter()
        .filter_map(|r| {
            let share = share_of(&r.station, length)?;
            Some(StationAngle {
                place: if r.station.is_empty() {
                    "1/2".to_owned()
                } else {
                    r.station.clone()
                },
                share,
                from_start_mm: share * length,
                angle: figure(r.value, r.sigma(), r.nu, r.count, Quantity::Angle),
                at: at(share),
            })
        })
        .collect();
    stations.sort_by(|a, b| a.share.total_cmp(&b.share));
    let through = if rows
        .iter()
        .any(|r| r.to.first().is_some_and(|t| t.eq_ignore_ascii_case("air")))
    {
        Through::Air
    } else {
        Through::Material
    };
    MeasuredJunction {
        id: name.into(),
        through,
        start: at(0.0),
        end: at(1.0),
        length_mm: length,
        twist: twist(&stations, length),
        stations,
        // Nothing is known of the faces beside the legs of the protractor.
        flat_error: figure(0.0, 0.0, f64::INFINITY, 1, Quantity::Length),
        ruled: false,
        ruled_p: 1.0,
        widths_mm: [0.0, 0.0],
        findings: Vec::new(),
    }
}

fn figure(value: f64, u: f64, nu: f64, count: usize, quantity: Quantity) -> Figure {
    Figure {
        value,
        u95: u95(u, nu),
        nu,
        source: if count > 1 {
            Source::Repeats
        } else {
            Source::Instrument
        },
        quantity,
    }
}

/// Slope of the angles along the junction, degrees per 100 mm; 0 and no doubt stated with one station.
fn twist(stations: &[StationAngle], length: f64) -> Figure {
    let n = stations.len() as f64;
    let mean = stations.iter().map(|s| s.share).sum::<f64>() / n.max(1.0);
    let spread: f64 = stations.iter().map(|s| (s.share - mean).powi(2)).sum();
    if spread <= 0.0 || length <= 0.0 {
        return figure(0.0, 0.0, f64::INFINITY, 1, Quantity::TwistRate);
    }
    let per = 100.0 / (spread * length);
    let weight = |s: &StationAngle| (s.share - mean) * per;
    let value = stations.iter().map(|s| weight(s) * s.angle.value).sum();
    let parts: Vec<(f64, f64)> = stations
        .iter()
        .map(|s| {
            let u = s.angle.u95 / geom::t_quantile(0.975, s.angle.nu);
            (weight(s).abs() * u, s.angle.nu)
        })
        .collect();
    let (u, nu) = geom::welch_satterthwaite(&parts);
    figure(value, u, nu, 1, Quantity::TwistRate)
}

/// "120 mm".
fn millimetres(station: &str) -> Option<f64> {
    let text = station.trim().strip_suffix("mm")?.trim().replace(',', ".");
    text.parse()
        .ok()
        .filter(|v: &f64| v.is_finite() && *v >= 0.0)
}

/// Share of the length from the named start.
fn share_of(station: &str, length: f64) -> Option<f64> {
    let text = station.trim().to_lowercase();
    match text.as_str() {
        "top" | "start" | "upper end" => return Some(0.0),
        "" | "middle" | "mid" => return Some(0.5),
        "bottom" | "end" | "lower end" => return Some(1.0),
        _ => {}
    }
    if let Some(mm) = millimetres(&text) {
        return (length > 0.0).then(|| (mm / length).min(1.0));
    }
    if let Some((over, under)) = text.split_once('/') {
        let (a, b): (f64, f64) = (over.trim().parse().ok()?, under.trim().parse().ok()?);
        return (b > 0.0 && a <= b && a >= 0.0).then(|| a / b);
    }
    let percent = text.strip_suffix('%')?.trim().replace(',', ".");
    percent
        .parse()
        .ok()
        .map(|v: f64| v / 100.0)
        .filter(|v| (0.0..=1.0).contains(v))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stations_as_people_write_them() {
        for (text, share) in [
            ("top", Some(0.0)),
            ("1/4", Some(0.25)),
            ("25 %", Some(0.25)),
            ("60 mm", Some(0.5)),
            ("Bottom", Some(1.0)),
            ("", Some(0.5)),
            ("5/4", None),
            ("somewhere", None),
        ] {
            assert_eq!(share_of(text, 120.0), share, "{text}");
        }
    }
}
