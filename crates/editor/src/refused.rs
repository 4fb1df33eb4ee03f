//! Why a command was not carried out.

use formats::Problem;

/// A command that was not carried out; the job is as it was. Shown as a sentence with a remedy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refused {
    /// Nothing in the job has this name.
    NoSuch {
        /// What kind of thing: "opening", "face".
        what: &'static str,
        /// The name.
        name: String,
    },
    /// The name is used already.
    NameTaken {
        /// What kind of thing.
        what: &'static str,
        /// The name.
        name: String,
    },
    /// The job would be wrong afterwards.
    Wrong(Problem),
    /// There is no command to take back.
    NothingToUndo,
    /// There is no command to do again.
    NothingToRedo,
    /// What was typed, or a table, cannot be read.
    NotRead {
        /// What is wrong, as a main clause without a full stop.
        says: String,
        /// What to do.
        hint: String,
    },
    /// What is asked for rests on something that was not measured.
    NotMeasured {
        /// What is missing, as a main clause without a full stop.
        says: String,
        /// What to do.
        hint: String,
    },
}

impl Refused {
    /// What is wrong: one sentence.
    pub fn says(&self) -> String {
        match self {
            Self::NoSuch { what, name } => format!("There is no {what} called \"{name}\"."),
            Self::NameTaken { what, name } => {
                format!("There is a {what} called \"{name}\" already.")
            }
            Self::Wrong(problem) => format!("{problem}."),
            Self::NothingToUndo => "There is nothing to take back.".to_owned(),
            Self::NothingToRedo => "There is nothing to do again.".to_owned(),
            Self::NotRead { says, .. } | Self::NotMeasured { says, .. } => format!("{says}."),
        }
    }

    /// What to do about it; empty where nothing is to be done.
    pub fn hint(&self) -> &str {
        match self {
            Self::NoSuch { .. } => "Take one of the names in the job.",
            Self::NameTaken { .. } => "Choose another name.",
            Self::Wrong(problem) => &problem.hint,
            Self::NothingToUndo | Self::NothingToRedo => "",
            Self::NotRead { hint, .. } | Self::NotMeasured { hint, .. } => hint,
        }
    }
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.says())
    }
}

impl std::error::Error for Refused {}
