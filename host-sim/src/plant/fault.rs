//! What goes wrong between a quantity and its reading: a middleware over the seven readings of a frame.
//!
//! ```text
//! saturation: d(flux) = i dt, held within +- knee; shown is i while the flux moves and nothing while it is held
//! ```
//!
//! The flux is counted in A s of the primary: a sine of I A rms swings it by sqrt(2) I / pi f from end to end. An ideal
//! core without remanence (IEEE C37.110 describes the behaviour, from memory). Faults work on readings as they are,
//! noise and counts included, in the order given.

use serde::{Deserialize, Serialize};

/// What is wrong with a channel.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Nothing arrives: zero.
    Dead,
    /// The last value stays.
    Stuck,
    /// The wires are the wrong way round.
    Reversed,
    /// Everything is this many times too large: a wrong ratio.
    Scaled(f64),
    /// The core saturates at this flux, A s.
    Saturated(f64),
}

/// A fault of one channel over a time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fault {
    /// Channel: va, vb, vc, ia, ib, ic, mass are 0 to 6.
    pub channel: usize,
    /// What.
    pub kind: Kind,
    /// From when on, s.
    pub from_s: f64,
    /// Until when, s.
    #[serde(default = "crate::plant::never")]
    pub until_s: f64,
}

/// Faults at work.
#[derive(Debug, Clone)]
pub struct Faults {
    /// Each with what it remembers: the value that is stuck, the flux.
    all: Vec<(Fault, Option<f64>)>,
    interval_s: f64,
}

impl Faults {
    /// For readings at so many frames a second. A channel that does not exist has no faults.
    pub fn new(faults: &[Fault], rate_hz: f64) -> Self {
        Self { all: faults.iter().map(|fault| (*fault, None)).collect(), interval_s: 1.0 / rate_hz }
    }

    /// Spoils the readings of a frame. Frames come in order, one an interval.
    pub fn spoil(&mut self, t_s: f64, reading: &mut [f64; 7]) {
        for (fault, memory) in &mut self.all {
            let Some(value) = reading.get_mut(fault.channel) else { continue };
            if t_s < fault.from_s || t_s >= fault.until_s {
                *memory = None;
                continue;
            }
            *value = match fault.kind {
                Kind::Dead => 0.0,
                Kind::Stuck => *memory.get_or_insert(*value),
                Kind::Reversed => -*value,
                Kind::Scaled(ratio) => ratio * *value,
                Kind::Saturated(knee) => {
                    let before = memory.unwrap_or(0.0);
                    let flux = (before + *value * self.interval_s).clamp(-knee, knee);
                    *memory = Some(flux);
                    (flux - before) / self.interval_s
                }
            };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{PI, TAU};

    const RATE_HZ: f64 = 4000.0;

    /// What channel 3 shows of a current with an offset that dies, A.
    fn shown(kind: Kind, amps: f64, offset: f64) -> Vec<[f64; 2]> {
        let mut faults = Faults::new(&[Fault { channel: 3, kind, from_s: 0.1, until_s: 0.4 }], RATE_HZ);
        let at = |n: u32| {
            let t = f64::from(n) / RATE_HZ;
            let peak = 2.0_f64.sqrt() * amps;
            let mut reading = [1.0; 7];
            reading[3] = peak * (TAU * 50.0 * t).cos() - offset * peak * (-(t - 0.1) / 0.05).exp();
            let whole = reading[3];
            faults.spoil(t, &mut reading);
            assert!(reading.iter().enumerate().all(|(n, x)| n == 3 || (x - 1.0).abs() < 1e-12), "other channels stay");
            [whole, reading[3]]
        };
        (0..2000).map(at).collect()
    }

    #[test]
    fn each_kind_is_what_it_says_and_ends() {
        for (kind, wanted) in [(Kind::Dead, 0.0), (Kind::Reversed, -1.0), (Kind::Scaled(0.5), 0.5)] {
            for (n, [whole, found]) in shown(kind, 100.0, 0.0).into_iter().enumerate() {
                let share = if (400..1600).contains(&n) { wanted } else { 1.0 };
                assert!((found - share * whole).abs() < 1e-9, "{kind:?} at frame {n}");
            }
        }
        let stuck = shown(Kind::Stuck, 100.0, 0.0);
        assert!(stuck[400..1600].iter().all(|[_, found]| (found - stuck[400][0]).abs() < 1e-12));
        assert!((stuck[1700][0] - stuck[1700][1]).abs() < 1e-12);
        Faults::new(&[Fault { channel: 9, kind: Kind::Dead, from_s: 0.0, until_s: 1.0 }], 1.0)
            .spoil(0.5, &mut [1.0; 7]);
    }

    /// A core that bears a symmetrical current shows it whole; with a full offset it saturates within two cycles and
    /// shows the truth again once the offset has died, but for what is left of it. A knee of half the swing cuts a
    /// symmetrical current too.
    #[test]
    fn a_core_saturates_by_its_flux() {
        let amps = 500.0;
        // From the peak the flux of the cosine swings by this much each way.
        let swing = 2.0_f64.sqrt() * amps / (2.0 * PI * 50.0);
        let whole = shown(Kind::Saturated(1.1 * swing), amps, 0.0);
        assert!(whole.iter().all(|[whole, found]| (whole - found).abs() < 1e-6));
        let wrong = |pairs: &[[f64; 2]]| pairs.iter().filter(|[whole, found]| (whole - found).abs() > 1.0).count();
        let offset = shown(Kind::Saturated(4.0 * swing), amps, 1.0);
        assert!(wrong(&offset[400..560]) > 10, "the first two cycles");
        let cut = shown(Kind::Saturated(0.5 * swing), amps, 0.0);
        let rms = |pairs: &[[f64; 2]], n: usize| pairs.iter().map(|pair| pair[n] * pair[n]).sum::<f64>().sqrt();
        let late = rms(&offset[1440..1600], 1) / rms(&offset[1440..1600], 0);
        assert!((late - 1.0).abs() < 0.01, "the last two cycles: {late}");
        let left = rms(&cut[800..1600], 1) / rms(&cut[800..1600], 0);
        // In a steady state the flux swings between the knees: for half of the whole swing the current is shown over a
        // quarter of a cycle in each half, from its zero to its peak: rms sqrt(1/2) of the whole.
        assert!((left - 0.5_f64.sqrt()).abs() < 0.02, "left {left}");
    }
}
