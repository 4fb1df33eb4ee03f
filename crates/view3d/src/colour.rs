//! Colours.

/// Red, green, blue, as stored in a picture (sRGB, 0 to 255).
pub type Rgb = [u8; 3];

/// A blend of two colours: `a` at `share` 0, `b` at `share` 1; shares outside are cut off, one that is no number
/// counts as 0. Blended as stored, so equal steps of the share look about equal.
pub fn mix(a: Rgb, b: Rgb, share: f32) -> Rgb {
    let t = if share > 0.0 { share.min(1.0) } else { 0.0 };
    [0, 1, 2].map(|i| {
        let (x, y) = (f32::from(a[i]), f32::from(b[i]));
        (x + (y - x) * t + 0.5) as u8
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_and_middle() {
        let (a, b) = ([0, 100, 255], [255, 100, 0]);
        assert_eq!(mix(a, b, 0.0), a);
        assert_eq!(mix(a, b, 1.0), b);
        assert_eq!(mix(a, b, 2.0), b);
        assert_eq!(mix(a, b, -1.0), a);
        assert_eq!(mix(a, b, f32::NAN), a);
        assert_eq!(mix(a, b, 0.5), [128, 100, 128]);
    }
}
