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
        // A folder that holds anything is not removed; what was made first goes last.
        while let Some(folder) = self.folders.pop_if(|folder| std::fs::remove_dir(folder).is_ok()) {
            drop(folder);
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
        let whole = Self {
            file: BufWriter::with_capacity(64 * 1024, file),
            temporary: Some(temporary),
            target,
            left: false,
        };
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
            std::fs::rename(temporary, &self.target).map_err(|error| self.unwritable(error))?;
            all.files.remove(temporary);
            drop(all);
            self.temporary = None;
        }
        Ok(())
    }

    fn unwritable(&self, error: io::Error) -> io::Error {
        unwritable(&self.target.display().to_string(), error)
    }

    /// What came of writing; a pipe that nobody reads any more takes everything.
    fn outcome<T>(&mut self, done: io::Result<T>, left: T) -> io::Result<T> {
        match done {
            Err(error) if error.kind() == ErrorKind::BrokenPipe && self.is_device() => {
                self.left = true;
                Ok(left)
            }
            done => done.map_err(|error| self.unwritable(error)),
        }
    }
}

/// The error of a write with the words of a [`Fault`].
pub fn unwritable(file: &str, error: io::Error) -> io::Error {
    io::Error::new(error.kind(), Fault::unwritable(file, &error))
}

/// Where links lead, so that their end is replaced and not the link; what they name need not be there.
fn end_of_links(path: &Path) -> PathBuf {
    let mut end = path.to_owned();
    // Links in a ring stay a link, of which the system says so.
    for _ in 0..40 {
        let Ok(next) = std::fs::read_link(&end) else { break };
        end = end.parent().unwrap_or(Path::new("")).join(next);
    }
    std::fs::canonicalize(&end).unwrap_or(end)
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
        self.file.seek(to).map_err(|error| self.unwritable(error))
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
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect()
    }

    #[test]
    fn the_final_name_comes_with_the_last_byte() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("a.json");
        std::fs::write(&target, "old").unwrap();
        let mut w = Whole::create(&target).unwrap();
        w.write_all(b"new").unwrap();
        assert_eq!(std::fs::read(&target).unwrap(), b"old");
        w.commit().unwrap();
        assert_eq!(std::fs::read(&target).unwrap(), b"new");
        assert_eq!(names(folder.path()), ["a.json"]);
    }

    #[test]
    fn what_is_given_up_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let mut w = Whole::create(&folder.path().join("a.json")).unwrap();
        w.write_all(b"half").unwrap();
        assert_eq!(names(folder.path()).len(), 1);
        drop(w);
        assert!(names(folder.path()).is_empty());
    }

    /// Only folders that were made go, and only when nothing is in them.
    #[test]
    fn a_folder_made_for_nothing_goes_too() {
        let outer = tempfile::tempdir().unwrap();
        let made = outer.path().join("week/monday");
        for (keep, left) in [(false, 0), (true, 1)] {
            folder(&made).unwrap();
            let w = Whole::create(&made.join("a.csv")).unwrap();
            if keep {
                w.commit().unwrap();
            } else {
                drop(w);
            }
            assert_eq!(names(outer.path()).len(), left);
        }
    }

    /// 255 bytes are the most that a name may have (Linux, NAME_MAX).
    #[cfg(target_os = "linux")]
    #[test]
    fn the_longest_names_are_written_and_longer_ones_leave_nothing() {
        let outer = tempfile::tempdir().unwrap();
        Whole::create(&outer.path().join("x".repeat(255))).unwrap().commit().unwrap();
        assert_eq!(names(outer.path()).len(), 1);
        assert!(Whole::create(&outer.path().join("x".repeat(256))).is_err());
        assert!(folder(&outer.path().join("new/inner").join("x".repeat(300))).is_err());
        assert_eq!(names(outer.path()).len(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_and_its_end_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("link");
        std::os::unix::fs::symlink("end", &link).unwrap();
        for text in ["the end is not there", "it is there"] {
            let mut w = Whole::create(&link).unwrap();
            w.write_all(text.as_bytes()).unwrap();
            w.commit().unwrap();
            assert_eq!(std::fs::read_link(&link).unwrap(), Path::new("end"));
            assert_eq!(std::fs::read_to_string(folder.path().join("end")).unwrap(), text);
        }
        std::os::unix::fs::symlink("ring", folder.path().join("ring")).unwrap();
        assert!(Whole::create(&folder.path().join("ring")).unwrap_err().is::<Fault>());
    }

    #[cfg(unix)]
    #[test]
    fn who_may_read_it_stays_as_it_was() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("a.json");
        std::fs::write(&target, "old").unwrap();
        std::fs::set_permissions(&target, std::fs::Permissions::from_mode(0o640)).unwrap();
        let mut w = Whole::create(&target).unwrap();
        w.write_all(b"new").unwrap();
        w.commit().unwrap();
        assert_eq!(std::fs::metadata(&target).unwrap().permissions().mode() & 0o777, 0o640);
    }

    /// A device that is always full stands for a disk that is (Linux, full(4)).
    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_told_with_the_file_and_a_cure() {
        let mut w = Whole::create(Path::new("/dev/full")).unwrap();
        let error = w.write_all(&[0; 1 << 20]).unwrap_err();
        for words in [error.to_string(), Whole::commit(w).unwrap_err().to_string()] {
            assert!(words.contains("/dev/full: cannot be written") && words.contains("make room"), "{words}");
        }
    }

    #[test]
    fn folders_are_refused_in_words() {
        let folder = tempfile::tempdir().unwrap();
        assert!(Whole::create(folder.path()).unwrap_err().to_string().contains("is a folder"));
        assert!(Whole::create(&folder.path().join("no/such/a.json")).is_err());
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_written_straight_and_stays_a_device() {
        use std::os::unix::fs::FileTypeExt as _;
        let mut w = Whole::create(Path::new("/dev/null")).unwrap();
        w.write_all(b"x").unwrap();
        w.commit().unwrap();
        assert!(std::fs::metadata("/dev/null").unwrap().file_type().is_char_device());
    }
}
