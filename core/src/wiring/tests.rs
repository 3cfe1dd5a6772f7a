use super::*;
use crate::Settings;
use crate::settings::{CHANNELS, Wiring};

#[test]
fn any_figures_give_an_answer() {
    let expected = Expected::new(&Settings::example());
    for wiring in [Wiring::FourWire, Wiring::ThreeWire, Wiring::TwoElement] {
        let mut expected = expected;
        expected.wiring = wiring;
        for ends in [[0, 0], [i32::MIN, i32::MAX], [i32::MAX, 1], [-1, 1], [1 << 23, -(1 << 23)]] {
            for pick in 0..64_u32 {
                let part = |k: usize| ends[(pick >> k & 1) as usize];
                let phasors = Phasors(core::array::from_fn(|k| (part(k), part((k + 1) % CHANNELS))));
                let _ = diagnose(&expected, &Window::default(), &phasors);
            }
        }
    }
}

#[test]
fn a_set_holds_what_was_put_in() {
    let set = Faults::NONE.with(Fault::Reversed(3)).with(Fault::Capacitors);
    assert!(set.has(Fault::Capacitors) && !set.has(Fault::Reversed(4)) && set.count() == 2);
    for fault in Fault::ALL {
        assert!(Faults::NONE.with(fault).iter().eq([fault]));
    }
}

/// 400 V between lines, 60 A that lag by 37 degrees behind the phases' voltages; the leads' inputs have impedances of 1 to 1
/// and 1 to 2. Steps by hand: vab stands at 30 degrees when va stands at 0.
#[test]
fn an_open_lead_is_named() {
    let mut expected = Expected::new(&Settings::example());
    (expected.wiring, expected.volts) = (Wiring::ThreeWire, 400 << 16);
    let polar = |size: i32, angle: i32| {
        let (c, s) = crate::math::phase::cos_sin((i64::from(angle) * (1 << 32) / 360) as u32);
        let part = |x: i32| ((i64::from(size) * i64::from(x)) >> 30) as i32;
        (part(c), part(s))
    };
    let amps = [-37, -157, 83].map(|angle| polar(60 << 17, angle));
    let line = [30, -90, 150];
    for lead in 0..3_usize {
        for [own, last] in [[200, 200], [133, 267]] {
            let whole = line[(lead + 1) % 3];
            let mut volts = [(0, 0); 3];
            volts[(lead + 1) % 3] = polar(400 << 16, whole);
            volts[lead] = polar(own << 16, whole + 180);
            volts[(lead + 2) % 3] = polar(last << 16, whole + 180);
            let phasors = Phasors([volts[0], volts[1], volts[2], amps[0], amps[1], amps[2]]);
            let Diagnosis::Explained(class) = diagnose(&expected, &Window::default(), &phasors) else {
                panic!("lead {lead}: unclear")
            };
            assert_eq!(class.sets(), [Faults::NONE.with(Fault::LeadOpen(lead as u8))], "{own} and {last} V");
        }
    }
}
