//! Windows of a motor at work, with channels that are moved, turned, missing.

use super::*;
use crate::fit;
use crate::report::testing::settings;
use crate::settings::CurrentTap;
use shaftwork_core::unit::{Amps, Ratio, Volts, Watts};

/// A window of the settings' motor at work: 231 V and 92 A, and phasors with a lag of 33 degrees.
fn window() -> Window {
    Window {
        voltage: [Volts::from_bits(231 << 16); 3],
        current: [Amps::from_bits(92 << 17); 3],
        active: Watts::from_bits(53_500 << 16),
        ..Window::default()
    }
}

fn phasors(change: impl Fn(&mut [[f64; 2]; 6])) -> Phasors {
    let mut all = [(231.0, 0.0), (231.0, -120.0), (231.0, 120.0), (92.0, -33.0), (92.0, -153.0), (92.0, 87.0)]
        .map(|(size, angle): (f64, f64)| [size * angle.to_radians().cos(), size * angle.to_radians().sin()]);
    change(&mut all);
    let mut out = Phasors::default();
    for (k, (to, part)) in out.0.iter_mut().zip(all).enumerate() {
        let scale = if k < 3 { 65_536.0 } else { 131_072.0 };
        *to = ((part[0] * scale) as i32, (part[1] * scale) as i32);
    }
    out
}

/// What the meter makes of phasors: power, and negative over positive sequence of both sides.
fn measured(phasors: &Phasors) -> Window {
    let all: [[f64; 2]; 6] = std::array::from_fn(|k| {
        let (re, im) = phasors.0[k];
        [re, im].map(|x| f64::from(x) / if k < 3 { 65_536.0 } else { 131_072.0 })
    });
    let active: f64 = (0..3).map(|k| all[k][0] * all[k + 3][0] + all[k][1] * all[k + 3][1]).sum();
    let sequence = |side: &[[f64; 2]], order: f64| {
        let sum = side.iter().zip([0.0, order, -order]).fold([0.0; 2], |sum, ([re, im], turn)| {
            let (sine, cosine) = f64::to_radians(120.0 * turn).sin_cos();
            [sum[0] + re * cosine - im * sine, sum[1] + re * sine + im * cosine]
        });
        sum[0].hypot(sum[1])
    };
    let unbalance = |side: &[[f64; 2]]| {
        let ratio = sequence(side, -1.0) / sequence(side, 1.0).max(1e-3);
        Some(Ratio::from_bits((ratio.min(100.0) * f64::from(1 << 24)) as i32))
    };
    Window {
        active: Watts::from_bits((active * 65_536.0) as i64),
        voltage_unbalance: unbalance(&all[..3]),
        current_unbalance: unbalance(&all[3..]),
        ..window()
    }
}

fn seen(settings: &Settings, windows: &[(u32, Phasors)]) -> Wiring {
    let core = fit::core_settings(settings, 4_000.0).unwrap();
    let mut wiring = Wiring::new(settings, Expected::new(&core), 4_000.0);
    for (count, phasors) in windows {
        (0..*count).for_each(|_| wiring.phasors(&measured(phasors), phasors, 100.0));
    }
    wiring
}

#[test]
fn most_windows_must_say_so() {
    let settings = settings();
    let sound = phasors(|_| ());
    let turned = phasors(|all| all[4] = all[4].map(|x| -x));
    let told = |windows: &[(u32, Phasors)]| seen(&settings, windows).advice(&settings);
    assert_eq!(told(&[(10, sound)]), [""; 0]);
    assert_eq!(told(&[(4, turned)]), [""; 0]);
    assert_eq!(told(&[(10, sound), (10, turned)]), [""; 0]);
    let words = told(&[(10, turned)]);
    assert!(
        words.len() == 1 && words[0].contains("ib has the wrong sign") && words[0].contains("to mend it"),
        "{words:?}"
    );
}

/// Inside the delta a line is two windings: what explains the lines is said of no transformer.
#[test]
fn inside_the_delta_no_transformer_is_named() {
    let mut settings = settings();
    settings.supply.current_tap = CurrentTap::DeltaAb;
    let sound = phasors(|_| ());
    let turned = phasors(|all| all[4] = all[4].map(|x| -x));
    assert_eq!(seen(&settings, &[(10, sound)]).advice(&settings), [""; 0]);
    let words = seen(&settings, &[(10, turned)]).advice(&settings);
    let [words] = &words[..] else { panic!("{words:?}") };
    assert!(words.contains("No figure can be believed") && words.contains("compare [supply] current_tap"), "{words}");
    assert!(!words.contains("ib has") && !words.contains("check-wiring"), "{words}");
}

/// The other two go on as before; with a line lost they would carry the same to and fro.
#[test]
fn a_current_that_is_gone_for_a_time_denies_energies() {
    let settings = settings();
    let sound = phasors(|_| ());
    let dead = phasors(|all| all[4] = [0.0; 2]);
    let lost = phasors(|all| {
        all[4] = [0.0; 2];
        all[5] = all[3].map(|x| -x);
    });
    let wiring = seen(&settings, &[(30, sound), (25, dead)]);
    let words = wiring.advice(&settings);
    assert!(words.len() == 1 && words[0].contains("the second current is gone for 5.0 s, first at 0.0 s"), "{words:?}");
    assert!(wiring.unmeasured().is_some());
    let wiring = seen(&settings, &[(30, sound), (25, lost)]);
    assert!(wiring.advice(&settings).is_empty() && wiring.unmeasured().is_none());
    assert!(seen(&settings, &[(30, sound), (4, dead)]).unmeasured().is_none());
}

type Change = fn(&mut [[f64; 2]; 6]);

/// A lag of 80 to 24 degrees: an empty mill to a full one. Another set explains each, beside the one that was made.
#[test]
fn channels_in_wrong_places_are_told_at_any_load() {
    let settings = settings();
    let at = |lag: f64, change: Change| {
        phasors(|all| {
            for (k, phase) in [0.0, -120.0, 120.0].into_iter().enumerate() {
                let (sine, cosine) = (phase - lag).to_radians().sin_cos();
                all[3 + k] = [60.0 * cosine, 60.0 * sine];
            }
            change(all);
        })
    };
    let told = |change: Change| {
        let windows: Vec<_> = [80.0, 70.0, 60.0, 50.0, 40.0, 33.0, 28.0, 24.0].map(|lag| (2, at(lag, change))).into();
        seen(&settings, &windows).advice(&settings)
    };
    assert_eq!(told(|_| ()), [""; 0]);
    for (words, change) in [
        ("ia and ib are exchanged", (|all| all.swap(3, 4)) as Change),
        ("ib and ic are exchanged", |all| all.swap(4, 5)),
        ("ic and ia are exchanged", |all| all.swap(3, 5)),
        ("check-wiring", |all| all[3..].rotate_left(1)),
        ("all currents have the wrong sign", |all| all[3..].iter_mut().for_each(|x| *x = x.map(|x| -x))),
    ] {
        let lines = told(change);
        assert!(lines.len() == 1 && lines[0].contains(words) && lines[0].contains("No figure"), "{words}: {lines:?}");
    }
}

/// A motor that only starts, with two currents exchanged or all turned round: no wire is named, but something is wrong.
#[test]
fn signs_are_told_at_starting_currents_as_well() {
    let settings = settings();
    let starting = |all: &mut [[f64; 2]; 6]| all[3..].iter_mut().for_each(|x| *x = x.map(|x| 6.0 * x));
    let told = |change: fn(&mut [[f64; 2]; 6])| {
        let phasors = phasors(|all| {
            starting(all);
            change(all);
        });
        let core = fit::core_settings(&settings, 4_000.0).unwrap();
        let mut wiring = Wiring::new(&settings, Expected::new(&core), 4_000.0);
        let window = Window { current: [Amps::from_bits(550 << 17); 3], ..measured(&phasors) };
        (0..10).for_each(|_| wiring.phasors(&window, &phasors, 100.0));
        wiring.advice(&settings).join(" ")
    };
    assert_eq!(told(|_| ()), "");
    assert!(told(|all| all[3..].iter_mut().for_each(|x| *x = x.map(|x| -x))).contains("flows backwards"));
    assert!(told(|all| all.swap(3, 4)).contains("wiring:"));
    assert!(told(|all| all[3] = all[3].map(|x| -x)).contains("the other order"));
}

/// A channel that is dead and one at a twentieth alike; a supply that has lost the voltage drives other currents.
#[test]
fn a_voltage_that_is_gone_for_a_time_denies_energies() {
    let settings = settings();
    let sound = phasors(|_| ());
    for share in [0.0, 0.001, 0.05] {
        let dead = phasors(|all| all[1] = all[1].map(|x| share * x));
        let wiring = seen(&settings, &[(30, sound), (25, dead)]);
        let words = wiring.advice(&settings);
        assert!(words.len() == 1 && words[0].contains("the second voltage is gone for 5.0 s"), "{share}: {words:?}");
        assert!(words[0].contains("To mend it, see to the fuse") && wiring.unmeasured().is_some());
        assert!(seen(&settings, &[(30, sound), (4, dead)]).unmeasured().is_none());
        let always = seen(&settings, &[(30, dead)]);
        assert!(always.advice(&settings).len() == 1 && always.unmeasured().is_some());
    }
    let lost = phasors(|all| {
        all[1] = [0.0; 2];
        all[4] = all[4].map(|x| -2.0 * x);
    });
    assert!(seen(&settings, &[(30, sound), (25, lost)]).unmeasured().is_none());
}

/// Ten intervals of a log.
#[test]
fn sizes_of_rms_values_are_judged() {
    let settings = settings();
    let told = |change: &dyn Fn(&mut Window)| {
        let mut window = window();
        change(&mut window);
        let mut sizes = Sizes::default();
        (0..10).for_each(|_| sizes.window(&window, 100.0));
        sizes.advice(&settings)
    };
    assert!(told(&|_| {}).is_empty() && told(&|w| w.current = [Amps::ZERO; 3]).is_empty());
    for (words, lines) in [
        ("power flows backwards", told(&|w| w.active = Watts::from_bits(-35_000 << 16))),
        ("the second current is less than a tenth", told(&|w| w.current[1] = Amps::from_bits(1 << 16))),
        ("line-to-line volts where", told(&|w| w.voltage = [Volts::from_bits(400 << 16); 3])),
        ("kilovolts taken for volts", told(&|w| w.voltage = [Volts::from_bits(15_139); 3])),
    ] {
        assert!(lines.len() == 1 && lines[0].contains(words), "{words}: {lines:?}");
    }
}
