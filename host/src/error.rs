//! Errors as people read them: what happened and in what state things are, then what to do.

use crate::output::table::printable;
use std::fmt;
use std::path::Path;

/// This crate's result.
pub type Result<T> = std::result::Result<T, Error>;

/// What went wrong, and what to do about it.
#[derive(Debug)]
pub struct Error {
    kind: Kind,
    what: String,
    advice: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Input,
    NoLogger,
}

impl Error {
    /// Usage, bad input, or a file that cannot be read or written: exit code 2.
    pub fn input(what: impl Into<String>, advice: impl Into<String>) -> Error {
        Error { kind: Kind::Input, what: what.into(), advice: advice.into() }
    }

    /// No logger was reached, or it was lost on the way: exit code 3.
    pub fn no_logger(what: impl Into<String>, advice: impl Into<String>) -> Error {
        Error { kind: Kind::NoLogger, what: what.into(), advice: advice.into() }
    }

    /// A file or folder that the operating system refused.
    pub fn file(doing: &str, path: &Path, error: &std::io::Error) -> Error {
        let advice = match error.kind() {
            std::io::ErrorKind::NotFound => "Check the name; nothing was changed.",
            std::io::ErrorKind::PermissionDenied => {
                "Your user may not do that there: choose another place or have the rights changed."
            }
            std::io::ErrorKind::StorageFull => "Make room on the disk and try again.",
            _ => "Nothing more is known; the words in brackets are the operating system's.",
        };
        Error::input(format!("cannot {doing} {} ({error})", path.display()), advice)
    }

    /// The exit code that this error ends the program with.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self.kind {
            Kind::Input => 2,
            Kind::NoLogger => 3,
        }
    }

    /// What happened.
    #[must_use]
    pub fn what(&self) -> &str {
        &self.what
    }

    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> &str {
        &self.advice
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Names from files are repeated in here: a control character could move a terminal's cursor.
        write!(f, "{}", printable(&self.what))?;
        self.advice.lines().try_for_each(|line| write!(f, "\n  {}", printable(line)))
    }
}

impl std::error::Error for Error {}
