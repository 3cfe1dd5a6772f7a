//! Files that are whole or not there.
//!
//! A file is written under `.NAME.tmp-PID-N` beside its target and renamed when it is whole. On an error the
//! temporary file goes with its [`Whole`], on Ctrl-C all that are open go, and so does a folder that was made for
//! them and holds nothing else.
//!
//! Whatever cannot be written is a [`Fault`] that names the file and a cure, inside the [`io::Error`] as well.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, BufWriter, ErrorKind, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::error::Fault;
use crate::interrupt;

/// What this process has begun and not finished.
#[derive(Debug)]
pub struct Unfinished {
    /// Temporary files that are not yet renamed.
    files: BTreeSet<PathBuf>,
    /// Folders that were made, the outer before the inner.
    folders: Vec<PathBuf>,
}

static UNFINISHED: Mutex<Unfinished> = Mutex::new(Unfinished { files: BTreeSet::new(), folders: Vec::new() });
/// Two files of one name, in two folders or one, never share a temporary file.
static NEXT: AtomicU32 = AtomicU32::new(0);

fn unfinished() -> MutexGuard<'static, Unfinished> {
    // Paths are never half changed, so a poisoned lock is as good as a sound one.
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Unfinished {
    fn remove(&mut self, file: &Path) {
        let _ = std::fs::remove_file(file);
        self.files.remove(file);
        // A folder that holds anything is not removed, nor one that was made for other files; what was made first goes last.
        for at in (0..self.folders.len()).rev() {
            if file.starts_with(&self.folders[at]) && std::fs::remove_dir(&self.folders[at]).is_ok() {
                self.folders.remove(at);
            }
        }
    }
}

/// Removes what is unfinished. While what it gives back is kept, nothing is begun or renamed.
pub fn abandon() -> MutexGuard<'static, Unfinished> {
    let mut all = unfinished();
    for file in all.files.clone() {
        all.remove(&file);
    }
    all
}

/// Makes a folder, and those around it, for files that follow.
///
/// # Errors
/// It cannot be made.
pub fn folder(path: &Path) -> anyhow::Result<()> {
    let missing: Vec<&Path> = path.ancestors().take_while(|p| !p.as_os_str().is_empty() && !p.exists()).collect();
    let mut all = unfinished();
    if let Err(error) = std::fs::create_dir_all(path) {
        // Some of them may have been made; the inner go first.
        let _ = missing.iter().try_for_each(|made| match std::fs::remove_dir(made) {
            Err(error) if made.exists() => Err(error),
            _ => Ok(()),
        });
        return Err(Fault::unwritable(path.display().to_string(), &error).into());
    }
    all.folders.extend(missing.into_iter().rev().map(Path::to_owned));
    Ok(())
}

/// A file that is being written; buffered. Without [`Whole::commit`] it leaves nothing behind.
#[derive(Debug)]
pub struct Whole {
    file: BufWriter<File>,
    /// `None`: a device or a pipe, which is written straight.
    temporary: Option<PathBuf>,
    target: PathBuf,
    /// Whether the reader of a pipe has gone away: it had enough, and the other outputs are still wanted.
    left: bool,
}

impl Whole {
    /// Begins a file; its folder must be there.
    ///
    /// # Errors
    /// The target is a folder, or nothing can be written beside it.
    pub fn create(target: &Path) -> anyhow::Result<Self> {
        interrupt::watch();
        let shown = target.display();
        let refuse = |error: &io::Error| Fault::unwritable(shown.to_string(), error);
        let target = end_of_links(target);
        let about = match std::fs::metadata(&target) {
            Ok(about) if about.is_dir() => return Err(refuse(&ErrorKind::IsADirectory.into()).into()),
            Ok(about) => Some(about),
            Err(error) if error.kind() == ErrorKind::NotFound => None,
            // A name that is too long is said now, not when the work is done.
            Err(error) => return Err(refuse(&error).into()),
        };
        if about.as_ref().is_some_and(|about| !about.is_file()) {
            let file = File::options().write(true).open(&target).map_err(|error| refuse(&error))?;
            return Ok(Self { file: BufWriter::new(file), temporary: None, target, left: false });
        }
        let Some(name) = target.file_name() else { return Err(refuse(&ErrorKind::InvalidFilename.into()).into()) };
        // A part of the name tells whose it is; all of it might leave no room for the rest.
        let part: String = name.to_string_lossy().chars().take(40).collect();
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let temporary = target.with_file_name(format!(".{part}.tmp-{}-{number}", std::process::id()));
        let mut all = unfinished();
        let file = File::create(&temporary).map_err(|error| refuse(&error))?;
        all.files.insert(temporary.clone());
        drop(all);
        let whole =
            Self { file: BufWriter::with_capacity(64 * 1024, file), temporary: Some(temporary), target, left: false };
        // Who may read what was there may read what comes in its place, and nobody else.
        if let Some(about) = about {
            whole.file.get_ref().set_permissions(about.permissions()).map_err(|error| refuse(&error))?;
        }
        Ok(whole)
    }

    /// The final name.
    pub fn target(&self) -> &Path {
        &self.target
    }

    /// The folder in which the file will be.
    pub fn folder(&self) -> &Path {
        match self.target.parent() {
            Some(p) if !p.as_os_str().is_empty() => p,
            _ => Path::new("."),
        }
    }

    /// Whether the target is a device or a pipe.
    pub fn is_device(&self) -> bool {
        self.temporary.is_none()
    }

    /// Gives the file its final name.
    ///
    /// # Errors
    /// The rest cannot be written, or the name cannot be given.
    pub fn commit(mut self) -> anyhow::Result<()> {
        self.flush()?;
        if let Some(temporary) = &self.temporary {
            let mut all = unfinished();
            std::fs::rename(temporary, &self.target).map_err(|error| self.unwritable(&error))?;
            all.files.remove(temporary);
            drop(all);
            self.temporary = None;
        }
        Ok(())
    }

    fn unwritable(&self, error: &io::Error) -> io::Error {
        unwritable(&self.target.display().to_string(), error)
    }

    /// What came of writing; a pipe that nobody reads any more takes everything.
    fn outcome<T>(&mut self, done: io::Result<T>, left: T) -> io::Result<T> {
        match done {
            Err(error) if error.kind() == ErrorKind::BrokenPipe && self.is_device() => {
                self.left = true;
                Ok(left)
            }
            done => done.map_err(|error| self.unwritable(&error)),
        }
    }
}

/// Writes a whole file at once.
///
/// # Errors
/// It cannot be written.
pub fn write(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let mut file = Whole::create(path)?;
    file.write_all(bytes)?;
    file.commit()
}

/// The error of a write with the words of a [`Fault`].
pub fn unwritable(file: &str, error: &io::Error) -> io::Error {
    io::Error::new(error.kind(), Fault::unwritable(file, error))
}

/// Where links lead, so that their end is replaced and not the link; what they name need not be there.
pub fn end_of_links(path: &Path) -> PathBuf {
    if let Ok(end) = std::fs::canonicalize(path) {
        return end;
    }
    let mut end = path.to_owned();
    // Links in a ring stay a link, of which the system says so. What is there without a path of its own, as a pipe
    // under /dev/fd is, goes by the name that was given.
    for _ in 0..40 {
        let Ok(next) = std::fs::read_link(&end) else { break };
        if end.exists() {
            break;
        }
        end = end.parent().unwrap_or(Path::new("")).join(next);
    }
    end
}

impl Write for Whole {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.left {
            return Ok(bytes.len());
        }
        let done = self.file.write(bytes);
        self.outcome(done, bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.left {
            return Ok(());
        }
        let done = self.file.flush();
        self.outcome(done, ())
    }
}

impl Seek for Whole {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        // It writes what is buffered first.
        self.file.seek(to).map_err(|error| self.unwritable(&error))
    }
}

impl Drop for Whole {
    fn drop(&mut self) {
        if let Some(temporary) = self.temporary.take() {
            unfinished().remove(&temporary);
        }
    }
}

#[cfg(test)]
mod tests;
