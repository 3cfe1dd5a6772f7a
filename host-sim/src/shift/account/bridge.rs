//! Gaps that a register tells of.

use super::super::log::merge::{Bridge, Gap};
use super::{Account, Books, place};
use crate::audit::register::most_kwh;
use crate::minutes::MINUTE_US;

impl Books<'_> {
    /// Books what a register tells of a gap; a share of it where the gap reaches over a change of shifts.
    pub(super) fn bridge(
        &self,
        gap: &Gap,
        shifts: &mut [Account],
        outside: &mut Account,
        [from, to]: [i64; 2],
        notes: &mut Vec<String>,
    ) {
        let at = |us: i64| self.site.calendar.stamp(us.div_euclid(MINUTE_US));
        let kwh = match gap.energy {
            Bridge::Register(kwh) => kwh,
            Bridge::Missing => return,
            Bridge::Jumped([before, after]) => {
                if gap.span.from_us >= to * MINUTE_US || gap.span.to_us <= from * MINUTE_US {
                    return;
                }
                notes.push(format!(
                    "the register went from {before} to {after} kWh between {} and {}, more than the motor can have taken: was the meter changed or set? \
                     Say so with [[change]] what = \"meter\" in the site's file; until then the energy of that time is missing",
                    at(gap.span.from_us),
                    at(gap.span.to_us)
                ));
                return;
            }
        };
        let whole_us = gap.span.to_us - gap.span.from_us;
        let mut borders = vec![gap.span.from_us];
        let inside = |us: &i64| (gap.span.from_us + 1..gap.span.to_us).contains(us);
        borders.extend(
            shifts.iter().flat_map(|shift| [shift.from, shift.to]).map(|minute| minute * MINUTE_US).filter(inside),
        );
        borders.extend([from, to].map(|minute| minute * MINUTE_US).iter().filter(|us| inside(us)));
        borders.push(gap.span.to_us);
        borders.sort_unstable();
        borders.dedup();
        let one = borders.len() == 2;
        for pair in borders.windows(2) {
            let (begin, end) = (pair[0], pair[1]);
            let minute = begin.div_euclid(MINUTE_US);
            if !(from..to).contains(&minute) {
                continue;
            }
            let own_us = end - begin;
            let own_kwh = kwh * own_us as f64 / whole_us as f64;
            let sums = &mut place(shifts, outside, minute).sums;
            sums.bridges += 1;
            if one {
                sums.bridged_us += own_us;
                sums.bridged_kwh += own_kwh;
            } else {
                sums.estimated_us += own_us;
                sums.estimated_kwh += own_kwh;
                // The share lies between what the others leave and what the motor can take; all between is equally likely.
                let most = |us: i64| most_kwh(self.site.motor.rated_kw, us as f64 / 1e6);
                let least_kwh = (kwh - most(whole_us - own_us)).max(0.0);
                let width = kwh.min(most(own_us)) - least_kwh;
                sums.estimated_u_kwh = sums.estimated_u_kwh.hypot(width.max(0.0) / 12f64.sqrt());
            }
            let (first, last) = (minute, (end - 1).div_euclid(MINUTE_US));
            let each = own_kwh / own_us as f64;
            for minute in first..=last {
                let us = end.min((minute + 1) * MINUTE_US) - begin.max(minute * MINUTE_US);
                let (band, price) = self.price(minute);
                sums.by_band_kwh[band] += each * us as f64;
                sums.energy_cost += each * us as f64 * price;
            }
        }
    }
}
