//! General-purpose programs of others, from the Python package registry, against which the host's tests hold ours.

use std::path::Path;
use std::time::Duration;

use crate::cli::Context;
use crate::run::{QUERY_LIMIT, capture, command};

/// Packages that are wanted together, with the versions that were tried, and the module that shows them to be there.
struct Wanted {
    packages: &'static [&'static str],
    module: &'static str,
    /// What is not done where they are missing.
    missing: &'static str,
}

const WANTED: [Wanted; 3] = [
    Wanted {
        packages: &["comtrade==0.2.0"],
        module: "comtrade",
        missing: "no other reader will open our COMTRADE records",
    },
    Wanted {
        packages: &["numpy==2.4.6", "scipy==1.17.1"],
        module: "scipy.integrate",
        missing: "no other solver will go through the motor's runs",
    },
    Wanted {
        packages: &["numpy==2.4.6", "scipy==1.17.1", "gym-electric-motor==3.0.3"],
        module: "gym_electric_motor",
        missing: "no other's equations of a motor stand beside ours",
    },
];

/// For a download of some 100 MB.
const INSTALL_LIMIT: Duration = Duration::from_mins(5);

/// Installs them into `target/python` unless they are there. Where that cannot be the tests skip what needs them and
/// say so.
pub fn prepare(context: &Context) {
    let folder = context.place.target.join("python");
    let python = folder.join("bin/python3");
    let runs = |program: &Path, words: &[&str], limit: Duration| {
        let mut run = command(program, &context.place.root);
        run.args(words);
        capture(run, limit).is_ok_and(|output| output.status.success())
    };
    let venv = || runs(Path::new("python3"), &["-m", "venv", &folder.to_string_lossy()], QUERY_LIMIT);
    let python_is_there = python.exists() || venv();
    for Wanted { packages, module, missing } in &WANTED {
        let there = || runs(&python, &["-c", &format!("import {module}")], QUERY_LIMIT);
        let install = || {
            let words = [&["-m", "pip", "install", "--quiet"], *packages].concat();
            runs(&python, &words, INSTALL_LIMIT) && there()
        };
        if !python_is_there || !(there() || install()) {
            println!("   no Python with '{}' can be had: {missing}", packages.join(" "));
        }
    }
}
