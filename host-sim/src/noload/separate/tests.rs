use super::*;
use crate::settings::testing::{good, parsed};

/// The 18.5 kW motor of Haumer, Kral, Kapeller, Baeuml, Gragger, "The AdvancedMachines Library: Loss Models for
/// Electric Machines" (Modelica 2009): 400 V, 11.00 A without load, 0.2379 ohm a phase of the star; friction 180 W and
/// core 410 W at 400 V, as printed there.
const OHM: f64 = 0.2379;

fn level(line_v: f64, constant_w: f64) -> Level {
    let squares = 3.0 * (11.0 * line_v / 400.0_f64).powi(2);
    let power_w = constant_w + OHM * squares;
    let apparent = 3f64.sqrt() * line_v * (squares / 3.0).sqrt();
    let reactive_var = (apparent.powi(2) - power_w.powi(2)).sqrt();
    Level { windows: 20, line_v, squares, power_w, reactive_var, hertz: 50.0, ..Level::default() }
}

fn known(ohm_limit: f64) -> Known {
    Known { rated_v: 400.0, stator_ohm: OHM, ohm_limit, stray_ohm: 0.0, stray_limit_ohm: 0.0, accuracy: None }
}

fn near(found: f64, wanted: f64, by: f64) {
    assert!((found - wanted).abs() <= by, "{found}, wanted {wanted}");
}

/// No-load separation of IEC 60034-2-1, arithmetic by hand: constant losses of 590, 410.6, 282.5 and 205.6 W, of which
/// the last three have decimals rounded away: (590 - 180) / 160000 = 2.5625e-3 W/V², 180 + 2.5625e-3 x 90000 = 410.625.
#[test]
fn four_voltages_of_a_measured_motor() {
    let levels = [(400.0, 590.0), (300.0, 410.6), (200.0, 282.5), (100.0, 205.6)].map(|(v, w)| level(v, w));
    let found = separate(&levels, &known(0.0)).unwrap();
    assert_eq!((found.split, found.nearest), (Split::Line, Some(0)));
    assert_eq!(found.used, [false, true, true, true], "two are low, and the next higher makes three");
    near(found.friction.value, 180.0, 0.05);
    near(found.slope, 2.5625e-3, 1e-6);
    near(found.core.value, 410.0, 0.05);
    // Four levels leave what was rounded away, 0.025 W.
    assert!(found.friction.band < 0.1 && found.core.band < 0.1, "{found:?}");
}

/// Iron that saturates above 60 % of rated voltage (20 % more at rated): friction stays, core takes all of it.
#[test]
fn saturation_stays_out_of_the_line() {
    let levels: Vec<Level> = [440.0, 400.0, 320.0, 240.0, 200.0, 160.0, 120.0]
        .map(|v| {
            let core = 410.0 * (v / 400.0_f64).powi(2);
            level(v, 180.0 + core * if v > 300.0 { 1.2 } else { 1.0 })
        })
        .into();
    let found = separate(&levels, &known(0.0)).unwrap();
    near(found.friction.value, 180.0, 1e-6);
    near(found.core.value, 1.2 * 410.0, 1e-6);
}

/// Where the current rises again the motor slips: such levels do not count.
#[test]
fn levels_past_the_turn_stay_out() {
    let mut levels = [400.0, 240.0, 180.0, 120.0].map(|v| level(v, 180.0 + 2.5625e-3 * v * v)).to_vec();
    levels.push(Level { squares: 3.0 * 25.0, power_w: 260.0 + OHM * 75.0, ..level(60.0, 200.0) });
    let found = separate(&levels, &known(0.0)).unwrap();
    assert_eq!(found.used, [false, true, true, true, false]);
    near(found.friction.value, 180.0, 1e-6);
}

/// With one level its sum stands, and the split is as wide as is said: 20 points of 590 W as a limit.
#[test]
fn one_level_gives_the_sum() {
    let found = separate(&[level(400.0, 590.0)], &known(0.0)).unwrap();
    assert_eq!(found.split, Split::Assumed);
    near(found.sum.value, 590.0, 1e-9);
    near(found.core.value, 0.6 * 590.0, 1e-9);
    near(found.friction.band, 2.0 * 0.2 * 590.0 / 3f64.sqrt(), 1e-9);
    near(found.sum.band, 0.0, 1e-9);
    assert_eq!(separate(&[level(300.0, 410.0)], &known(0.0)), None, "far from rated voltage, and alone");
}

/// By hand: 0.05 ohm over 3 x 11 A² are 18.15 W, 0.02 ohm are 7.26 W; at one voltage 60 % of them are the core's.
#[test]
fn stray_load_loss_is_taken_off_the_core() {
    let stray = Known { stray_ohm: 0.05, stray_limit_ohm: 0.02, ..known(0.0) };
    let losses = |v: f64| 180.0 + 2.5625e-3 * v * v;
    for volts in [&[400.0, 240.0, 180.0, 120.0][..], &[240.0, 180.0, 120.0]] {
        let levels: Vec<Level> = volts.iter().map(|v| level(*v, losses(*v))).collect();
        let found = separate(&levels, &stray).unwrap();
        near(found.stray_w, 18.15, 1e-9);
        near(found.friction.value, 180.0, 1e-6);
        near(found.core.value, 410.0 - 18.15, 1e-6);
        near(found.core.band, 2.0 * 7.26 / 3f64.sqrt(), 1e-6);
        near(found.friction.band, 0.0, 1e-6);
    }
    let found = separate(&[level(400.0, 590.0)], &stray).unwrap();
    near(found.sum.value, 590.0 - 18.15, 1e-9);
    near(found.sum.band, 2.0 * 7.26 / 3f64.sqrt(), 1e-9);
}

/// By hand: copper and reactive power go with V² where the current goes with V, so that their errors move the slope and
/// leave the intercept. 30 % of 3 x 0.2379 x 121 W; 30 minutes of the reactive power at 400 V.
#[test]
fn errors_that_go_with_voltage_squared_are_the_core_s() {
    let levels = [400.0, 240.0, 180.0, 120.0].map(|v| level(v, 180.0 + 2.5625e-3 * v * v));
    let text = format!("{}\n[accuracy]\ncurrent_transformer_class = \"0.5\"\n", good());
    let known = Known { accuracy: parsed(&text).0.accuracy, ..known(0.3) };
    let found = separate(&levels, &known).unwrap();
    let term = |name: &str| found.terms.iter().find(|term| term.source == name).unwrap();
    near(term("stator resistance").friction_w, 0.0, 1e-6);
    near(term("stator resistance").core_w, 0.3 * 3.0 * OHM * 121.0 / 3f64.sqrt(), 1e-6);
    let angle = 0.5_f64.to_radians();
    let phase = term("current transformers, phase");
    near(phase.limit, 30.0, 1e-9);
    near(phase.sum_w, levels[0].reactive_var * angle / 3f64.sqrt(), 1.0);
    assert!(phase.core_w > 20.0 * phase.friction_w, "{phase:?}");
    // Of all that is taken, copper too: 0.5 % of (P - 2 x copper).
    let ratio = term("current transformers, ratio");
    near(ratio.sum_w, 0.005 * (levels[0].power_w - 2.0 * OHM * 363.0) / 3f64.sqrt(), 0.01);
}
