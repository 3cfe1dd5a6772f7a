//! Channel lines of a configuration.
//!
//! `n,id,ph,ccbm,uu,a,b,skew,min,max[,primary,secondary,PS]`: a value is `a x + b` in unit `uu`, on
//! the side that PS names; the other side is `primary / secondary` times as large.

use crate::trace::{Channel, Kind, number, units};

/// An analog channel: what is told of it, and how its counts are taken.
#[derive(Clone, Debug)]
pub(super) struct Analog {
    /// As the trace's readers see it.
    pub channel: Channel,
    /// Slope and offset from counts to SI on the primary side.
    pub slope: f64,
    /// See `slope`.
    pub offset: f64,
    /// The range of counts, where the file gives a sound one.
    pub range: Option<(f64, f64)>,
}

/// Fields of the line in the 1991 revision, and later.
const SHORT: usize = 10;
const LONG: usize = 13;

/// What is wrong with a line, in words.
#[derive(Debug)]
pub(super) struct Bad {
    pub found: String,
    pub wanted: &'static str,
    pub mend: &'static str,
}

/// Reads an analog line.
pub(super) fn analog(line: &str, is_1991: bool) -> Result<Analog, Bad> {
    let mut fields: Vec<&str> = line.split(',').map(str::trim).collect();
    let full = if is_1991 && !is_side(fields.last()) { SHORT } else { LONG };
    while fields.len() > full && fields.last().is_some_and(|f| f.is_empty()) {
        fields.pop();
    }
    if fields.len() < SHORT {
        return Err(Bad {
            found: format!("'{}' has only {} of the fields", shown(line), fields.len()),
            wanted: "an analog channel: n,id,ph,ccbm,uu,a,b,skew,min,max,primary,secondary,PS",
            mend: "correct the line, or the counts in line 2",
        });
    }
    // A comma inside a name makes fields too many: the rest is counted from the right.
    let extra = fields.len().saturating_sub(full);
    let name = fields[1..=1 + extra].join(",");
    let field = |at: usize| fields.get(at + extra).copied().unwrap_or("");
    let finite = |at: usize, what: &str| {
        number::number(field(at).as_bytes()).map_err(|e| Bad {
            found: format!("{what} of channel '{}' is {}", shown(&name), e.found(field(at).as_bytes())),
            wanted: "a finite number",
            mend: "write a and b such that a x + b is the value of count x",
        })
    };
    let (a, b) = (finite(5, "the multiplier a")?, finite(6, "the offset b")?);
    if a == 0.0 {
        return Err(Bad {
            found: format!("the multiplier a of channel '{}' is 0", shown(&name)),
            wanted: "the worth of one count, not 0",
            mend: "write what one count is worth in the channel's unit; 1 where the data are in that unit already",
        });
    }
    let maybe = |at: usize| number::number(field(at).as_bytes()).ok();
    let range = maybe(8).zip(maybe(9)).filter(|(low, high)| low < high);
    let secondary_side = field(12).eq_ignore_ascii_case("s");
    let (ratio, flaw) = match (secondary_side, maybe(10), maybe(11)) {
        (false, ..) => (1.0, None),
        (true, Some(primary), Some(secondary)) if primary > 0.0 && secondary > 0.0 => (primary / secondary, None),
        _ => (
            1.0,
            Some(format!(
                "is marked secondary with a ratio of {}/{}, so that its primary value is unknown",
                field(10),
                field(11)
            )),
        ),
    };
    let unit = field(4).to_owned();
    let (kind, factor) = match units::unit(&unit) {
        Some(known) => known,
        None if unit.is_empty() => (units::kind_of_name(&name), 1.0),
        None => (Kind::Other, 1.0),
    };
    let to_si = factor * ratio;
    let channel = Channel { name, phase: field(2).to_owned(), unit, to_si, kind, step: (a * to_si).abs(), flaw };
    Ok(Analog { channel, slope: a * to_si, offset: b * to_si, range })
}

fn is_side(field: Option<&&str>) -> bool {
    field.is_some_and(|f| f.eq_ignore_ascii_case("p") || f.eq_ignore_ascii_case("s"))
}

/// Whether a line can be a status channel: `n,id,y` in 1991, `n,id,ph,ccbm,y` later, four fields
/// with some recorders.
pub(super) fn is_digital(line: &str) -> bool {
    let fields: Vec<&str> = line.split(',').map(str::trim).collect();
    fields.len() >= 3 && fields[0].parse::<u64>().is_ok() && !fields[1].contains(':')
}

/// A line as a fault may quote it.
pub(super) fn shown(line: &str) -> String {
    line.chars().filter(|c| !c.is_control()).take(60).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_become_primary_si() {
        // IEEE C37.111-1999, 5.3.4: value = a x + b; a secondary value times primary/secondary is primary.
        let c = analog("1,IA ,,Line123, kA,0.5,0.25,0,-32768,32767,933,1,s", false).unwrap();
        assert_eq!((c.slope, c.offset), (0.5 * 933_000.0, 0.25 * 933_000.0));
        assert_eq!((c.channel.name.as_str(), c.channel.kind, c.channel.to_si), ("IA", Kind::Current, 933_000.0));
        let c = analog("1,VA,A,obj,kV,0.000361849,0,0,-32767,32767,120.0,1.0,P", false).unwrap();
        assert_eq!(c.channel.to_si.to_bits(), 1000.0_f64.to_bits());
        assert_eq!(c.range, Some((-32767.0, 32767.0)));
    }

    #[test]
    fn old_short_and_sloppy_lines() {
        // 1991 has ten fields; commas in names, empty skew and blank units are common practice, no source.
        let c = analog("1,Ia1,A,,A,0.001000,0,0,-1000000,1000000", true).unwrap();
        assert_eq!((c.channel.phase.as_str(), c.slope), ("A", 0.001));
        let c = analog("4,VA, bus 1,A,,,2,0,,-3.4e38,3.4E+38,1,1,P", false).unwrap();
        assert_eq!((c.channel.name.as_str(), c.channel.phase.as_str()), ("VA,bus 1", "A"));
        assert_eq!((c.channel.kind, c.slope), (Kind::Voltage, 2.0));
    }

    #[test]
    fn what_cannot_be_used_is_said() {
        for (line, word) in [
            ("1,VA,A,,V,0,0,0,-1,1,1,1,P", "is 0"),
            ("1,VA,A,,V,,0,0,-1,1,1,1,P", "empty"),
            ("1,VA,A,,V,x,0,0,-1,1,1,1,P", "no number"),
            ("50", "only 1 of the fields"),
        ] {
            let bad = analog(line, false).unwrap_err();
            assert!(bad.found.contains(word), "{line}: {bad:?}");
        }
        let c = analog("1,VA,A,,V,1,0,0,-1,1,100,0,S", false).unwrap();
        assert!(c.channel.flaw.is_some());
        assert!(is_digital("4,51N,,Line123,0") && is_digital("25,x,0") && !is_digital("50") && !is_digital("1200,40"));
    }
}
