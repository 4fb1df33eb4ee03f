//! Taubin's algebraic circle.

/// The circle of Taubin's fit (G. Taubin 1991, IEEE PAMI 13, 1115; moments and Newton's method from zero as
/// Al-Sharadqah & Chernov 2009, Electron. J. Stat. 3, 886): centre x, centre y, radius. `None` if the points lie on a
/// line. Exact for three points.
pub(super) fn taubin(points: &[[f64; 2]], weights: &[f64]) -> Option<[f64; 3]> {
    let used = || points.iter().zip(weights).filter(|(_, w)| **w > 0.0);
    let total: f64 = used().map(|(_, w)| w).sum();
    let mean = |k: usize| used().map(|(p, w)| w * p[k]).sum::<f64>() / total;
    let (mx, my) = (mean(0), mean(1));
    // Scaled so that the mean square distance from the centroid is 1.
    let spread = used()
        .map(|(p, w)| w * ((p[0] - mx).powi(2) + (p[1] - my).powi(2)))
        .sum::<f64>()
        / total;
    if !(spread > 0.0 && spread.is_finite()) {
        return None;
    }
    let unit = spread.sqrt();
    let (mut xx, mut yy, mut xy, mut xz, mut yz, mut zz) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for (p, w) in used() {
        let (x, y, w) = ((p[0] - mx) / unit, (p[1] - my) / unit, w / total);
        let z = x * x + y * y;
        xx += w * x * x;
        yy += w * y * y;
        xy += w * x * y;
        xz += w * x * z;
        yz += w * y * z;
        zz += w * z * z;
    }
    let mz = xx + yy;
    let cov = xx * yy - xy * xy;
    let var_z = zz - mz * mz;
    let a3 = 4.0 * mz;
    let a2 = -3.0 * mz * mz - zz;
    let a1 = var_z * mz + 4.0 * cov * mz - xz * xz - yz * yz;
    let a0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - var_z * cov;
    // The polynomial falls from above zero at 0 to its first root without turning: Newton from 0 cannot overshoot.
    let mut root = 0.0_f64;
    for _ in 0..100 {
        let value = a0 + root * (a1 + root * (a2 + root * a3));
        let slope = a1 + root * (2.0 * a2 + root * 3.0 * a3);
        let next = root - value / slope;
        if !next.is_finite() || next <= root || next < 0.0 {
            break;
        }
        root = next;
    }
    let determinant = root * root - root * mz + cov;
    // Flatter than one part in 1e12 of the spread is a line.
    if determinant.abs() <= 1e-24 || cov <= 1e-24 {
        return None;
    }
    let x = (xz * (yy - root) - yz * xy) / (2.0 * determinant);
    let y = (yz * (xx - root) - xz * xy) / (2.0 * determinant);
    let radius = (x * x + y * y + mz).sqrt();
    radius
        .is_finite()
        .then_some([mx + unit * x, my + unit * y, unit * radius])
}
