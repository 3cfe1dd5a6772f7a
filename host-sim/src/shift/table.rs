//! `shifts.csv`: a row for each shift, what is outside of them, and the whole.

use super::report::Report;

/// The table.
///
/// # Errors
/// It cannot be made.
pub fn csv(report: &Report) -> anyhow::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let rows = report.shifts.iter().chain([&report.outside, &report.whole]);
    // In the order of the struct: a map of JSON would sort them.
    let order = columns();
    writer.write_record(&order)?;
    for row in rows {
        let value = serde_json::to_value(row)?;
        writer.write_record(order.iter().map(|name| {
            if *name == "trips_total" {
                return row.trips.as_ref().map(|trips| trips.values().sum::<u32>().to_string()).unwrap_or_default();
            }
            match &value[*name] {
                serde_json::Value::Null => String::new(),
                serde_json::Value::String(text) => text.clone(),
                serde_json::Value::Object(map) => {
                    map.iter().map(|(name, x)| format!("{name} {x}")).collect::<Vec<_>>().join("; ")
                }
                other => other.to_string(),
            }
        }))?;
    }
    Ok(writer.into_inner()?)
}

/// The columns in order.
fn columns() -> Vec<&'static str> {
    const ALL: &str = "shift crew date from to from_utc to_utc elapsed_h breaking_h idle_h starting_h coasting_h stopped_h stopped_by_reason_h unknown_h \
        feed_stopped_h measured_h bridged_h estimated_h missing_h kwh kwh_band measured_kwh bridged_kwh estimated_kwh breaking_kwh \
        idle_kwh starting_kwh other_kwh exported_kwh net_kwh net_kwh_band kvarh power_factor t t_band tickets late_tickets corrections \
        t_per_h hammers hammers_since hammers_run_h hammers_t gross_kwh_per_t gross_band_kwh_per_t net_kwh_per_t net_band_kwh_per_t load_mean_pct load_p95_pct load_peak_1s_pct \
        above_100_min feed_mean_pct feed_at_100_min demand_block_kw demand_block_at demand_block_kva demand_sliding_kw demand_sliding_at demand_sliding_kva \
        demand_unknown_blocks load_factor clock_corrections register_rollovers starts feed_stops reversals trips_total expected_kwh deviation_kwh deviation_pct cusum_kwh \
        energy_cost idle_cost idle_spells_to_stop idle_spells_kwh";
    ALL.split_whitespace().collect()
}

#[cfg(test)]
mod tests {
    use super::super::figures::Row;
    use super::*;

    /// Lists and reasons are in the JSON output.
    const LISTS: [&str; 4] = ["materials", "trips", "by_band_kwh", "why"];

    /// No figure of a row is left out but what is a list.
    #[test]
    fn every_figure_has_a_column() {
        let value = serde_json::to_value(Row::default()).unwrap();
        let columns = columns();
        for name in value.as_object().unwrap().keys() {
            assert!(columns.contains(&name.as_str()) || LISTS.contains(&name.as_str()), "{name}");
        }
        assert!(columns.iter().all(|name| *name == "trips_total" || value.get(name).is_some()));
    }
}
