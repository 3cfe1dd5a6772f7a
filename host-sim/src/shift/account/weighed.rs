//! Weigh tickets, booked on the shift of their time.

use super::super::log::merge::Merged;
use super::super::site::{Site, Source};
use super::super::tickets::{Ticket, Tickets};
use super::{Account, NO_MATERIAL, place};
use crate::minutes::MINUTE_US;

/// Books all tickets; those outside of the period are told.
pub(super) fn book_tickets(
    (site, logs): (&Site, &Merged),
    tickets: &Tickets,
    shifts: &mut [Account],
    outside: &mut Account,
    [from, to]: [i64; 2],
    notes: &mut Vec<String>,
) {
    let (mut before, mut kg) = (0, 0.0);
    for ticket in &tickets.all {
        let minute = ticket.at_us.div_euclid(MINUTE_US);
        if !(from..to).contains(&minute) {
            before += 1;
            kg += ticket.kg;
            continue;
        }
        let account = place(shifts, outside, minute);
        let end_us = if account.date.is_some() { account.to * MINUTE_US } else { ticket.at_us };
        let sums = &mut account.sums;
        sums.tickets[0] += 1;
        sums.tickets[1] += u32::from(ticket.late(end_us, site.mass.late_after_h));
        sums.tickets[2] += ticket.corrections.len() as u32;
        if site.mass.source == Source::Tickets {
            let material = ticket.material.clone().unwrap_or_else(|| NO_MATERIAL.to_owned());
            let screen = ticket.screen.clone().unwrap_or_else(|| NO_MATERIAL.to_owned());
            *sums.pairs.entry((material.clone(), screen)).or_default() += ticket.kg / 1e3;
            *sums.tonnes.entry(material).or_default() += ticket.kg / 1e3;
            sums.weighing_u_t += weighing_u_kg(site, ticket) / 1e3;
        }
    }
    if before > 0 {
        notes.push(format!("{before} tickets of {kg} kg lie outside of the period and are not counted"));
    }
    notes.extend(no_tonnes(site, logs, tickets, before));
}

/// Why there are no tonnes where one would look for them; `outside` tickets are not of the period.
fn no_tonnes(site: &Site, logs: &Merged, tickets: &Tickets, outside: usize) -> Option<String> {
    let source = site.mass.source;
    let word = if source == Source::Log { "log" } else { "none" };
    match source {
        Source::Tickets if !tickets.given => {
            Some("no tickets given: tonnes and kWh/t are not known; give them with --tickets FILE".to_owned())
        }
        Source::Tickets if tickets.all.len() == outside => Some("no ticket falls into the period".to_owned()),
        Source::Log if !logs.mass => Some(format!(
            "mass.source is \"log\", but no log has a column mass_kg: tonnes and kWh/t are not known{}",
            if tickets.given { "; the tickets are not counted" } else { "" }
        )),
        Source::Log | Source::Nothing if tickets.given => {
            Some(format!("tickets are given but not counted, for mass.source is \"{word}\" in the site's file"))
        }
        _ => None,
    }
}

/// Standard uncertainty of a ticket by the scale's interval e: in service a scale of class III may err by e up to 500 e, 2 e up to 2000 e,
/// 3 e above (UK SI for non-automatic weighing instruments; from memory), for each of its weighings.
fn weighing_u_kg(site: &Site, ticket: &Ticket) -> f64 {
    let Some(e) = site.mass.scale_e_kg.filter(|_| ticket.kg > 0.0) else { return 0.0 };
    let limit = match ticket.kg / e {
        ..=500.0 => e,
        ..=2_000.0 => 2.0 * e,
        _ => 3.0 * e,
    };
    f64::from(site.mass.weighings).sqrt() * limit / 3f64.sqrt()
}
