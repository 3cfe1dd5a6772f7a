//! From an error to words on standard error and an exit status.

use std::process::ExitCode;

use crate::error::{Unshown, Usage};
use crate::terminal::say;

/// Exit status when the content of an input is bad, or something cannot be read or written.
const CONTENT: u8 = 1;
/// Exit status for arguments that make no sense.
const USAGE: u8 = 2;

/// Says what went wrong with its causes; a reader of standard output that has gone away is no failure.
pub fn failed(error: &anyhow::Error) -> ExitCode {
    let status = status(error);
    if status != 0 {
        say(&words(error));
    }
    ExitCode::from(status)
}

fn status(error: &anyhow::Error) -> u8 {
    if error.downcast_ref().is_some_and(Unshown::left) {
        0
    } else if error.is::<Usage>() {
        USAGE
    } else {
        CONTENT
    }
}

/// The error and its causes, a line each; a cause that the line before ends with is not said twice.
fn words(error: &anyhow::Error) -> String {
    let mut words = error.to_string();
    for cause in error.chain().skip(1).map(ToString::to_string) {
        if !words.ends_with(&cause) {
            words = format!("{words}\n  caused by: {cause}");
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error::Fault;
    use anyhow::Context as _;
    use std::io::ErrorKind;

    fn io(kind: ErrorKind) -> anyhow::Error {
        anyhow::Error::new(std::io::Error::from(kind))
    }

    /// The exit statuses are the project's own (documented with the command).
    #[test]
    fn each_kind_has_its_status() {
        assert_eq!(status(&Usage("two traces".into()).into()), 2);
        assert_eq!(status(&anyhow::Error::new(Usage("two traces".into())).context("replay")), 2);
        assert_eq!(status(&Fault::new("a.csv", "is empty").into()), 1);
        assert_eq!(status(&io(ErrorKind::NotFound)), 1);
        assert_eq!(status(&Unshown(ErrorKind::BrokenPipe.into()).into()), 0);
        assert_eq!(status(&Unshown(ErrorKind::StorageFull.into()).into()), 1);
        // Of anything but standard output it is a failure.
        assert_eq!(status(&io(ErrorKind::BrokenPipe)), 1);
    }

    #[test]
    fn causes_are_told_once() {
        let error = Err::<(), _>(io(ErrorKind::NotFound)).context("cannot read a.toml").unwrap_err();
        assert_eq!(words(&error), "cannot read a.toml\n  caused by: entity not found");
        let error = Err::<(), _>(anyhow::anyhow!("no room")).context("cannot write: no room").unwrap_err();
        assert_eq!(words(&error), "cannot write: no room");
    }
}
