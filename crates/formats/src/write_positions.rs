//! Positions on the car as tables and JSON of their own.

use record::{Figure, PositionKind, Study};

use crate::Refused;
use crate::study_json::{kind_word, positions};
use crate::write_tables::{Sheet, Table};

/// The tables `positions` (figures that hang on the centreline) and `places` (what the centreline rests on); none where
/// no centreline was laid. A blank give-or-take is not known. Angles are in degrees, as their unit says.
///
/// # Errors
/// When a table does not read back with the cells that were written.
pub fn position_tables(study: &Study) -> Result<Vec<Table>, Refused> {
    let Some(laid) = study.positions.as_ref().and_then(|p| p.laid.as_ref()) else {
        return Ok(Vec::new());
    };
    let units = study.units;
    let word = |b: bool| if b { "yes" } else { "no" }.to_owned();
    let mut figures = Sheet::new(
        units,
        &[
            "opening",
            "figure",
            "unit",
            "left",
            "left_u95",
            "right",
            "right_u95",
            "left_minus_right",
            "left_minus_right_u95",
            "nu",
            "source",
            "proven",
            "least_over_rivals",
            "greatest_over_rivals",
            "survives_rivals",
        ],
    );
    let inch = units.length == record::LengthDisplay::Inch;
    let unit = |f: &Figure| match f.quantity {
        record::Quantity::Length if inch => "in".to_owned(),
        q => q.unit().to_owned(),
    };
    let like = |f: &Figure, value: f64| Figure { value, ..*f };
    for pair in &laid.pairs {
        for r in &pair.rows {
            let mut cells = vec![
                pair.compare.0.clone(),
                kind_word(r.kind).to_owned(),
                unit(&r.difference),
            ];
            for f in [&r.left, &r.right, &r.difference] {
                cells.extend(figures.pair(Some(f)));
            }
            cells.push(figures.number(r.difference.nu, 1));
            cells.push(r.difference.source.word().to_owned());
            cells.push(word(r.proven));
            for v in r.over_rivals {
                cells.push(figures.pair(Some(&like(&r.difference, v)))[0].clone());
            }
            cells.push(word(r.survives));
            figures.row(cells);
        }
    }
    for c in &laid.central {
        let blank = || [String::new(), String::new()];
        let mut cells = vec![
            c.opening.0.clone(),
            format!("{} (right of centreline)", kind_word(PositionKind::Out)),
            unit(&c.off),
        ];
        cells.extend(blank());
        cells.extend(blank());
        cells.extend(figures.pair(Some(&c.off)));
        cells.push(figures.number(c.off.nu, 1));
        cells.push(c.off.source.word().to_owned());
        cells.push(word(c.proven));
        for v in c.over_rivals {
            cells.push(figures.length(v));
        }
        cells.push(word(c.survives));
        figures.row(cells);
    }
    let mut places = Sheet::new(
        units,
        &[
            "place", "kind", "x_mm", "y_mm", "z_mm", "back_mm", "out_mm", "up_mm", "kept", "chance",
        ],
    );
    for p in &laid.places {
        let mut cells = vec![
            p.name.clone(),
            if p.centre { "centre" } else { "pair" }.to_owned(),
        ];
        cells.extend(places.place(&p.middle));
        cells.extend(p.misfit_mm.map(|v| places.length(v)));
        cells.push(word(p.kept));
        cells.push(p.chance.map_or_else(String::new, |c| places.number(c, 6)));
        places.row(cells);
    }
    Ok(vec![
        Table {
            name: "positions",
            bytes: figures.bytes("positions")?,
        },
        Table {
            name: "places",
            bytes: places.bytes("places")?,
        },
    ])
}

/// The positions alone as JSON text, `null` where no centreline was asked for.
pub fn positions_json(study: &Study) -> String {
    let value = study
        .positions
        .as_ref()
        .map_or(serde_json::Value::Null, positions);
    format!("{value:#}\n")
}
