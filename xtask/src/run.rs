//! Child processes, each under a time limit.

use std::ffi::OsStr;
use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, anyhow, bail};

/// For builds and tests; the whole of continuous integration has to fit 90 minutes.
pub const BUILD_LIMIT: Duration = Duration::from_mins(40);
/// For programs that only answer a question.
pub const QUERY_LIMIT: Duration = Duration::from_mins(1);

/// A command in a folder, without what cargo set for this program and its children would trip over.
pub fn command(program: impl AsRef<OsStr>, folder: &Path) -> Command {
    let mut command = Command::new(program);
    command.current_dir(folder);
    // `cargo xtask` sets these for us: another cargo must choose its own compiler and libraries.
    for name in ["CARGO", "RUSTUP_TOOLCHAIN", "LD_LIBRARY_PATH", "CARGO_MANIFEST_DIR", "CARGO_MANIFEST_PATH"] {
        command.env_remove(name);
    }
    command
}

/// The cargo of this machine's user, in a folder.
pub fn cargo(folder: &Path) -> Command {
    command("cargo", folder)
}

/// Shows a command, runs it with its output on the terminal, and wants status 0.
pub fn passes(command: Command, limit: Duration) -> Result<()> {
    let shown = show(&command);
    let status = ends(command, limit)?;
    if status.success() { Ok(()) } else { bail!("{shown}: {status}") }
}

/// Shows a command, runs it with its output on the terminal, and tells how it ended.
pub fn ends(command: Command, limit: Duration) -> Result<ExitStatus> {
    println!("   $ {}", show(&command));
    waited(command, limit)
}

/// Runs a command with its output where it was told to go, and tells how it ended.
pub fn waited(mut command: Command, limit: Duration) -> Result<ExitStatus> {
    command.stdin(Stdio::null());
    let child = command.spawn().with_context(|| format!("{} cannot be started", show(&command)))?;
    wait(child, limit).with_context(|| show(&command))
}

/// What a command wrote, and how it ended.
pub struct Output {
    /// How it ended.
    pub status: ExitStatus,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Output {
    /// Its standard output, or an error that carries the end of what it wrote.
    pub fn wanted(self, what: &str) -> Result<String> {
        if self.status.success() {
            return Ok(self.out);
        }
        let said = format!("{}{}", self.out, self.err);
        let lines: Vec<_> = said.lines().collect();
        let tail = lines[lines.len().saturating_sub(20)..].join("\n");
        Err(anyhow!("{tail}").context(format!("{what}: {}", self.status)))
    }
}

/// Runs a command and keeps what it writes.
pub fn capture(mut command: Command, limit: Duration) -> Result<Output> {
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().with_context(|| format!("{} cannot be started", show(&command)))?;
    let out = collect(child.stdout.take());
    let err = collect(child.stderr.take());
    let status = wait(child, limit).with_context(|| show(&command));
    let (out, err) = (out.join().unwrap_or_default(), err.join().unwrap_or_default());
    Ok(Output { status: status.with_context(|| format!("{out}{err}"))?, out, err })
}

fn collect(pipe: Option<impl Read + Send + 'static>) -> thread::JoinHandle<String> {
    thread::spawn(move || {
        let mut bytes = Vec::new();
        if let Some(mut pipe) = pipe {
            // What was read before an error still tells what happened.
            let _ = pipe.read_to_end(&mut bytes);
        }
        String::from_utf8_lossy(&bytes).into_owned()
    })
}

fn wait(mut child: Child, limit: Duration) -> Result<ExitStatus> {
    let begun = Instant::now();
    let mut pause = Duration::from_millis(2);
    loop {
        if let Some(status) = child.try_wait()? {
            return Ok(status);
        }
        if begun.elapsed() > limit {
            end(child.id());
            let _ = child.kill();
            let _ = child.wait();
            bail!("ended after its limit of {} s", limit.as_secs());
        }
        thread::sleep(pause);
        pause = (pause * 2).min(Duration::from_millis(50));
    }
}

/// Ends the descendants of a process of ours: a test that cargo started would go on without it.
fn end(pid: u32) {
    let Ok(children) = fs::read_to_string(format!("/proc/{pid}/task/{pid}/children")) else { return };
    for child in children.split_whitespace().filter_map(|word| word.parse().ok()) {
        end(child);
        let _ = Command::new("kill").arg("-9").arg(child.to_string()).status();
    }
}

/// A command as a person would type it, without its environment.
pub fn show(command: &Command) -> String {
    let words = std::iter::once(command.get_program()).chain(command.get_args());
    words.map(|word| word.to_string_lossy()).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sh(script: &str) -> Command {
        let mut command = command("sh", Path::new("/"));
        command.args(["-c", script]);
        command
    }

    #[test]
    fn keeps_what_a_command_writes_and_how_it_ended() {
        let output = capture(sh("echo out; echo err >&2; exit 3"), QUERY_LIMIT).unwrap();
        assert_eq!((output.out.as_str(), output.err.as_str(), output.status.code()), ("out\n", "err\n", Some(3)));
        let error = format!("{:#}", output.wanted("the script").unwrap_err());
        assert!(error.contains("the script") && error.contains("err"), "{error}");
    }

    #[test]
    fn ends_a_command_and_its_children_at_the_limit() {
        let begun = Instant::now();
        let error = capture(sh("sleep 60; echo done"), Duration::from_millis(200)).map(|_| ()).unwrap_err();
        assert!(begun.elapsed() < Duration::from_secs(20), "the sleep below the shell holds the pipe open");
        assert!(format!("{error:#}").contains("limit"), "{error:#}");
    }

    #[test]
    fn a_program_that_is_not_there_is_named() {
        let error = capture(command("no-such-program-here", Path::new("/")), QUERY_LIMIT).map(|_| ()).unwrap_err();
        assert!(format!("{error:#}").contains("no-such-program-here"));
    }
}
