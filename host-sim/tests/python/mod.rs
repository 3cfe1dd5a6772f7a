//! Programs of the Python package registry that look over our shoulder.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;

/// A Python that has a package.
pub fn with(package: &str) -> Option<PathBuf> {
    let own = Path::new(env!("CARGO_TARGET_TMPDIR")).with_file_name("python").join("bin/python3");
    let has = |python: &PathBuf| {
        let import = Command::new(python).args(["-c", &format!("import {package}")]).output();
        import.is_ok_and(|out| out.status.success())
    };
    [own, "python3".into(), "python".into()].into_iter().find(has)
}

/// Says that there is none, past the test's capture of what it prints, so that nobody takes this for a pass.
pub fn skipped(package: &str, so: &str) {
    let words = format!(
        "\n*** SKIPPED: no Python with the package '{package}' is here, so {so}. To mend it: pip install {package}\n"
    );
    let _ = std::io::stderr().write_all(words.as_bytes());
}

/// Runs a program of this folder's parent; gives what it writes.
pub fn run(python: &Path, script: &str, args: &[PathBuf], input: &Value) -> Value {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests").join(script);
    let mut child = Command::new(python)
        .arg(script)
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // Dropped at once, so that the program sees the end.
    child.stdin.take().unwrap().write_all(input.to_string().as_bytes()).unwrap();
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}
