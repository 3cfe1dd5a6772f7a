//! What a person should know of the data behind the figures: what was seen, what it does, how to mend it.

use super::clock::Clock;
use super::story::Warned;
use super::words::{counted, moment, short};
use super::{TotalsRow, TraceRow};

/// Share of unknown time that is worth a word.
const UNKNOWN: f64 = 0.05;

/// One sentence or two for each thing that lessens the figures.
pub fn advice<'a>(trace: &TraceRow, totals: &TotalsRow, warned: impl Iterator<Item = &'a Warned>) -> Vec<String> {
    let clock = trace.clock();
    let mut out: Vec<String> = warned.filter_map(|w| of_the_core(w, clock.as_ref())).collect();
    if totals.clipped_samples > 0 {
        let one = totals.clipped_samples == 1;
        out.push(format!(
            "{} at the converter's end: what {} is \"at least\". To mend it, raise current_full_scale_a \
             or voltage_full_scale_v to what the converter takes, or fit a transformer of higher ratio",
            counted(totals.clipped_samples, "sample"),
            if one { "it enters" } else { "they enter" },
        ));
    }
    if totals.bridged_samples > 0 {
        out.push(format!(
            "{} missing and bridged by a straight line. Look after the recorder's memory and link",
            counted(totals.bridged_samples, "sample")
        ));
    }
    if trace.frames > 0 && totals.unknown_s > UNKNOWN * trace.duration_s {
        out.push(format!(
            "{} % of the time is unknown, and no state or load counts it: gaps in the trace, or too short a stretch",
            short(totals.unknown_s / trace.duration_s * 100.0)
        ));
    }
    out
}

fn of_the_core(warned: &Warned, clock: Option<&Clock>) -> Option<String> {
    let when = match warned.times {
        1 => format!("at {}", moment(warned.first_s, clock)),
        n => format!("{n} times, first at {}", moment(warned.first_s, clock)),
    };
    match warned.what {
        "voltage-gone" => Some(format!(
            "no voltage {when}: powers read zero meanwhile. Look at the fuses and leads of the voltage inputs; where \
             voltage is taken behind the contactor, set voltage_tap = \"motor\""
        )),
        "phase-order" => Some(format!(
            "phases in reverse order {when}: two leads are swapped, or the motor turns the wrong way. Compare the \
             channels with the terminals; [channels] in the settings can put them right"
        )),
        // Counted sample by sample above.
        "clipped" => None,
        other => Some(format!("{} {when}", other.replace('-', " "))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::testing::summary;

    fn told(totals: &TotalsRow, warned: &[Warned]) -> Vec<String> {
        advice(&summary().trace, totals, warned.iter())
    }

    #[test]
    fn a_good_trace_needs_no_word() {
        assert!(told(&summary().totals, &[]).is_empty());
    }

    #[test]
    fn each_says_what_was_seen_and_what_to_do() {
        let good = summary().totals;
        for (totals, warned, seen, cure) in [
            (TotalsRow { clipped_samples: 1, ..good.clone() }, None, "1 sample at", "raise current_full_scale_a"),
            (TotalsRow { bridged_samples: 12, ..good.clone() }, None, "12 samples missing", "recorder"),
            (TotalsRow { unknown_s: 0.5, ..good.clone() }, None, "25.00 % of the time", "gaps"),
            (good.clone(), Some(("voltage-gone", 1)), "no voltage at 1.000 s", "fuses"),
            (good.clone(), Some(("phase-order", 3)), "reverse order 3 times, first at 1.000 s", "[channels]"),
        ] {
            let warned = warned.map(|(what, times)| Warned { what, times, first_s: 1.0 });
            let lines = told(&totals, warned.as_slice());
            assert!(lines.len() == 1 && lines[0].contains(seen) && lines[0].contains(cure), "{lines:?}");
        }
    }
}
