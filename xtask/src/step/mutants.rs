//! Whether the core's tests notice a change of the trip elements: `cargo mutants` changes them one operator, arm or result at a time.
//!
//! A mutant that no test fails on, or that hangs them, has to be in [`LIST`] with the reason why none can do better. It is named there
//! by file, change and function, not by its line, so that the list outlives edits; where a function has several of a name, by its number among them.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::time::Duration;

use anyhow::{Context as _, Result, bail, ensure};

use crate::cli::Context;
use crate::run::{QUERY_LIMIT, capture, cargo, ends, show};

/// What is changed.
const FILES: &str = "core/src/judge/trip/*.rs";
/// What survives, and why.
const LIST: &str = "core/src/judge/trip/mutants.txt";
/// An hour on two idle processors.
const LIMIT: Duration = Duration::from_hours(6);
/// How `cargo mutants` ends where some are missed, and where some hung the tests.
const MISSED: i32 = 2;
const HUNG: i32 = 3;
/// Tests that take long, and those that wait for what may never come.
const LATE: [&str; 8] = [
    "heat::iec_60947_4_1_row_by_row",
    "heat::a_hot_restart_is_judged_by_its_own_limit",
    "heat::times_are_foretold_that_then_come",
    "restart::a_latched_trip_stays",
    "restart::a_reset_waits_until_the_image_has_cooled",
    "restart::a_hot_restart_waits_until_there_is_room_for_its_heat",
    "recorder::tests::capture",
    "wiring::tests",
];

/// Tries every mutant, or with `resume` those that an earlier run did not catch, and holds what survives against the list.
pub fn run(context: &Context, resume: bool) -> Result<String> {
    let root = &context.place.root;
    let version = capture(mutants(root, &["--version"]), QUERY_LIMIT)?;
    ensure!(version.status.success(), "cargo-mutants is missing: run 'cargo install --locked cargo-mutants'");
    let list = fs::read_to_string(root.join(LIST)).context(LIST)?;
    let listed = reasons(&list)?;
    let what = ["--package", "shaftwork-core", "--file", FILES];

    let mut told = mutants(root, &what);
    told.arg("--list");
    let shown = show(&told);
    let told = capture(told, QUERY_LIMIT)?.wanted(&shown)?;
    let all = named(&told)?;

    let folder = context.place.target.join("mutants");
    fs::create_dir_all(&folder).with_context(|| folder.display().to_string())?;
    // What the quick tests leave all tests try.
    for (again, without) in [(resume, &LATE[..]), (true, &[])] {
        let mut tried = mutants(root, &what);
        tried.arg("--output").arg(&folder).args(["--minimum-test-timeout", "80", "--profile", "test"]);
        // Nobody looks into one with a debugger; libraries are built once for both.
        tried.env("CARGO_PROFILE_TEST_DEBUG", "0").env("CARGO_TARGET_DIR", folder.join("build"));
        tried.args(again.then_some("--iterate")).args(["--", "--lib", "--"]);
        tried.args(without.iter().flat_map(|test| ["--skip", test]));
        let shown = show(&tried);
        match ends(tried, LIMIT)?.code() {
            Some(0) => break,
            Some(MISSED | HUNG) => {}
            _ => bail!("{shown}: it could not do its work; {} has its log", folder.join("mutants.out").display()),
        }
    }

    let mut survivors = BTreeSet::new();
    for file in ["missed.txt", "timeout.txt"] {
        let path = folder.join("mutants.out").join(file);
        let text = fs::read_to_string(&path).with_context(|| path.display().to_string())?;
        survivors.extend(text.lines().map(str::to_owned));
    }
    let faults = compare(&all, &survivors, &listed);
    ensure!(faults.is_empty(), "{}", faults.join("\n"));
    Ok(format!("mutants: of {} none survives but the {} of {LIST}", all.len(), listed.len()))
}

fn mutants(root: &Path, words: &[&str]) -> std::process::Command {
    let mut command = cargo(root);
    command.arg("mutants").args(words);
    command
}

/// The mutants by their place (`FILE:LINE:COLUMN: CHANGE`), each with the name that it has in the list.
fn named(all: &str) -> Result<BTreeMap<&str, String>> {
    let mut like: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for place in all.lines() {
        let mut parts = place.splitn(4, ':');
        let (Some(file), Some(_), Some(_), Some(change)) = (parts.next(), parts.next(), parts.next(), parts.next())
        else {
            bail!("cargo mutants --list: found '{place}', wanted FILE:LINE:COLUMN: CHANGE")
        };
        like.entry(format!("{file}:{change}")).or_default().push(place);
    }
    let number = |(name, places): (String, Vec<_>)| {
        let several = places.len() > 1;
        let one = move |(n, place)| (place, if several { format!("{name} #{}", n + 1) } else { name.clone() });
        places.into_iter().enumerate().map(one).collect::<Vec<_>>()
    };
    Ok(like.into_iter().flat_map(number).collect())
}

/// The list: a mutant's name a line, its reason in the next one, indented; empty lines and those that begin with `#` say nothing.
fn reasons(text: &str) -> Result<BTreeMap<&str, &str>> {
    let mut all = BTreeMap::new();
    let mut lines = (1..).zip(text.lines()).filter(|(_, line)| !line.trim().is_empty() && !line.starts_with('#'));
    while let Some((number, name)) = lines.next() {
        let place = format!("{LIST}, line {number}");
        ensure!(!name.starts_with(' '), "{place}: found a second reason, wanted a mutant's name");
        let reason = lines.next().map(|(_, line)| line).filter(|line| line.starts_with(' '));
        let reason =
            reason.with_context(|| format!("{place}: '{name}' has no reason: say it in an indented line below"))?;
        ensure!(all.insert(name, reason.trim()).is_none(), "{place}: '{name}' is there twice: take one out");
    }
    Ok(all)
}

/// What is wrong: survivors that are not in the list, and what is in the list that does not survive.
fn compare(all: &BTreeMap<&str, String>, survivors: &BTreeSet<String>, listed: &BTreeMap<&str, &str>) -> Vec<String> {
    let name = |place: &String| all.get(place.as_str()).unwrap_or(place).clone();
    let names: BTreeSet<String> = survivors.iter().map(name).collect();
    let new = survivors.iter().filter(|place| !listed.contains_key(name(place).as_str())).map(|place| {
        format!("{place}: no test fails on it: write one, or say in {LIST} why none can, under\n{}", name(place))
    });
    let there: BTreeSet<&String> = all.values().collect();
    let old = listed.keys().filter(|listed| !names.contains(**listed)).map(|listed| {
        let found =
            if there.contains(&(*listed).to_owned()) { "a test fails on it now" } else { "there is no such mutant" };
        format!("{LIST}: '{listed}': {found}: take it out")
    });
    new.chain(old).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: &str = "a.rs:3:7: replace < with <= in level\na.rs:9:2: replace || with && in T::update\n\
                       a.rs:12:4: replace || with && in T::update\nb.rs:3:7: replace < with <= in level\n";
    const TWICE: &str = "a.rs: replace || with && in T::update #2";
    const LEVEL: &str = "b.rs: replace < with <= in level";

    fn faults(survivors: &[&str], list: &str) -> Vec<String> {
        let survivors = survivors.iter().map(|place| (*place).to_owned()).collect();
        compare(&named(ALL).unwrap(), &survivors, &reasons(list).unwrap())
    }

    #[test]
    fn a_survivor_is_in_the_list_with_its_reason() {
        let list = format!("# Why.\n\n{TWICE}\n    never both\n{LEVEL}\n    never equal\n");
        let both = ["a.rs:12:4: replace || with && in T::update", "b.rs:3:7: replace < with <= in level"];
        assert_eq!(faults(&both, &list), [""; 0]);
        let other = ["a.rs:9:2: replace || with && in T::update", both[1]];
        let found = faults(&other, &list);
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(found[0].starts_with("a.rs:9:2: ") && found[0].ends_with("T::update #1"), "{found:?}");
        assert!(found[1].contains("#2': a test fails on it now"), "{found:?}");
    }

    #[test]
    fn the_list_outlives_lines_but_not_mutants() {
        let list = format!("{LEVEL}\n    never equal\na.rs: replace < with <= in gone\n    why not\n");
        let found = faults(&["b.rs:3:7: replace < with <= in level"], &list);
        assert_eq!(found, [format!("{LIST}: 'a.rs: replace < with <= in gone': there is no such mutant: take it out")]);
    }

    #[test]
    fn a_name_wants_one_reason_and_is_there_once() {
        for (list, wanted) in [
            (format!("{LEVEL}\n{TWICE}\n    why\n"), "line 1: 'b.rs: replace < with <= in level' has no reason"),
            (format!("{LEVEL}\n    why\n    and why\n"), "line 3: found a second reason"),
            (
                format!("{LEVEL}\n    why\n{LEVEL}\n    why\n"),
                "line 3: 'b.rs: replace < with <= in level' is there twice",
            ),
        ] {
            let error = reasons(&list).unwrap_err().to_string();
            assert!(error.starts_with(LIST) && error.contains(wanted), "{error}");
        }
        assert!(named("something else").is_err());
    }
}
