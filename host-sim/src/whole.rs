//! Files that are whole or not there.
//!
//! A file is written under `.NAME.tmp-PID-N` beside its target and renamed when it is whole. On an error the
//! temporary file goes with its [`Whole`], on Ctrl-C all that are open go, and so does a folder that was made for
//! them and holds nothing else.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{BufWriter, ErrorKind, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

use anyhow::Context as _;

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
    std::fs::create_dir_all(path).map_err(|error| Fault::unwritable(path.display().to_string(), &error))?;
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
}

impl Whole {
    /// Begins a file; its folder must be there.
    ///
    /// # Errors
    /// The target is a folder, or nothing can be written beside it.
    pub fn create(target: &Path) -> anyhow::Result<Self> {
        interrupt::watch();
        let shown = target.display();
        // A link is followed, so that its end is replaced and not the link.
        let target = std::fs::canonicalize(target).unwrap_or_else(|_| target.to_owned());
        let about = std::fs::metadata(&target).ok();
        if about.as_ref().is_some_and(std::fs::Metadata::is_dir) {
            return Err(Fault::unwritable(shown.to_string(), &ErrorKind::IsADirectory.into()).into());
        }
        if about.is_some_and(|a| !a.is_file()) {
            let file = File::options().write(true).open(&target).with_context(|| format!("cannot write {shown}"))?;
            return Ok(Self { file: BufWriter::new(file), temporary: None, target });
        }
        let Some(name) = target.file_name() else { anyhow::bail!("cannot write {shown}: it names no file") };
        let temporary = target.with_file_name(format!(
            ".{}.tmp-{}-{}",
            name.to_string_lossy(),
            std::process::id(),
            NEXT.fetch_add(1, Ordering::Relaxed)
        ));
        let mut all = unfinished();
        let file = File::create(&temporary).map_err(|error| Fault::unwritable(shown.to_string(), &error))?;
        all.files.insert(temporary.clone());
        drop(all);
        Ok(Self { file: BufWriter::with_capacity(64 * 1024, file), temporary: Some(temporary), target })
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
        let cannot = || format!("cannot write {}", self.target.display());
        self.file.flush().with_context(cannot)?;
        if let Some(temporary) = &self.temporary {
            let mut all = unfinished();
            std::fs::rename(temporary, &self.target).with_context(cannot)?;
            all.files.remove(temporary);
            drop(all);
            self.temporary = None;
        }
        Ok(())
    }
}

impl Write for Whole {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.file.flush()
    }
}

impl Seek for Whole {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.file.seek(to)
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
