//! `[mass]` where pulses of a belt weigher are counted: what one stands for and how a trace shows them.

use super::raw::Table;
use super::{PulseForm, Pulses, limits};

/// The keys that only pulses have.
const KEYS: [&str; 5] = ["kg_per_pulse", "pulses", "counter_bits", "pulse_level", "pulse_least_s"];
/// Contacts bounce for a millisecond or less; common practice, no source.
const LEAST_S: f64 = 0.001;

/// Reads the keys; `wanted` where pulses are the source, `rms` where a row of the trace holds rms values.
pub(super) fn read(t: &mut Table<'_>, wanted: bool, rms: bool) -> Option<Pulses> {
    let forms = [("count", false), ("edge", true)];
    let number =
        |t: &mut Table<'_>, key, limits| if wanted { t.need_number(key, limits) } else { t.number(key, limits) };
    let kg = number(t, "kg_per_pulse", &limits::KG_PER_PULSE);
    let edge = if wanted { t.need_word("pulses", &forms) } else { t.word("pulses", &forms) };
    let bits = t.whole("counter_bits", &limits::COUNTER_BITS);
    let level = t.number("pulse_level", &limits::PULSE_LEVEL).unwrap_or(1.0);
    let least_s = t.number("pulse_least_s", &limits::PULSE_LEAST_S).unwrap_or(LEAST_S);
    let out_of_place: &[&'static str] = match (wanted, edge) {
        (false, _) => &KEYS,
        (true, Some(false)) => &KEYS[3..],
        (true, Some(true)) => &KEYS[2..3],
        (true, None) => &[],
    };
    for key in out_of_place {
        let words = match edge {
            _ if !wanted => "no such key unless source = \"pulse\"",
            Some(true) => "no such key where pulses = \"edge\"",
            _ => "no such key where pulses = \"count\"",
        };
        t.reject(key, words, "take the line out");
    }
    if wanted && rms && edge == Some(true) {
        let mend = "let a counter count them; pulses = \"count\" takes what it says";
        t.reject("pulses", "\"count\" where values = \"rms\": a pulse is shorter than a row", mend);
    }
    let form = if edge? { PulseForm::Edge { level, least_s } } else { PulseForm::Count { bits } };
    Some(Pulses { kg: kg?, form }).filter(|_| wanted)
}
