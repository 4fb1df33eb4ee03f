//! Why a drawing was not written.

/// A file that did not read back as what was to be written, or a drawing that cannot be written. Nothing is left on
/// disk then.
#[derive(Clone, Debug, PartialEq)]
pub struct Refused(pub String);

impl Refused {
    /// With the reason, a lower-case sentence without a final period.
    pub(crate) fn because(says: impl Into<String>) -> Self {
        Self(says.into())
    }
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the drawing was not written: {}", self.0)
    }
}

impl std::error::Error for Refused {}
