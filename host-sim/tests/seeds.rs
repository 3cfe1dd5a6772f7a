//! Every seed of the fuzzer, and with them every input that it once found fault with, through its target.

#[path = "../../fuzz/src/lib.rs"]
mod fuzz;

/// Runs a target over its seeds.
fn run(target: &str, over: fn(&[u8])) {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../fuzz/seeds").join(target);
    let seeds: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert!(seeds.len() >= 3, "{} has {} seeds", folder.display(), seeds.len());
    for seed in seeds {
        println!("{}", seed.display());
        over(&std::fs::read(seed).unwrap());
    }
}

#[test]
fn csv() {
    run("csv", fuzz::csv);
}

#[test]
fn cfg() {
    run("cfg", fuzz::cfg);
}

#[test]
fn dat() {
    run("dat", fuzz::dat);
}

#[test]
fn cff() {
    run("cff", fuzz::cff);
}

#[test]
fn settings() {
    run("settings", fuzz::settings);
}

#[test]
fn intervals() {
    run("intervals", fuzz::intervals);
}

#[test]
fn sheets() {
    run("sheets", fuzz::sheets);
}

#[test]
fn sites() {
    run("sites", fuzz::sites);
}
