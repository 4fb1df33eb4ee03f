//! Probabilities, quantiles and the combining of uncertainties.
//!
//! Thin wrappers over `statrs` that accept infinite and fractional degrees of freedom. A probability outside 0..=1,
//! degrees of freedom that are not positive, and any input that is not a number give NaN.

use statrs::distribution::{Continuous, ContinuousCDF, Normal, StudentsT};
use statrs::function::{beta::checked_beta_reg, erf, gamma::checked_gamma_ur};

/// Above this many degrees of freedom Student's t is taken from the normal with its first correction in 1/nu (the next
/// term is below 1e-12), where the incomplete beta function would lose digits.
const MANY: f64 = 1e6;

/// Standard normal probability of values below `x`.
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * erf::erfc(-x / std::f64::consts::SQRT_2)
}

/// Standard normal probability of values above `x`; exact in the far tail.
pub fn normal_sf(x: f64) -> f64 {
    normal_cdf(-x)
}

/// Standard normal density at `x`.
pub fn normal_density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// The value below which the standard normal lies with probability `p`.
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    Normal::standard().inverse_cdf(p)
}

/// Probability that Student's t with `nu` degrees of freedom (infinite: the normal) lies below `x`.
pub fn t_cdf(x: f64, nu: f64) -> f64 {
    t_sf(-x, nu)
}

/// Probability that Student's t with `nu` degrees of freedom (infinite: the normal) lies above `x`.
pub fn t_sf(x: f64, nu: f64) -> f64 {
    if x.is_nan() || nu.is_nan() || nu <= 0.0 {
        return f64::NAN;
    }
    if nu == f64::INFINITY || x.is_infinite() {
        return normal_sf(x);
    }
    if nu > MANY {
        // Abramowitz & Stegun 26.7.8.
        return normal_sf(x * (1.0 - 0.25 / nu) / (1.0 + 0.5 * x * x / nu).sqrt());
    }
    StudentsT::new(0.0, 1.0, nu).map_or(f64::NAN, |t| t.sf(x))
}

/// The value below which Student's t with `nu` degrees of freedom (infinite: the normal) lies with probability `p`.
pub fn t_quantile(p: f64, nu: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || nu.is_nan() || nu <= 0.0 {
        return f64::NAN;
    }
    if p == 0.5 {
        return 0.0;
    }
    if nu > MANY || p == 0.0 || p == 1.0 {
        let z = normal_quantile(p);
        // Abramowitz & Stegun 26.7.5, first term.
        return if z.is_infinite() {
            z
        } else {
            z + (z * z * z + z) / (4.0 * nu)
        };
    }
    StudentsT::new(0.0, 1.0, nu).map_or(f64::NAN, |t| {
        // The inverse of statrs loses digits from about nu = 1000 on: three Newton steps on the nearer tail.
        let (sign, tail) = if p < 0.5 { (-1.0, p) } else { (1.0, 1.0 - p) };
        let mut x = t.inverse_cdf(p) * sign;
        for _ in 0..3 {
            let density = t.pdf(x);
            if density > 0.0 && x.is_finite() {
                x += (t.sf(x) - tail) / density;
            }
        }
        sign * x
    })
}

/// Probability that chi-square with `nu` degrees of freedom lies above `x`.
pub fn chi_square_sf(x: f64, nu: f64) -> f64 {
    if x.is_nan() || !nu.is_finite() || nu <= 0.0 {
        return f64::NAN;
    }
    if x <= 0.0 {
        return 1.0;
    }
    if x.is_infinite() {
        return 0.0;
    }
    checked_gamma_ur(0.5 * nu, 0.5 * x).unwrap_or(f64::NAN)
}

/// The value below which chi-square with `nu` degrees of freedom lies with probability `p`.
pub fn chi_square_quantile(p: f64, nu: f64) -> f64 {
    if !nu.is_finite() || nu <= 0.0 {
        return f64::NAN;
    }
    quantile_of(p, |x| chi_square_sf(x, nu))
}

/// Probability that Fisher's F with `nu1` and `nu2` degrees of freedom lies above `x`; `nu2` may be infinite.
pub fn f_sf(x: f64, nu1: f64, nu2: f64) -> f64 {
    if x.is_nan() || !nu1.is_finite() || nu1 <= 0.0 || nu2.is_nan() || nu2 <= 0.0 {
        return f64::NAN;
    }
    if nu2 == f64::INFINITY {
        return chi_square_sf(nu1 * x, nu1);
    }
    if x <= 0.0 {
        return 1.0;
    }
    if x.is_infinite() {
        return 0.0;
    }
    checked_beta_reg(0.5 * nu2, 0.5 * nu1, nu2 / (nu2 + nu1 * x)).unwrap_or(f64::NAN)
}

/// The value below which Fisher's F with `nu1` and `nu2` degrees of freedom lies with probability `p`; `nu2` may be
/// infinite.
pub fn f_quantile(p: f64, nu1: f64, nu2: f64) -> f64 {
    if f_sf(1.0, nu1, nu2).is_nan() {
        return f64::NAN;
    }
    quantile_of(p, |x| f_sf(x, nu1, nu2))
}

/// Inverts a falling survival function on x > 0 by halving an interval of log x until it is one step wide.
fn quantile_of(p: f64, sf: impl Fn(f64) -> f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p == 0.0 {
        return 0.0;
    }
    if p == 1.0 {
        return f64::INFINITY;
    }
    let (mut low, mut high) = (-700.0_f64, 700.0_f64);
    while high - low > 1e-15 * (1.0 + low.abs().max(high.abs())) {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if sf(middle.exp()) > 1.0 - p {
            low = middle;
        } else {
            high = middle;
        }
    }
    (0.5 * (low + high)).exp()
}

/// Combines independent parts, each a standard uncertainty with its degrees of freedom, into (u, nu):
/// u^2 = sum s^2 and nu = u^4 / sum(s^4 / nu) (Welch-Satterthwaite, JCGM 100:2008 G.2b). Parts with infinite degrees
/// of freedom, and parts of size zero, take nothing from nu; with no others nu is infinite.
pub fn welch_satterthwaite(parts: &[(f64, f64)]) -> (f64, f64) {
    let largest = parts.iter().fold(0.0_f64, |m, (s, _)| m.max(s.abs()));
    if largest == 0.0 || !largest.is_finite() {
        return (largest, f64::INFINITY);
    }
    let (mut variance, mut spread) = (0.0, 0.0);
    for &(s, nu) in parts {
        let s2 = (s / largest).powi(2);
        variance += s2;
        if s2 > 0.0 {
            spread += s2 * s2 / nu;
        }
    }
    (largest * variance.sqrt(), variance * variance / spread)
}

/// The half-width that covers 95 %: t(0.975, nu) u. Zero when `u` is zero.
pub fn u95(u: f64, nu: f64) -> f64 {
    if u == 0.0 {
        0.0
    } else {
        t_quantile(0.975, nu) * u
    }
}

/// Probability that the true value lies in `low..=high` (either may be infinite) when it was read as `y` with standard
/// uncertainty `u` and `nu` degrees of freedom: F((high - y)/u) - F((low - y)/u), F the normal for infinite `nu`
/// (JCGM 106:2012, 7.2.2) and Student's t otherwise. With `u` zero it is 1 or 0.
pub fn conforming(y: f64, u: f64, nu: f64, low: f64, high: f64) -> f64 {
    if u == 0.0 {
        return if (low..=high).contains(&y) { 1.0 } else { 0.0 };
    }
    let (a, b) = ((low - y) / u, (high - y) / u);
    // Both ends on the upper side: differences of tails keep their digits.
    if a > 0.0 {
        t_sf(a, nu) - t_sf(b, nu)
    } else {
        t_cdf(b, nu) - t_cdf(a, nu)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    const INF: f64 = f64::INFINITY;

    #[test]
    fn t_goes_over_into_the_normal() {
        for p in [1e-6, 0.05, 0.3, 0.5, 0.9, 0.975, 0.9995] {
            let z = normal_quantile(p);
            assert_relative_eq!(t_quantile(p, INF), z, epsilon = 1e-12);
            let (below, above) = (
                t_quantile(p, MANY * 0.999_999),
                t_quantile(p, MANY * 1.000_001),
            );
            assert_relative_eq!(below, above, epsilon = 1e-9, max_relative = 1e-9);
            assert_relative_eq!(t_cdf(t_quantile(p, 4.7), 4.7), p, max_relative = 1e-10);
            assert_relative_eq!(t_cdf(t_quantile(p, 3e7), 3e7), p, max_relative = 1e-10);
        }
        // nu = 1 is the Cauchy distribution: quantile tan(pi (p - 1/2)).
        assert_relative_eq!(
            t_quantile(0.975, 1.0),
            (std::f64::consts::PI * 0.475).tan(),
            max_relative = 1e-11
        );
        // nu = 2: (2p - 1) / sqrt(2 p (1 - p)).
        assert_relative_eq!(
            t_quantile(0.975, 2.0),
            0.95 / (2.0_f64 * 0.975 * 0.025).sqrt(),
            max_relative = 1e-11
        );
    }

    #[test]
    fn f_and_chi_square_closed_forms() {
        // F(x; 2, nu) has the tail (1 + 2x/nu)^(-nu/2); chi-square with 2 has exp(-x/2).
        for x in [0.01, 0.4, 1.0, 3.0, 9.0, 40.0] {
            assert_relative_eq!(
                f_sf(x, 2.0, 10.0),
                (1.0_f64 + 0.2 * x).powi(-5),
                max_relative = 1e-12
            );
            assert_relative_eq!(
                chi_square_sf(x, 2.0),
                (-0.5 * x).exp(),
                max_relative = 1e-12
            );
            assert_relative_eq!(f_sf(x, 2.0, INF), (-x).exp(), max_relative = 1e-12);
        }
        let band = |nu| (2.0 * f_quantile(0.95, 2.0, nu)).sqrt();
        assert_relative_eq!(
            band(INF),
            (-2.0 * 0.05_f64.ln()).sqrt(),
            max_relative = 1e-12
        );
        assert_relative_eq!(band(10.0), 2.865, epsilon = 5e-4);
        for p in [1e-6, 0.01, 0.5, 0.99] {
            assert_relative_eq!(
                1.0 - chi_square_sf(chi_square_quantile(p, 7.3), 7.3),
                p,
                max_relative = 1e-9
            );
            assert_relative_eq!(
                1.0 - f_sf(f_quantile(p, 3.0, 15.5), 3.0, 15.5),
                p,
                max_relative = 1e-9
            );
        }
    }

    #[test]
    fn parts_combine() {
        let (u, nu) = welch_satterthwaite(&[(3.0, 5.0), (4.0, INF)]);
        assert_relative_eq!(u, 5.0, max_relative = 1e-15);
        assert_relative_eq!(nu, 625.0 / (81.0 / 5.0), max_relative = 1e-14);
        assert_eq!(welch_satterthwaite(&[(0.0, 3.0)]), (0.0, INF));
        assert_eq!(welch_satterthwaite(&[]), (0.0, INF));
        let (u, nu) = welch_satterthwaite(&[(1e-200, 4.0), (1e-200, 4.0)]);
        assert_relative_eq!(u, 2.0_f64.sqrt() * 1e-200, max_relative = 1e-14);
        assert_relative_eq!(nu, 8.0, max_relative = 1e-14);
        assert_eq!(u95(0.0, 1.0), 0.0);
    }

    #[test]
    fn chance_of_conforming() {
        let p = |d, nu| conforming(d, 0.1, nu, -0.5, 0.5);
        assert_relative_eq!(p(0.30, INF), 0.97725, epsilon = 1e-5);
        assert_relative_eq!(p(0.33, INF), 0.95543, epsilon = 1e-5);
        assert_relative_eq!(p(0.34, INF), 0.94520, epsilon = 1e-5);
        assert_relative_eq!(p(0.33, 5.0), 0.92485, epsilon = 1e-5);
        assert_eq!(conforming(0.5, 0.0, INF, -0.5, 0.5), 1.0);
        assert_eq!(conforming(0.6, 0.0, INF, -0.5, 0.5), 0.0);
        // One-sided limits, and a far tail that plain differences would round to zero.
        assert_relative_eq!(
            conforming(1.0, 1.0, INF, -INF, 1.0),
            0.5,
            max_relative = 1e-14
        );
        assert!(conforming(-10.0, 1.0, INF, 0.0, 1.0) > 7e-24);
    }

    #[test]
    fn nonsense_is_not_a_number() {
        for x in [
            t_quantile(1.2, 5.0),
            t_quantile(0.5, 0.0),
            normal_quantile(-0.1),
            chi_square_quantile(0.5, 0.0),
            f_quantile(0.5, 0.0, 3.0),
            t_sf(f64::NAN, 5.0),
        ] {
            assert!(x.is_nan());
        }
    }
}
