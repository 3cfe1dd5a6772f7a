//! The format of all code, by `rustfmt.toml`.

use anyhow::Result;

use crate::cli::Context;
use crate::run::{BUILD_LIMIT, cargo, passes};

/// Checks, or writes.
pub fn run(context: &Context, write: bool) -> Result<String> {
    let root = &context.place.root;
    for folder in [root.clone(), context.place.boards(), root.join("fuzz")] {
        let mut fmt = cargo(&folder);
        fmt.arg("fmt"); // without --all, which would follow paths out of a workspace
        if !write {
            fmt.arg("--check");
        }
        passes(fmt, BUILD_LIMIT)?;
    }
    Ok(format!("fmt: all workspaces {}", if write { "written" } else { "as rustfmt.toml wants them" }))
}
