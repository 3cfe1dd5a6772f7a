//! Documentation; a warning (a broken link, say) is an error.

use anyhow::Result;

use crate::cli::Context;
use crate::run::{BUILD_LIMIT, cargo, passes};

/// Builds it for both workspaces.
pub fn run(context: &Context) -> Result<String> {
    let boards: &[&str] =
        &["--package=shaftwork-app", "--package=shaftwork-store", "--package=shaftwork-stm32g474", "--lib"];
    for (folder, which) in [(context.place.root.clone(), &["--workspace"][..]), (context.place.boards(), boards)] {
        let mut doc = cargo(&folder);
        doc.args(["doc", "--quiet", "--no-deps"]).args(which).env("RUSTDOCFLAGS", "-D warnings");
        if folder != context.place.root {
            doc.env("CARGO_TARGET_DIR", context.place.target.join("boards-host"));
        }
        passes(doc, BUILD_LIMIT)?;
    }
    Ok(format!("doc: {}", context.place.short(&context.place.target.join("doc/shaftwork_core/index.html"))))
}
