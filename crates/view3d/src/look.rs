//! Light and colours of a picture, given by the caller.

use crate::Rgb;

/// How surfaces are lit and what lies behind them. No colour is made up in this crate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Colour where nothing is drawn; faded objects run into it.
    pub sheet: Rgb,
    /// Colour that surfaces turned to the light run towards.
    pub light: Rgb,
    /// Colour that surfaces turned from the light, and hollows, run towards.
    pub shadow: Rgb,
    /// How far towards `light` at most, 0 to 1.
    pub lit: f32,
    /// How far towards `shadow` at most, 0 to 1.
    pub shaded: f32,
    /// How strongly steps in depth are darkened, 0 (not at all) to 1.
    pub relief: f32,
    /// Widest square a point is drawn as, pixels. Up to 3 keeps details; more closes a sparse scan seen from close by.
    pub largest_point_px: u8,
}

impl Look {
    /// A calm look between three colours: pale where lit, a third of the way to the shadow where turned away.
    pub fn calm(sheet: Rgb, light: Rgb, shadow: Rgb) -> Self {
        Self {
            sheet,
            light,
            shadow,
            lit: 0.5,
            shaded: 0.45,
            relief: 0.6,
            largest_point_px: 3,
        }
    }
}
