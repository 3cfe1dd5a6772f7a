//! Whether the stamps of a trace rise evenly, judged while they stream past.
//!
//! Stamp k of a trace (t_0 at its start, or at the start of the piece after a gap) must satisfy
//! `|t_k - t_0 - k m| <= max(0.02 m, d)`, where m is the mean interval of the whole file and d
//! the worth of one printed digit. m is known only at the end, but each stamp bounds it:
//! `(t_k - t_0)/(k + 0.02) <= m <= (t_k - t_0)/(k - 0.02)`, or the same with d. So it is enough to
//! keep the tightest lower and upper bound. When they cross, no mean rate can make the stamps
//! even and the line is named at once; what is left is decided exactly when the file ends. The
//! rule needs neither a second pass nor memory, works on a pipe, and lets no drift through.
//!
//! One printed digit is the finest of the file; where a file prints a fixed count of significant
//! digits instead, so that stamps grow coarser with time, it is the last of those.

use super::number::{Printed, power};
use crate::error::Fault;
use crate::settings::limits;

/// Share of a sample interval by which a stamp may be off.
const TOLERANCE: f64 = 0.02;
/// Share by which the mean rate may differ from the one in the settings.
const RATE_TOLERANCE: f64 = 0.001;
/// Stamps held back until the printed digits are known.
const HEAD: usize = 64;
/// Room for the rounding of f64, relative.
const SLACK: f64 = 1e-9;

/// What stamps must be, and the cure where they are not.
const EVEN: &str = "stamps that rise evenly, within 2 % of an interval or one printed digit";
const RESAMPLE: &str = "print more digits, or resample the trace to an even rate";

/// One stamp with what is needed to judge it.
#[derive(Clone, Copy)]
struct Stamp {
    /// Seconds since the start of its piece.
    elapsed: f64,
    /// Intervals since the start of its piece.
    count: f64,
    /// As printed, s.
    at: f64,
    whole: i32,
    /// Line or record number.
    place: u64,
}

/// What a stamp means for the trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// It follows its predecessor.
    Follows,
    /// A gap lies before it, of this length in seconds beyond one interval.
    Gap(f64),
}

/// The running judgement; feed it every stamp in order, then call [`Evenness::finish`].
pub struct Evenness {
    file: String,
    /// `line` or `record`.
    label: &'static str,
    want_hz: Option<f64>,
    split: bool,
    lenient: bool,
    complaint: Option<Fault>,
    head: Vec<Stamp>,
    decimals: i32,
    significant: i32,
    /// First and last stamp of the present piece, intervals in it, and the sums of earlier pieces.
    first: f64,
    last: f64,
    count: f64,
    started: bool,
    before_s: f64,
    before_count: f64,
    pieces: f64,
    low: (f64, Option<Stamp>),
    high: (f64, Option<Stamp>),
    previous: Option<Stamp>,
    /// A jump that is refused, once the next stamp has told what it is.
    jump: Option<Jump>,
}

/// A stamp much later than it should be.
#[derive(Clone, Copy)]
struct Jump {
    /// The stamps before and after it, s.
    from: f64,
    to: f64,
    /// Mean interval up to it, s.
    mean: f64,
    place: u64,
}

impl Evenness {
    /// `want_hz` is the settings' rate; `split` accepts gaps; `lenient` keeps the first fault as a
    /// [`Evenness::complaint`] instead of returning it.
    pub fn new(file: &str, label: &'static str, want_hz: Option<f64>, split: bool, lenient: bool) -> Self {
        Self {
            file: file.into(),
            label,
            want_hz,
            split,
            lenient,
            complaint: None,
            head: Vec::with_capacity(HEAD),
            decimals: 0,
            significant: 0,
            first: 0.0,
            last: 0.0,
            count: 0.0,
            started: false,
            before_s: 0.0,
            before_count: 0.0,
            pieces: 1.0,
            low: (0.0, None),
            high: (f64::INFINITY, None),
            previous: None,
            jump: None,
        }
    }

    /// What was wrong, when lenient.
    pub fn complaint(&self) -> Option<&Fault> {
        self.complaint.as_ref()
    }

    /// Takes the next stamp, found at line or record `place`.
    pub fn stamp(&mut self, printed: Printed, place: u64) -> Result<Step, Fault> {
        let Printed { value, decimals, whole } = printed;
        self.decimals = self.decimals.max(decimals);
        if value != 0.0 {
            self.significant = self.significant.max(whole.saturating_add(decimals));
        }
        if !self.started {
            self.started = true;
            (self.first, self.last) = (value, value);
            return Ok(Step::Follows);
        }
        if let Some(jump) = self.jump.take() {
            let fault = self.jumped(&jump, Some(value));
            self.refuse(fault)?;
        }
        let jump = value - self.last;
        if jump < 0.0 {
            let found = format!("the time runs back from {} s to {} s", shown(self.last), shown(value));
            self.refuse(
                self.fault(place, found).wanted("stamps that rise evenly").mend("sort or cut the trace there"),
            )?;
            return Ok(Step::Follows);
        }
        let known = self.before_count + self.count;
        if known > 0.0 {
            let mean = (self.before_s + self.last - self.first) / known;
            let digit = self.digit(whole);
            let room = if digit > TOLERANCE * mean { 2.0 * digit } else { 0.0 };
            if jump > 1.5 * mean + room {
                if !self.split {
                    self.jump = Some(Jump { from: self.last, to: value, mean, place });
                    return Ok(Step::Follows);
                }
                return Ok(self.gap(value, jump - mean));
            }
        }
        self.count += 1.0;
        self.last = value;
        let stamp = Stamp { elapsed: value - self.first, count: self.count, at: value, whole, place };
        if self.head.len() < HEAD && self.head.capacity() > 0 {
            self.head.push(stamp);
            if self.head.len() == HEAD {
                self.release()?;
            }
        } else {
            self.judge(stamp)?;
        }
        Ok(Step::Follows)
    }

    /// Judges what was held back.
    fn release(&mut self) -> Result<(), Fault> {
        let head = std::mem::take(&mut self.head);
        head.into_iter().try_for_each(|stamp| self.judge(stamp))
    }

    /// A gap that is accepted: a new piece begins after it.
    fn gap(&mut self, value: f64, length: f64) -> Step {
        self.before_s += self.last - self.first;
        self.before_count += self.count;
        self.pieces += 1.0;
        self.count = 0.0;
        (self.first, self.last) = (value, value);
        Step::Gap(length)
    }

    /// What a jump is: one stamp that lies late, if the next is in its place again, else missing samples.
    fn jumped(&self, jump: &Jump, next: Option<f64>) -> Fault {
        let Jump { from, to, mean, place } = *jump;
        let late = (to - from) / mean - 1.0;
        let (from, to) = (shown(from), shown(to));
        if mean <= 0.0 {
            let found = format!("{from} s is the stamp of several samples, then comes {to} s");
            return self.fault(place, found).wanted(EVEN).mend(RESAMPLE);
        }
        let back = next.is_some_and(|next| ((next - jump.from) / mean - 2.0).abs() < 0.5);
        if back || late < 0.75 {
            let found =
                format!("the stamp {to} s lies {:.0} % of a sample interval after its even place", late * 100.0);
            return self.fault(place, found).wanted(EVEN).mend(RESAMPLE);
        }
        let missing = late.round().min(1e15);
        let are = if missing > 1.0 { "samples are" } else { "sample is" };
        self.fault(place, format!("the stamps jump from {from} s to {to} s: about {missing:.0} {are} missing"))
            .wanted("stamps that rise evenly")
            .mend("gaps = \"split\" in [sampling] accepts gaps and restarts the metering after each")
    }

    /// Worth of one printed digit of a stamp with so many digits before the point, s.
    fn digit(&self, whole: i32) -> f64 {
        // As long as all stamps are zero nothing is known of significant digits.
        let coarse = if self.significant > 0 { whole.saturating_sub(self.significant) } else { i32::MIN };
        power((-self.decimals).max(coarse))
    }

    #[inline]
    fn judge(&mut self, stamp: Stamp) -> Result<(), Fault> {
        let digit = self.digit(stamp.whole) * (1.0 + SLACK);
        let Stamp { elapsed, count, .. } = stamp;
        let rounding = 4.0 * f64::EPSILON * stamp.at.abs().max(elapsed);
        let tolerance = TOLERANCE * (1.0 + SLACK);
        // Without a division unless a bound moves: that is rare.
        let (early, late) = (elapsed - rounding, elapsed + rounding);
        let mut moved = false;
        if early > self.low.0 * (count + tolerance) && early - digit > self.low.0 * count {
            self.low = ((early / (count + tolerance)).min((early - digit) / count), Some(stamp));
            moved = true;
        }
        if late < self.high.0 * (count - tolerance) && late + digit < self.high.0 * count {
            self.high = ((late / (count - tolerance)).max((late + digit) / count), Some(stamp));
            moved = true;
        }
        if moved && self.low.0 > self.high.0 {
            let fault = self.uneven(stamp);
            self.refuse(fault)?;
        }
        if moved && let Some(want) = self.want_hz {
            let room = digit * self.pieces / count;
            let sure_slow = self.low.0 > 1.0 / (want * (1.0 - RATE_TOLERANCE)) * (1.0 + SLACK) + room;
            let sure_fast = self.high.0 < 1.0 / (want * (1.0 + RATE_TOLERANCE)) * (1.0 - SLACK) - room;
            if sure_slow || sure_fast {
                // Where the stamp before still had the rate it is this stamp that is wrong, not the rate.
                let before = self.previous.filter(|p| {
                    let off = p.elapsed * want / p.count - 1.0;
                    off.abs() <= RATE_TOLERANCE + digit * want / p.count
                });
                let fault = match before {
                    Some(_) => self.uneven(stamp),
                    None => self.wrong_rate(stamp.count / stamp.elapsed, want, stamp.place),
                };
                self.refuse(fault)?;
            }
        }
        self.previous = Some(stamp);
        Ok(())
    }

    /// The end of the trace: the mean rate in Hz, `None` when there were fewer than two stamps.
    pub fn finish(&mut self) -> Result<Option<f64>, Fault> {
        self.release()?;
        if let Some(jump) = self.jump.take() {
            let fault = self.jumped(&jump, None);
            self.refuse(fault)?;
        }
        let count = self.before_count + self.count;
        let span = self.before_s + self.last - self.first;
        if count == 0.0 {
            return Ok(None);
        }
        let mean = span / count;
        // Coarse stamps leave the mean itself uncertain by one printed digit over the span.
        let digit = self.previous.map_or(0.0, |last| self.digit(last.whole));
        let room = if digit > TOLERANCE * mean { digit * self.pieces / count } else { 0.0 };
        let inside = mean + room >= self.low.0 * (1.0 - SLACK) && mean - room <= self.high.0 * (1.0 + SLACK);
        if !inside && let Some(last) = self.previous {
            let fault = self.uneven(last);
            self.refuse(fault)?;
        }
        if let (Some(want), Some(last)) = (self.want_hz, self.previous) {
            let room = digit * self.pieces / count;
            let (slow, fast) = (1.0 / (mean + room), 1.0 / (mean - room).max(f64::MIN_POSITIVE));
            let tolerance = RATE_TOLERANCE + SLACK;
            if fast < want * (1.0 - tolerance) || slow > want * (1.0 + tolerance) {
                let fault = self.wrong_rate(1.0 / mean, want, last.place);
                self.refuse(fault)?;
            }
        }
        Ok((span > 0.0).then_some(1.0 / mean))
    }

    /// The stamps contradict each other: names the one that is farther off the line through the
    /// first stamp and the last that still fitted.
    fn uneven(&self, now: Stamp) -> Fault {
        let fitted = self.previous.filter(|p| p.place != now.place);
        let mean = match fitted {
            Some(p) if p.elapsed > 0.0 => p.elapsed / p.count,
            _ => (self.before_s + self.last - self.first) / (self.before_count + self.count).max(1.0),
        };
        let off = |s: &Stamp| s.elapsed - s.count * mean;
        let worst = [self.low.1, self.high.1, Some(now)]
            .into_iter()
            .flatten()
            .max_by(|a, b| off(a).abs().total_cmp(&off(b).abs()))
            .unwrap_or(now);
        let share = off(&worst) / mean * 100.0;
        let by = if share.abs() < 1e6 { format!("{:.1}", share.abs()) } else { shown(share.abs()) };
        let side = if share < 0.0 { "before" } else { "after" };
        let found = format!("the stamp {} s lies {by} % of a sample interval {side} its even place", shown(worst.at));
        self.fault(worst.place, found).wanted(EVEN).mend(RESAMPLE)
    }

    fn wrong_rate(&self, found: f64, want: f64, place: u64) -> Fault {
        if !found.is_finite() {
            return self
                .fault(place, format!("the stamps up to here are all {} s", shown(self.first)))
                .wanted(format!("stamps that rise by {} s, as rate_hz in the settings says", 1.0 / want))
                .mend("write the time of each sample; in COMTRADE the configuration may give the rate instead");
        }
        self.fault(place, format!("the stamps up to here give {found:.3} Hz"))
            .wanted(format!("{want} Hz within 0.1 %, as rate_hz in the settings says"))
            .mend(if limits::ROW_RATE_HZ.hold(found) {
                "put the trace's own rate into [sampling] rate_hz; where the rows are rms values, with values = \"rms\" beside it"
            } else {
                "put the trace's own rate into [sampling] rate_hz"
            })
    }

    fn fault(&self, place: u64, found: String) -> Fault {
        Fault::new(&*self.file, found).at(format!("{} {place}", self.label))
    }

    fn refuse(&mut self, fault: Fault) -> Result<(), Fault> {
        if !self.lenient {
            return Err(fault);
        }
        self.complaint.get_or_insert(fault);
        Ok(())
    }
}

/// A figure as a message can bear it.
fn shown(x: f64) -> String {
    if x == 0.0 || (1e-9..1e15).contains(&x.abs()) { x.to_string() } else { format!("{x:e}") }
}

#[cfg(test)]
mod tests;
