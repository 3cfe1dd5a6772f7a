//! Runs the program on a case and looks at how it ended.

use std::collections::BTreeSet;
use std::fs;
use std::io::{Read, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

use crate::parts;

/// Each case ends within this time.
pub const LIMIT: Duration = Duration::from_secs(5);
/// And within this much memory, in units of 1024 bytes. The shell's `ulimit -v` bounds all memory that is
/// mapped, which is more than what is used, for the whole life of the program; beyond it the program would
/// abort, and that is no exit status of ours.
pub const MEMORY_KB: u32 = 200 * 1024;

/// What lies in the folder before the program is run.
#[derive(Clone)]
pub enum Input {
    /// A file with these bytes.
    File(&'static str, Vec<u8>),
    /// A file with these bytes at its start and so many bytes in all, the rest a hole of zeros.
    Sparse(&'static str, Vec<u8>, u64),
    /// A folder.
    Folder(&'static str),
}

/// One case.
#[derive(Clone)]
pub struct Case {
    /// What is wrong.
    pub name: String,
    /// What lies in the folder.
    pub inputs: Vec<Input>,
    /// Standard input: these bytes, and then so many times the last of them.
    pub stdin: Option<(Vec<u8>, u64)>,
    /// What is typed after `shaftwork`.
    pub words: Vec<&'static str>,
    /// The exit status wanted.
    pub status: i32,
    /// Whether standard output may have something: a table of several traces tells of each.
    pub table: bool,
    /// What standard error must say: file or argument first, then place, what was found, cure.
    pub says: Vec<String>,
}

impl Case {
    /// A case with these words typed.
    pub fn new(name: impl Into<String>, words: &[&'static str]) -> Self {
        let (name, words) = (name.into(), words.to_vec());
        Self { name, inputs: Vec::new(), stdin: None, words, status: 1, table: false, says: Vec::new() }
    }

    /// With a file in the folder.
    pub fn file(mut self, name: &'static str, bytes: impl Into<Vec<u8>>) -> Self {
        self.inputs.push(Input::File(name, bytes.into()));
        self
    }

    /// With something else there.
    pub fn input(mut self, input: Input) -> Self {
        self.inputs.push(input);
        self
    }

    /// With standard input, whose last byte is repeated.
    pub fn stdin(mut self, bytes: impl Into<Vec<u8>>, again: u64) -> Self {
        self.stdin = Some((bytes.into(), again));
        self
    }

    /// Wrong usage instead of bad content.
    pub fn usage(mut self) -> Self {
        self.status = 2;
        self
    }

    /// With a table of several traces.
    pub fn table(mut self) -> Self {
        self.table = true;
        self
    }

    /// With what it must say.
    pub fn says(mut self, words: &[&str]) -> Self {
        self.says.extend(words.iter().map(ToString::to_string));
        self
    }
}

/// Runs all cases and fails with everything that is wrong about them.
pub fn run(cases: &[Case]) {
    let wrong: Vec<String> = cases.iter().filter_map(|case| check(case).err()).collect();
    assert!(wrong.is_empty(), "{} of {} cases:\n\n{}", wrong.len(), cases.len(), wrong.join("\n\n"));
}

/// Runs the sound parts: they must end in 0.
pub fn sound() {
    let replay = parts::REPLAY;
    for (inputs, words) in [
        (vec![("t.csv", parts::csv().into_bytes())], [&["replay", "t.csv"][..], &replay].concat()),
        (vec![("t.csv", parts::csv().into_bytes())], vec!["info", "t.csv"]),
        (vec![("r.cfg", parts::cfg().into_bytes()), ("r.dat", parts::dat())], vec!["info", "r.cfg"]),
        (
            vec![("r.cfg", parts::cfg().into_bytes()), ("r.dat", parts::dat())],
            [&["replay", "r.dat"][..], &replay].concat(),
        ),
        (vec![("r.cff", parts::cff())], [&["replay", "r.cff"][..], &replay].concat()),
        (vec![], vec!["check-settings", "mill.toml"]),
    ] {
        let mut case = Case::new("sound", &words).file("mill.toml", parts::settings());
        for (name, bytes) in inputs {
            case = case.file(name, bytes);
        }
        let (ended, _) = ended(&case).unwrap();
        assert_eq!(ended.status.code(), Some(0), "{words:?}: {}", ended.err);
    }
}

fn check(case: &Case) -> Result<(), String> {
    let (ended, left) = ended(case)?;
    let Ended { status, out, err, took } = ended;
    let mut wrong = Vec::new();
    if status.code() != Some(case.status) {
        wrong.push(format!("ended with {status}, not {}", case.status));
    }
    wrong.extend(
        case.says.iter().filter(|part| !spaced(&err).contains(&spaced(part))).map(|part| format!("no '{part}'")),
    );
    // Usage in the command line's own words has its form from its own library.
    let cure = ["to mend it: ", "wanted: ", "wanted;", "wanted\n", "For more information", " need "];
    if case.status == 1 && !cure[..2].iter().any(|word| err.contains(word)) || !cure.iter().any(|w| err.contains(w)) {
        wrong.push("no cure".to_owned());
    }
    if ["panicked", "RUST_BACKTRACE", "overflow", "assertion"].iter().any(|word| err.contains(word)) {
        wrong.push("the words of a panic".to_owned());
    }
    if err.chars().any(|c| c.is_control() && c != '\n') {
        wrong.push("control characters".to_owned());
    }
    if err.len() > 10_000 {
        wrong.push(format!("{} bytes of message", err.len()));
    }
    if case.status == 1 && !case.table && !out.is_empty() {
        wrong.push(format!("standard output has '{out}'"));
    }
    if took > LIMIT {
        wrong.push(format!("took {took:?}"));
    }
    if !left.is_empty() {
        wrong.push(format!("left {left:?} behind"));
    }
    if wrong.is_empty() { Ok(()) } else { Err(format!("{}: {}\n{err}", case.name, wrong.join("; "))) }
}

/// A text with every run of blanks and line ends as one blank: a message may be broken anywhere.
fn spaced(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

struct Ended {
    status: ExitStatus,
    out: String,
    err: String,
    took: Duration,
}

/// Runs a case in a folder of its own; gives back how it ended and what is there that was not.
fn ended(case: &Case) -> Result<(Ended, Vec<PathBuf>), String> {
    let folder = tempfile::tempdir().map_err(|e| e.to_string())?;
    for input in &case.inputs {
        make(folder.path(), input).map_err(|e| e.to_string())?;
    }
    let before = below(folder.path());
    let ended = start(case, folder.path()).map_err(|e| format!("{}: {e}", case.name))?;
    let after = below(folder.path());
    Ok((ended, after.difference(&before).cloned().collect()))
}

fn make(folder: &Path, input: &Input) -> std::io::Result<()> {
    match input {
        Input::File(name, bytes) => fs::write(folder.join(name), bytes),
        Input::Sparse(name, bytes, length) => {
            fs::write(folder.join(name), bytes)?;
            fs::File::options().write(true).open(folder.join(name))?.set_len(*length)
        }
        Input::Folder(name) => fs::create_dir(folder.join(name)),
    }
}

/// All files and folders below a folder.
fn below(folder: &Path) -> BTreeSet<PathBuf> {
    let mut all = BTreeSet::new();
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        if entry.file_type().unwrap().is_dir() {
            all.extend(below(&entry.path()));
        }
        all.insert(entry.path());
    }
    all
}

fn start(case: &Case, folder: &Path) -> Result<Ended, String> {
    let program = env!("CARGO_BIN_EXE_shaftwork");
    let mut command = if cfg!(target_os = "linux") {
        let mut shell = Command::new("sh");
        shell.arg("-c").arg(format!("ulimit -v {MEMORY_KB} && exec \"$@\"")).args(["sh", program]);
        shell
    } else {
        Command::new(program)
    };
    command.args(&case.words).current_dir(folder).env_remove("RUST_BACKTRACE");
    command.stdin(if case.stdin.is_some() { Stdio::piped() } else { Stdio::null() });
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    let begun = Instant::now();
    let mut child = command.spawn().map_err(|e| e.to_string())?;
    let feed = child.stdin.take().zip(case.stdin.clone()).map(|(mut pipe, (bytes, again))| {
        std::thread::spawn(move || {
            // The program may well hang up in the middle.
            let _ = pipe.write_all(&bytes);
            let chunk = vec![bytes.last().copied().unwrap_or(0); 1 << 20];
            (0..again.div_ceil(1 << 20)).try_for_each(|_| pipe.write_all(&chunk)).is_ok()
        })
    });
    let (out, err) = (collect(child.stdout.take()), collect(child.stderr.take()));
    let status = wait(&mut child, begun)?;
    let took = begun.elapsed();
    feed.map(std::thread::JoinHandle::join);
    let text = |thread: std::thread::JoinHandle<String>| thread.join().unwrap_or_default();
    Ok(Ended { status, out: text(out), err: text(err), took })
}

fn collect(pipe: Option<impl Read + Send + 'static>) -> std::thread::JoinHandle<String> {
    std::thread::spawn(move || {
        let mut bytes = Vec::new();
        let _ = pipe.map(|mut pipe| pipe.read_to_end(&mut bytes));
        String::from_utf8_lossy(&bytes).into_owned()
    })
}

fn wait(child: &mut Child, begun: Instant) -> Result<ExitStatus, String> {
    loop {
        if let Some(status) = child.try_wait().map_err(|e| e.to_string())? {
            return Ok(status);
        }
        if begun.elapsed() > LIMIT * 2 {
            let _ = child.kill();
            let _ = child.wait();
            return Err(format!("did not end within {:?}", LIMIT * 2));
        }
        std::thread::sleep(Duration::from_millis(2));
    }
}
