//! What was learnt for people, as lines to paste, and as a document.

use std::fmt::Write as _;

use serde_json::{Value, json};

use super::refuse::MOST_FRICTION;
use super::separate::{Separation, Split, Term};
use super::{Learnt, Left, Resistance};
use crate::settings::Wiring;
use crate::settings::derive::derive;
use crate::wiring::words::fill;

/// Constant losses over rated losses above which a reader is asked whether nothing is on the shaft.
const MUCH: f64 = 0.5;
/// Current over rated current above which it is much.
const MUCH_CURRENT: f64 = 0.7;
/// Unbalance of voltage, and frequency's difference from the rated one, at most (IEC 60034-2-1 asks for 0.5 % and 0.3 %, from
/// memory).
const UNBALANCE: f64 = 0.005;
const FREQUENCY: f64 = 0.003;
/// A band over its figure that is too wide to be left unsaid.
const WIDE: f64 = 0.2;
/// Low enough for the line to have no saturation in it.
const LOWEST: f64 = 0.61;

/// For people; the lines of `[motor]` last.
pub fn text(learnt: &Learnt<'_>) -> String {
    let Separation { friction, core, sum, constant_w, used, terms, .. } = &learnt.separation;
    let rated_v = learnt.settings.motor.rated_voltage_v;
    let mut out = format!("{}: a motor that drives nothing\n\n", learnt.trace);
    out.push_str("   from s    to s       V       A     pf   taken W  copper W   rest W  line\n");
    for ((level, constant), used) in learnt.levels.iter().zip(constant_w).zip(used) {
        let _ = writeln!(
            out,
            "{:>9.1}{:>8.1}{:>8.1}{:>8.2}{:>7.3}{:>10.1}{:>10.1}{:>9.1}  {}",
            level.from_s,
            level.to_s,
            level.line_v,
            level.current_a(),
            level.power_factor(),
            level.power_w,
            level.power_w - constant,
            constant,
            if *used { "yes" } else { "" }
        );
    }
    out.push('\n');
    for (name, figure) in [
        ("friction and windage".to_owned(), friction),
        (format!("core loss at {rated_v} V"), core),
        (format!("both at {rated_v} V"), sum),
    ] {
        let _ = writeln!(out, "  {name:<26}{:>9.1} W  ±{:>7.1} W", figure.value, figure.band);
    }
    let _ =
        writeln!(out, "  {:<26}{:>9.1} W  at no-load current, taken off", "stray load loss", learnt.separation.stray_w);
    if let Some(level) = learnt.rated_level() {
        let _ = writeln!(
            out,
            "  {:<26}{:>9.2} A  power factor {:.3}",
            format!("no-load current at {:.0} V", level.line_v),
            level.current_a(),
            level.power_factor()
        );
    }
    out.push_str("\n  where ± comes from (k = 2)           limit   friction W    core W    both W\n");
    for term in terms {
        let limit = format!("{:.3} {}", term.limit, term.unit);
        let _ = writeln!(
            out,
            "  {:<28}{limit:>14}{:>13.1}{:>10.1}{:>10.1}",
            term.source,
            2.0 * term.friction_w,
            2.0 * term.core_w,
            2.0 * term.sum_w
        );
    }
    out.push('\n');
    for note in &learnt.notes {
        let _ = writeln!(out, "{}", fill(note, "* "));
    }
    out.push_str("\n[motor]\n");
    for (key, watts) in learnt.keys() {
        let _ = writeln!(out, "{key} = {watts:?}");
    }
    out
}

/// What a reader should know.
pub fn notes(learnt: &Learnt<'_>, clipped: usize) -> Vec<String> {
    let mut out = resistance(learnt);
    let motor = &learnt.settings.motor;
    let Separation { friction, core, sum, split, used, nearest, .. } = &learnt.separation;
    let count = used.iter().filter(|used| **used).count();
    let highest = learnt.levels.iter().zip(used).filter(|(_, used)| **used).map(|(level, _)| level.line_v);
    let highest = highest.fold(0.0, f64::max);
    match split {
        Split::Assumed => out.push(format!(
            "the levels are too near to each other to tell friction from core loss: their sum is measured, its split of 60 % core \
             is common practice (no source; 40 to 80 %). At rated voltage shaft power depends on the sum alone; at 90 % of it a \
             wrong split costs {:.0} W at most. Steps down to a third of rated voltage would tell them apart",
            0.19 * 0.2 * sum.value
        )),
        Split::Line if count < 3 => {
            out.push("two levels make a line without a check: record a third below 60 % of rated voltage".to_owned());
        }
        Split::Line if highest > LOWEST * motor.rated_voltage_v => out.push(format!(
            "the line takes levels up to {highest:.0} V, where iron may saturate and loss rise faster than V²: friction then comes \
             out too small. Three levels between 30 and 60 % of rated voltage are wanted (IEC 60034-2-1, from memory)"
        )),
        Split::Line => {}
    }
    if nearest.is_none() {
        out.push(format!(
            "no level lies within 10 % of {} V: core loss there is the line carried on, without saturation, and probably too small",
            motor.rated_voltage_v
        ));
    }
    let losses_w = derive(learnt.settings).rated_losses_kw.value * 1e3;
    if sum.value > MUCH * losses_w || friction.value > 0.6 * MOST_FRICTION * losses_w {
        out.push(format!(
            "{:.0} W, {:.0} W of them friction and windage, are much for a motor that loses {losses_w:.0} W at rated load: is really \
             nothing on its shaft?",
            sum.value, friction.value
        ));
    }
    if let Some(level) = learnt.rated_level().filter(|level| level.current_a() > MUCH_CURRENT * motor.rated_current_a) {
        out.push(format!(
            "{:.1} A without load is much for {} A: check the ratio",
            level.current_a(),
            motor.rated_current_a
        ));
    }
    if let Some(worst) = learnt.levels.iter().map(|l| l.unbalance).reduce(f64::max).filter(|x| *x > UNBALANCE) {
        out.push(format!(
            "voltages are unbalanced by up to {:.1} %, and lose more than balanced ones; 0.5 % is wanted (IEC 60034-2-1, from memory)",
            worst * 100.0
        ));
    }
    let off = |hertz: f64| (hertz / motor.rated_frequency_hz - 1.0).abs();
    if let Some(hertz) = learnt.levels.iter().map(|l| l.hertz).find(|hertz| off(*hertz) > FREQUENCY) {
        out.push(format!(
            "{hertz:.2} Hz is not the rated {} Hz: both losses go with frequency",
            motor.rated_frequency_hz
        ));
    }
    if clipped > 0 {
        out.push(format!("{clipped} windows with samples at the converter's end are left out"));
    }
    if learnt.settings.supply.wiring == Wiring::TwoElement {
        out.push("with two elements a phase error counts most of all at a power factor as low as this".to_owned());
    }
    if core.band > WIDE * core.value && *split == Split::Line {
        out.extend(wide(learnt));
    }
    out.extend(left(learnt.left).map(str::to_owned));
    if learnt.settings.accuracy.is_none_or(|accuracy| accuracy.current.is_none()) {
        let level = learnt.rated_level().or(learnt.levels.last());
        let watts = level.map_or(0.0, |level| level.reactive_var * 10.0_f64.to_radians() / 60.0);
        out.push(format!(
            "± has no current transformers in it, for [accuracy] does not say what they are: each 10 minutes of phase error are \
             {watts:.0} W here"
        ));
    }
    out
}

/// Why core loss is not known better: the largest part of its band, and what makes that smaller.
fn wide(learnt: &Learnt<'_>) -> Option<String> {
    let Separation { core, terms, .. } = &learnt.separation;
    let largest = terms.iter().max_by(|a, b| a.core_w.total_cmp(&b.core_w))?;
    Some(format!(
        "core loss is known within {:.0} % only. Most of it is by the {}: ±{:.0} W of ±{:.0} W. {}",
        100.0 * core.band / core.value,
        largest.source,
        2.0 * largest.core_w,
        core.band,
        cure(largest)
    ))
}

/// What makes an error smaller.
fn cure(term: &Term) -> &'static str {
    match term.source {
        "stator resistance" => {
            "Measure it between two terminals right after the test, write it with stator_resistance_at_c, and give --winding-c"
        }
        "stray load loss taken off" => {
            "A test without load cannot tell it; the sum of core and stray loss is known better"
        }
        "scatter of the levels" => "Hold each voltage for longer, on quieter mains or with a finer transformer",
        "current transformers, phase" => {
            "The power factor is low here, and a phase error counts most: 'shaftwork calibrate' finds it; write what is left as \
             current_transformer_phase_min"
        }
        "voltage transformers, phase" => {
            "The power factor is low here, and a phase error counts most: 'shaftwork calibrate' finds it; write what is left as \
             voltage_transformer_phase_min"
        }
        _ => "'shaftwork calibrate' finds what is wrong with a gain; write what is left in [accuracy]",
    }
}

/// What is said where the rated losses leave no believable stray load loss.
fn left(left: Left) -> Option<&'static str> {
    match left {
        Left::Within => None,
        Left::Nothing => Some(
            "beside what was learnt the losses at rated load leave nothing for a stray load loss: none is taken off the core. Rated \
             efficiency may be better than true, or the stator's resistance too high",
        ),
        Left::Much => Some(
            "beside what was learnt the losses at rated load leave more than twice the stray load loss that a standard assigns: twice \
             of it is taken off the core. Rated efficiency may be worse than true, or the stator's resistance too low",
        ),
    }
}

fn resistance(learnt: &Learnt<'_>) -> Vec<String> {
    let term = learnt.separation.terms.iter().find(|term| term.source == "stator resistance");
    let [friction, core] = term.map_or([0.0; 2], |term| [term.friction_w, term.core_w].map(|u| u * 3f64.sqrt()));
    let ohm = learnt.stator_ohm;
    match learnt.resistance {
        Resistance::Inferred => vec![format!(
            "the stator's resistance is not given; {ohm:.4} ohm a phase is inferred from the nameplate and may be off by 30 % (common \
             practice, no source), which moves core loss by {core:.0} W and friction by {friction:.0} W. Measure it between two \
             terminals, write stator_resistance_line_ohm and stator_resistance_at_c, and repeat"
        )],
        Resistance::Warm => vec![format!(
            "the stator's resistance, {ohm:.4} ohm, is that of a warm winding; a cooler one during the test has up to 15 % less, which \
             moves core loss by {core:.0} W: give --winding-c"
        )],
        Resistance::AtTest => Vec::new(),
    }
}

/// For programs.
pub fn document(learnt: &Learnt<'_>) -> Value {
    let Separation { friction, core, sum, stray_w, split, slope, constant_w, used, nearest, terms } =
        &learnt.separation;
    let levels: Vec<Value> = learnt
        .levels
        .iter()
        .zip(constant_w.iter().zip(used))
        .map(|(level, (constant, used))| {
            json!({
                "from_s": level.from_s,
                "to_s": level.to_s,
                "windows": level.windows,
                "line_v": level.line_v,
                "current_a": level.current_a(),
                "power_factor": level.power_factor(),
                "power_w": level.power_w,
                "copper_w": level.power_w - constant,
                "constant_w": constant,
                "slip_pct": level.slip.map(|slip| slip * 100.0),
                "in_line": used,
            })
        })
        .collect();
    let line = *split == Split::Line;
    let rated = nearest.map(|k| &learnt.levels[k]);
    let [core_loss_w, friction_loss_w] = learnt.keys().map(|(_, watts)| watts);
    json!({
        "format": "shaftwork-no-load/1",
        "trace": learnt.trace,
        "settings": learnt.settings.file,
        "rated_voltage_v": learnt.settings.motor.rated_voltage_v,
        "stator_resistance_ohm": learnt.stator_ohm,
        "stator_resistance": match learnt.resistance {
            Resistance::AtTest => "at-test",
            Resistance::Warm => "warm",
            Resistance::Inferred => "inferred",
        },
        "core_loss_w": core_loss_w,
        "core_loss_band_w": core.band,
        "friction_loss_w": friction_loss_w,
        "friction_loss_band_w": friction.band,
        "sum_w": sum.value,
        "sum_band_w": sum.band,
        "stray_load_loss_w": stray_w,
        "split": if line { "line" } else { "assumed" },
        "slope_w_per_v2": line.then_some(slope),
        "no_load_current_a": rated.map(super::Level::current_a),
        "no_load_power_factor": rated.map(super::Level::power_factor),
        "levels": levels,
        "uncertainty": terms,
        "notes": learnt.notes,
    })
}
