//! What a board tells of itself: the name in every output, and the words for it.

use shaftwork_core::judge::notice::{Answer, Begin, Notice};

/// The name in every output, and the figure that belongs to it.
pub const fn notice_name(notice: Notice) -> (&'static str, Option<i64>) {
    let name = match notice {
        Notice::Begins(Begin::PowerOn) => "begins-power-on",
        Notice::Begins(Begin::BrownOut) => "begins-brown-out",
        Notice::Begins(Begin::Watchdog) => "begins-watchdog",
        Notice::Begins(Begin::Software) => "begins-software",
        Notice::Begins(Begin::Pin) => "begins-pin",
        Notice::Begins(_) => "begins",
        Notice::ConverterSilent => "converter-silent",
        Notice::OutputFails => "output-fails",
        Notice::FramesRepeated { count } => return ("frames-repeated", Some(count as i64)),
        Notice::StoreFails => "store-fails",
        Notice::SupplyFails => "supply-fails",
        Notice::ClockSet { by_s } => return ("clock-set", Some(by_s as i64)),
        Notice::Contactor(Answer::RunsOn) => "contactor-stays-closed",
        Notice::Contactor(Answer::Stands) => "contactor-stays-open",
        Notice::Contactor(Answer::Follows) => "contactor-follows",
        Notice::FeederDrive(Answer::RunsOn) => "feeder-runs-on",
        Notice::FeederDrive(Answer::Stands) => "feeder-stands",
        Notice::FeederDrive(Answer::Follows) => "feeder-follows",
        _ => "unnamed",
    };
    (name, None)
}

/// The words for a person.
pub fn words(what: &str, count: Option<i64>) -> String {
    let count = count.unwrap_or_default();
    let words = match what {
        "begins-power-on" => "the board begins: power came",
        "begins-brown-out" => "the board begins: its supply had fallen too low",
        "begins-watchdog" => "the board begins: its loop had not answered the watchdog",
        "begins-software" => "the board begins: its program had asked for it",
        "begins-pin" => "the board begins: by its reset pin",
        "begins" => "the board begins",
        "converter-silent" => "the converter fell silent: relay and feed are off until a reset at the mill",
        "output-fails" => "an output could not be set: relay and feed are off until a reset at the mill",
        "frames-repeated" => return format!("{count} frames came twice and were left out once"),
        "store-fails" => "the store could not be written: totals are kept as they were before",
        "supply-fails" => "the board's supply is about to fail: relay and feed are off",
        "clock-set" => return format!("the clock was set by {count:+} s; measured times go on"),
        "contactor-stays-closed" => {
            "the contactor stays closed though the relay is open: the motor cannot be stopped from here"
        }
        "contactor-stays-open" => "current flows though the contactor's contact tells that it is open",
        "contactor-follows" => "the contactor follows again",
        "feeder-runs-on" => "the feeder runs on though it was told to stand",
        "feeder-stands" => "the feeder stands though it was told to run",
        "feeder-follows" => "the feeder follows again",
        other => other,
    };
    words.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_notice_has_a_name_and_words_of_its_own() {
        let begins = [Begin::PowerOn, Begin::BrownOut, Begin::Watchdog, Begin::Software, Begin::Pin, Begin::Unknown];
        let answers = [Answer::RunsOn, Answer::Stands, Answer::Follows];
        let mut all: Vec<Notice> = begins.map(Notice::Begins).to_vec();
        all.extend(answers.map(Notice::Contactor));
        all.extend(answers.map(Notice::FeederDrive));
        all.extend([
            Notice::ConverterSilent,
            Notice::OutputFails,
            Notice::FramesRepeated { count: 8 },
            Notice::StoreFails,
            Notice::SupplyFails,
            Notice::ClockSet { by_s: -3_600 },
        ]);
        let mut said: Vec<String> = Vec::new();
        for notice in all {
            let (name, count) = notice_name(notice);
            let words = words(name, count);
            assert!(name != "unnamed" && words != name, "{notice:?}: {words}");
            assert!(!said.contains(&words), "{words}");
            said.push(words);
        }
        assert!(said.contains(&"the clock was set by -3600 s; measured times go on".to_owned()));
    }
}
