//! What the wiring comes to, in words: the verdict, each explanation with its cure, and what cannot be seen.

use shaftwork_core::record::Phasors;
use shaftwork_core::wiring::{Diagnosis, Fault, Faults, Side};

use super::Result;
use super::votes::{LEAST, Opinion, Votes};
use super::waves::Odd;
use crate::report::wiring::off_by;
use crate::settings::Settings;
use crate::trace::select::Wiring;

/// What no figure here can show; told with every verdict.
pub const INVISIBLE: &str = "Not to be seen in any figure: voltages and currents all moved on by one phase alike, or all \
    reversed together. A supply that comes in the other order and two phases exchanged alike on both sides are one and \
    the same here: confirm the direction of rotation by eye.";

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

/// A fault in words.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// Its name for scripts.
    pub name: &'static str,
    /// The quantities that it is about.
    pub channels: Vec<&'static str>,
    /// What it is.
    pub what: String,
    /// How to mend it.
    pub cure: String,
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

/// The three lines.
const LINES: [&str; 3] = ["a", "b", "c"];

fn side_word(side: Side) -> &'static str {
    if side == Side::Voltages { "voltages" } else { "currents" }
}

fn transformer(k: u8) -> &'static str {
    if k < 3 { "voltage's leads or transformer" } else { "current transformer" }
}

fn told(fault: Fault, set: Faults, settings: &Settings, opinion: &Opinion) -> Told {
    let names = settings.supply.wiring.quantities();
    let name = |k: u8| names[usize::from(k) % 6];
    let of = |side: Side| if side == Side::Voltages { &names[..3] } else { &names[3..] };
    let all = |side: Side| of(side).iter().copied().filter(|name| !name.is_empty()).collect::<Vec<_>>();
    let made = |name, channels, what: String, cure: &str| Told { name, channels, what, cure: cure.to_owned() };
    match fault {
        Fault::LeadsSwapped(a, b) => {
            let [a, b] = [a, b].map(|k| LINES[usize::from(k) % 3]);
            let what = format!("the voltage leads of lines {a} and {b} are exchanged");
            made("voltage-leads-swapped", all(Side::Voltages), what, "exchange the two leads")
        }
        Fault::Swapped(a, b) => {
            let what = format!("{} and {} are exchanged", name(a), name(b));
            let cure = format!(
                "exchange their leads, or name the channels the other way round in [channels]: {} and {}",
                name(a),
                name(b)
            );
            made("swapped", vec![name(a), name(b)], what, &cure)
        }
        Fault::RolledOn(side) | Fault::RolledBack(side) => {
            let order = if matches!(fault, Fault::RolledOn(_)) { "b, c, a" } else { "c, a, b" };
            let what = format!("the {} sit on lines {order} in the places of a, b, c", side_word(side));
            made("rolled", all(side), what, "move the leads on by one, or name the channels so in [channels]")
        }
        Fault::Reversed(k) => {
            let what = format!("{} has the wrong sign: its {} is turned round", name(k), transformer(k));
            let place = settings.supply.wiring.columns().position(|column| column.starts_with(name(k)));
            let cure = format!(
                "turn it round (P1 towards the supply, S1 to the meter: IEC 61869), or give it the gain -1 in [sampling], number {} \
                 of the list",
                place.map_or(0, |place| place + 1)
            );
            made("reversed", vec![name(k)], what, &cure)
        }
        Fault::AllReversed(side) => {
            let what =
                format!("all {} have the wrong sign: power flows backwards while the motor runs", side_word(side));
            made(
                "all-reversed",
                all(side),
                what,
                "turn the transformers round, or give their channels the gain -1 in [sampling]",
            )
        }
        Fault::SupplyReversed => made(
            "supply-reversed",
            vec![],
            "the supply's phases come in the order a, c, b".to_owned(),
            "see which way the shaft turns: if it is right, name the lines so; if not, exchange two lines at the motor",
        ),
        Fault::Dead(k) => {
            let what = format!("{} is missing: its lead, fuse, {} or channel is dead", name(k), transformer(k));
            let cure = if k < 3 {
                "see to fuse and lead"
            } else {
                "see to that transformer, with its secondary shorted first: an open one bears a deadly voltage"
            };
            made("missing", vec![name(k)], what, cure)
        }
        Fault::LineLost(k) => {
            let line = LINES[usize::from(k) % 3];
            let what =
                format!("line {line} carries no current and the other two carry the same to and fro: the line is lost");
            made("line-lost", vec![], what, "stop the motor, then see to fuses, contactor and leads of that line")
        }
        Fault::Ratio(k) => {
            let what = ratio_words(k, set, settings, &opinion.phasors, name(k));
            made("ratio", vec![name(k)], what, "compare its ratio and unit with the transformer's plate")
        }
        Fault::AllRatio(Side::Voltages) => {
            let what = voltages_words(settings, &opinion.phasors);
            let cure = "compare [supply] and the wiring in the settings with the channels' units and ratios";
            made("all-ratio", all(Side::Voltages), what, cure)
        }
        Fault::AllRatio(Side::Currents) => {
            let w = &opinion.window;
            let [p, q] = [w.active, w.reactive].map(|x| x.0.to_num::<f64>() / 1e3);
            let what = format!(
                "all currents are too large or too small by a factor: {p:.1} kW with {q:.1} kvar is no point of a motor of {} kW",
                settings.motor.rated_power_kw
            );
            let cure = "compare the transformers' ratio and turns through the core with the settings; check the nameplate's figures";
            made("all-ratio", all(Side::Currents), what, cure)
        }
        Fault::Capacitors => made(
            "capacitors",
            all(Side::Currents),
            "the current is falsified by capacitors: it takes less var than the motor does".to_owned(),
            "fit the current transformers between capacitors and motor; trips and shaft power want the motor's own current",
        ),
        Fault::Clipped => made(
            "clipped",
            vec![],
            "samples lie at the converter's end".to_owned(),
            "raise voltage_full_scale_v or current_full_scale_a to what the converter takes, or fit a higher ratio",
        ),
    }
}

/// rms of the fundamentals, V and A.
pub fn sizes(phasors: &Phasors) -> [f64; 6] {
    let mut out = [0.0; 6];
    for (k, (size, (re, im))) in out.iter_mut().zip(phasors.0).enumerate() {
        *size = f64::from(re).hypot(f64::from(im)) / if k < 3 { 65_536.0 } else { 131_072.0 };
    }
    out
}

/// What a voltage channel should show, V.
pub fn nominal_v(settings: &Settings) -> f64 {
    let line = settings.supply.line_voltage_v;
    if settings.supply.wiring == Wiring::FourWire { line / 3f64.sqrt() } else { line }
}

fn ratio_words(k: u8, set: Faults, settings: &Settings, phasors: &Phasors, name: &str) -> String {
    let sizes = sizes(phasors);
    let own = sizes[usize::from(k) % 6];
    if k < 3 {
        let nominal = nominal_v(settings);
        return format!("{name} shows {own:.1} V, {:.2} times what is nominal{}", own / nominal, off_by(own / nominal));
    }
    let others: Vec<f64> = (3..6)
        .filter(|other| !set.has(Fault::Ratio(*other as u8)) && sizes[*other] > 0.05 * own)
        .map(|k| sizes[k])
        .collect();
    let mean = others.iter().sum::<f64>() / others.len().max(1) as f64;
    if mean > 0.0 {
        format!("{name} is {:.2} times the other current{}", own / mean, if others.len() > 1 { "s" } else { "" })
    } else {
        format!("{name}, {own:.1} A, is too large or too small by a factor")
    }
}

fn voltages_words(settings: &Settings, phasors: &Phasors) -> String {
    let sizes = sizes(phasors);
    let live: Vec<f64> = sizes[..3].iter().copied().filter(|v| *v > 0.0).collect();
    let mean = live.iter().sum::<f64>() / live.len().max(1) as f64;
    let nominal = nominal_v(settings);
    let ratio = mean / nominal;
    format!(
        "the voltages are {mean:.4} V on average, {:.1} % of the {nominal:.1} V that the settings expect{}",
        ratio * 100.0,
        off_by(ratio)
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

/// Angles of the phasors against the first that is there, degrees, -180 to 180; `None` of what is not there.
pub fn angles(phasors: &Phasors) -> [Option<f64>; 6] {
    let sizes = sizes(phasors);
    let there = |k: usize| sizes[k] > 0.01 * sizes[k / 3 * 3..k / 3 * 3 + 3].iter().copied().fold(0.0, f64::max);
    let own = |k: usize| f64::from(phasors.0[k].1).atan2(f64::from(phasors.0[k].0)).to_degrees();
    let first = (0..6).find(|k| there(*k)).map_or(0.0, own);
    std::array::from_fn(|k| there(k).then(|| (own(k) - first + 540.0).rem_euclid(360.0) - 180.0))
}

/// Lines of at most 80 columns; the first begins with `mark`.
pub fn fill(text: &str, mark: &str) -> String {
    let indent = " ".repeat(mark.chars().count());
    textwrap::fill(text, textwrap::Options::new(80).initial_indent(mark).subsequent_indent(&indent))
}
