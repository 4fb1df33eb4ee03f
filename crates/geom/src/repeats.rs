//! What repeated readings say, without any noise model.

use crate::Uncertain;

/// Scatter of a single reading from figures of one kind that were each read several times, everything that can differ
/// done anew in between (scanned, joined, fitted): s^2 = sum of squares about each figure's own mean over
/// nu = sum (k - 1). For figures read twice this is sum d^2 / 2m with m degrees of freedom. The mean of k readings has
/// s / sqrt(k).
///
/// Holds whatever the correlation of the noise; it does not hold what was not done anew (the scale of the instrument,
/// the state of the body). Below 6 degrees of freedom it is too wide to be of use alone. `None` if no figure was read
/// twice.
pub fn repeat_scatter<'a>(figures: impl IntoIterator<Item = &'a [f64]>) -> Option<Uncertain> {
    let (mut squares, mut nu) = (0.0, 0.0);
    for readings in figures {
        if readings.len() < 2 {
            continue;
        }
        let mean = readings.iter().sum::<f64>() / readings.len() as f64;
        squares += readings.iter().map(|x| (x - mean).powi(2)).sum::<f64>();
        nu += (readings.len() - 1) as f64;
    }
    (nu > 0.0).then(|| Uncertain::new((squares / nu).sqrt(), nu))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn pairs_and_triples_are_pooled() {
        let figures: [&[f64]; 4] = [&[1.0, 1.2], &[5.0], &[2.0, 2.3, 2.6], &[]];
        let u = repeat_scatter(figures).unwrap();
        assert_relative_eq!(u.s, ((0.02 + 0.18) / 3.0_f64).sqrt(), epsilon = 1e-12);
        assert_eq!(u.nu, 3.0);
        assert_eq!(repeat_scatter([&[1.0][..]]), None);
    }
}
