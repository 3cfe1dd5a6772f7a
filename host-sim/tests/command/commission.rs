//! The as-left sheet: tried on this computer, or read from what a board wrote.

use shaftwork_report_bits::digest::crc32;
use shaftwork_report_bits::sheet;

use super::*;

const SETTINGS: &str = "xtask/budget/everything.toml";

fn commission(settings: &Path, words: &[&str]) -> (Option<i32>, String, String) {
    let mut command = shaftwork(&["commission", "--settings"]);
    command.arg(settings).args(words);
    run(command)
}

/// The sheet and the settings that a board is sent, made by `--bits`.
fn of_board(folder: &Path) -> (Vec<u8>, Vec<u8>) {
    let (status, _, errors) = commission(&at(SETTINGS), &["--bits", folder.to_str().unwrap()]);
    assert_eq!(status, Some(0), "{errors}");
    let file = |name| std::fs::read(folder.join(name)).unwrap();
    (file("sheet-host.bin"), file("settings.bin"))
}

#[test]
fn every_element_has_its_row_and_the_settings_their_sum() {
    let folder = tempfile::tempdir().unwrap();
    let (bytes, settings) = of_board(folder.path());
    let sheet = sheet::read(&bytes).unwrap();
    assert_eq!(sheet.settings, crc32(&settings), "the sum is that of the bytes that a board is sent");
    let (status, text, _) = commission(&at(SETTINGS), &[]);
    assert_eq!(status, Some(0));
    assert!(text.contains(&format!("CRC-32 {:08x}", crc32(&settings))), "{text}");
    for element in ["thermal-overload (6 x k Ib)", "jam", "undervoltage (starting)", "starts-per-hour", "wedge"] {
        let row = text.lines().find(|line| line.trim_start().starts_with(element)).unwrap();
        assert!(row.trim_end().ends_with("passed"), "{row}");
    }
    for wanted in ["Signature: ___", "trip relay ____", "every element that is on and can be was proven", "[trip.jam]"]
    {
        assert!(text.contains(wanted), "{wanted} is missing");
    }
}

#[test]
fn json_and_page_say_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("sheet.html");
    let (status, text, _) = commission(&at(SETTINGS), &["--json", "-", "--out", page.to_str().unwrap()]);
    assert_eq!(status, Some(0));
    let json: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!((&json["format"], &json["proven"]), (&"shaftwork-commission/1".into(), &true.into()));
    let jam = json["elements"].as_array().unwrap().iter().find(|row| row["element"] == "jam").unwrap();
    // 200 % of 94.81 A; 0.2 s.
    assert_eq!((&jam["set"], &jam["unit"], &jam["verdict"]), (&189.62.into(), &"A".into(), &"passed".into()));
    let time = jam["time_s"].as_f64().unwrap();
    assert!((0.2..0.2525).contains(&time), "{time}");
    assert_eq!(json["settings"]["sections"]["trip.jam"]["delay_s"]["value"], 0.2);
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains("<td>189.6 A</td>") && page.contains("Signature"), "{page}");
}

#[test]
fn a_board_s_sheet_is_held_against_settings_and_core() {
    let folder = tempfile::tempdir().unwrap();
    let (bytes, _) = of_board(folder.path());
    let file = folder.path().join("sheet.bin");
    let read = |settings: &Path, bytes: &[u8]| {
        std::fs::write(&file, bytes).unwrap();
        commission(settings, &["--sheet", file.to_str().unwrap()])
    };
    let (status, text, _) = read(&at(SETTINGS), &bytes);
    assert_eq!(status, Some(0));
    assert!(text.contains("this computer comes to the same, bit for bit"), "{text}");

    // A board that comes to something else, or whose element failed: no pass.
    let mut other = sheet::read(&bytes).unwrap();
    other.rows[3].time = other.rows[3].time.map(|frames| frames + 8);
    let (status, text, _) = read(&at(SETTINGS), sheet::encode(&other, &mut [0; sheet::MAX_BYTES]));
    assert_eq!(status, Some(3));
    assert!(text.contains("THIS COMPUTER COMES TO SOMETHING ELSE"), "{text}");

    // Outputs that were walked on the board, and one that did not do what it should.
    let mut walked = sheet::read(&bytes).unwrap();
    for (name, seen) in [("trip relay", Some(true)), ("sounder", None)] {
        let output = shaftwork_commission::Output { name: name.try_into().unwrap(), seen };
        walked.outputs.push(output).unwrap();
    }
    let (status, text, _) = read(&at(SETTINGS), sheet::encode(&walked, &mut [0; sheet::MAX_BYTES]));
    assert_eq!(status, Some(0));
    assert!(text.contains("trip relay: as it should; sounder: not shown") && !text.contains("relay ____"), "{text}");
    assert!(text.contains("this computer comes to the same, bit for bit"), "{text}");
    walked.outputs[0].seen = Some(false);
    let (status, text, _) = read(&at(SETTINGS), sheet::encode(&walked, &mut [0; sheet::MAX_BYTES]));
    assert_eq!(status, Some(3));
    assert!(text.contains("NOT PROVEN: 1 output not as it should be") && text.contains("NOT AS IT SHOULD"), "{text}");

    // Other settings than those that it was tried with.
    let (status, _, errors) = read(&at("tests/traces/jam.toml"), &bytes);
    assert_eq!(status, Some(1));
    assert!(errors.contains("tried with settings of check sum") && errors.contains("to mend it"), "{errors}");

    let mut cut = bytes;
    cut.pop();
    let (status, _, errors) = read(&at(SETTINGS), &cut);
    assert_eq!(status, Some(1));
    assert!(errors.contains("check sum is another") && errors.contains("to mend it"), "{errors}");
}

/// Six times k Ib are 600 A rms, 845 A at the peak: a converter that ends at 500 A cannot show it, and that is no pass.
#[test]
fn what_cannot_be_injected_is_not_passed() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("small.toml");
    let text = std::fs::read_to_string(at(SETTINGS)).unwrap();
    let small = text.replace("current_full_scale_a = 1474.515", "current_full_scale_a = 500");
    assert_ne!(small, text);
    std::fs::write(&file, small).unwrap();
    let (status, text, _) = commission(&file, &[]);
    assert_eq!(status, Some(3), "{text}");
    assert!(text.contains("NOT PROVEN: 1 test not made") && text.contains("beyond the converter's range"), "{text}");
}

#[test]
fn without_a_rate_nothing_can_be_made() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("no-rate.toml");
    let text = std::fs::read_to_string(at(SETTINGS)).unwrap();
    std::fs::write(&file, text.replace("rate_hz = 4000\n", "")).unwrap();
    let (status, _, errors) = commission(&file, &[]);
    assert_eq!(status, Some(1));
    assert!(errors.contains("sampling.rate_hz") && errors.contains("to mend it"), "{errors}");
}
