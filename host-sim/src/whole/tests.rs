//! Files under every name, on disks and devices that do not take them.

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
    let full = || Whole::create(Path::new("/dev/full")).unwrap();
    let told = |error: &str| assert!(error.contains("/dev/full: cannot be written") && error.contains("make room"));
    told(&full().write_all(&vec![0; 1 << 20]).unwrap_err().to_string());
    let mut w = full();
    w.write_all(b"a few bytes wait").unwrap();
    told(&w.commit().unwrap_err().to_string());
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
