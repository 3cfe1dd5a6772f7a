//! The command as scripts and people meet it: the real binary, its exit status, its files and its streams.
//!
//! Exit statuses are the project's own; 130 after Ctrl-C is what shells count (128 + SIGINT).

mod capture;
mod closed;
mod commission;
mod inputs;
mod motor_study;
mod no_load;
mod outputs;
mod readers;
mod rms;
mod several;
mod shift;
#[cfg(unix)]
mod signals;
mod step_test;
mod tachometer;
mod trip_study;

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

/// A file of the repository.
fn at(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..").join(path)
}

/// The command, with nothing of the caller's terminal.
fn shaftwork(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_shaftwork"));
    command.args(words).env_remove("NO_COLOR").env("LC_ALL", "C").stdin(Stdio::null());
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// `replay` of the demo and more words.
fn demo(words: &[&str]) -> Command {
    let mut command = shaftwork(&["replay"]);
    command.arg(at("examples/demo/mill.cfg")).arg("--settings").arg(at("examples/demo/settings.toml")).args(words);
    command
}

fn run(mut command: Command) -> (Option<i32>, String, String) {
    let Output { status, stdout, stderr } = command.output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (status.code(), text(stdout), text(stderr))
}

/// All that is below a folder.
fn names(folder: &Path) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            all.extend(names(&path));
        }
        all.push(path);
    }
    all
}

/// The command run by a shell after these words, which hold for it alone.
#[cfg(unix)]
fn after(words: &str, command: &Command) -> Command {
    let mut shell = Command::new("sh");
    shell.arg("-c").arg(format!("{words}; exec \"$@\"")).arg("sh").arg(command.get_program()).args(command.get_args());
    shell.env_remove("NO_COLOR").env("LC_ALL", "C");
    shell.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    shell
}

/// Ends the child at last, also when a check fails.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn the_table_has_a_verdict_first_and_no_colour_in_a_pipe() {
    let (status, out, err) = run(demo(&[]));
    assert_eq!((status, err.as_str()), (Some(0), ""));
    assert!(out.starts_with("tripped once: jam at 45.8"), "{out}");
    assert!(out.is_ascii() && !out.contains('\x1b'), "{out}");
    assert!(out.lines().all(|line| line.len() <= 80), "{out}");
    let place = |part: &str| out.find(part).unwrap_or_else(|| panic!("{part} is missing: {out}"));
    let order = ["What happened", "Time", "Energy and mass", "Load while running", "Load over time"].map(place);
    assert!(order.is_sorted(), "{out}");
}

/// What a person types wrong: status 2, and the cure by its name.
#[test]
fn wrong_usage_names_the_cure() {
    for (words, cure) in [
        (&["replay", "a.csv"][..], "--settings <FILE>"),
        (&["replay", "a.csv"], "examples/demo has one"),
        (&["replay", "--settings", "a.toml"], "<TRACE>"),
        (&["reply", "a.csv"], "'replay'"),
        (&["replay", "a.csv", "--setings", "a.toml"], "'--settings'"),
        (&["replay", "a.csv", "--settings", "a.toml", "--expect", "trip:jams"], "thermal-overload, jam"),
        (&["replay", "a", "b", "--settings", "a.toml", "--out", "d", "--json", "j"], "summary.json"),
        (&["info"], "<TRACE>"),
        (&["completions", "tcsh"], "bash, elvish, fish, powershell, zsh"),
        (&[], "replay TRACE --settings FILE"),
    ] {
        let (status, out, err) = run(shaftwork(words));
        assert_eq!((status, out.as_str()), (Some(2), ""), "{words:?}");
        assert!(err.contains(cure), "{words:?}: {err}");
    }
}

const VERBS: [&str; 15] = [
    "shift",
    "closed-loop",
    "step-test",
    "trip-study",
    "replay",
    "info",
    "check-settings",
    "synth",
    "completions",
    "man",
    "check-wiring",
    "calibrate",
    "learn-no-load",
    "capture",
    "commission",
];
const OPTIONS: [&str; 7] = ["settings", "json", "out", "mass-kg", "accept-short", "expect", "digest"];

#[test]
fn help_fits_has_an_example_and_lists_the_causes() {
    for verb in VERBS {
        let (status, out, _) = run(shaftwork(&["help", verb]));
        assert_eq!(status, Some(0));
        assert!(out.contains("Example") && out.contains(&format!("shaftwork {verb}")), "{out}");
        assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    }
    let (_, out, _) = run(shaftwork(&["help", "replay"]));
    let out = out.split_whitespace().collect::<Vec<_>>().join(" ");
    let causes = "thermal-overload, jam, long-start, phase-loss, undervoltage";
    assert!(out.contains(causes) && out.contains("Exit status: 0 done; 1"), "{out}");
    assert!(out.contains("130 a signal ended it"), "{out}");
    let (_, out, _) = run(shaftwork(&["--help"]));
    assert!(VERBS.iter().all(|verb| out.contains(verb)) && out.contains("no protective device"), "{out}");
}

#[test]
fn completions_know_verbs_and_options() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let (status, out, err) = run(shaftwork(&["completions", shell]));
        assert_eq!((status, err.as_str()), (Some(0), ""));
        for word in VERBS.iter().chain(&OPTIONS) {
            assert!(out.contains(word), "{shell} lacks {word}");
        }
    }
}

/// Where there is a bash, it reads the script and completes an option and a verb.
#[cfg(unix)]
#[test]
fn bash_completes() {
    let folder = tempfile::tempdir().unwrap();
    let script = folder.path().join("shaftwork.bash");
    std::fs::write(&script, run(shaftwork(&["completions", "bash"])).1).unwrap();
    let complete = |words: &str, at: usize| {
        let text = format!(
            "source {} && COMP_WORDS=({words}) COMP_CWORD={at} && _shaftwork shaftwork \"${{COMP_WORDS[{at}]}}\" \
             \"${{COMP_WORDS[{at}-1]}}\" && echo \"${{COMPREPLY[@]}}\"",
            script.display()
        );
        Command::new("bash").arg("-c").arg(text).output()
    };
    let Ok(verbs) = complete("shaftwork re", 1) else {
        eprintln!("SKIPPED: there is no bash here");
        return;
    };
    assert_eq!(String::from_utf8_lossy(&verbs.stdout).trim(), "replay", "{}", String::from_utf8_lossy(&verbs.stderr));
    let options = complete("shaftwork replay --exp", 2).unwrap();
    assert_eq!(String::from_utf8_lossy(&options.stdout).trim(), "--expect");
}

#[test]
fn a_page_for_the_command_and_one_a_verb() {
    let folder = tempfile::tempdir().unwrap();
    let pages = folder.path().join("man1");
    let mut command = shaftwork(&["man", "--out"]);
    command.arg(&pages);
    assert_eq!(run(command), (Some(0), String::new(), String::new()));
    let page = |name: &str| std::fs::read_to_string(pages.join(name)).unwrap();
    assert_eq!(names(&pages).len(), 1 + VERBS.len());
    for verb in VERBS {
        assert!(page("shaftwork.1").contains(&verb.replace('-', "\\-")), "{verb}");
        assert!(page(&format!("shaftwork-{verb}.1")).contains(".SH SYNOPSIS"), "{verb}");
    }
    for option in OPTIONS {
        assert!(page("shaftwork-replay.1").contains(&option.replace('-', "\\-")), "{option}");
    }
    assert_eq!(run(shaftwork(&["man"])).1, page("shaftwork.1"));
}

/// On a terminal the verdict is coloured, unless NO_COLOR is set and not empty (no-color.org). Where there is a
/// `script` to lend a terminal.
#[cfg(target_os = "linux")]
#[test]
fn colour_on_a_terminal_unless_it_is_refused() {
    let on_terminal = |no_color: Option<&str>| {
        let demo = demo(&[]);
        let words: Vec<_> = std::iter::once(demo.get_program()).chain(demo.get_args()).collect();
        let line = words.join(std::ffi::OsStr::new(" ")).into_string().unwrap();
        let mut command = Command::new("script");
        command.args(["-qec", &line, "/dev/null"]).env("TERM", "xterm").env_remove("NO_COLOR").stdin(Stdio::null());
        if let Some(value) = no_color {
            command.env("NO_COLOR", value);
        }
        command.output().map(|output| String::from_utf8(output.stdout).unwrap())
    };
    let Ok(plain) = on_terminal(Some("1")) else {
        eprintln!("SKIPPED: there is no `script` here");
        return;
    };
    assert!(plain.contains("tripped once") && !plain.contains('\x1b'), "{plain}");
    for no_color in [None, Some("")] {
        let coloured = on_terminal(no_color).unwrap();
        assert!(coloured.contains("\x1b[1;31mtripped once"), "{no_color:?}: {coloured}");
    }
}
