//! Who calls a function in a Thumb image, by source line.
//!
//! The panic check needs it: the name of a panic in an image tells that there is a path to it, the
//! lines tell which one.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use addr2line::Loader;
use anyhow::{Context, Result, anyhow};
use object::{Object, ObjectSection, ObjectSymbol, SectionKind};

use crate::host::read;

/// Lines with a call of a function whose name is `wanted`, from functions whose name is not; with the
/// lines into which the calling function was inlined, innermost first.
pub fn lines(path: &Path, root: &Path, wanted: impl Fn(&str) -> bool) -> Result<BTreeSet<String>> {
    let bytes = read(path)?;
    let file = object::File::parse(&*bytes).with_context(|| path.display().to_string())?;
    let mut functions = BTreeMap::new();
    for symbol in file.symbols().filter(|symbol| symbol.size() > 0) {
        // The lowest bit says "Thumb", it is no part of the address.
        functions.insert(symbol.address() & !1, symbol.name().unwrap_or_default());
    }
    let loader = Loader::new(path).map_err(|error| anyhow!("{}: {error}", path.display()))?;
    let mut lines = BTreeSet::new();
    for section in file.sections().filter(|section| section.kind() == SectionKind::Text) {
        for (at, target) in branches(section.data()?, section.address()) {
            let from = functions.range(..=at).next_back().map_or("", |(_, name)| *name);
            if functions.get(&target).is_some_and(|name| wanted(name)) && !wanted(from) {
                lines.insert(describe(&loader, root, at).unwrap_or_else(|| format!("address {at:#x}")));
            }
        }
    }
    Ok(lines)
}

/// All `BL` and long `B` instructions: where they are and where they lead.
///
/// Encodings T1 of `BL` and T4 of `B` (ARMv7-M ARM, A7.7.18 and A7.7.12). Data between functions may look
/// like one, but hardly leads to the start of a function that is asked for.
fn branches(code: &[u8], base: u64) -> Vec<(u64, u64)> {
    let halves: Vec<u32> = code.chunks_exact(2).map(|two| u32::from(u16::from_le_bytes([two[0], two[1]]))).collect();
    let mut found = Vec::new();
    for (index, pair) in halves.windows(2).enumerate() {
        let (first, second) = (pair[0], pair[1]);
        if first >> 11 != 0b11110 || second >> 15 != 1 || second >> 12 & 1 != 1 {
            continue;
        }
        let sign = first >> 10 & 1;
        let i1 = !(second >> 13 ^ sign) & 1;
        let i2 = !(second >> 11 ^ sign) & 1;
        let raw = sign << 24 | i1 << 23 | i2 << 22 | (first & 0x3ff) << 12 | (second & 0x7ff) << 1;
        let offset = (raw << 7) as i32 >> 7; // 25 bits, sign carried on
        let at = base + 2 * index as u64;
        found.push((at, (at + 4).wrapping_add_signed(i64::from(offset))));
    }
    found
}

/// The lines of our own code that an address stands for.
fn describe(loader: &Loader, root: &Path, at: u64) -> Option<String> {
    let mut frames = loader.find_frames(at).ok()?;
    let mut lines = Vec::new();
    while let Ok(Some(frame)) = frames.next() {
        let Some(location) = frame.location else { continue };
        let file = location.file.unwrap_or_default();
        if let Some(own) = file.strip_prefix(root.to_str()?) {
            // Code that the compiler put together from several places has no line: name the function.
            let function = || frame.function.as_ref().and_then(|function| function.demangle().ok().map(Into::into));
            let line = location.line.filter(|line| *line > 0).map(|line| line.to_string());
            let place = line.or_else(function).unwrap_or_else(|| "?".to_owned());
            lines.push(format!("{}:{place}", own.trim_start_matches('/')));
        }
    }
    lines.dedup();
    lines.truncate(3);
    (!lines.is_empty()).then(|| lines.join(" < "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_calls_forward_and_back() {
        // bl +0x10 at 0x100, nop, bl -0x20 at 0x106, b.w +0x1000 at 0x10a; assembled by hand from the
        // encodings: offset 0x10 -> f000 f808, offset -0x20 -> f7ff fff0, offset 0x1000 -> f001 b800.
        let halves = [0xf000_u16, 0xf808, 0xbf00, 0xf7ff, 0xfff0, 0xf001, 0xb800];
        let code: Vec<u8> = halves.iter().flat_map(|half| half.to_le_bytes()).collect();
        assert_eq!(branches(&code, 0x100), [(0x100, 0x114), (0x106, 0xea), (0x10a, 0x110e)]);
    }
}
