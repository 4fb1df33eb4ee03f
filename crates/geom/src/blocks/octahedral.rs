//! Unit vectors in 32 bits.
//!
//! Octahedral mapping, two signed 16-bit numbers: Q. Meyer et al., "On floating-point normal vectors",
//! Computer Graphics Forum 29 (2010). The direction is kept to better than 0.004 degrees.

use crate::Vector;

/// The pattern that means "none": a half the mapping never produces.
pub(super) const NONE: u32 = 0x8000_8000;

fn sign(x: f64) -> f64 {
    if x < 0.0 { -1.0 } else { 1.0 }
}

fn half(x: f64) -> u32 {
    let v = (x.clamp(-1.0, 1.0) * 32767.0).round() as i16;
    u32::from(v.cast_unsigned())
}

/// Packs a direction of any length; [`NONE`] if it has none.
pub(super) fn pack(v: [f64; 3]) -> u32 {
    let sum = v[0].abs() + v[1].abs() + v[2].abs();
    if sum <= 0.0 || !sum.is_finite() {
        return NONE;
    }
    let (x, y) = (v[0] / sum, v[1] / sum);
    let (x, y) = if v[2] < 0.0 {
        ((1.0 - y.abs()) * sign(x), (1.0 - x.abs()) * sign(y))
    } else {
        (x, y)
    };
    half(x) << 16 | half(y)
}

/// The unit vector of a packed direction.
pub(super) fn unpack(p: u32) -> Option<Vector> {
    if p == NONE {
        return None;
    }
    let number = |h: u32| f64::from((h as u16).cast_signed()) / 32767.0;
    let (x, y) = (number(p >> 16), number(p & 0xffff));
    let z = 1.0 - x.abs() - y.abs();
    let (x, y) = if z < 0.0 {
        ((1.0 - y.abs()) * sign(x), (1.0 - x.abs()) * sign(y))
    } else {
        (x, y)
    };
    Some(Vector::new(x, y, z).normalize())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_directions() {
        for i in 0..2000 {
            let (z, a) = (f64::from(i) / 1000.0 - 0.9995, 2.4 * f64::from(i));
            let r = (1.0 - z * z).sqrt();
            let v = Vector::new(r * a.cos(), r * a.sin(), z);
            let back = unpack(pack([v.x * 3.0, v.y * 3.0, v.z * 3.0])).unwrap();
            assert!(back.cross(&v).norm().to_degrees() < 0.004);
            assert!(back.dot(&v) > 0.9);
        }
        for a in [Vector::x(), Vector::y(), Vector::z()] {
            for v in [a, -a] {
                assert!((unpack(pack([v.x, v.y, v.z])).unwrap() - v).norm() < 1e-12);
            }
        }
    }

    #[test]
    fn none_stays_none() {
        assert!(unpack(pack([0.0; 3])).is_none());
        assert!(unpack(pack([f64::NAN, 0.0, 1.0])).is_none());
    }
}
