//! The trace: COMTRADE (.cfg and .dat, or .cff) or CSV, by the ending of its name.

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use crate::error::Usage;
use crate::plant::sensor::Sensor;
use crate::plant::{Frame, Scenario};
use crate::trace::write::{ComtradeWriter, WriteChannel, WriteEncoding};
use crate::whole::Whole;

/// Name, phase and unit of the channels of a four-wire mill.
pub(super) const CHANNELS: [(&str, &str, &str); 7] = [
    ("VA", "A", "V"),
    ("VB", "B", "V"),
    ("VC", "C", "V"),
    ("IA", "A", "A"),
    ("IB", "B", "A"),
    ("IC", "C", "A"),
    ("MASS", "", "kg"),
];
const CSV_HEAD: &str = "t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,mass_kg";

/// A trace that is being written.
pub(super) enum Record {
    /// By the crate's own writer.
    Comtrade { writer: Box<ComtradeWriter>, names: Vec<String> },
    /// A line a frame.
    Csv { file: Whole, line: String, rate_hz: f64, frames: u64 },
}

impl Record {
    /// Begins it.
    pub(super) fn create(out: &Path, scenario: &Scenario) -> anyhow::Result<Self> {
        let names = names(out)?;
        let Scenario { sensor, rate_hz, duration_s, .. } = scenario;
        if ending(out) == "csv" {
            let mut file = Whole::create(out)?;
            writeln!(file, "{CSV_HEAD}")?;
            return Ok(Self::Csv { file, line: String::new(), rate_hz: *rate_hz, frames: 0 });
        }
        let bits = sensor.voltage.bits.max(sensor.current.bits).max(sensor.mass.bits);
        if bits > 16 {
            let words =
                format!("--out: records of COMTRADE have 16 bits here, the scenario's sensors {bits}; write a .csv");
            return Err(Usage(words).into());
        }
        let frames = duration_s * rate_hz;
        if frames > f64::from(u32::MAX) {
            let words =
                format!("--out: a record of COMTRADE holds 4294967295 frames, not {frames:.0}: make it shorter");
            return Err(Usage(words).into());
        }
        let channels = channels(sensor);
        let hertz = scenario.supply.frequency_hz;
        let writer = ComtradeWriter::create(out, "MODEL", &channels, hertz, *rate_hz, WriteEncoding::Binary2013)?;
        let names = names.iter().map(|name| name.display().to_string()).collect();
        Ok(Self::Comtrade { writer: Box::new(writer), names })
    }

    /// Appends a frame.
    pub(super) fn frame(&mut self, frame: &Frame<'_>) -> anyhow::Result<()> {
        match self {
            Self::Comtrade { writer, .. } => writer.frame(&frame.reading),
            Self::Csv { file, line, rate_hz, frames } => {
                line.clear();
                // Writing to a string cannot fail.
                let _ = write!(line, "{:.7}", *frames as f64 / *rate_hz);
                for value in frame.reading {
                    let _ = write!(line, ",{value:.3}");
                }
                line.push('\n');
                *frames += 1;
                Ok(file.write_all(line.as_bytes())?)
            }
        }
    }

    /// Gives the files their names, which are given back.
    pub(super) fn finish(self) -> anyhow::Result<Vec<String>> {
        match self {
            Self::Comtrade { writer, names } => {
                writer.finish()?;
                Ok(names)
            }
            Self::Csv { file, .. } => {
                let name = file.target().display().to_string();
                file.commit()?;
                Ok(vec![name])
            }
        }
    }
}

fn ending(out: &Path) -> String {
    out.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default()
}

/// The files of a trace, by the ending of its name.
pub(super) fn names(out: &Path) -> Result<Vec<PathBuf>, Usage> {
    match ending(out).as_str() {
        "csv" => Ok(vec![out.to_owned()]),
        "cff" => Ok(vec![out.with_extension("cff")]),
        "cfg" | "dat" => Ok(vec![out.with_extension("cfg"), out.with_extension("dat")]),
        "" => {
            let words = "--out: the name has no ending; .cfg or .cff makes it a record of COMTRADE, .csv a table";
            Err(Usage(words.to_owned()))
        }
        other => Err(Usage(format!("--out: the ending '.{other}' is none of .cfg, .cff (COMTRADE) and .csv"))),
    }
}

/// The seven channels of a record as the model's converters read them: voltages, currents, mass.
pub fn channels(sensor: &Sensor) -> Vec<WriteChannel> {
    let converters = [sensor.voltage, sensor.current, sensor.mass];
    let channel = |(n, (name, phase, unit)): (usize, &(&str, &str, &str))| WriteChannel {
        name: (*name).to_owned(),
        phase: (*phase).to_owned(),
        unit: (*unit).to_owned(),
        // Without the last digits that only binary fractions bring.
        a: (converters[n / 3].step() * 1e10).round() / 1e10,
        b: 0.0,
    };
    CHANNELS.iter().enumerate().map(channel).collect()
}
