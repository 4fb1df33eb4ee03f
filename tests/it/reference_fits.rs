//! Quantiles, lines, circles and absolute orientation against published values.

use approx::assert_relative_eq;
use geom::{
    Point, chi_square_quantile, fit_circle_2d, fit_line_2d, fit_line_weighted, fit_similarity,
    fit_similarity_2d, normal_quantile, t_quantile,
};

use crate::reference_data::Table;

#[test]
fn quantiles_to_the_printed_digits() {
    let t = Table::read(include_str!("../data/quantiles_t.csv"));
    for (k, nu) in t.column("nu").into_iter().enumerate() {
        assert_relative_eq!(
            t_quantile(0.975, nu),
            t.column("p975")[k],
            epsilon = 5.01e-4
        );
        // Table G.2 rounds 2.025 up at nu = 100.
        assert_relative_eq!(
            t_quantile(0.97725, nu),
            t.column("p9545")[k],
            epsilon = 5.5e-3
        );
    }
    let c = Table::read(include_str!("../data/quantiles_chi_square.csv"));
    for (k, nu) in c.column("nu").into_iter().enumerate() {
        for (p, column) in [
            (0.025, "p025"),
            (0.975, "p975"),
            (0.95, "p95"),
            (0.99, "p99"),
        ] {
            assert_relative_eq!(
                chi_square_quantile(p, nu),
                c.column(column)[k],
                epsilon = 5.01e-4
            );
        }
    }
    for (p, z) in [
        (0.8, 0.8416),
        (0.9, 1.2816),
        (0.95, 1.6449),
        (0.99, 2.3263),
        (0.999, 3.0902),
    ] {
        assert_relative_eq!(normal_quantile(p), z, epsilon = 5.01e-5);
    }
    // Baarda: level 0.001 two-sided, power 0.80.
    let critical = normal_quantile(0.9995);
    assert_relative_eq!(critical, 3.2905, epsilon = 5.01e-5);
    assert_relative_eq!(critical + normal_quantile(0.8), 4.1321, epsilon = 5.01e-5);
}

#[test]
fn pearsons_points_with_yorks_weights() {
    let table = Table::read(include_str!("../data/line_pearson_york.csv"));
    let sigma =
        |name: &str| -> Vec<f64> { table.column(name).iter().map(|w| 1.0 / w.sqrt()).collect() };
    let (x, y) = (table.column("x"), table.column("y"));
    let line = fit_line_weighted(&x, &y, &sigma("wx"), &sigma("wy")).expect("a line");
    assert_relative_eq!(line.intercept, table.value("intercept"), epsilon = 5.01e-9);
    assert_relative_eq!(line.slope, table.value("slope"), epsilon = 5.01e-10);
    let reduced = line.chi_square / line.dof as f64;
    assert_relative_eq!(
        reduced,
        table.value("reduced_chi_square"),
        epsilon = 5.01e-5
    );
    assert_relative_eq!(
        line.u_intercept * reduced.sqrt(),
        table.sd("intercept"),
        epsilon = 1e-9
    );
    assert_relative_eq!(
        line.u_slope * reduced.sqrt(),
        table.sd("slope"),
        epsilon = 1e-9
    );
    // Pearson's own, unweighted: y = 5.784 - 0.54556 x about (3.82, 3.70).
    let points: Vec<[f64; 2]> = x.iter().zip(&y).map(|(x, y)| [*x, *y]).collect();
    let line = fit_line_2d(&points).expect("a line");
    let slope = line.direction[1] / line.direction[0];
    assert_relative_eq!(slope, -0.54556, epsilon = 5.01e-6);
    assert_relative_eq!(
        line.centre[1] - slope * line.centre[0],
        5.784,
        epsilon = 5.01e-4
    );
}

#[test]
fn neitzels_line() {
    let table = Table::read(include_str!("../data/line_neitzel2008.csv"));
    let one = [1.0; 4];
    let line =
        fit_line_weighted(&table.column("x"), &table.column("y"), &one, &one).expect("a line");
    let sd = (line.chi_square / line.dof as f64).sqrt();
    assert_relative_eq!(line.slope, table.value("a"), epsilon = 5.01e-7);
    assert_relative_eq!(line.intercept, table.value("b"), epsilon = 5.01e-7);
    assert_relative_eq!(line.u_slope * sd, table.sd("a"), epsilon = 5.01e-7);
    assert_relative_eq!(line.u_intercept * sd, table.sd("b"), epsilon = 5.01e-7);
    assert_relative_eq!(
        line.chi_square,
        table.value("sum_of_squares"),
        epsilon = 5.01e-7
    );
    assert_eq!(line.dof, 2);
}

/// Umeyama (1991): a plane solver without the guard returns a mirror with no error at all.
#[test]
fn umeyamas_example_is_not_mirrored() {
    let from = [[0.0, 0.0], [1.0, 0.0], [0.0, 2.0]];
    let to = [[0.0, 0.0], [-1.0, 0.0], [0.0, 2.0]];
    let map = fit_similarity_2d(&from, &to, None, true).expect("a map");
    let root = 13.0_f64.sqrt();
    assert_relative_eq!(map.angle.cos(), 3.0 / root, epsilon = 1e-14);
    // R = [[0.832, 0.555], [-0.555, 0.832]].
    assert_relative_eq!(map.angle.sin(), -2.0 / root, epsilon = 1e-14);
    assert_relative_eq!(map.scale, root / 5.0, epsilon = 1e-14);
    assert_relative_eq!(map.shift[0], -0.8, epsilon = 1e-14);
    assert_relative_eq!(map.shift[1], 0.4, epsilon = 1e-14);
    assert_relative_eq!(map.rms.powi(2) * 3.0, 1.6, epsilon = 1e-14);
}

#[test]
fn conformal_map_of_four_points() {
    let table = Table::read(include_str!("../data/conformal_ghilani.csv"));
    let points = |names: [&str; 3]| -> Vec<Point> {
        let [x, y, z] = names.map(|n| table.column(n));
        (0..x.len()).map(|k| Point::new(x[k], y[k], z[k])).collect()
    };
    let map =
        fit_similarity(&points(["x", "y", "z"]), &points(["X", "Y", "Z"]), None).expect("a map");
    assert_relative_eq!(map.scale, table.value("scale"), epsilon = 1e-10);
    for (k, name) in ["tx", "ty", "tz"].into_iter().enumerate() {
        assert_relative_eq!(map.shift[k], table.value(name), epsilon = 1e-6);
    }
    assert_relative_eq!(map.rms, table.value("rms"), epsilon = 1e-6);
    for (found, printed) in map.residuals.iter().zip(points(["rX", "rY", "rZ"])) {
        assert_relative_eq!(Point::from(*found), printed, epsilon = 5.01e-5);
    }
}

#[test]
fn scipy_circle_and_line() {
    let table = Table::read(include_str!("../data/scipy_circle.csv"));
    let points: Vec<[f64; 2]> = table
        .column("x")
        .into_iter()
        .zip(table.column("y"))
        .map(|(x, y)| [x, y])
        .collect();
    let circle = fit_circle_2d(&points).expect("a circle");
    let found = [circle.centre[0], circle.centre[1], circle.radius];
    for (k, name) in ["x", "y", "r"].into_iter().enumerate() {
        assert_relative_eq!(found[k], table.value(name), epsilon = 1e-7 * circle.radius);
        assert_relative_eq!(
            circle.covariance_factor[(k, k)].sqrt(),
            table.sd(name),
            max_relative = 1e-6
        );
    }
    assert_relative_eq!(circle.sd, table.value("sd"), max_relative = 1e-9);
    let table = Table::read(include_str!("../data/scipy_line.csv"));
    let [x, y, ux, uy] = ["x", "y", "ux", "uy"].map(|n| table.column(n));
    let line = fit_line_weighted(&x, &y, &ux, &uy).expect("a line");
    assert_relative_eq!(line.slope, table.value("slope"), epsilon = 1e-5);
    assert_relative_eq!(line.intercept, table.value("intercept"), epsilon = 1e-5);
    assert_relative_eq!(line.u_slope, table.sd("slope"), max_relative = 1e-5);
    assert_relative_eq!(line.u_intercept, table.sd("intercept"), max_relative = 1e-5);
    assert_relative_eq!(
        line.chi_square,
        table.value("chi_square"),
        max_relative = 1e-9
    );
}
