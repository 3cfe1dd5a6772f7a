//! The general-purpose reader of COMTRADE, from the Python package registry, with which the host's tests open
//! the records that we write.

use std::path::Path;

use crate::cli::Context;
use crate::run::{QUERY_LIMIT, capture, command};

/// The package with the version that was tried.
const PACKAGE: &str = "comtrade==0.2.0";

/// Installs it into `target/python` unless it is there. Where that cannot be the test skips itself and says so.
pub fn prepare(context: &Context) {
    let folder = context.place.target.join("python");
    let python = folder.join("bin/python3");
    let runs = |program: &Path, words: &[&str]| {
        let mut run = command(program, &context.place.root);
        run.args(words);
        capture(run, QUERY_LIMIT).is_ok_and(|output| output.status.success())
    };
    let there = || runs(&python, &["-c", "import comtrade"]);
    let venv = |folder: &Path| runs(Path::new("python3"), &["-m", "venv", &folder.to_string_lossy()]);
    let install = || venv(&folder) && runs(&python, &["-m", "pip", "install", "--quiet", PACKAGE]) && there();
    if !there() && !install() {
        println!("   no Python with '{PACKAGE}' can be had: no other reader will open our COMTRADE records");
    }
}
