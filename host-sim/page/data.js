"use strict";
// The data of the page, and figures and times for people.

const DATA = JSON.parse(document.getElementById("data").textContent);
/** Whether the trace states the time of day at which it began. */
const CLOCK = DATA.clock_s !== null;
const STATES = ["stopped", "starting", "idle", "breaking", "coasting", "unknown"];

const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));

/** Codes of 16 bits, little endian, to figures; null is what is not known. */
function figures(text, low, high) {
  const b = bytes(text), out = new Array(b.length >> 1), step = (high - low) / 65534;
  for (let k = 0; k < out.length; k++) {
    const code = b[2 * k] | (b[2 * k + 1] << 8);
    out[k] = code === 65535 ? null : low + code * step;
  }
  return out;
}

/** A track: times (middles of its slots, s), states, and lowest, mean, highest of each quantity. */
function unpack(packed) {
  const t = Array.from({ length: packed.slots }, (_, k) => packed.from_s + (k + 0.5) * packed.width_s);
  const series = {}, shares = bytes(packed.states);
  for (const [name, s] of Object.entries(packed.series)) {
    const min = figures(s.min, s.low, s.high), max = figures(s.max, s.low, s.high);
    const mean = s.mean ? figures(s.mean, s.low, s.high)
      : min.map((low, k) => (low === null ? null : (low + max[k]) / 2));
    series[name] = { min, mean, max };
  }
  return { t, width: packed.width_s, from: packed.from_s, to: packed.from_s + packed.slots * packed.width_s,
    states: t.map((_, k) => fractions([...shares.subarray(6 * k, 6 * k + 6)])), series };
}

/** Shares that add up to 1; all 0 when nothing is known. */
function fractions(shares) {
  const sum = shares.reduce((a, b) => a + b, 0);
  return sum > 0 ? shares.map((s) => s / sum) : shares;
}

/** The state that all but fills a slot, else null. */
function stateOf(shares) {
  const at = shares.findIndex((s) => s > 0.9);
  return at < 0 ? null : STATES[at];
}

/** A stretch of a track in at most `most` slots: neighbours are joined, so that no peak is lost. */
function resample(track, from, to, most) {
  const n = track.t.length, slot = (t) => Math.floor((t - track.from) / track.width);
  const first = Math.max(0, slot(from) - 1), end = Math.min(n, slot(to) + 3);
  const per = Math.max(1, Math.ceil((end - first) / most)), start = Math.floor(first / per) * per;
  if (per === 1 && first === 0 && end === n) return track;
  const t = [], states = [], series = {};
  const width = track.width * per;
  for (let k = start; k < end; k += per) {
    t.push(track.from + k * track.width + width / 2);
    const shares = new Array(STATES.length).fill(0);
    for (let i = k; i < Math.min(k + per, n); i++) track.states[i].forEach((share, at) => { shares[at] += share; });
    states.push(fractions(shares));
  }
  for (const [name, s] of Object.entries(track.series)) {
    const min = [], mean = [], max = [];
    for (let k = start; k < end; k += per) {
      let low = null, high = null, sum = 0, count = 0;
      for (let i = k; i < Math.min(k + per, n); i++) {
        if (s.mean[i] === null) continue;
        if (low === null || s.min[i] < low) low = s.min[i];
        if (high === null || s.max[i] > high) high = s.max[i];
        sum += s.mean[i];
        count++;
      }
      min.push(low); max.push(high); mean.push(count ? sum / count : null);
    }
    series[name] = { min, mean, max };
  }
  return { t, width, from: track.from, to: track.to, states, series };
}

/** Four significant digits, no exponent. */
function short(x) {
  if (x === null || x === undefined || !isFinite(x)) return "–";
  const places = x === 0 ? 0 : Math.min(6, Math.max(0, 3 - Math.floor(Math.log10(Math.abs(x)))));
  const text = x.toFixed(places);
  return /[1-9]/.test(text) ? text : "0";
}

const two = (n) => String(n).padStart(2, "0");

/** A moment of the trace with so many decimals: time of day where the trace states it, else since its start. */
function moment(t, decimals) {
  const unit = 10 ** decimals;
  let n = Math.round((t + (CLOCK ? DATA.clock_s : 0)) * unit);
  const minus = n < 0 ? "−" : "";
  n = Math.abs(n);
  let s = Math.floor(n / unit);
  const rest = decimals ? "." + String(n % unit).padStart(decimals, "0") : "";
  const day = CLOCK && s >= 86400 ? ` +${Math.floor(s / 86400)}` : "";
  if (CLOCK) s %= 86400;
  const h = Math.floor(s / 3600), m = Math.floor(s / 60) % 60;
  if (CLOCK || h > 0) return `${minus}${CLOCK ? two(h) : h}:${two(m)}:${two(s % 60)}${rest}${day}`;
  return m > 0 ? `${minus}${m}:${two(s % 60)}${rest}` : `${minus}${s % 60}${rest} s`;
}

/** A length of time. */
function lasting(s) {
  if (s < 1) return `${Math.round(s * 1000)} ms`;
  if (s < 59.95) return `${Number(s.toPrecision(3))} s`;
  const whole = Math.round(s), minutes = Math.round(s / 60);
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${whole % 60} s`;
  return `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

/** Steps of a time axis that a person counts in, s. */
const STEPS = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800,
  3600, 7200, 10800, 21600, 43200, 86400];
