use super::*;
use crate::plant::seed::Random;
use crate::report::sums::Flow;
use crate::settings::accuracy::{Limit, Transformer};

fn near(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found}, {wanted} wanted");
}

fn weighed(tonnes: f64) -> Mass {
    Mass { tonnes, ends: 0 }
}

const MODEL: Model = Model { told: "", warm_pct: 0.0, cold_pct: 0.0, shaft_energy_pct: 0.5, net_energy_pct: 1.0 };

fn accuracy(ratio_pct: f64, phase_min: f64, converter_gain_pct: f64, scale_pct: f64, points: f64) -> Accuracy {
    Accuracy {
        current: Some(Transformer::Figures(Limit { ratio_pct, phase_min })),
        current_rated_a: None,
        voltage: None,
        converter_gain_pct,
        scale_error_pct: Some(scale_pct),
        efficiency_points: Some(points),
        idle_repeatability_kw: None,
    }
}

/// JCGM 100, H.1 (end gauge, from memory): the standard 25 nm, the comparator 9.7 nm; 0.58e-6 / K of expansion by
/// 50 mm at 0.1 K off, 0.029 K of temperature by 50 mm at 11.5e-6 / K. The guide prints 32 nm.
#[test]
fn the_guides_end_gauge() {
    let length_nm = 50e6;
    let u = combined([25.0, 9.7, length_nm * 0.1 * 0.58e-6, length_nm * 11.5e-6 * 0.029]);
    near(u, 32.0, 0.5);
}

/// An electrical net figure, as a meter at the main would give it: no losses between it and the shaft.
fn shift(idle_learnt: bool) -> (Field, Sums) {
    let hours = 7.5;
    let running = Flow { hours, active_kwh: 412.0, reactive_kvarh: 0.0, shaft_kwh: 412.0 };
    let sums = Sums { taken_kwh: 412.0, running, ..Sums::default() };
    let idle = Flow { hours: 1.0, active_kwh: 14.0, reactive_kvarh: 0.0, shaft_kwh: 14.0 };
    let field = Field {
        accuracy: Some(accuracy(1.0, 0.0, 1.0, 1.0, 0.0)),
        estimate: None,
        pulse_kg: None,
        step_kg: None,
        model: MODEL,
        rated_kw: 90.0,
        efficiency_pct: 94.0,
        stalled_share: 1.0,
        idle: Some(Idle { kw: 14.0, learnt: idle_learnt, spread_kw: Some(0.4) }),
        whole: Sums { idle, ..sums },
    };
    (field, sums)
}

/// Own arithmetic by JCGM 100, 5.1.6: 412.0 kWh and 24.6 t; meter, transformers and belt scale +-1 % each. Gross
/// 16.75 kWh/t, U 0.33. Idle 14.0 kW (u 0.4) for 7.5 h: net 12.48 kWh/t, U 0.35 as the gain is common; were it
/// taken as independent, 0.40.
#[test]
fn a_common_gain_counts_once() {
    let (field, sums) = shift(true);
    near(sums.taken_kwh / 24.6, 16.75, 0.005);
    near(sums.net_kwh(14.0) / 24.6, 12.48, 0.005);
    let (gross, net) = field.bands(&sums, weighed(24.6));
    near(gross.field.unwrap(), 0.33, 0.005);
    near(gross.field.unwrap() / 2.0 / 16.748, 0.0100, 5e-5);
    near(net.unwrap().field.unwrap(), 0.35, 0.005);
    near(net.unwrap().field.unwrap() / 2.0 / 12.480, 0.0140, 5e-5);
    // Energy and idle energy each with its own gain.
    let one = rectangular(0.01);
    let wrong = combined([412.0 * one, 412.0 * one, 105.0 * one, 105.0 * one, 3.0, 307.0 * one]) / 24.6;
    near(2.0 * wrong, 0.40, 0.005);
    // An idle power that was set does not follow the gain.
    let (field, sums) = shift(false);
    let set = combined([412.0 * one, 412.0 * one, 3.0, 307.0 * one]) / 24.6;
    near(field.bands(&sums, weighed(24.6)).1.unwrap().field.unwrap(), 2.0 * set, 1e-9);
}

/// A displacement of 60 minutes at tan phi 1: pi / 180 of the energy (JCGM 100, 4.3.7 for the root of three).
#[test]
fn a_phase_displacement_goes_with_tan_phi() {
    let (mut field, mut sums) = shift(true);
    sums.lagging_kvarh = 412.0;
    field.accuracy = Some(accuracy(0.0, 60.0, 0.0, 0.0, 0.0));
    let (gross, _) = field.bands(&sums, weighed(24.6));
    near(gross.field.unwrap(), 2.0 * (std::f64::consts::PI / 180.0) / 3f64.sqrt() * 412.0 / 24.6, 1e-9);
}

/// The linear figures against draws from the full model (JCGM 101): the deviation of N draws has a
/// standard error of s / sqrt(2 N), at most, where all is rectangular or normal; four of them are borne.
#[test]
fn linear_figures_agree_with_draws_from_the_model() {
    const DRAWS: u32 = 400_000;
    let running = Flow { hours: 6.0, active_kwh: 240.0, reactive_kvarh: 170.0, shaft_kwh: 222.0 };
    let idle = Flow { hours: 1.0, active_kwh: 10.5, reactive_kvarh: 24.0, shaft_kwh: 9.0 };
    let sums = Sums { taken_kwh: 240.0, lagging_kvarh: 170.0, running, idle, ..Sums::default() };
    let field = Field {
        accuracy: Some(accuracy(1.0, 60.0, 0.5, 1.0, 0.9)),
        estimate: None,
        pulse_kg: None,
        step_kg: None,
        model: MODEL,
        rated_kw: 55.0,
        efficiency_pct: 94.0,
        stalled_share: 1.0,
        idle: Some(Idle { kw: 9.0, learnt: true, spread_kw: Some(0.2) }),
        whole: sums,
    };
    let mut random = Random::new(1);
    let mut even = |limit: f64| limit * (2.0 * random.unit() - 1.0);
    let mut normal = Random::new(2);
    let (mut gross, mut net) = (Vec::new(), Vec::new());
    for _ in 0..DRAWS {
        let (ratio, gain, scale) = (1.0 + even(0.01), 1.0 + even(0.005), 1.0 + even(0.01));
        let (turned, losses) = (even(1f64.to_radians()), 1.0 + even(0.15));
        // What is read with the error: P cos d + Q sin d, times the gains.
        let read = |p: f64, q: f64| ratio * gain * (p * turned.cos() + q * turned.sin());
        let mass = 20.0 * scale;
        let idle_kw = read(10.5, 24.0) - 1.5 * losses + 0.2 * normal.normal();
        gross.push(read(240.0, 170.0) / mass);
        net.push((read(240.0, 170.0) - 18.0 * losses - 6.0 * idle_kw) / mass);
    }
    let (by_gross, by_net) = field.bands(&sums, weighed(20.0));
    for (draws, band) in [(gross, by_gross), (net, by_net.unwrap())] {
        let n = f64::from(DRAWS);
        let mean = draws.iter().sum::<f64>() / n;
        let s = (draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        near(band.field.unwrap() / 2.0, s, 4.0 * s / (2.0 * n).sqrt());
    }
}

/// By hand: 5 and 15 % of 90 kW for 7.5 h are 33.75 and 101.25 kWh, half as much again where idle power is learnt.
#[test]
fn an_estimate_has_a_wider_band() {
    for (learnt, part) in [(false, 1.0), (true, 1.5)] {
        let (field, sums) = shift(learnt);
        let measured = field.bands(&sums, weighed(24.6));
        for (estimate, kwh) in [(Estimate::Measured, 33.75), (Estimate::Nominal, 101.25)] {
            let wide = Field { estimate: Some(estimate), ..field }.bands(&sums, weighed(24.6));
            let more = |kwh: f64| 2.0 * rectangular(kwh) / 24.6;
            near(wide.0.model - measured.0.model, more(kwh), 1e-9);
            near(wide.1.unwrap().model - measured.1.unwrap().model, more(part * kwh), 1e-9);
        }
    }
}

/// Pulses of 100 kg in 24.6 t. By hand: 50 kg at each of two ends, both rectangular, leave 100 / root 6 = 40.8 kg, which is what
/// a triangle of 100 kg to either side has (JCGM 100, 4.3.9); 57.7 kg with four ends. Weighed apart: nothing.
#[test]
fn a_mass_by_pulses_is_known_to_half_of_one_at_each_end() {
    let (field, sums) = shift(true);
    let term = |kg: Option<f64>, ends: usize| {
        let terms = Field { pulse_kg: kg, ..field }.terms(&sums, Mass { tonnes: 24.6, ends }).unwrap();
        terms.into_iter().find(|term| term.source == "pulses of the scale")
    };
    for (ends, kg) in [(2, 100.0 / 6f64.sqrt()), (4, 100.0 / 3f64.sqrt())] {
        let term = term(Some(100.0), ends).unwrap();
        near(term.gross_kwh_per_t, kg / 24_600.0 * sums.taken_kwh / 24.6, 1e-9);
        near(term.limit, 50.0, 1e-9);
    }
    assert_eq!(term(None, 2).or(term(Some(100.0), 0)), None);
    // A column that moves in such steps is known as well and no better, and that is said.
    let steps = Field { step_kg: Some(100.0), ..field };
    let of = |ends| steps.terms(&sums, Mass { tonnes: 24.6, ends }).unwrap();
    let column = of(2).into_iter().find(|term| term.source == "steps of the mass column").unwrap();
    near(column.gross_kwh_per_t, term(Some(100.0), 2).unwrap().gross_kwh_per_t, 1e-9);
    assert!(of(0).iter().all(|term| term.source != "steps of the mass column"));
    assert!(steps.assumed(|_| true).iter().any(|words| words.contains("smallest is 100.000 kg")));
}

/// By hand: 1 or 2.4 % of 307 kWh net; 0.5 % of 412 kWh at the shaft are less than that, 2 % are more.
#[test]
fn the_models_band_is_by_what_the_settings_tell() {
    for (learnt, model, limit_kwh) in [
        (true, MODEL, 3.07),
        (true, Model { net_energy_pct: 2.4, ..MODEL }, 7.368),
        (false, MODEL, 3.07),
        (false, Model { shaft_energy_pct: 2.0, ..MODEL }, 8.24),
    ] {
        let (field, sums) = shift(learnt);
        let (_, net) = Field { model, ..field }.bands(&sums, weighed(24.6));
        near(net.unwrap().model, 2.0 * limit_kwh / 3f64.sqrt() / 24.6, 1e-9);
    }
}

#[test]
fn what_is_not_said_gives_no_band_but_the_models() {
    let (mut field, sums) = shift(true);
    assert!(field.missing().is_none() && field.missing_idle().is_none());
    field.idle = Some(Idle { kw: 14.0, learnt: true, spread_kw: None });
    let (gross, net) = field.bands(&sums, weighed(24.6));
    assert!(gross.both.is_some() && net.unwrap().both.is_none() && net.unwrap().model > 0.0);
    field.accuracy = field.accuracy.map(|a| Accuracy { scale_error_pct: None, ..a });
    assert_eq!(field.missing(), Some("[accuracy] does not say how good the scale is"));
    field.accuracy = None;
    let (gross, _) = field.bands(&sums, weighed(24.6));
    assert_eq!((gross.field, gross.both), (None, None));
    // A stall of 10 kWh, whose shaft energy is an upper estimate, or is told (by hand).
    let stalled = field.bands(&Sums { stalled_kwh: 10.0, ..sums }, weighed(24.6)).1.unwrap();
    near(stalled.model, 2.0 * (0.010 * 307.0 + 10.0) / 3f64.sqrt() / 24.6, 1e-9);
    field.stalled_share = STALLED_SHARE[1];
    let stalled = field.bands(&Sums { stalled_kwh: 10.0, ..sums }, weighed(24.6)).1.unwrap();
    near(stalled.model, 2.0 * (0.010 * 307.0 + 0.5) / 3f64.sqrt() / 24.6, 1e-9);
    assert!(gross.model > 0.0 && field.assumed(|_| false).is_empty());
}
