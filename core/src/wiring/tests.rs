use super::*;
use crate::Settings;

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
