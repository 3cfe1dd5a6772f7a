//! CSV traces: one line of names, then a line a frame.
//!
//! ```text
//! # start = 2026-03-02T06:00:00+01:00
//! t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a,note
//! 0.000000,310.741,-72.120,-238.621,191.067,-44.336,-146.716,
//! ```
//! Comments, blank lines, blanks around cells, a byte-order mark, CRLF and a missing last line end
//! are fine. Cells are parsed where they lie in the buffer, in one pass.

mod header;
mod layout;
mod start;

use super::even::Evenness;
use super::source::{Line, Source};
use super::{Kind, Meta, Options, Reader, Rows, block_rows};
use crate::error::Fault;
use layout::{Layout, NOTE};

/// The byte-order mark of UTF-8.
const MARK: &[u8] = b"\xef\xbb\xbf";

/// A CSV trace that is being read.
pub struct Csv {
    source: Source,
    meta: Meta,
    layout: Layout,
    even: Evenness,
    accept_short: bool,
    frames: u64,
    done: bool,
    warnings: Vec<String>,
}

impl Csv {
    /// Reads up to the line of names.
    ///
    /// # Errors
    /// A [`Fault`] when there is none or it is no such line.
    pub fn new(mut source: Source, options: &Options, lenient: bool) -> anyhow::Result<Self> {
        let file = source.name().to_owned();
        if source.peek(MARK.len())? == MARK {
            source.take(MARK.len());
        }
        let mut begun = None;
        let header = loop {
            let Some(line) = source.line()? else {
                return Err(Fault::new(file, "ends before the line of names")
                    .at(format!("line {}", source.lines()))
                    .wanted("a first line of names such as t_s,va_v,vb_v,vc_v,ia_a,ib_a,ic_a")
                    .mend("record or copy the trace again")
                    .into());
            };
            let place = format!("line {}", line.number);
            let bytes = line.bytes.trim_ascii();
            match bytes.first() {
                None => {}
                Some(b'#') => begun = start::start(&file, bytes, &place)?.or(begun),
                Some(_) => break header::header(&file, bytes, &place)?,
            }
        };
        let warnings = match header.skipped.as_slice() {
            [] => vec![],
            names => vec![format!("{file}: columns that are not ours are left out: {}", names.join(", "))],
        };
        let mass = header.channels.iter().position(|c| c.kind == Kind::Mass && c.name.eq_ignore_ascii_case("mass_kg"));
        let meta = Meta {
            path: file.clone(),
            format: "CSV".into(),
            station: String::new(),
            start: begun,
            nominal_hz: None,
            rates: vec![],
            stamps_hz: options.rate_hz,
            channels: header.channels,
            digital: 0,
            frames: None,
        };
        let even = Evenness::new(&file, "line", options.rate_hz, options.gaps_split, lenient);
        let layout =
            Layout { file, columns: header.columns, names: header.names, mass, mass_kg: f64::NEG_INFINITY, cut: None };
        let accept_short = options.accept_short;
        Ok(Self { source, meta, layout, even, accept_short, frames: 0, done: false, warnings })
    }

    fn finish(&mut self) -> Result<(), Fault> {
        self.done = true;
        if self.frames == 0 {
            return Err(Fault::new(&*self.layout.file, "holds no frames")
                .at(format!("line {}", self.source.lines()))
                .wanted("at least one line of figures below the names")
                .mend("record or copy the trace again"));
        }
        self.meta.stamps_hz = self.even.finish()?.or(self.meta.stamps_hz);
        self.meta.frames = Some(self.frames);
        if let Some(complaint) = self.even.complaint() {
            self.warnings.push(complaint.to_string());
        }
        if let Some(line) = self.layout.cut {
            let file = &self.layout.file;
            self.warnings.push(format!("{file}, line {line}: of a note as long as this {NOTE} characters are kept"));
        }
        Ok(())
    }
}

impl Reader for Csv {
    fn meta(&self) -> &Meta {
        &self.meta
    }

    fn read(&mut self, rows: &mut Rows) -> anyhow::Result<usize> {
        rows.reset(self.meta.channels.len());
        if self.done {
            return Ok(0);
        }
        let most = block_rows(rows.columns.len());
        while rows.len < most {
            let Some(line) = self.source.line()? else {
                self.finish()?;
                break;
            };
            // A blank line and a comment hold no frame.
            if matches!(line.bytes.trim_ascii_start().first(), None | Some(b'#')) || is_end(&line) {
                continue;
            }
            match self.layout.frame(&line, rows, &mut self.even) {
                Ok(()) => {}
                Err(_) if self.accept_short && !line.ended && self.frames > 0 => {
                    let words =
                        format!("{}, line {}: cut inside a line, which is left out", self.layout.file, line.number);
                    self.warnings.push(words);
                    let whole = rows.len;
                    for column in &mut rows.columns {
                        column.truncate(whole);
                    }
                    self.finish()?;
                    break;
                }
                // Whatever a cut has made of the last line: the cut is what is wrong with it.
                Err(fault) if !line.ended => return Err(fault.mend(CUT).into()),
                Err(fault) => return Err(fault.into()),
            }
            self.frames += 1;
        }
        for (column, channel) in rows.columns.iter_mut().zip(&self.meta.channels) {
            if channel.to_si.to_bits() != 1.0_f64.to_bits() {
                for x in column {
                    *x *= channel.to_si;
                }
            }
        }
        Ok(rows.len)
    }

    fn warnings(&self) -> &[String] {
        &self.warnings
    }

    fn progress(&self) -> (u64, Option<u64>) {
        (self.source.offset(), self.source.total())
    }
}

/// The mark with which DOS ended a text, alone in the last line; some programs fill a block with it.
fn is_end(line: &Line<'_>) -> bool {
    !line.ended && line.bytes.iter().all(|b| *b == 0x1A)
}

/// The cure for a last line without its end.
const CUT: &str = "the file ends inside this line: remove it, or use --accept-short; or end the line if it is whole";

#[cfg(test)]
mod tests;
