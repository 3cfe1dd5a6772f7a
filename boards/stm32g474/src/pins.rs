//! The pins of the binary, which no test can run, against the page and against what a panic writes.

const PAGE: &str = include_str!("../../../docs/board-stm32g474.md");
const MAIN: &str = include_str!("main.rs");
const SAFE: &str = include_str!("safe.rs");

/// The words after each place where `before` stands, as far as they are letters and digits.
fn after<'a>(text: &'a str, before: &'a str) -> impl Iterator<Item = &'a str> {
    text.split(before).skip(1).map(|rest| rest.split(|c: char| !c.is_ascii_alphanumeric()).next().unwrap_or(""))
}

#[test]
fn the_page_has_every_pin_once() {
    let pins: Vec<_> = after(MAIN, "p.P").map(|rest| format!("P{rest}")).collect();
    assert_eq!(pins.len(), 29, "{pins:?}");
    let cells: Vec<_> =
        PAGE.lines().filter(|line| line.starts_with("| P")).filter_map(|l| l.split('|').nth(1)).collect();
    for pin in pins {
        let named = cells.iter().flat_map(|cell| cell.split(", ")).filter(|cell| cell.trim() == pin);
        assert_eq!(named.count(), 1, "{pin}");
    }
}

/// Each output is written by [`crate`]'s binary in a panic, on the port that it is on.
#[test]
fn a_panic_writes_every_output() {
    let mut outputs: Vec<_> = after(MAIN, "low(p.P").collect();
    outputs.sort_unstable();
    let number = |of: &str| after(SAFE, of).next().unwrap().to_owned();
    let low = SAFE.split("LOW: [usize; 6] = [").nth(1).unwrap().split(']').next().unwrap();
    let mut written: Vec<_> = low.split(", ").map(|pin| format!("C{pin}")).collect();
    written.extend([format!("C{}", number("STOP: usize = ")), format!("D{}", number("ALARM: usize = "))]);
    written.sort_unstable();
    assert_eq!(outputs, written);
    assert!(MAIN.contains(&format!("p.TIM4, p.PB{}, p.DAC1, p.PA4", number("DUTY: usize = "))));
}
