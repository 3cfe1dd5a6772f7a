"use strict";
// Which pictures there are: name, unit, lines, levels.

const PHASES = ["--phase-1", "--phase-2", "--phase-3"];
const PHASE_DASH = [undefined, [10, 4], [2, 3]];
const three = (stem, labels) => labels.map((label, k) =>
  ({ name: `${stem}_${k + 1}`, label, colour: PHASES[k], dash: PHASE_DASH[k] }));

const VOLTAGES = DATA.voltages === "neutral" ? ["Va", "Vb", "Vc"] : ["Vab", "Vbc", "Vca"];

const PICTURES = [
  { id: "load", title: "Load", unit: "kW", levels: "load", zero: true, states: true, lines: [
    { name: "shaft_kw", label: "shaft power", colour: "--line-1" },
    { name: "active_kw", label: "power taken in", colour: "--line-2", dash: [3, 3] },
    { name: "net_kw", label: "net power, for the eye", colour: "--line-4", dash: [8, 3],
      note: "Net power, for the eye: shaft power less that of the empty mill at that speed, idle(speed), and less what " +
        "speeds up the rotor; once an interval. Energies are reckoned otherwise." }],
    note: "≈ a trip's current, as the steady shaft power that belongs to it at rated voltage. " +
      "Above 10 % of slip (starts, stalls) shaft power is an upper estimate unless the locked rotor's torque is known." },
  { id: "current", title: "Currents", unit: "A", levels: "current", zero: true,
    lines: three("current_a", ["Ia", "Ib", "Ic"]) },
  { id: "voltage", title: DATA.voltages === "neutral" ? "Voltages, phase to neutral" : "Voltages, line to line",
    unit: "V", levels: "voltage", zero: false, lines: three("voltage_v", VOLTAGES) },
  { id: "thermal", title: "Thermal image", unit: "% of trip", levels: "thermal", zero: true, always: true, lines: [
    { name: "thermal_pct", label: "thermal image", colour: "--line-3" }] },
  { id: "speed", title: "Speed, motor shaft", unit: "rpm", levels: "speed", zero: false, lines: [
    { name: "speed_rpm", label: "speed", colour: "--line-4" }],
    note: "Without a tachometer it cannot be told above 10 % of slip, nor while coasting." },
  { id: "torque", title: "Torque, motor shaft", unit: "N m", levels: "torque", zero: true, lines: [
    { name: "torque_nm", label: "torque", colour: "--line-5" }] },
  { id: "unbalance", title: "Unbalance of the currents", unit: "%", levels: "unbalance", zero: true, lines: [
    { name: "unbalance_i_pct", label: "negative over positive sequence", colour: "--line-2" }] },
  { id: "mass", title: "Mass fed", unit: "kg", levels: "mass", zero: true, lines: [
    { name: "mass_kg", label: "mass", colour: "--line-2" }] },
  { id: "feeder", title: "Feeder speed", unit: "% of full speed", levels: "feeder", zero: true, lines: [
    { name: "feeder_pct", label: "feeder speed", colour: "--line-5" }],
    note: "What the governor tells the feeder; 0 while it waits, sounds or runs backwards." },
  { id: "frequency", title: "Frequency", unit: "Hz", levels: "frequency", zero: false, least: 0.2, lines: [
    { name: "frequency_hz", label: "frequency", colour: "--line-1" }] },
  { id: "factor", title: "Power factor", unit: "", levels: "factor", zero: true, lines: [
    { name: "power_factor", label: "power factor", colour: "--line-4" }] },
  { id: "distortion", title: "Distortion, highest phase", unit: "%", levels: "distortion", zero: true, lines: [
    { name: "thd_v_pct", label: "voltage", colour: "--line-1" },
    { name: "thd_i_pct", label: "current", colour: "--line-3", dash: [6, 3] }] },
];

/** The pictures for which a track has something to draw. */
function picturesOf(track) {
  const drawn = (p) => ({ ...p, lines: p.lines.filter((l) => track.series[l.name]) });
  const noted = (p) => ({ ...p, note: [p, ...p.lines].map((of) => of.note).filter(Boolean).join(" ") });
  return PICTURES.map(drawn).filter((p) => p.lines.length > 0).map(noted);
}
