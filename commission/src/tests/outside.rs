//! What the sheet says, against figures from outside, and that it can fail.

use super::*;

/// Seconds of a row's time.
fn seconds(sheet: &Sheet, row: &Row) -> f64 {
    f64::from(row.time.unwrap()) / (f64::from(sheet.rate_mhz) / 1e3)
}

/// IEC 60255-149 (formerly IEC 60255-8), from memory: `t = tau ln((I² - Ip²) / (I² - (k Ib)²))`; Ip² over (k Ib)² is the level that the
/// load before left.
#[test]
fn thermal_times_are_those_of_the_standard() {
    for (heating_ms, k_ppm, initial_ppm) in [(60_000, 1_050_000, 0), (90_000, 1_150_000, 300_000)] {
        let mut s = all_on();
        let t = s.trips.thermal.as_mut().unwrap();
        (t.heating_ms, t.k_ppm, t.initial_ppm) = (heating_ms, k_ppm, initial_ppm);
        let k_base = f64::from(t.base_current_ma) * 1e-6 * f64::from(k_ppm) * 1e-3;
        let sheet = tried(&s);
        let initial = f64::from(initial_ppm) * 1e-6;
        for (way, times, level) in [(Way::PickUp, 1.05, 0.999), (Way::Hot, 2.0, 0.9), (Way::Cold, 6.0, initial)] {
            let row = row(&sheet, Cause::ThermalOverload, way);
            let i = row.beyond as f64 / 1e3;
            assert!((i / k_base - times).abs() < 1e-4, "{way:?}: {i} A");
            let square = (k_base * k_base, i * i);
            let tau = f64::from(heating_ms) * 1e-3;
            let wanted = tau * ((square.1 - level * square.0) / (square.1 - square.0)).ln();
            let time = seconds(&sheet, &row);
            // Within 1 %, and what it takes to measure and to tell.
            assert!((wanted * 0.99..wanted * 1.01 + 0.052).contains(&time), "{way:?}: {time} s, not {wanted} s");
            assert_eq!((row.held, row.verdict), (true, Verdict::Passed), "{way:?}");
        }
    }
}

/// A definite time is the one that is set, and two and a half cycles at most.
#[test]
fn definite_times_are_those_that_are_set() {
    let s = all_on();
    let sheet = tried(&s);
    for (cause, way, delay) in [
        (Cause::Jam, Way::PickUp, 0.5),
        (Cause::LongStart, Way::PickUp, 2.0),
        (Cause::PhaseLoss, Way::PickUp, 1.0),
        (Cause::Undervoltage, Way::PickUp, 2.0),
        (Cause::Undervoltage, Way::Starting, 2.0),
        (Cause::Overvoltage, Way::PickUp, 0.7),
        (Cause::PhaseReversal, Way::PickUp, 0.1),
        (Cause::CurrentUnbalance, Way::PickUp, 0.5),
        (Cause::ResidualCurrent, Way::PickUp, 0.2),
        (Cause::Underload, Way::PickUp, 1.0),
        (Cause::SensorFault, Way::PickUp, 0.06),
        (Cause::SensorFault, Way::Current, 0.06),
        (Cause::StartsPerHour, Way::PickUp, 0.0),
    ] {
        let time = seconds(&sheet, &row(&sheet, cause, way));
        assert!((delay - 0.010..delay + 0.052).contains(&time), "{cause:?} {way:?}: {time} s");
    }
    // 105 % of the pick-up over 200 ms: 190 ms.
    let time = seconds(&sheet, &row(&sheet, Cause::Wedge, Way::PickUp));
    assert!((0.18..0.25).contains(&time), "{time} s");
}

/// What is injected is what is set, in the settings' own units.
#[test]
fn figures_are_the_settings_own() {
    let sheet = tried(&all_on());
    let figures = |cause| {
        let Row { set, short, beyond, .. } = row(&sheet, cause, Way::PickUp);
        [set, short, beyond]
    };
    assert_eq!(figures(Cause::Jam), [193_000, 183_350, 202_650], "200 % of 96.5 A");
    assert_eq!(figures(Cause::Overvoltage), [265_581, 252_301, 278_860], "115 % of 400 V over root three");
    assert_eq!(figures(Cause::PhaseLoss), [600_000, 570_000, 630_000]);
    assert_eq!(figures(Cause::ResidualCurrent), [19_300, 18_335, 20_265]);
    assert_eq!(figures(Cause::Underload), [3_350_000, 3_685_000, 3_015_000]);
    assert_eq!(figures(Cause::Wedge), [93_500_000, 88_825_000, 98_175_000]);
    assert_eq!(figures(Cause::StartsPerHour), [3, 3, 4]);
}

/// A change of the settings by which an element is no longer what the tests were made for.
type Change = (Cause, fn(&mut Settings));

/// A delay or a pick-up that is another than the plan's fails that element's row: sooner and later, lower and higher.
#[test]
fn another_setting_fails() {
    let changes: [Change; 33] = [
        (Cause::ThermalOverload, |s| s.trips.thermal.as_mut().unwrap().k_ppm = 1_150_000),
        (Cause::ThermalOverload, |s| s.trips.thermal.as_mut().unwrap().k_ppm = 980_000),
        (Cause::ThermalOverload, |s| s.trips.thermal.as_mut().unwrap().heating_ms = 64_000),
        (Cause::ThermalOverload, |s| s.trips.thermal.as_mut().unwrap().heating_ms = 57_000),
        (Cause::ThermalOverload, |s| s.trips.thermal = None),
        (Cause::Jam, |s| s.trips.jam.as_mut().unwrap().delay_ms = 600),
        (Cause::Jam, |s| s.trips.jam.as_mut().unwrap().delay_ms = 440),
        (Cause::Jam, |s| s.trips.jam.as_mut().unwrap().pickup_ppm = 2_120_000),
        (Cause::Jam, |s| s.trips.jam.as_mut().unwrap().pickup_ppm = 1_880_000),
        (Cause::Jam, |s| s.trips.jam = None),
        (Cause::LongStart, |s| s.trips.long_start.as_mut().unwrap().delay_ms = 2_060),
        (Cause::LongStart, |s| s.trips.long_start.as_mut().unwrap().delay_ms = 1_930),
        (Cause::PhaseLoss, |s| s.trips.phase_loss.as_mut().unwrap().pickup_ppm = 640_000),
        (Cause::PhaseLoss, |s| s.trips.phase_loss.as_mut().unwrap().pickup_ppm = 560_000),
        (Cause::PhaseLoss, |s| s.trips.phase_loss.as_mut().unwrap().delay_ms = 1_060),
        (Cause::Undervoltage, |s| s.trips.undervoltage.as_mut().unwrap().pickup_ppm = 750_000),
        (Cause::Undervoltage, |s| s.trips.undervoltage.as_mut().unwrap().pickup_ppm = 850_000),
        (Cause::Undervoltage, |s| s.trips.undervoltage.as_mut().unwrap().start_delay_ms = 1_900),
        (Cause::Overvoltage, |s| s.trips.overvoltage.as_mut().unwrap().pickup_ppm = 1_220_000),
        (Cause::Overvoltage, |s| s.trips.overvoltage.as_mut().unwrap().delay_ms = 640),
        (Cause::PhaseReversal, |s| s.trips.phase_reversal.as_mut().unwrap().delay_ms = 160),
        (Cause::CurrentUnbalance, |s| s.trips.current_unbalance.as_mut().unwrap().pickup_ppm = 185_000),
        (Cause::CurrentUnbalance, |s| s.trips.current_unbalance.as_mut().unwrap().pickup_ppm = 215_000),
        (Cause::ResidualCurrent, |s| s.trips.residual_current.as_mut().unwrap().pickup_ppm = 215_000),
        (Cause::ResidualCurrent, |s| s.motor.rated_current_ma = 90_000),
        (Cause::Underload, |s| s.trips.underload.as_mut().unwrap().pickup_ppm = 420_000),
        (Cause::Underload, |s| s.trips.underload.as_mut().unwrap().pickup_ppm = 580_000),
        (Cause::SensorFault, |s| s.trips.sensor_fault.as_mut().unwrap().delay_ms = 120),
        (Cause::StartsPerHour, |s| s.trips.starts_per_hour.as_mut().unwrap().most = 2),
        (Cause::StartsPerHour, |s| s.trips.starts_per_hour.as_mut().unwrap().most = 4),
        (Cause::Wedge, |s| s.trips.wedge.as_mut().unwrap().pickup_ppm = 1_580_000),
        (Cause::Wedge, |s| s.trips.wedge.as_mut().unwrap().pickup_ppm = 1_830_000),
        (Cause::Wedge, |s| s.trips.wedge.as_mut().unwrap().window_ms = 100),
    ];
    let planned = all_on();
    for (n, (cause, change)) in changes.into_iter().enumerate() {
        let mut other = planned;
        change(&mut other);
        let sheet = prove(&planned, &other, 7, &mut || true);
        let failed = |row: &&Row| row.cause == cause && row.verdict == Verdict::Failed;
        assert!(sheet.rows.iter().any(|row| failed(&row)), "change {n}, {cause:?}: nothing of it failed");
        assert!(!sheet.passed());
    }
    let unusable =
        Settings { motor: shaftwork_core::settings::Motor { magnetising_uohm: 0, ..planned.motor }, ..planned };
    let sheet = prove(&planned, &unusable, 7, &mut || true);
    assert!(
        sheet.rows.iter().all(|row| row.verdict == Verdict::Failed),
        "nothing passes on settings that cannot be used"
    );
}

/// A change of the settings, and what is then not tried.
type Case = (&'static str, fn(&mut Settings), &'static [(Cause, Why)]);

/// Every wiring, tap, starter, rate and frequency.
#[test]
fn whatever_is_wired() {
    let cases: [Case; 9] = [
        ("three-wire", |s| s.supply.wiring = Wiring::ThreeWire, &[]),
        (
            "two-element",
            |s| s.supply.wiring = Wiring::TwoElement,
            &[(Cause::ResidualCurrent, Why::Wiring), (Cause::SensorFault, Why::Wiring)],
        ),
        (
            "inside the delta",
            |s| s.sampling.current_tap = CurrentTap::DeltaAc,
            &[(Cause::ResidualCurrent, Why::Wiring), (Cause::SensorFault, Why::Wiring)],
        ),
        ("star-delta", |s| s.motor.starter = Starter::StarDelta, &[]),
        (
            "60 Hz, 8 kHz",
            |s| {
                (s.supply.nominal, s.motor.rated_frequency_mhz) = (Nominal::Hz60, 60_000);
                (s.sampling.rate_mhz, s.motor.synchronous_mrpm) = (8_000_000, 1_800_000);
            },
            &[],
        ),
        ("2 kHz, 12 bits", |s| (s.sampling.rate_mhz, s.sampling.bits) = (2_000_000, 12), &[]),
        ("24 bits", |s| s.sampling.bits = 24, &[]),
        ("idle power is learnt", |s| s.mill.idle_power_mw = None, &[(Cause::Underload, Why::IdleLearnt)]),
        ("a small converter", |s| s.sampling.current_full_scale_ma = 500_000, &[(Cause::ThermalOverload, Why::Range)]),
    ];
    for (name, change, left) in cases {
        let mut s = all_on();
        change(&mut s);
        let sheet = tried(&s);
        let others: Vec<_> = sheet.rows.iter().filter(|row| row.verdict != Verdict::Passed).collect();
        let told: Vec<_> = others
            .iter()
            .filter_map(|row| if let Verdict::Left(why) = row.verdict { Some((row.cause, why)) } else { None })
            .collect();
        assert_eq!(told, left, "{name}: {others:?}");
        assert_eq!(others.len(), left.len(), "{name}: {others:?}");
    }
}

/// What is off is said to be off, once; the example has five elements.
#[test]
fn what_is_off_is_no_pass() {
    let sheet = tried(&Settings::example());
    let off: Vec<_> = sheet.rows.iter().filter(|row| row.verdict == Verdict::Left(Why::Off)).collect();
    assert_eq!(off.len(), 8);
    assert!(sheet.passed());
}

#[test]
fn a_person_breaks_off() {
    let mut left = 10_000;
    let sheet = run(&all_on(), 7, &mut || {
        left -= 1;
        left > 0
    });
    assert!(!sheet.passed());
    assert_eq!(sheet.rows.last().unwrap().verdict, Verdict::Left(Why::BrokenOff));
}
