//! What can be wrong with an input, said so that a person can mend it.
//!
//! [`Fault`] is the content of an input file that is bad: exit status 1. Arguments that make no
//! sense are [`Usage`]: exit status 2. Everything else travels as `anyhow::Error` with a chain of
//! causes and counts as status 1 too.

use std::borrow::Cow;
use std::{fmt, io};

/// A fault in an input: file, place in it, what was found, what was wanted, how to mend it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct Fault {
    /// The file as the user named it (`-` for standard input).
    pub file: String,
    /// Where in it: `line 12`, `byte 4096`, `line 12, column 3`, `key trip.jam.delay_s`; may be empty.
    pub place: String,
    /// What was found there.
    pub found: String,
    /// What was wanted instead; may be empty when `found` says it all.
    pub wanted: String,
    /// How to mend it; may be empty.
    pub mend: String,
}

impl Fault {
    /// A fault with everything but its place and cure.
    pub fn new(file: impl Into<String>, found: impl Into<String>) -> Self {
        Self {
            file: file.into(),
            place: String::new(),
            found: found.into(),
            wanted: String::new(),
            mend: String::new(),
        }
    }

    /// A file that the system does not let us read; `wanted` is what it should be.
    pub fn unreadable(file: impl Into<String>, error: &io::Error, wanted: &str) -> Self {
        let (found, mend) = match error.kind() {
            io::ErrorKind::NotFound => ("there is no such file".to_owned(), "check the path"),
            io::ErrorKind::IsADirectory => ("is a folder".to_owned(), "name the file in it"),
            _ => {
                (format!("cannot be read: {error}"), "check the path, that you may read it and that its disk is sound")
            }
        };
        Self::new(file, found).wanted(wanted).mend(mend)
    }

    /// A file or folder that the system does not let us make.
    pub fn unwritable(file: impl Into<String>, error: &io::Error) -> Self {
        let (found, mend) = match error.kind() {
            io::ErrorKind::NotFound => {
                ("its folder is not there".to_owned(), "make the folder first, or correct the path")
            }
            io::ErrorKind::IsADirectory => ("it is a folder".to_owned(), "name a file in it"),
            io::ErrorKind::NotADirectory | io::ErrorKind::AlreadyExists => {
                ("a file is where a folder is wanted".to_owned(), "choose another name, or move that file away")
            }
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge => {
                (error.to_string(), "make room on the disk, or choose another one")
            }
            io::ErrorKind::InvalidFilename => (error.to_string(), "choose a shorter name"),
            _ => (error.to_string(), "choose a place that you may write to"),
        };
        Self::new(file, format!("cannot be written: {found}")).mend(mend)
    }

    /// Adds the place.
    #[must_use]
    pub fn at(mut self, place: impl Into<String>) -> Self {
        self.place = place.into();
        self
    }

    /// Adds what was wanted.
    #[must_use]
    pub fn wanted(mut self, wanted: impl Into<String>) -> Self {
        self.wanted = wanted.into();
        self
    }

    /// Adds how to mend it.
    #[must_use]
    pub fn mend(mut self, mend: impl Into<String>) -> Self {
        self.mend = mend.into();
        self
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.file)?;
        if !self.place.is_empty() {
            write!(f, ", {}", self.place)?;
        }
        write!(f, ": {}", self.found)?;
        if !self.wanted.is_empty() {
            write!(f, "\n  wanted: {}", self.wanted)?;
        }
        if !self.mend.is_empty() {
            write!(f, "\n  to mend it: {}", self.mend)?;
        }
        Ok(())
    }
}

/// A file's name as a shell takes it, for a command in a cure.
pub fn quoted(name: &str) -> Cow<'_, str> {
    // Only a NUL cannot be quoted, and no file's name has one.
    shlex::try_quote(name).unwrap_or(Cow::Borrowed(name))
}

/// Arguments that make no sense together: exit status 2.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Usage(pub String);

/// Standard output cannot be written.
#[derive(Debug, thiserror::Error)]
#[error("{}", Fault::unwritable("standard output", .0))]
pub struct Unshown(pub io::Error);

impl Unshown {
    /// Whether its reader has gone away: it had enough.
    pub fn left(&self) -> bool {
        self.0.kind() == io::ErrorKind::BrokenPipe
    }
}
