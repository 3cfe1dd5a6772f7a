use super::*;

pub(crate) const GOOD: &str = r#"
[site]
name = "Quillbrook Yard"
zone = "Europe/Berlin"
boundary = ["mill", "feeder"]
materials = ["castings", "windings"]
screens = ["25 mm", "12 mm"]
[[shift]]
name = "early"
start = "06:00"
end = "14:00"
[[shift]]
name = "late"
start = "14:00"
end = "22:00"
[[shift]]
name = "night"
start = "22:00"
end = "06:00"
[motor]
rated_kw = 55
idle_kw = 14
starts_per_hour = 4
[meter]
error_pct = 1
current_transformer_pct = 1
[mass]
error_pct = 1
[tariff]
currency = "EUR"
per_kwh = 0.20
demand_block_min = 15
per_demand_month = 10
[[tariff.band]]
name = "peak"
from = "08:00"
to = "20:00"
days = ["mon", "tue", "wed", "thu", "fri"]
per_kwh = 0.30
"#;

pub(crate) fn good() -> Site {
    parse(GOOD, "site.toml").unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn a_site_is_read() {
    let site = good();
    assert_eq!((site.name.as_str(), site.calendar.rules.len()), ("Quillbrook Yard", 3));
    assert_eq!(site.boundary, [Part::Mill, Part::Feeder]);
    assert_eq!((site.meter.register_digits, site.mass.weighings), (6, 2));
    let tariff = site.tariff.unwrap();
    let at = |text: &str| tariff.at(text.parse().unwrap());
    assert_eq!(at("2026-03-02T08:00"), (Some(0), 0.30));
    assert_eq!((at("2026-03-02T20:00"), at("2026-03-01T12:00")), ((None, 0.20), (None, 0.20)));
}

/// A band over midnight belongs to the day on which it begins.
#[test]
fn a_band_over_midnight() {
    let text = GOOD.replace("from = \"08:00\"\nto = \"20:00\"", "from = \"22:00\"\nto = \"06:00\"");
    let tariff = parse(&text, "s").unwrap().tariff.unwrap();
    let at = |text: &str| tariff.at(text.parse().unwrap()).0;
    assert_eq!((at("2026-03-06T23:00"), at("2026-03-07T05:59"), at("2026-03-07T06:00")), (Some(0), Some(0), None));
    assert_eq!((at("2026-03-07T23:00"), at("2026-03-02T03:00")), (None, None));
}

#[test]
fn what_is_wrong_has_place_and_cure() {
    for (from, to, parts) in [
        ("Europe/Berlin", "Europe/Berlim", ["key site.zone", "did you mean \"Europe/Berlin\"?"]),
        ("start = \"06:00\"", "start = \"6\"", ["key shift[1].start", "a time of day"]),
        ("start = \"06:00\"", "start = \"05:00\"", ["overlap", "counted twice"]),
        ("rated_kw = 55", "rated_kw = 0", ["motor.rated_kw", "above 0"]),
        ("rated_kw = 55", "rated_kW = 55", ["motor.rated_kW", "did you mean rated_kw?"]),
        ("demand_block_min = 15", "demand_block_min = 7", ["demand_block_min: 7", "a divisor of 60"]),
        ("\"feeder\"", "\"feder\"", ["boundary", "did you mean \"feeder\"?"]),
        ("\"mon\", ", "\"monday\", ", ["band[1].days", "\"mon\""]),
        ("[mass]", "[baseline]\nfrom = \"2026-01-01\"\n[mass]", ["baseline.from", "from and to"]),
        ("[mass]", "[baseline]\n[mass]", ["baseline", "from and to"]),
        (
            "[mass]",
            "[[change]]\nat = \"2026-03-29T02:30\"\nwhat = \"hammers\"\nwho = \"A\"\n[mass]",
            ["change[1].at", "comes once"],
        ),
        (
            "[mass]",
            "[[change]]\nat = \"2026-03-28T02:30\"\nwhat = \"meter\"\nwho = \"A\"\n[mass]",
            ["change[1].what", "last_kwh"],
        ),
        (
            "[mass]",
            "[[change]]\nat = \"2026-03-28T02:30\"\nto = \"2026-03-28T01:30\"\nfast_s = 5\nwhy = \"a\"\nwhat = \"clock\"\nwho = \"A\"\n[mass]",
            ["change[1].what", "to (after at)"],
        ),
    ] {
        let faults = parse(&GOOD.replacen(from, to, 1), "site.toml").unwrap_err();
        assert_eq!(faults.0.len(), 1, "{to}: {faults}");
        for part in parts {
            assert!(faults.to_string().contains(part), "{part}: {faults}");
        }
    }
}
