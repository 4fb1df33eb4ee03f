//! Correlated noise of a visit.

/// What the faces of a visit say about its noise.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct NoiseModel {}
