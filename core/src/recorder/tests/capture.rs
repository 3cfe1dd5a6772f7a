use super::*;
use crate::recorder::{Capture, Note, Shape};
use crate::snapshot::Snapshot;
use crate::time::{Instant, Span};

type Frames = Vec<[i16; CHANNELS]>;

fn monitor() -> Monitor {
    Monitor::new(&settings()).unwrap()
}

/// Frames that count up; the monitor takes them too.
fn push(capture: &mut Capture<'_>, monitor: &mut Monitor, blocks: i32) {
    for _ in 0..blocks {
        let from = (monitor.now().0 >> 16) as i32;
        let block = core::array::from_fn(|f| Frame([from + f as i32; CHANNELS]));
        monitor.ingest(&block);
        capture.push(&block, monitor);
    }
}

fn note(sequence: u32, monitor: &Monitor) -> Note {
    Note { sequence, at: monitor.now() }
}

fn held(capture: &Capture<'_>) -> Option<(Instant, Vec<i16>)> {
    capture.record().map(|record| (record.begin, record.frames().map(|frame| frame[0]).collect()))
}

#[test]
fn holds_what_came_before_and_after() {
    let (mut frames, mut monitor) = ([[0; CHANNELS]; 20], monitor());
    let mut capture = Capture::new(&mut frames, &mut [], Shape { after: 51, ..Shape::whole(16) }); // 51/256 of 20 are 3.98
    push(&mut capture, &mut monitor, 5);
    assert!(capture.record().is_none());
    capture.trigger(note(1, &monitor));
    push(&mut capture, &mut monitor, 2);
    assert_eq!(held(&capture), Some((Instant(23 << 16), (23..43).collect())), "three after the trigger, in mid-block");
    assert!(capture.record().unwrap().snapshot.is_none(), "no room was lent for one");
    capture.release();
    assert!(capture.record().is_none());
    push(&mut capture, &mut monitor, 1);
    capture.trigger(note(2, &monitor));
    push(&mut capture, &mut monitor, 1);
    assert_eq!(held(&capture), Some((Instant(56 << 16), (56..67).collect())), "what came since it was released");
}

#[test]
fn a_second_event_is_not_lost() {
    let (mut frames, mut snapshots, mut monitor) = ([[0; CHANNELS]; 64], [const { None }; 3], monitor());
    // Two rings of 32, half of it after the trigger.
    let mut capture = Capture::new(&mut frames, &mut snapshots, Shape { after: 128, ..Shape::whole(16) });
    push(&mut capture, &mut monitor, 5);
    let first = note(1, &monitor);
    capture.trigger(first);
    push(&mut capture, &mut monitor, 1);
    let second = note(2, &monitor);
    capture.trigger(second);
    push(&mut capture, &mut monitor, 2);
    let third = note(3, &monitor);
    capture.trigger(third);
    push(&mut capture, &mut monitor, 9);

    let record = capture.record().unwrap();
    assert_eq!(record.notes, [first, second]);
    assert_eq!(record.snapshot.map(Snapshot::at), Some(Instant(24 << 16)), "a half of the ring after the one before");
    assert_eq!(held(&capture), Some((Instant(24 << 16), (24..56).collect())));
    capture.release();
    let record = capture.record().unwrap();
    assert_eq!(record.notes, [second], "both rings were full by the third");
    assert_eq!(held(&capture), Some((Instant(56 << 16), (56..64).collect())), "goes on where the first ends");
    capture.release();
    assert!(capture.record().is_none());

    push(&mut capture, &mut monitor, 9);
    capture.trigger(third);
    push(&mut capture, &mut monitor, 1);
    capture.gap();
    let record = capture.record().unwrap();
    assert_eq!(held(&capture).unwrap().1.last(), Some(&(8 * 27 - 1)), "what was there when frames went missing");
    let at = record.snapshot.unwrap().at();
    assert!(record.begin <= at && at <= record.begin.after(Span(16 << 16)), "in the older half: {at:?}");
}

/// What was remembered without a thermal image goes on with one where the settings have it, and the other way round.
#[test]
fn a_thermal_image_begins_afresh_where_none_was_kept() {
    let with =
        Settings { trips: Trips { thermal: Settings::example().trips.thermal, ..Trips::default() }, ..settings() };
    let [mut plain, mut warm] = [settings(), with].map(|settings| Monitor::new(&settings).unwrap());
    for _ in 0..100 {
        plain.ingest(&block(plain.now().0 >> 16, 900.0));
        warm.ingest(&block(warm.now().0 >> 16, 900.0));
    }
    let (cold, hot) = (plain.snapshot(), warm.snapshot());
    warm.restore(&cold);
    plain.restore(&hot);
    let level = |monitor: &mut Monitor| {
        while monitor.take_moment().is_some() {}
        for _ in 0..10_000 {
            monitor.ingest(&block(monitor.now().0 >> 16, 900.0));
        }
        let mut last = None;
        while let Some(moment) = monitor.take_moment() {
            last = moment.thermal;
        }
        (last.is_some_and(|level| level > crate::unit::Ratio::ZERO), monitor.decision().trip)
    };
    assert_eq!(level(&mut warm), (true, Some(crate::Cause::ThermalOverload)), "20 s of nine times rated");
    assert!(!level(&mut plain).0, "none is wanted");
}

#[test]
fn wide_codes_and_no_room() {
    let (mut frames, mut monitor) = ([[0; CHANNELS]], monitor());
    let mut capture = Capture::new(&mut frames, &mut [], Shape { after: 0, ..Shape::whole(24) });
    let block = [Frame([i32::MAX, i32::MIN, 8_388_607, -8_388_608, 256, -1]); BLOCK];
    monitor.ingest(&block);
    capture.push(&block, &monitor);
    capture.trigger(note(1, &monitor));
    let frames: Frames = capture.record().unwrap().frames().collect();
    assert_eq!(frames, [[i16::MAX, i16::MIN, i16::MAX, i16::MIN, 1, -1]]);

    let mut capture = Capture::new(&mut [], &mut [], Shape::whole(16));
    capture.push(&block, &monitor);
    capture.trigger(note(1, &monitor));
    capture.push(&block, &monitor);
    assert_eq!(capture.record().map_or(0, |record| record.frames().len()), 0);
}

#[test]
fn thinned_frames_are_means_also_over_two_blocks() {
    let (mut frames, mut monitor) = ([[0; CHANNELS]; 8], monitor());
    let mut capture = Capture::new(&mut frames, &mut [], Shape { halvings: 4, after: 0, ..Shape::whole(16) });
    push(&mut capture, &mut monitor, 5);
    capture.trigger(note(1, &monitor));
    // Means of 0..=15 and 16..=31, rounded down; the last eight frames are half of one.
    assert_eq!(held(&capture), Some((Instant(0), std::vec![7, 23])));
}

/// What a capture was made for is come to again, in every bit, by another monitor that is given the snapshot and the frames.
#[test]
fn a_captured_decision_is_come_to_again() {
    for (whole, rings) in [(true, 1), (true, 2), (false, 1)] {
        let shape = if whole { Shape::whole(16) } else { Shape::thinned(16, 4_000_000) };
        let mut frames = std::vec![[0; CHANNELS]; rings * 1_200];
        let mut snapshots = std::vec![None; rings + 1];
        let mut capture = Capture::new(&mut frames, &mut snapshots, shape);
        let mut monitor = monitor();
        let mut given: Option<Event> = None;
        let mut moments = Vec::new();
        while capture.record().is_none() {
            let now = monitor.now().0 >> 16;
            let block = block(now, if now < 12_000 { 90.0 } else { 250.0 });
            monitor.ingest(&block);
            capture.push(&block, &monitor);
            moments.extend(monitor.take_moment());
            for event in events(&mut monitor).into_iter().filter(trips) {
                capture.trigger(Note { sequence: 7, at: event.at });
                assert_eq!(given.replace(event), None, "one trip");
            }
        }
        let (record, given) = (capture.record().unwrap(), given.unwrap());
        assert_eq!(record.notes, [Note { sequence: 7, at: given.at }]);
        let snapshot: &Snapshot = record.snapshot.unwrap();
        let length = record.frames().len() as u64 * u64::from(shape.every());
        let into = (snapshot.at().0 - record.begin.0) >> 16;
        assert!(into <= length / 2 + 8, "the snapshot lies {into} into {length}");

        let mut again = Monitor::new(&settings()).unwrap();
        again.restore(snapshot);
        let every = shape.every() as usize;
        // Each mean stands for its frames: a staircase, which is enough for a decision.
        let kept: Vec<Frame> = record
            .frames()
            .flat_map(|frame| core::iter::repeat_n(Frame(frame.map(i32::from)), every))
            .skip(into as usize)
            .collect();
        let (blocks, _) = kept.as_chunks::<BLOCK>();
        let (mut told, mut seen) = (Vec::new(), Vec::new());
        for block in blocks {
            again.ingest(block);
            seen.extend(again.take_moment());
            told.extend(events(&mut again).into_iter().filter(trips));
        }
        assert_eq!(told.len(), 1);
        if whole {
            assert_eq!(told, [given], "the same in every bit");
            let first = seen[0].half_cycle.end;
            let same: Vec<_> = moments.iter().filter(|m| m.half_cycle.end >= first).take(seen.len()).copied().collect();
            assert!(seen.len() > 5 && seen == same);
        } else {
            assert!(told[0].at.0.abs_diff(given.at.0) <= 80 << 16, "{told:?} {given:?}");
        }
    }
}
