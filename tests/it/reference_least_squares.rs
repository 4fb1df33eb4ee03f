//! Linear least squares against NIST's certified data sets and the thermometer of the GUM.

use approx::assert_relative_eq;
use geom::{fit_polynomial, least_squares, u95};
use nalgebra::{DMatrix, DVector};

use crate::reference_data::Table;

/// Relative agreement, absolute where the certified value is 0.
fn agree(found: f64, certified: f64, tolerance: f64, what: &str) {
    let error = (found - certified).abs()
        / if certified == 0.0 {
            1.0
        } else {
            certified.abs()
        };
    assert!(
        error <= tolerance,
        "{what}: {found} against {certified}, {error:.1e}"
    );
}

/// Columns as given, with a constant if `constant`.
fn columns(text: &str, constant: bool, tolerance: f64) {
    let table = Table::read(text);
    let names: Vec<&String> = table.columns().iter().filter(|c| *c != "y").collect();
    let y = table.column("y");
    let mut x: Vec<Vec<f64>> = if constant {
        vec![vec![1.0; y.len()]]
    } else {
        Vec::new()
    };
    x.extend(names.iter().map(|c| table.column(c)));
    let design = DMatrix::from_fn(y.len(), x.len(), |i, k| x[k][i]);
    let fit = least_squares(&design, &DVector::from_vec(y), None).expect("a full design");
    let sd = fit.standard_deviations();
    for k in 0..x.len() {
        let name = format!("b{}", if constant { k } else { k + 1 });
        agree(fit.coefficients[k], table.value(&name), tolerance, &name);
        agree(sd[k], table.sd(&name), tolerance, &name);
    }
    agree(
        fit.residual_sd,
        table.value("residual_sd"),
        tolerance,
        "residual sd",
    );
}

fn polynomial(text: &str, degree: usize, tolerance: f64) {
    let table = Table::read(text);
    let x = table
        .columns()
        .iter()
        .find(|c| *c != "y")
        .expect("a column of x");
    let fit =
        fit_polynomial(&table.column(x), &table.column("y"), None, degree).expect("enough points");
    let (b, c) = fit.in_powers_of_x();
    for k in 0..=degree {
        let name = format!("b{k}");
        agree(b[k], table.value(&name), tolerance, &name);
        agree(
            c[(k, k)].sqrt() * fit.fit.residual_sd,
            table.sd(&name),
            tolerance,
            &name,
        );
    }
    agree(
        fit.fit.residual_sd,
        table.value("residual_sd"),
        tolerance,
        "residual sd",
    );
}

#[test]
fn nist_lines() {
    columns(include_str!("../data/nist_norris.csv"), true, 1e-10);
    columns(include_str!("../data/nist_noint1.csv"), false, 1e-10);
    columns(include_str!("../data/nist_noint2.csv"), false, 1e-10);
}

#[test]
fn nist_longley() {
    columns(include_str!("../data/nist_longley.csv"), true, 1e-8);
}

#[test]
fn nist_polynomials() {
    polynomial(include_str!("../data/nist_pontius.csv"), 2, 1e-10);
    for text in [
        include_str!("../data/nist_wampler1.csv"),
        include_str!("../data/nist_wampler2.csv"),
        include_str!("../data/nist_wampler3.csv"),
    ] {
        polynomial(text, 5, 1e-7);
    }
    polynomial(include_str!("../data/nist_filip.csv"), 10, 1e-6);
}

/// JCGM 100:2008 (GUM), H.3, table H.6: calibration of a thermometer, b(t) = y1 + y2 (t - 20).
#[test]
fn gum_thermometer() {
    let table = Table::read(include_str!("../data/gum_h3.csv"));
    let (t, b) = (table.column("t"), table.column("b"));
    let design = DMatrix::from_fn(t.len(), 2, |i, k| if k == 0 { 1.0 } else { t[i] - 20.0 });
    let fit = least_squares(&design, &DVector::from_vec(b), None).expect("a full design");
    let sd = fit.standard_deviations();
    let c = &fit.covariance_factor;
    assert_relative_eq!(fit.coefficients[0], -0.1712, epsilon = 5e-5);
    assert_relative_eq!(fit.coefficients[1], 0.00218, epsilon = 5e-6);
    assert_relative_eq!(fit.coefficients[0], table.value("y1"), max_relative = 1e-10);
    assert_relative_eq!(fit.coefficients[1], table.value("y2"), max_relative = 1e-10);
    assert_relative_eq!(sd[0], 0.0029, epsilon = 5e-5);
    assert_relative_eq!(sd[1], table.sd("y2"), max_relative = 1e-10);
    assert_relative_eq!(
        c[(0, 1)] / (c[(0, 0)] * c[(1, 1)]).sqrt(),
        -0.930,
        epsilon = 5e-4
    );
    assert_relative_eq!(fit.residual_sd, 0.0035, epsilon = 5e-5);
    let row = DVector::from_row_slice(&[1.0, 10.0]);
    let u = (row.transpose() * c * &row)[(0, 0)].sqrt() * fit.residual_sd;
    assert_relative_eq!(row.dot(&fit.coefficients), -0.1494, epsilon = 5e-5);
    assert_relative_eq!(u, 0.0041, epsilon = 5e-5);
    assert_eq!(fit.dof, 9);
    assert_relative_eq!(u95(u, 9.0), 2.262 * u, max_relative = 2e-4);
}
