//! Names by which the parts of a job refer to each other. They are typed by people and stand in files.

macro_rules! id {
    ($(#[$doc:meta] $name:ident),+ $(,)?) => {$(
        #[$doc]
        #[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name(pub String);

        impl From<&str> for $name {
            fn from(s: &str) -> Self {
                Self(s.to_owned())
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&self.0)
            }
        }
    )+};
}

id! {
    /// A date of measuring.
    VisitId,
    /// A scan file.
    ScanId,
    /// An opening (or a place with faces only) as seen in one scan.
    OpeningId,
    /// A face of an opening, unique within it.
    FaceId,
    /// A junction of two faces, unique within its opening; the same name on the other side is its partner.
    JunctionId,
    /// A hole, stud or slot, unique within its opening; the same name on the other side is its partner.
    HoleId,
    /// A part to be made.
    PartId,
    /// A comparison.
    CompareId,
}
