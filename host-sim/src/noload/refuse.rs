//! What is no no-load test: place, what was found, what was wanted, how to mend it.

use super::levels::{LEAST_WINDOWS, Level, Levels, Rated};
use super::separate::{Separation, Split};
use crate::error::Fault;
use crate::settings::Settings;
use crate::settings::derive::derive;

/// Constant losses of a motor over its losses at rated load, at most; 0.25 to 0.45 is usual, two poles have more (common
/// practice, no source).
const MOST_CONSTANT: f64 = 0.7;
/// The same of friction and windage alone.
pub const MOST_FRICTION: f64 = 0.5;
/// Slip over rated slip, at rated voltage, at most: friction alone asks for some per cent of it, and a tachometer errs.
const MOST_SLIP: f64 = 0.2;
/// What a tachometer or the model may be off by, part of synchronous speed.
const SLIP_ERROR: f64 = 0.002;

const UNCOUPLED: &str =
    "take the belt off or open the coupling, and record again; or cut the trace to the part without load";

/// No voltage, no current, or nothing that stays.
pub fn nothing_steady(trace: &str, levels: &Levels, rated: &Rated) -> Result<(), Fault> {
    let wanted_s = LEAST_WINDOWS as f64 * levels.window_s;
    // The first and the last window may hold part of a change.
    let held_s = (wanted_s + 2.0 * levels.window_s).ceil();
    let [all, volts, amps] = levels.windows;
    if !levels.found.is_empty() {
        return Ok(());
    }
    let fault = match (all, volts, amps) {
        (0, ..) => Fault::new(trace, format!("it is shorter than a window of {} s", levels.window_s))
            .mend(format!("record the motor without load for {held_s} s and longer at each voltage")),
        (_, 0, _) => Fault::new(trace, format!("no voltage: {:.1} V between lines at most", levels.highest_v))
            .mend("check the voltage channels and their unit; 'shaftwork info TRACE' shows what they hold"),
        (_, _, 0) => Fault::new(trace, "there is voltage, but no current: the motor does not run")
            .mend("switch the motor on, or check the current channels with 'shaftwork check-wiring'"),
        _ => {
            let fault = match levels.longest {
                Some([from, to]) => Fault::new(trace, format!("nothing is steady for longer than {:.1} s", to - from))
                    .at(format!("{from:.1} to {to:.1} s")),
                None if all <= 2 => {
                    let windows = if all == 1 { "1 window".to_owned() } else { format!("{all} windows") };
                    let found =
                        format!("it has {windows} of {} s, and the first and the last do not count", levels.window_s);
                    Fault::new(trace, found)
                }
                None => Fault::new(trace, "nothing is steady: voltage, current or power change all the time"),
            };
            let clipped = format!(
                "{} windows have samples at the converter's end: raise the full scales, or hold the voltage for longer",
                levels.clipped
            );
            let longer = format!("hold each voltage for {held_s} s and longer, without load");
            fault.mend(if levels.clipped > 0 { &clipped } else { &longer })
        }
    };
    Err(fault.wanted(format!(
        "a motor that drives nothing, at one voltage or several up to {} V, each held for {wanted_s:.0} s and longer",
        rated.line_v
    )))
}

/// A level at which the motor drives something.
pub fn load(trace: &str, settings: &Settings, levels: &[Level], stator_ohm: f64) -> Result<(), Fault> {
    let (motor, derived) = (&settings.motor, derive(settings));
    let losses_w = derived.rated_losses_kw.value * 1e3;
    let rated_slip = derived.rated_slip_pct.value / 100.0;
    for level in levels {
        let at = format!("{:.1} to {:.1} s", level.from_s, level.to_s);
        let constant_w = level.power_w - stator_ohm * level.squares;
        if constant_w > MOST_CONSTANT * losses_w {
            let found = format!(
                "{:.0} W are taken at {:.1} V, {constant_w:.0} W of them not in the stator's copper: the motor drives something",
                level.power_w, level.line_v
            );
            let wanted = format!(
                "at most {:.0} W, {:.0} % of the {losses_w:.0} W that it loses at rated load",
                MOST_CONSTANT * losses_w,
                MOST_CONSTANT * 100.0
            );
            return Err(Fault::new(trace, found).at(at).wanted(wanted).mend(UNCOUPLED));
        }
        if constant_w <= 0.0 {
            let found = format!(
                "{:.0} W are taken at {:.1} V and {:.2} A: less than the stator's copper loses",
                level.power_w,
                level.line_v,
                level.current_a()
            );
            return Err(Fault::new(trace, found)
                .at(at)
                .wanted("a motor fed by the mains, connected as the settings say")
                .mend("ask 'shaftwork check-wiring' for a transformer turned round; check stator_resistance_ohm"));
        }
        // The slip of a load goes with 1 / V².
        let most = MOST_SLIP * rated_slip * (motor.rated_voltage_v / level.line_v).powi(2) + SLIP_ERROR;
        if let Some(slip) = level.slip.filter(|slip| *slip > most) {
            let found = format!("a slip of {:.2} % at {:.1} V: the motor drives something", slip * 100.0, level.line_v);
            let wanted = format!("at most {:.2} %; at rated load it is {:.2} %", most * 100.0, rated_slip * 100.0);
            return Err(Fault::new(trace, found).at(at).wanted(wanted).mend(UNCOUPLED));
        }
    }
    Ok(())
}

/// Neither a line nor a level near rated voltage.
pub fn far_from_rated(trace: &str, levels: &[Level], rated: &Rated) -> Fault {
    let volts: Vec<String> = levels.iter().map(|level| format!("{:.0}", level.line_v)).collect();
    Fault::new(trace, format!("steady at {} V only", volts.join(", ")))
        .wanted(format!(
            "a level within 10 % of rated voltage, {} V, or several of which the lowest is below 80 % of the highest",
            rated.line_v
        ))
        .mend("record at rated voltage, or in steps from there down to a third of it")
}

/// Losses that no motor has.
pub fn no_motor(trace: &str, settings: &Settings, separation: &Separation) -> Result<(), Fault> {
    if separation.split == Split::Assumed {
        return Ok(());
    }
    let (friction, core) = (separation.friction.value, separation.core.value);
    let losses_w = derive(settings).rated_losses_kw.value * 1e3;
    let line = format!("the line through the levels meets 0 V at {friction:.0} W and leaves {core:.0} W for the core");
    if friction <= 0.0 || core <= 0.0 {
        return Err(Fault::new(trace, line).wanted("both above 0 W").mend(
            "at no load the power factor is low, and a phase error counts most: 'shaftwork calibrate' finds it; check that \
             every voltage was held until the speed had settled",
        ));
    }
    if friction > MOST_FRICTION * losses_w {
        return Err(Fault::new(trace, line)
            .wanted(format!(
                "friction and windage of the motor alone: at most {:.0} W, half of what it loses at rated load",
                MOST_FRICTION * losses_w
            ))
            .mend(UNCOUPLED));
    }
    Ok(())
}
