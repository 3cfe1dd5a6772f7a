//! A fault in words, with its cure.

use shaftwork_core::record::Phasors;
use shaftwork_core::wiring::{Fault, Faults, Side};

use super::figures::{nominal_v, sizes};
use super::votes::Opinion;
use crate::settings::Settings;

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

/// The three lines.
const LINES: [&str; 3] = ["a", "b", "c"];

fn side_word(side: Side) -> &'static str {
    if side == Side::Voltages { "voltages" } else { "currents" }
}

fn transformer(k: u8) -> &'static str {
    if k < 3 { "voltage's leads or transformer" } else { "current transformer" }
}

/// Puts a fault of a set into words, with the figures of the windows that say so.
pub fn told(fault: Fault, set: Faults, settings: &Settings, opinion: &Opinion) -> Told {
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
        Fault::LeadOpen(k) => {
            let open = format!("the voltage lead of line {} is open", LINES[usize::from(k) % 3]);
            let what = format!("{open}: the two voltages that use it share the one between the other two lines");
            made("voltage-lead-open", all(Side::Voltages), what, "see to that lead's fuse and clamps")
        }
        Fault::Ratio(k) => {
            let what = ratio_words(k, set, settings, &opinion.phasors, name(k));
            made("ratio", vec![name(k)], what, "compare its ratio and unit with the transformer's plate")
        }
        Fault::AllRatio(Side::Voltages) => {
            let live = || sizes(&opinion.phasors).into_iter().take(3).filter(|v| *v > 0.0);
            let what = voltages_words(settings, live().sum::<f64>() / live().count().max(1) as f64);
            let cure = "compare [supply] and the wiring in the settings with the channels' units and ratios";
            made("all-ratio", all(Side::Voltages), what, cure)
        }
        Fault::AllRatio(Side::Currents) => {
            let what = currents_words(settings, opinion);
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

fn currents_words(settings: &Settings, opinion: &Opinion) -> String {
    let w = &opinion.window;
    let [p, q] = [w.active, w.reactive].map(|x| x.0.to_num::<f64>() / 1e3);
    format!(
        "all currents are too large or too small by a factor: {p:.1} kW with {q:.1} kvar is no point of a motor of {} kW",
        settings.motor.rated_power_kw
    )
}

/// Voltages by their mean, V, against what is nominal.
pub fn voltages_words(settings: &Settings, mean: f64) -> String {
    let nominal = nominal_v(settings);
    let ratio = mean / nominal;
    format!(
        "the voltages are {mean:.4} V on average, {:.1} % of the {nominal:.1} V that the settings expect{}",
        ratio * 100.0,
        off_by(ratio)
    )
}

/// What a voltage may be taken for that is so many times the expected one; nothing where that says nothing.
fn off_by(ratio: f64) -> &'static str {
    let near = |factor: f64| (ratio / factor - 1.0).abs() < 0.15;
    if near(3f64.sqrt()) {
        ": line-to-line volts where phase-to-neutral ones are expected, it seems"
    } else if near(1.0 / 3f64.sqrt()) {
        ": phase-to-neutral volts where line-to-line ones are expected, it seems"
    } else if ratio < 0.01 {
        ": kilovolts taken for volts, it seems"
    } else if ratio > 100.0 {
        ": volts taken for kilovolts, it seems"
    } else {
        ""
    }
}
