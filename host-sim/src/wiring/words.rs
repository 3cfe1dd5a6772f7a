//! What the wiring comes to, in words: the verdict, the explanations, and what cannot be seen.

use shaftwork_core::wiring::{Diagnosis, Faults};

use super::Result;
use super::figures::{angles, sizes};
use super::told::{Told, told};
use super::votes::{LEAST, Votes};
use super::waves::Odd;
use crate::settings::Settings;

/// What no figure here can show; told with every verdict.
pub const INVISIBLE: &str = "Not to be seen in any figure: voltages and currents all moved on by one phase alike, or all \
    reversed together. A supply that comes in the other order and two phases exchanged alike on both sides are one and \
    the same here: confirm the direction of rotation by eye. At one load all currents by one factor, with capacitors or \
    without, can have the power and var of a sound motor at another load: check both at light and at full load. Without any \
    current nothing is said, for the motor may stand.";

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// One word for scripts: sound, faults, unclear, inverter, too-short.
    pub verdict: &'static str,
    /// One sentence.
    pub headline: String,
    /// Explanations: any one of them explains the figures, the likeliest first; each a list of faults.
    pub explanations: Vec<Vec<Told>>,
    /// What else is odd.
    pub notes: Vec<String>,
}

/// Puts the windows' verdict and the waves' oddities into words.
pub fn tell(settings: &Settings, votes: &Votes, odd: &[Odd]) -> Finding {
    let wiring = settings.supply.wiring;
    let names = wiring.quantities();
    let mut notes: Vec<String> = odd.iter().map(|odd| odd_words(odd, &names)).collect();
    let Some(opinion) = votes.verdict() else {
        let headline = format!(
            "nothing can be said: current flows in {} windows of 0.2 s, and {LEAST} are wanted. Record the motor at work",
            votes.windows()
        );
        return Finding { verdict: "too-short", headline, explanations: vec![], notes };
    };
    let share = 100.0 * f64::from(opinion.windows) / f64::from(votes.windows());
    if share < 80.0 {
        notes.push(format!(
            "only {share:.0} % of the windows with current agree; the others say otherwise. Check a stretch of steady load"
        ));
    }
    if votes.starting() {
        notes.push(
            "all the time more than 2.5 times rated current flows, as in a motor that starts or is stuck: check a stretch of \
             steady load before anything is changed"
                .to_owned(),
        );
    }
    let class = match opinion.diagnosis {
        Diagnosis::Explained(class) => class,
        Diagnosis::Inverter => {
            let headline =
                "refused: the voltages are pulses, far from sines, as at the output of an inverter. This core is for \
                            line-fed motors; take voltages and currents before the inverter"
                    .to_owned();
            return Finding { verdict: "inverter", headline, explanations: vec![], notes };
        }
        Diagnosis::Idle | Diagnosis::Unclear => {
            let headline = "something is wrong, and no two faults explain it. Compare the drawing with the leads, one channel after \
                            the other"
                .to_owned();
            return Finding { verdict: "unclear", headline, explanations: vec![], notes };
        }
    };
    let explanations: Vec<Vec<Told>> =
        class.sets().iter().map(|set| set.iter().map(|fault| told(fault, *set, settings, opinion)).collect()).collect();
    let odd_waves = !odd.is_empty();
    let sound = class.sets().first() == Some(&Faults::NONE);
    let (verdict, headline) = match (sound, explanations.len()) {
        (true, _) if odd_waves => ("faults", "phases and sizes are as expected, but waves are not".to_owned()),
        (true, _) => ("sound", "voltages and currents are as a healthy motor's should be".to_owned()),
        (false, 1) => ("faults", "this explains the figures, and nothing simpler does:".to_owned()),
        (false, n) => ("faults", format!("any one of these {n} explains the figures; they cannot be told apart here:")),
    };
    let explanations = if sound { vec![] } else { explanations };
    Finding { verdict, headline, explanations, notes }
}

fn odd_words(odd: &Odd, names: &[&str; 6]) -> String {
    let (name, unit) = (names[odd.slot], if odd.slot < 3 { "V" } else { "A" });
    odd.stuck.map_or_else(
        || {
            format!(
                "the peaks of {name} are cut off: the converter, an amplifier or a transformer's core is at its end, and its figures \
                 are too low. Raise the full scale, or fit a transformer of higher ratio"
            )
        },
        |value| format!("{name} stays at {value:.4} {unit}: it is stuck, not dead. See to its converter"),
    )
}

/// The text for people.
pub fn text(result: &Result<'_>) -> String {
    use std::fmt::Write as _;
    let Result { trace, settings, votes, finding } = result;
    let mut out = format!("{trace}: {}\n", finding.headline);
    let many = finding.explanations.len() > 1;
    for (n, faults) in finding.explanations.iter().enumerate() {
        for (k, told) in faults.iter().enumerate() {
            let mark = match (many, k) {
                (false, _) => "  * ".to_owned(),
                (true, 0) => format!("  {}. ", n + 1),
                (true, _) => "     and ".to_owned(),
            };
            let _ = writeln!(out, "{}", fill(&format!("{}; to mend it, {}", told.what, told.cure), &mark));
        }
    }
    for note in &finding.notes {
        let _ = writeln!(out, "{}", fill(note, "  * "));
    }
    if let Some(opinion) = votes.verdict() {
        let sizes = sizes(&opinion.phasors);
        let angles = angles(&opinion.phasors);
        let _ = writeln!(out, "\n  channel      rms    angle");
        for (k, name) in settings.supply.wiring.quantities().iter().enumerate().filter(|(_, name)| !name.is_empty()) {
            let unit = if k < 3 { "V" } else { "A" };
            let angle = angles[k].map_or_else(|| "-".to_owned(), |angle| format!("{angle:.1}°"));
            let _ = writeln!(out, "  {name:<5}{:>11.2} {unit} {angle:>7}", sizes[k]);
        }
        let _ = writeln!(
            out,
            "\n{}",
            fill(&format!("{} of {} windows with current say so. {INVISIBLE}", opinion.windows, votes.windows()), "")
        );
    }
    out
}

/// Lines of at most 80 columns; the first begins with `mark`.
pub fn fill(text: &str, mark: &str) -> String {
    let indent = " ".repeat(mark.chars().count());
    textwrap::fill(text, textwrap::Options::new(80).initial_indent(mark).subsequent_indent(&indent))
}
