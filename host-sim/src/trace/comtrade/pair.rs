//! The two files of a record: .cfg and .dat, in whatever case their names are.

use crate::error::Fault;
use std::path::{Path, PathBuf};

/// Whether a path names one of the two.
pub(in crate::trace) fn is_half(path: &str) -> bool {
    ends_with(Path::new(path), "cfg") || ends_with(Path::new(path), "dat")
}

fn ends_with(path: &Path, ending: &str) -> bool {
    path.extension().is_some_and(|e| e.eq_ignore_ascii_case(ending))
}

/// Configuration and data of the record that `path` names.
pub(in crate::trace) fn halves(path: &str) -> Result<(String, String), Fault> {
    let named = Path::new(path);
    let (own, other) = if ends_with(named, "cfg") { ("configuration", "dat") } else { ("data", "cfg") };
    if !named.is_file() {
        let what =
            if named.is_dir() { "is a folder".into() } else { format!("there is no such file to read the {own} from") };
        return Err(Fault::new(path, what)
            .wanted("a COMTRADE record: a .cfg and a .dat of the same name")
            .mend("check the path"));
    }
    let Some(found) = beside(named, other) else {
        return Err(Fault::new(path, format!("no .{other} of the same name lies beside it"))
            .wanted("a COMTRADE record: a .cfg and a .dat of the same name")
            .mend(format!("copy the .{other} into the same folder")));
    };
    let found = found.to_string_lossy().into_owned();
    Ok(if other == "dat" { (path.to_owned(), found) } else { (found, path.to_owned()) })
}

/// The file of the same name with another ending, the case of letters aside.
fn beside(named: &Path, ending: &str) -> Option<PathBuf> {
    let upper = named.extension()?.to_str().is_some_and(|e| e.chars().all(char::is_uppercase));
    let direct = named.with_extension(if upper { ending.to_ascii_uppercase() } else { ending.to_owned() });
    if direct.is_file() {
        return Some(direct);
    }
    let folder = named.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let stem = named.file_stem()?;
    let mut found: Vec<PathBuf> = std::fs::read_dir(folder)
        .ok()?
        .filter_map(|entry| entry.ok().map(|e| named.with_file_name(e.file_name())))
        .filter(|p| ends_with(p, ending) && p.file_stem().is_some_and(|s| s.eq_ignore_ascii_case(stem)))
        .collect();
    // The same stem letter by letter first, then in order of names, so that the choice is fixed.
    found.sort_by_key(|p| (p.file_stem() != Some(stem), p.clone()));
    found.into_iter().next()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn either_half_finds_the_other() {
        // Upper-case names come from DOS recorders; common practice, no source.
        let folder = tempfile::tempdir().unwrap();
        for name in ["a.cfg", "a.dat", "B.CFG", "B.DAT", "c.Cfg", "C.dat", "lone.cfg"] {
            std::fs::write(folder.path().join(name), "x").unwrap();
        }
        let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
        for (named, cfg, dat) in [
            ("a.cfg", "a.cfg", "a.dat"),
            ("a.dat", "a.cfg", "a.dat"),
            ("B.DAT", "B.CFG", "B.DAT"),
            ("c.Cfg", "c.Cfg", "C.dat"),
            ("C.dat", "c.Cfg", "C.dat"),
        ] {
            assert_eq!(halves(&path(named)).unwrap(), (path(cfg), path(dat)), "{named}");
        }
        assert!(halves(&path("lone.cfg")).unwrap_err().to_string().contains("no .dat"));
        assert!(halves(&path("none.cfg")).unwrap_err().to_string().contains("no such file"));
    }
}
