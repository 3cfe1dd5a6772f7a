//! Makes an invented site of some weeks to close shifts of: logs, weigh tickets, the site's file.
//!
//! ```sh
//! cargo run --release -p shaftwork-sim --example shift_demo -- target/shift-demo
//! ```
//!
//! Quillbrook Yard, one mill, two shifts on working days and a short one on Saturdays. Hammers wear from the fortieth day on, 0.4 % a day
//! more net energy a tonne. In it are what happens to real logs: a day's file that is there twice, an afternoon without a logger that
//! the meter's register bridges, a ticket that came late, one put right, a logger whose clock was fast for three hours, and the night on
//! which the clocks change. Stoppages are told by hand, the late starts but not all of the cleaning.

mod intervals;

use std::fmt::Write as _;
use std::path::Path;

use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use shaftwork_sim::plant::seed::Random;

/// The first day, a Monday, and how many there are by default: the clocks change on 29 March.
const FIRST: Date = date(2026, 2, 16);
const DAYS: i64 = 84;
/// The day from which the hammers wear.
const WORN_FROM: i64 = 40;
/// The empty mill, kW; a tonne, kWh; the spread of a day.
const IDLE_KW: f64 = 14.0;
const TONNE_KWH: f64 = 12.0;
const OF_DAY: f64 = 0.03;

const SITE: &str = r#"# Quillbrook Yard, an invented one.
[site]
name = "Quillbrook Yard"
zone = "Europe/Berlin"
boundary = ["mill"]
materials = ["castings", "windings"]
screens = ["25 mm", "12 mm"]

[[shift]]
name = "early"
crew = "A"
start = "06:00"
end = "14:00"
days = ["mon", "tue", "wed", "thu", "fri", "sat"]

[[shift]]
name = "late"
crew = "B"
start = "14:00"
end = "22:00"
days = ["mon", "tue", "wed", "thu", "fri"]

[motor]
rated_kw = 55
starts_per_hour = 4

[meter]
error_pct = 1                  # class A of EN 50470 has 2, class B 1
current_transformer_pct = 1
register_digits = 6
register_step_kwh = 0.1

[mass]
source = "tickets"
scale_e_kg = 1
weighings = 2

[tariff]
currency = "EUR"
per_kwh = 0.19
demand = "kW"
demand_block_min = 15
per_demand_month = 9.50
power_factor = "reactive-energy"
power_factor_target_pct = 90
per_kvarh = 0.015

[[tariff.band]]
name = "day"
from = "08:00"
to = "20:00"
days = ["mon", "tue", "wed", "thu", "fri"]
per_kwh = 0.27

[baseline]
from = "2026-02-16"
to = "2026-03-21"

[[change]]
at = "2026-02-16T05:30"
what = "hammers"
note = "set 4, turned once"
who = "Wren"

[[change]]                     # of the day on which it was set wrong until it was set right
at = "2026-03-27T09:00"
to = "2026-03-27T12:00"
what = "clock"
fast_s = 420
who = "Finch"
why = "set by hand after its battery was changed"
"#;

/// What a minute shows.
struct Minute {
    kw: f64,
    kvar: f64,
    state: &'static str,
}

/// The yard while it works.
struct Yard {
    random: Random,
    register_kwh: f64,
    ticket: u32,
    tickets: String,
    stoppages: String,
}

impl Yard {
    /// A minute of feeding so many tonnes an hour.
    fn feed(&mut self, t_h: f64, worn: f64, of_day: f64) -> Minute {
        let lumps = 1.0 + 0.18 * self.random.normal();
        let kw = (IDLE_KW + TONNE_KWH * worn * t_h * lumps.max(0.1)) * of_day;
        Minute { kw, kvar: 26.0 + 0.35 * (kw - IDLE_KW), state: "breaking" }
    }

    fn idle(&mut self, of_day: f64) -> Minute {
        let kw = IDLE_KW * of_day * (1.0 + 0.01 * self.random.normal());
        Minute { kw, kvar: 26.0, state: "idle" }
    }
}

fn main() -> anyhow::Result<()> {
    let mut words = std::env::args().skip(1).peekable();
    let fine = words.next_if(|word| word == "--intervals").is_some();
    let folder = words.next().unwrap_or_else(|| "target/shift-demo".to_owned());
    let days = words.next().and_then(|days| days.parse().ok()).unwrap_or(DAYS);
    let folder = Path::new(&folder);
    if fine {
        return intervals::write(&folder.join("logs"), days);
    }
    std::fs::create_dir_all(folder.join("logs"))?;
    let zone = TimeZone::get("Europe/Berlin")?;
    let mut yard = Yard {
        random: Random::new(1),
        register_kwh: 99_301.0,
        ticket: 0,
        tickets: "ticket,time,kg,material,screen,who,entered,corrects,why\n".to_owned(),
        stoppages: "from,to,reason,who\n".to_owned(),
    };
    for n in 0..days {
        let day = FIRST.checked_add(SignedDuration::from_hours(24 * n))?;
        let log = yard.day(day, n, &zone)?;
        std::fs::write(folder.join(format!("logs/{day}.csv")), &log)?;
        if n == 17 {
            std::fs::write(folder.join(format!("logs/{day}-copy.csv")), &log)?;
        }
    }
    std::fs::write(folder.join("tickets.csv"), &yard.tickets)?;
    std::fs::write(folder.join("stoppages.csv"), &yard.stoppages)?;
    std::fs::write(folder.join("site.toml"), SITE)?;
    println!(
        "{days} days in {0}; close them with\n  shaftwork shift {0}/logs --site {0}/site.toml --tickets {0}/tickets.csv --stoppages {0}/stoppages.csv --out {0}/report",
        folder.display()
    );
    Ok(())
}

impl Yard {
    /// A day's log, its tickets told beside.
    fn day(&mut self, day: Date, n: i64, zone: &TimeZone) -> anyhow::Result<String> {
        let begin = day.to_zoned_datetime(zone.clone())?.timestamp();
        let next = day.tomorrow().and_then(|next| next.to_zoned_datetime(zone.clone()))?.timestamp();
        let minutes = (next.as_second() - begin.as_second()) / 60;
        let of_day = 1.0 + OF_DAY * self.random.normal();
        let worn = 1.0 + 0.004 * (n - WORN_FROM).max(0) as f64;
        let weekday = n % 7;
        let mut log = "time,active_w,reactive_var,state,load_pct,feeder_pct,register_kwh\n".to_owned();
        let (mut fed_kg, mut rate_t_h, mut usual_t_h, mut late_min) = (0.0, 3.0, 3.0, 5);
        for minute in 0..minutes {
            let at = Timestamp::from_second(begin.as_second() + 60 * minute)?;
            let clock = zone.to_datetime(at);
            let (hour, past) = (i64::from(clock.hour()), i64::from(clock.minute()));
            let end = if weekday == 5 { 14 } else { 22 };
            let open = weekday < 6 && (6..end).contains(&hour);
            // A shift begins sooner or later and has a break at its half; its end is for cleaning.
            let shift_min = (hour - 6) % 8 * 60 + past;
            if open && shift_min == 0 {
                usual_t_h = 1.4 + 2.0 * self.random.unit();
                late_min = 5 + (100.0 * self.random.unit()) as i64;
            }
            let now = match shift_min {
                _ if !open => Minute { kw: 0.0, kvar: 0.0, state: "stopped" },
                _ if shift_min < late_min => Minute { kw: 0.0, kvar: 0.0, state: "stopped" },
                _ if shift_min == late_min => Minute { kw: 60.0, kvar: 140.0, state: "starting" },
                _ if shift_min < late_min + 10 || (225..255).contains(&shift_min) => self.idle(of_day),
                465.. => Minute { kw: 0.0, kvar: 0.0, state: "stopped" },
                _ => {
                    if past % 20 == 0 {
                        rate_t_h = usual_t_h * (0.8 + 0.4 * self.random.unit());
                    }
                    // Now and then a shift through the fine screen: slower, and dearer.
                    let (rate_t_h, dearer) = if n % 9 == 4 { (0.6 * rate_t_h, 1.5) } else { (rate_t_h, 1.0) };
                    fed_kg += rate_t_h * 1e3 / 60.0;
                    self.feed(rate_t_h, worn * dearer, of_day)
                }
            };
            self.register_kwh = (self.register_kwh + now.kw / 60.0) % 100_000.0;
            if open && fed_kg > 0.0 && (past == 55 && shift_min % 120 > 60 || shift_min == 464) {
                self.weigh(&clock.strftime("%Y-%m-%dT%H:%M").to_string(), fed_kg, n);
                fed_kg = 0.0;
            }
            // One afternoon the logger was without power; the meter was not.
            if n == 24 && (12 * 60 + 30..15 * 60 + 10).contains(&(hour * 60 + past)) {
                continue;
            }
            if open && shift_min == late_min && late_min > 30 {
                let began = Timestamp::from_second(at.as_second() - 60 * late_min)?;
                self.stopped(zone, [began, at], "late start");
            }
            if open && shift_min == 465 && n % 3 != 0 {
                self.stopped(zone, [at, Timestamp::from_second(at.as_second() + 900)?], "cleaning");
            }
            let fast_s = if n == 39 && (9 * 60..12 * 60).contains(&(hour * 60 + past)) { 420 } else { 0 };
            let end = Timestamp::from_second(at.as_second() + 60 + fast_s)?;
            let feeder_pct = if now.state == "breaking" { (30.0 * rate_t_h).min(100.0) } else { 0.0 };
            let load = now.kw * 0.93 / 55.0 * 100.0;
            let _ = writeln!(
                log,
                "{end},{:.0},{:.0},{},{load:.1},{feeder_pct:.1},{:.1}",
                now.kw * 1e3,
                now.kvar * 1e3,
                now.state,
                self.register_kwh
            );
        }
        Ok(log)
    }

    /// A stoppage as someone wrote it down.
    fn stopped(&mut self, zone: &TimeZone, span: [Timestamp; 2], reason: &str) {
        let [from, to] = span.map(|at| zone.to_datetime(at).strftime("%Y-%m-%dT%H:%M").to_string());
        let _ = writeln!(self.stoppages, "{from},{to},{reason},Wren");
    }

    fn weigh(&mut self, time: &str, kg: f64, n: i64) {
        self.ticket += 1;
        let (id, kg) = (self.ticket, kg.round());
        let kind = if n % 9 == 4 { "windings,12 mm" } else { "castings,25 mm" };
        let (entered, why) = if id == 61 { ("2026-02-26T09:10", "found in the drawer") } else { ("", "") };
        let _ = writeln!(self.tickets, "T{id},{time},{kg},{kind},Wren,{entered},,{why}");
        if n == 30 && id % 7 == 0 {
            let _ = writeln!(self.tickets, ",,{},,,Finch,{time},T{id},one box was weighed twice", kg - 212.0);
        }
    }
}
