//! A setting's touchier twin: pick-ups nearer and delays shorter by the margin. Where honest work does not trip the twin either, the setting
//! leaves room, whether what comes next is heavier or longer. The core's own judge says so, of the twin as of the setting.
//!
//! What is worse the higher it is has its pick-up lowered by the share; undervoltage and underload, which are worse the lower, have it
//! raised; overvoltage counts above nominal. Of the image the current that it bears is lowered. A count of starts stays.

use shaftwork_core::Cause;
use shaftwork_core::settings::{Settings, Trips};

/// Underload's highest pick-up, ppm: the core's.
const UNDERLOAD_MOST_PPM: u32 = 850_000;
/// Residual current's lowest.
const RESIDUAL_LEAST_PPM: u32 = 200_000;
/// Nominal voltage.
const NOMINAL_PPM: u32 = 1_000_000;

/// The settings with these elements touchier by a share.
pub fn touchier(settings: &Settings, share: f64, elements: &[Cause]) -> Settings {
    // Shares are 0 to 1, figures at most 2^32: the casts hold.
    let less = |x: u32| (f64::from(x) * (1.0 - share)).round() as u32;
    let more = |x: u32| (f64::from(x) * (1.0 + share)).round() as u32;
    let mut t: Trips = settings.trips;
    let wanted = |cause| elements.contains(&cause);
    if let Some(x) = t.thermal.as_mut().filter(|_| wanted(Cause::ThermalOverload)) {
        x.k_ppm = less(x.k_ppm).max(1);
    }
    if let Some(x) = t.jam.as_mut().filter(|_| wanted(Cause::Jam)) {
        (x.pickup_ppm, x.delay_ms) = (less(x.pickup_ppm).max(1), less(x.delay_ms));
    }
    if let Some(x) = t.long_start.as_mut().filter(|_| wanted(Cause::LongStart)) {
        (x.delay_ms, x.gaining_ms) = (less(x.delay_ms), x.gaining_ms.map(less));
    }
    if let Some(x) = t.phase_loss.as_mut().filter(|_| wanted(Cause::PhaseLoss)) {
        (x.pickup_ppm, x.delay_ms) = (less(x.pickup_ppm).max(1), less(x.delay_ms));
    }
    if let Some(x) = t.undervoltage.as_mut().filter(|_| wanted(Cause::Undervoltage)) {
        // Nominal voltage itself is no undervoltage.
        x.pickup_ppm = more(x.pickup_ppm).min(x.pickup_ppm.midpoint(NOMINAL_PPM).max(x.pickup_ppm));
        (x.delay_ms, x.start_delay_ms) = (less(x.delay_ms), less(x.start_delay_ms));
    }
    if let Some(x) = t.overvoltage.as_mut().filter(|_| wanted(Cause::Overvoltage)) {
        x.pickup_ppm = x.pickup_ppm.min(NOMINAL_PPM) + less(x.pickup_ppm.saturating_sub(NOMINAL_PPM));
        x.delay_ms = less(x.delay_ms);
    }
    let watches = [(Cause::PhaseReversal, &mut t.phase_reversal), (Cause::SensorFault, &mut t.sensor_fault)];
    for (cause, watch) in watches {
        if let Some(x) = watch.as_mut().filter(|_| wanted(cause)) {
            x.delay_ms = less(x.delay_ms);
        }
    }
    if let Some(x) = t.current_unbalance.as_mut().filter(|_| wanted(Cause::CurrentUnbalance)) {
        (x.pickup_ppm, x.delay_ms) = (less(x.pickup_ppm).max(1), less(x.delay_ms));
    }
    if let Some(x) = t.residual_current.as_mut().filter(|_| wanted(Cause::ResidualCurrent)) {
        (x.pickup_ppm, x.delay_ms) = (less(x.pickup_ppm).max(RESIDUAL_LEAST_PPM.min(x.pickup_ppm)), less(x.delay_ms));
    }
    if let Some(x) = t.underload.as_mut().filter(|_| wanted(Cause::Underload)) {
        (x.pickup_ppm, x.delay_ms) = (more(x.pickup_ppm).min(UNDERLOAD_MOST_PPM), less(x.delay_ms));
    }
    if let Some(x) = t.wedge.as_mut().filter(|_| wanted(Cause::Wedge)) {
        x.pickup_ppm = less(x.pickup_ppm).max(1);
    }
    Settings { trips: t, ..*settings }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shaftwork_core::settings::{Action, Element, Wedge};

    /// By hand, a fifth off; elements that are not asked for stay as they are.
    #[test]
    fn pick_ups_come_nearer_and_delays_get_shorter() {
        let mut settings = Settings::example();
        let element = |pickup_ppm| Some(Element { pickup_ppm, delay_ms: 1_000, action: Action::Trip });
        settings.trips.overvoltage = element(1_100_000);
        settings.trips.underload = element(800_000);
        settings.trips.residual_current = element(220_000);
        settings.trips.wedge = Some(Wedge { pickup_ppm: 1_500_000, window_ms: 100, action: Action::Trip });
        let t = touchier(&settings, 0.2, &Cause::ALL).trips;
        let jam = t.jam.unwrap();
        assert_eq!((jam.pickup_ppm, jam.delay_ms), (1_600_000, 400));
        assert_eq!(t.thermal.unwrap().k_ppm, 840_000);
        assert_eq!(t.long_start.unwrap().delay_ms, 12_000);
        assert_eq!(t.undervoltage.unwrap().pickup_ppm, 900_000, "half way to nominal at most");
        assert_eq!(t.overvoltage.unwrap().pickup_ppm, 1_080_000);
        assert_eq!(t.underload.unwrap().pickup_ppm, 850_000);
        assert_eq!(t.residual_current.unwrap().pickup_ppm, 200_000);
        let wedge = t.wedge.unwrap();
        assert_eq!((wedge.pickup_ppm, wedge.window_ms), (1_200_000, 100));
        let one = touchier(&settings, 0.2, &[Cause::Wedge]).trips;
        assert_eq!((one.jam, one.thermal), (settings.trips.jam, settings.trips.thermal));
        assert_eq!(touchier(&settings, 0.0, &Cause::ALL), settings);
    }

    /// Whatever is asked for, the core takes it.
    #[test]
    fn a_twin_can_be_built() {
        for share in [0.0, 0.2, 0.5, 0.9] {
            touchier(&Settings::example(), share, &Cause::ALL).build().unwrap();
        }
    }
}
