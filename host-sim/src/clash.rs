//! No output is an input or another output: a recording cannot be had again.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::error::Usage;
use crate::whole::end_of_links;

/// Refuses outputs that would write over an input or over each other; each has the option that wants it.
///
/// # Errors
/// In words, when one would.
pub fn refuse(inputs: &[PathBuf], outputs: &[(&'static str, PathBuf)]) -> Result<(), Usage> {
    let mut taken: BTreeMap<PathBuf, Option<&str>> = inputs.iter().filter_map(|i| Some((same(i)?, None))).collect();
    for (option, path) in outputs {
        let Some(own) = same(path) else { continue };
        let found = match taken.insert(own, Some(option)) {
            None => continue,
            Some(None) => format!("is an input, and {option} would write over it"),
            Some(Some(other)) if other == *option => format!("would be written twice by {option}"),
            Some(Some(other)) => format!("would be written by {other} and by {option}"),
        };
        return Err(Usage(format!("{}: {found}\n  to mend it: give {option} another place", path.display())));
    }
    Ok(())
}

/// The same for what options name, those that are given.
///
/// # Errors
/// As [`refuse`].
pub fn refuse_named(inputs: &[PathBuf], named: &[(&'static str, &Option<PathBuf>)]) -> Result<(), Usage> {
    let given = named.iter().filter_map(|(option, path)| Some((*option, (*path).clone()?)));
    refuse(inputs, &given.collect::<Vec<_>>())
}

/// What `--json` names.
pub fn json(path: Option<&Path>) -> Option<(&'static str, PathBuf)> {
    path.map(|path| ("--json", path.to_owned()))
}

/// Whether two names lead to one file.
pub fn same_file(a: &Path, b: &Path) -> bool {
    a == b || same(a).is_some_and(|a| same(b) == Some(a))
}

/// Whether a file that is to be written lies, or would lie, in a folder.
pub fn lies_in(path: &Path, folder: &Path) -> bool {
    same(path).is_some_and(|own| std::fs::canonicalize(folder).is_ok_and(|folder| own.parent() == Some(&folder)))
}

/// Whether it lies, or would lie, in a folder or in one of those in it.
pub fn lies_below(path: &Path, folder: &Path) -> bool {
    same(path).is_some_and(|own| std::fs::canonicalize(folder).is_ok_and(|folder| own.starts_with(folder)))
}

/// A file by the one path that all its names lead to, there or not; `None` for a device, which keeps nothing, and for
/// `-`, the standard streams.
fn same(path: &Path) -> Option<PathBuf> {
    if path == Path::new("-") {
        return None;
    }
    let end = end_of_links(path);
    if end.exists() {
        return end.is_file().then_some(end);
    }
    let folder = end.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let folder = std::fs::canonicalize(folder).or_else(|_| std::path::absolute(folder)).ok()?;
    Some(folder.join(end.file_name()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_file_under_two_names_is_found() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("jam.dat"), "x").unwrap();
        std::fs::create_dir(at("in")).unwrap();
        for (input, outputs, part) in [
            ("jam.dat", &["in/../jam.dat"][..], Some("is an input, and --json")),
            ("jam.dat", &["new/a.html", "new/./a.html"], Some("twice by --json")),
            ("jam.dat", &["a.json", "in/../a.json"], Some("twice by --json")),
            ("jam.dat", &["jam.json", "in/jam.dat"], None),
        ] {
            let outputs: Vec<_> = outputs.iter().map(|name| ("--json", at(name))).collect();
            let got = refuse(&[at(input)], &outputs).err().map(|usage| usage.to_string());
            match part {
                Some(part) => assert!(got.as_ref().is_some_and(|got| got.contains(part)), "{outputs:?}: {got:?}"),
                None => assert_eq!(got, None),
            }
        }
    }

    #[cfg(unix)]
    #[test]
    fn links_are_followed_and_devices_keep_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let (file, link) = (folder.path().join("a"), folder.path().join("b"));
        std::os::unix::fs::symlink("a", &link).unwrap();
        let outputs = [("--json", file.clone()), ("--out", link.clone())];
        assert!(refuse(&[], &outputs).unwrap_err().to_string().contains("by --json and by --out"));
        std::fs::write(&file, "x").unwrap();
        assert!(refuse(&[link], &[("--json", file)]).is_err());
        let null = PathBuf::from("/dev/null");
        assert_eq!(refuse(std::slice::from_ref(&null), &[("--json", null.clone()), ("--out", null.clone())]), Ok(()));
    }
}
