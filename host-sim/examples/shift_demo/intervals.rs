//! Days of rows of 0.2 s, to time how fast they are read: the columns of a replay's intervals that `shift` looks at.

use std::path::Path;

use jiff::{SignedDuration, Timestamp};
use shaftwork_sim::columnar::{Cell, Kind, Writer};
use shaftwork_sim::plant::seed::Random;
use shaftwork_sim::whole::Whole;

const COLUMNS: [(&str, Kind); 7] = [
    ("t_s", Kind::Number),
    ("length_s", Kind::Number),
    ("active_w", Kind::Single),
    ("reactive_var", Kind::Single),
    ("load_pct", Kind::Single),
    ("mass_kg", Kind::Number),
    ("state", Kind::Word),
];
/// Rows of a day.
const ROWS: u32 = 432_000;

/// Writes a file a day.
pub fn write(folder: &Path, days: i64) -> anyhow::Result<()> {
    let first: Timestamp = "2026-01-01T00:00:00Z".parse()?;
    for n in 0..days {
        let start = first + SignedDuration::from_hours(24 * n);
        let day = folder.join(format!("{n:03}"));
        std::fs::create_dir_all(&day)?;
        let columns = COLUMNS.map(|(name, kind)| (name.to_owned(), kind));
        let file = Whole::create(&day.join("intervals.parquet"))?;
        let mut writer = Writer::create(file, &columns, &[("start", start.to_string())])?;
        let mut random = Random::new(n.unsigned_abs());
        for row in 1..=ROWS {
            let t_s = f64::from(row) / 5.0;
            let (state, kw) = match row / 1_500 % 12 {
                0..4 => ("stopped", 0.0),
                4 => ("idle", 14.0 + 0.1 * random.normal()),
                _ => ("breaking", 48.0 + 8.0 * random.normal()),
            };
            let number = |x: f64| Cell::Number(Some(x));
            writer.push([
                number(t_s),
                number(0.2),
                number(kw * 1e3),
                number(kw * 500.0),
                number(kw * 1.7),
                number((t_s / 1.2).round()),
                Cell::Word(state),
            ])?;
        }
        writer.close()?.commit()?;
    }
    Ok(())
}
