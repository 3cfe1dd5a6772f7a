//! Every sequence of a few inputs: what is latched stays so, what is refused changes nothing, what is lost ends in the fallback.

use super::*;
use crate::settings::{Action, Jam, Watch};

/// What may happen next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Input {
    /// Rest for less than the coast-down time, and for more than it and the rest together.
    Off,
    Rest,
    Run,
    Start,
    /// More current than the jam's pick-up, for longer than its delay.
    Jam,
    /// A transformer goes dead, for longer than the delay.
    Dead,
    ResetHere,
    ResetElsewhere,
    Gap,
    PowerCut,
}

use Input::*;
const ALL: [Input; 10] = [Off, Rest, Run, Start, Jam, Dead, ResetHere, ResetElsewhere, Gap, PowerCut];

/// A mill whose times are a few half cycles, so that every sequence is short.
fn quick() -> JudgeCoefficients {
    let mut settings = Settings::example();
    settings.mill.coast_down_ms = 100;
    settings.restart.rest_ms = 150;
    settings.trips = TripSettings {
        jam: Some(Jam { pickup_ppm: 2_000_000, delay_ms: 30 }),
        sensor_fault: Some(Watch { delay_ms: 30, action: Action::FeedStop }),
        ..TripSettings::default()
    };
    settings.feed.resume_delay_ms = 20;
    settings.build().unwrap().judge
}

/// Where a sequence has come to.
#[derive(Clone)]
struct Place {
    judge: Judge,
    now: Instant,
}

impl Place {
    fn hold(&mut self, c: &JudgeCoefficients, half: &HalfCycle, half_cycles: u32) {
        for _ in 0..half_cycles {
            self.now = self.now.after(HALF);
            self.judge.half_cycle(c, &HalfCycle { end: self.now, ..*half });
            while self.judge.pop_event().is_some() {}
        }
    }

    /// Does an input; checks what must hold across it.
    fn step(&mut self, c: &JudgeCoefficients, input: Input, path: &[Input]) {
        let dead = HalfCycle {
            current_positive: Amps::from_bits((97 << 17) / 3 * 2),
            current_negative: Amps::from_bits((97 << 17) / 3),
            still: 0b01_0000,
            ..record(RATED)
        };
        let before = (self.judge.decision(), self.judge.memory.state);
        let latched = before.0.trip;
        match input {
            Off => self.hold(c, &record(REST), 4),
            Rest => self.hold(c, &record(REST), 30),
            Run => self.hold(c, &record(IDLE), 8),
            Start => self.hold(c, &record(LOCKED), 2),
            Jam => self.hold(c, &record((70_301, 344_226, 507)), 6),
            Dead => self.hold(c, &dead, 6),
            ResetHere | ResetElsewhere => {
                let taken = self.judge.reset(c, self.now, input == ResetHere);
                let allowed = input == ResetHere && before.1 == State::Stopped;
                assert!(taken.is_err() || allowed, "{path:?}: taken while {:?}", before.1);
                assert_eq!(self.judge.decision().trip, if taken.is_ok() { None } else { latched }, "{path:?}");
            }
            Gap => self.judge.gap(c, self.now, Span(400 << 16)),
            PowerCut => {
                let saved = self.judge.saved(self.now);
                *self = Self { judge: Judge::new(c), now: Instant(0) };
                self.judge.resume(c, self.now, &saved);
            }
        }
        let after = self.judge.decision();
        if !matches!(input, ResetHere | ResetElsewhere) {
            assert!(latched.is_none() || after.trip == latched, "{path:?}: a latch went by itself");
        }
        assert!(after.trip.is_none() || after.feed == report::Feed::Stop, "{path:?}: fed while tripped");
        assert!(after.trip.is_none() || after.start == Some(Hindrance::Trip), "{path:?}: a start while tripped");
        let blind = matches!(input, Dead | Gap | PowerCut);
        assert!(!blind || after.feed == report::Feed::Stop, "{path:?}: fed though an input is lost");
        assert!(!matches!(input, Gap | PowerCut) || after.start.is_some(), "{path:?}: a start though nothing is known");
        let flows = matches!(input, Run | Start | Jam | Dead);
        assert!(!flows || after.start.is_some(), "{path:?}: a start of a running motor");
    }
}

/// All sequences of five inputs, 111 110 of them with their beginnings.
#[test]
fn every_sequence_of_five_inputs() {
    fn explore(c: &JudgeCoefficients, place: &Place, path: &mut std::vec::Vec<Input>, seen: &mut u32) {
        for input in ALL {
            let mut next = place.clone();
            path.push(input);
            next.step(c, input, path);
            *seen += 1;
            if path.len() < 5 {
                explore(c, &next, path, seen);
            }
            path.pop();
        }
    }
    let c = quick();
    let mut seen = 0;
    explore(&c, &Place { judge: Judge::new(&c), now: Instant(0) }, &mut Vec::new(), &mut seen);
    assert_eq!(seen, 10 + 100 + 1_000 + 10_000 + 100_000);
}

/// One day after another, and past what 32 bits of frames hold: the same decisions at the same distance.
#[test]
fn where_the_count_of_frames_stands_changes_nothing() {
    let c = quick();
    let decisions = |from: u64| {
        let mut place = Place { judge: Judge::new(&c), now: Instant(from) };
        let mut all = Vec::new();
        for input in [Rest, Start, Run, Jam, Off, ResetHere, Rest, ResetHere, Start, Run, Dead, Run, Gap, Run, Rest] {
            place.step(&c, input, &[input]);
            all.push((place.judge.decision(), place.judge.memory.state, place.judge.totals().time));
        }
        all
    };
    let first = decisions(0);
    assert!(first.iter().any(|(d, ..)| d.trip.is_some()) && first.iter().any(|(d, ..)| d.feed == report::Feed::Feed));
    // Within the sequence 32 bits of frames run over, 31 bits of them, and all but the last of 64 bits of Q16.
    for half_cycles_before in [1, 20, 50] {
        for width in [47, 48, 63] {
            let from = ((1u64 << width) / HALF.0 - half_cycles_before) * HALF.0;
            assert_eq!(decisions(from), first, "{half_cycles_before} half cycles before 2^{width}");
        }
    }
}
