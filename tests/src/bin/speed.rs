//! Prints how fast traces are read and replayed, and how much memory that takes.
//!
//! ```text
//! speed [--large PROGRAM]
//! ```
//! Each format's trace is written into a temporary folder, read plainly (the bytes alone), read through the
//! library, and replayed through it with the firmware core: several rounds, in turn, of which the median
//! counts; one thread, and its time on a processor. Times over the plain read's compare between machines better
//! than seconds do. With `--large` a
//! built `shaftwork` goes over traces of 2 GB, and its peak memory is read from the system (Linux).
//!
//! It has no bounds: it measures, and whoever reads it judges.

use std::fs::{self, File};
use std::io::{BufWriter, Read as _, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Context as _, Result, bail};
use shaftwork_acceptance::clock::Clock;
use shaftwork_core::Monitor;
use shaftwork_core::judge::event::Event;
use shaftwork_core::judge::report::{Interval, Moment};
use shaftwork_sim::convert::Converter;
use shaftwork_sim::fit;
use shaftwork_sim::replay::drive::{Core, Listener, drive};
use shaftwork_sim::replay::side::Side;
use shaftwork_sim::replay::source::Source;
use shaftwork_sim::settings::{self, Settings};
use shaftwork_sim::trace::write::{ComtradeWriter, WriteChannel, WriteEncoding};
use shaftwork_sim::trace::{self, Options, Rows};

const RATE_HZ: u32 = 4_000;
const ROUNDS: usize = 7;
/// Minutes of a trace in the table; 10 of them are 48 MB of BINARY.
const MINUTES: u32 = 10;
/// Bytes of a large trace.
const LARGE: u64 = 2_000_000_000;
/// Bytes of a line that does not end.
const LINE: u64 = 1_000_000_000;
const MB: f64 = 1e6;

const SETTINGS: &str = r#"
[supply]
frequency_hz = 50
line_voltage_v = 400
wiring = "four-wire"
[sampling]
rate_hz = 4000
bits = 16
voltage_full_scale_v = 655.34
current_full_scale_a = 327.67
[motor]
rated_power_kw = 55
rated_voltage_v = 400
rated_current_a = 95
rated_frequency_hz = 50
rated_speed_rpm = 1480
poles = 4
rated_power_factor_pct = 88
[mill]
idle_power_kw = 7
[trip.thermal]
base_current_a = 95
k = 1.05
heating_time_constant_s = 600
[trip.jam]
pickup_pct = 200
delay_s = 0.5
[trip.long_start]
delay_s = 15
[trip.phase_loss]
pickup_pct = 60
delay_s = 1
[trip.undervoltage]
pickup_pct = 80
delay_s = 2
"#;

/// How a trace is written.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Format {
    Binary,
    Float,
    Ascii,
    Cff,
    Csv,
}

impl Format {
    const ALL: [(Self, &str); 5] = [
        (Self::Binary, "COMTRADE BINARY"),
        (Self::Float, "COMTRADE FLOAT32"),
        (Self::Ascii, "COMTRADE ASCII"),
        (Self::Cff, "COMTRADE .cff, BINARY"),
        (Self::Csv, "CSV"),
    ];

    /// Writes a trace of so many frames; gives its path and the path of what holds its frames.
    fn write(self, folder: &Path, frames: u64) -> Result<(PathBuf, PathBuf)> {
        let base = folder.join("trace");
        match self {
            Self::Csv => {
                let path = base.with_extension("csv");
                csv(&path, frames)?;
                Ok((path.clone(), path))
            }
            Self::Binary => comtrade(&base, frames, WriteEncoding::Binary1999),
            Self::Float => comtrade(&base, frames, WriteEncoding::Float2013),
            Self::Ascii => {
                let (cfg, dat) = comtrade(&base, frames, WriteEncoding::Binary1999)?;
                let text = fs::read_to_string(&cfg)?.replace("BINARY", "ASCII");
                fs::write(&cfg, text)?;
                ascii(&dat, frames)?;
                Ok((cfg, dat))
            }
            Self::Cff => {
                let (cfg, dat) = comtrade(&base, frames, WriteEncoding::Binary2013)?;
                let path = base.with_extension("cff");
                let mut out = BufWriter::new(File::create(&path)?);
                write!(out, "--- file type: CFG ---\r\n{}", fs::read_to_string(cfg)?)?;
                write!(out, "--- file type: DAT BINARY: {} ---\r\n", fs::metadata(&dat)?.len())?;
                std::io::copy(&mut File::open(dat)?, &mut out)?;
                out.flush()?;
                Ok((path.clone(), path))
            }
        }
    }
}

/// A second of a loaded motor, row by row: it is written again and again.
fn second() -> Vec<[f64; 6]> {
    let angle = |k: u32| f64::from(k) / f64::from(RATE_HZ) * 50.0 * std::f64::consts::TAU;
    let value = |k, c| {
        let (size, lag) = if c < 3 { (325.27, 0.0) } else { (92.7, 0.6) };
        size * (angle(k) - f64::from(c % 3) * std::f64::consts::TAU / 3.0 - lag).cos()
    };
    (0..RATE_HZ).map(|k| std::array::from_fn(|c| value(k, c as u32))).collect()
}

/// What a channel's code is worth, V or A; its name, its phase.
fn channel(index: usize) -> WriteChannel {
    let (unit, a) = if index < 3 { ("V", 0.02) } else { ("A", 0.01) };
    let phase = ["A", "B", "C"][index % 3];
    WriteChannel { name: format!("{unit}{phase}"), phase: phase.into(), unit: unit.into(), a, b: 0.0 }
}

fn comtrade(base: &Path, frames: u64, encoding: WriteEncoding) -> Result<(PathBuf, PathBuf)> {
    let channels: Vec<_> = (0..6)
        .map(|c| WriteChannel {
            a: if encoding == WriteEncoding::Float2013 { 1.0 } else { channel(c).a },
            ..channel(c)
        })
        .collect();
    let mut out = ComtradeWriter::create(base, "SPEED", &channels, 50.0, f64::from(RATE_HZ), encoding)?;
    for row in second().iter().cycle().take(frames as usize) {
        out.frame(row)?;
    }
    let cfg = out.finish()?;
    let dat = cfg.with_extension("dat");
    Ok((cfg, dat))
}

fn ascii(dat: &Path, frames: u64) -> Result<()> {
    let code = |(c, x): (usize, &f64)| format!(",{}", (x / channel(c).a).round());
    let rows: Vec<String> = second().iter().map(|row| row.iter().enumerate().map(code).collect()).collect();
    let mut out = BufWriter::new(File::create(dat)?);
    for (k, row) in (0..frames).zip(rows.iter().cycle()) {
        write!(out, "{},{}{row}\r\n", k + 1, k * 1_000_000 / u64::from(RATE_HZ))?;
    }
    Ok(out.flush()?)
}

fn csv(path: &Path, frames: u64) -> Result<()> {
    let cell = |x: &f64| format!(",{x:.3}");
    let rows: Vec<String> = second().iter().map(|row| row.iter().map(cell).collect()).collect();
    let mut out = BufWriter::new(File::create(path)?);
    writeln!(out, "t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a")?;
    for (k, row) in (0..frames).zip(rows.iter().cycle()) {
        let (second, part) = (k / u64::from(RATE_HZ), k % u64::from(RATE_HZ));
        writeln!(out, "{second}.{:06}{row}", part * 1_000_000 / u64::from(RATE_HZ))?;
    }
    Ok(out.flush()?)
}

/// Counts what the core reports, so that none of its work can be left out.
#[derive(Default)]
struct Count(u64);

impl Listener for Count {
    fn moment(&mut self, _: &Moment) -> Result<()> {
        self.0 += 1;
        Ok(())
    }

    fn interval(&mut self, _: &Interval) -> Result<()> {
        self.0 += 1;
        Ok(())
    }

    fn event(&mut self, _: &Event) -> Result<()> {
        self.0 += 1;
        Ok(())
    }
}

/// The bytes alone, in pieces as large as the library's.
fn plain(path: &Path) -> Result<u64> {
    let (mut file, mut buffer, mut bytes) = (File::open(path)?, vec![0; 256 * 1024], 0);
    loop {
        match file.read(&mut buffer)? {
            0 => return Ok(bytes),
            n => bytes += n as u64,
        }
    }
}

/// Through the library's reader; gives the frames.
fn read(path: &str) -> Result<u64> {
    let mut reader = trace::open(path, &Options { rate_hz: Some(f64::from(RATE_HZ)), ..Options::default() })?;
    let (mut rows, mut frames) = (Rows::new(), 0);
    loop {
        match reader.read(&mut rows)? {
            0 => return Ok(frames),
            n => frames += n as u64,
        }
    }
}

/// The whole way through the core; gives the frames.
fn replay(path: &str, settings: &Settings) -> Result<u64> {
    let mut source = Source::open(path, settings, false)?;
    let monitor = Monitor::new(&fit::core_settings(settings, source.rate_hz)?).context("the core's settings")?;
    let (mut side, _) = Side::new(&source.selection, settings.mass, false, source.rate_hz);
    let mut count = Count::default();
    let converter = Converter::new(&settings.sampling);
    let end = drive(&mut source, &mut side, Core::Samples(Box::new(monitor), &converter), None, &mut count)?;
    anyhow::ensure!(count.0 > end.frames / 100, "the core reported next to nothing");
    Ok(end.frames)
}

/// Seconds that a piece of work takes, done so many times.
fn timed(times: u32, want: u64, work: impl Fn() -> Result<u64>) -> Result<f64> {
    let clock = Clock::start();
    for _ in 0..times {
        let got = work()?;
        anyhow::ensure!(got == want, "{got} instead of {want}");
    }
    Ok(clock.seconds() / f64::from(times))
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn table(folder: &Path, settings: &Settings) -> Result<()> {
    println!("| format | MB | work | million frames/s | MB/s | times a plain read |");
    println!("|---|---|---|---|---|---|");
    let frames = u64::from(RATE_HZ * 60 * MINUTES);
    for (format, name) in Format::ALL {
        let (path, data) = format.write(folder, frames)?;
        let bytes = fs::metadata(&data)?.len();
        let path = path.to_str().context("the temporary folder's name is no text")?;
        let mut times = [const { Vec::new() }; 3];
        for _ in 0..ROUNDS {
            // The system counts in steps of milliseconds: what is short is done several times.
            times[0].push(timed(10, bytes, || plain(&data))?);
            times[1].push(timed(2, frames, || read(path))?);
            times[2].push(timed(1, frames, || replay(path, settings))?);
        }
        let [plain, read, replay] = times.map(median);
        for (work, time) in [("reading", read), ("replay", replay)] {
            let (mb, million) = (bytes as f64 / MB, frames as f64 / 1e6);
            println!("| {name} | {mb:.0} | {work} | {:.1} | {:.0} | {:.1} |", million / time, mb / time, time / plain);
        }
    }
    Ok(())
}

/// Runs the program; gives the seconds it took, its status, and its peak memory in MB.
fn peak(program: &Path, arguments: &[&str]) -> Result<(f64, Option<i32>, f64)> {
    let begun = Instant::now();
    let mut child = Command::new(program).args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn()?;
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0.0;
    loop {
        // The system forgets it when the program ends: the last look before that is the one that counts.
        let text = fs::read_to_string(&status).unwrap_or_default();
        let kb = text.lines().find_map(|line| line.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.parse().ok());
        most = kb.unwrap_or(most);
        if let Some(status) = child.try_wait()? {
            return Ok((begun.elapsed().as_secs_f64(), status.code(), most * 1024.0 / MB));
        }
        std::thread::sleep(Duration::from_millis(5));
    }
}

fn large(program: &Path, folder: &Path, settings: &str) -> Result<()> {
    println!("\n| trace | command | s | peak memory, MB |\n|---|---|---|---|");
    let json = folder.join("report.json");
    let out = folder.join("out");
    let (Some(json), Some(out)) = (json.to_str(), out.to_str()) else { bail!("the folder's name is no text") };
    for (format, name, frame) in [(Format::Binary, "COMTRADE BINARY", 20), (Format::Csv, "CSV", 58)] {
        let (path, data) = format.write(folder, LARGE / frame)?;
        let gb = fs::metadata(&data)?.len() as f64 / 1e9;
        let path = path.to_str().context("the folder's name is no text")?;
        for (words, arguments) in [
            ("info", vec!["info", path]),
            ("replay --json --out", vec!["replay", path, "--settings", settings, "--json", json, "--out", out]),
        ] {
            let (time, status, mb) = peak(program, &arguments)?;
            anyhow::ensure!(status == Some(0), "{words} ended with {status:?}");
            println!("| {name}, {gb:.1} GB | {words} | {time:.1} | {mb:.0} |");
        }
        fs::remove_file(data)?;
    }
    let line = folder.join("line.csv");
    let mut file = BufWriter::new(File::create(&line)?);
    std::io::copy(&mut std::io::repeat(b'1').take(LINE), &mut file)?;
    file.flush()?;
    let (time, status, mb) = peak(program, &["info", line.to_str().context("the folder's name is no text")?])?;
    anyhow::ensure!(status == Some(1), "a line that does not end: {status:?} instead of 1");
    println!("| a line of 1 GB | info, which refuses it | {time:.1} | {mb:.0} |");
    Ok(())
}

fn run() -> Result<()> {
    let mut arguments = std::env::args_os().skip(1);
    let program = match arguments.next() {
        None => None,
        Some(word) if word == "--large" => Some(arguments.next().context("--large needs the program's path")?),
        Some(word) => bail!("{} is not known; speed [--large PROGRAM]", word.display()),
    };
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("settings.toml");
    fs::write(&path, SETTINGS)?;
    let (settings, _) = settings::load(&path)?;
    table(folder.path(), &settings)?;
    match program {
        Some(program) => large(Path::new(&program), folder.path(), path.to_str().context("the folder's name")?),
        None => Ok(()),
    }
}

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::FAILURE
        }
    }
}
