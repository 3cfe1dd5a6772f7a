//! Published values and physical relations, checked from outside. One binary, a module a subject.

mod day;
mod elements;
mod ieee1459;
mod inside_delta;
mod live;
mod machines;
mod machines_energy;
mod machines_trips;
mod measured_table;
mod properties;
mod rotation;
mod thermal;
mod tracking;
mod transducers;
mod trip_study;
mod trip_times;
mod two_speeds;
mod two_wattmeters;
mod unbalance;
mod wedges;
mod wiring;
