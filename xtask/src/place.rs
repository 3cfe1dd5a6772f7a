//! Where things are: the repository and the folders that are built into.

use std::env;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};

/// The repository's folders.
#[derive(Debug, Clone)]
pub struct Place {
    /// The repository.
    pub root: PathBuf,
    /// Where the host's programs are built.
    pub target: PathBuf,
}

impl Place {
    /// From what cargo says as it starts this program, else from the folder in which it is started.
    ///
    /// Not from where it was built: two clones may share a build folder.
    pub fn find() -> Result<Self> {
        let here = env::current_dir()?;
        let start = env::var_os("CARGO_MANIFEST_DIR").map_or_else(|| here.clone(), PathBuf::from);
        let root = start.ancestors().find(|folder| folder.join("boards/Cargo.toml").is_file());
        let root = root.context("start this with `cargo xtask` inside the repository")?.to_path_buf();
        let target = match env::var_os("CARGO_TARGET_DIR") {
            Some(dir) => here.join(dir),
            None => root.join("target"),
        };
        Ok(Self { root, target })
    }

    /// The firmware's workspace.
    pub fn boards(&self) -> PathBuf {
        self.root.join("boards")
    }

    /// Where the steps keep what they make; stays after a run, for looking at.
    pub fn scratch(&self) -> PathBuf {
        self.target.join("xtask")
    }

    /// A path as people like to read it: from the repository on, where it lies inside.
    pub fn short<'a>(&self, path: &'a Path) -> std::path::Display<'a> {
        path.strip_prefix(&self.root).unwrap_or(path).display()
    }
}
