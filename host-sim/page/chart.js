"use strict";
// One picture: bands from lowest to highest with the mean as a line, levels across, events as uprights.

const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const HEIGHT = { load: 260, thermal: 150, speed: 150, mass: 140, unbalance: 140, frequency: 120, factor: 120, distortion: 130 };
const STRIP = 16; // height of the strip of states, px

/** The range of a picture's upright axis: what is known in view, the levels that are near, and 0 where it belongs. */
function range(picture, levels, low, high) {
  if (low === null || high === null || low > high) [low, high] = [0, 1];
  if (picture.least && high - low < picture.least) [low, high] = [(low + high - picture.least) / 2, (low + high + picture.least) / 2];
  if (picture.zero) [low, high] = [Math.min(low, 0), Math.max(high, 0)];
  const most = Math.max(Math.abs(low), Math.abs(high));
  const reach = picture.always ? Infinity : picture.zero ? 2 * most : high - low + 0.2 * most;
  for (const { value } of levels) {
    if (value > high && value - high <= reach) high = value;
    if (value < low && low - value <= reach) low = value;
  }
  const room = (high - low || most || 1) * 0.06;
  // The strip of states stands below 0, clear of the lines.
  if (picture.states) return [low - room - ((high - low) * (STRIP + 4)) / HEIGHT.load, high + room];
  return [picture.zero && low >= 0 ? 0 : low - room, high + room];
}

/** Figures of an axis: as many decimals as its steps need. */
function ticks(splits, step) {
  const places = Math.min(6, Math.max(0, -Math.floor(Math.log10(step) + 1e-9)));
  return splits.map((v) => (v === null ? "" : v.toFixed(places)));
}

/** Whether a picture is wide enough for names beside it. */
const roomBeside = (u) => u.width > 700;

/** What is written over a line is readable all the same. */
function halo(ctx, text, x, y) {
  ctx.save();
  ctx.strokeStyle = css("--paper");
  ctx.lineWidth = 4 * devicePixelRatio;
  ctx.setLineDash([]);
  ctx.lineJoin = "round";
  ctx.strokeText(text, x, y);
  ctx.restore();
}

/** What came after a trip: the recorded motor went on, a tripped one would not have. */
function drawAfter(u) {
  const { ctx } = u, { left, top, width, height } = u.bbox, dot = devicePixelRatio;
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top, width, height);
  ctx.clip();
  for (const { from_s, to_s } of DATA.after) {
    const x = u.valToPos(from_s, "x", true), to = u.valToPos(to_s, "x", true);
    if (to < left || x > left + width) continue;
    ctx.fillStyle = css("--after");
    ctx.fillRect(x, top, Math.max(to - x, dot), height);
  }
  ctx.restore();
}

/** Lines across, each with its name beside the picture; where there is no room the names stand above it. */
function drawLevels(u, levels, beside) {
  const { ctx } = u, { left, top, width, height } = u.bbox, dot = devicePixelRatio;
  const least = u.scales.y.min, most = u.scales.y.max;
  const seen = levels.filter((l) => l.value >= least && l.value <= most).sort((a, b) => b.value - a.value);
  ctx.save();
  ctx.font = `${11 * dot}px system-ui, sans-serif`;
  ctx.textBaseline = "middle";
  ctx.textAlign = "left";
  let free = top + 5 * dot;
  for (const l of seen) {
    const y = Math.round(u.valToPos(l.value, "y", true)) + 0.5;
    ctx.strokeStyle = ctx.fillStyle = css(l.trip ? "--trip" : "--level");
    ctx.lineWidth = dot;
    ctx.setLineDash(l.trip ? [6 * dot, 4 * dot] : [2 * dot, 3 * dot]);
    ctx.beginPath();
    ctx.moveTo(left, y);
    ctx.lineTo(left + width, y);
    const text = `${l.label}: ${short(l.value)}`, at = Math.max(y, free);
    if (beside) ctx.lineTo(left + width + 8 * dot, at);
    ctx.stroke();
    if (beside) ctx.fillText(text, left + width + 11 * dot, at);
    free = at + 13 * dot;
  }
  ctx.restore();
}

function drawMarks(u, withLabels) {
  const { ctx } = u, { left, top, width, height } = u.bbox, dot = devicePixelRatio;
  ctx.save();
  ctx.font = `${11 * dot}px system-ui, sans-serif`;
  ctx.textBaseline = "top";
  ctx.textAlign = "left";
  let free = -Infinity, last = -Infinity;
  for (const m of DATA.marks) {
    const x = Math.round(u.valToPos(m.t_s, "x", true)) + 0.5;
    if (x < left || x > left + width) continue;
    ctx.strokeStyle = ctx.fillStyle = css(m.trip ? "--trip" : "--mark");
    ctx.lineWidth = (m.trip ? 2 : 1) * dot;
    ctx.setLineDash(m.trip ? [] : [3 * dot, 3 * dot]);
    ctx.beginPath();
    // Where they crowd, all but trips shrink to ticks at the top.
    const crowded = x - last < 8 * dot;
    last = x;
    ctx.moveTo(x, top);
    ctx.lineTo(x, top + (m.trip || !crowded ? height : 6 * dot));
    ctx.stroke();
    if (!withLabels) continue;
    const text = m.trip ? `trip: ${m.label}` : m.label, w = ctx.measureText(text).width;
    const flip = x + w + 6 * dot > left + width;
    const from = flip ? x - w - 4 * dot : x + 4 * dot;
    if (from < free) continue;
    halo(ctx, text, from, top + 2 * dot);
    ctx.fillText(text, from, top + 2 * dot);
    free = from + w + 6 * dot;
  }
  ctx.restore();
}

/** A strip along the bottom with the states that held, one colour a state, by their shares of the time. */
function drawStates(u, track) {
  const { ctx } = u, { left, top, width, height } = u.bbox, dot = devicePixelRatio;
  const y = top + height - STRIP * dot, inks = STATES.map((name) => css(`--state-${name}`));
  ctx.save();
  ctx.beginPath();
  ctx.rect(left, top, width, height);
  ctx.clip();
  ctx.font = `${10 * dot}px system-ui, sans-serif`;
  ctx.textBaseline = "middle";
  ctx.textAlign = "center";
  for (let k = 0; k < track.t.length; ) {
    const state = stateOf(track.states[k]);
    let end = k + 1;
    while (state !== null && end < track.t.length && stateOf(track.states[end]) === state) end++;
    const x = u.valToPos(track.t[k] - track.width / 2, "x", true);
    const to = u.valToPos(track.t[end - 1] + track.width / 2, "x", true), wide = Math.max(to - x, 1);
    let at = y + STRIP * dot;
    track.states[k].forEach((share, s) => {
      const part = (state === null ? share : Number(STATES[s] === state)) * STRIP * dot;
      if (part === 0) return;
      ctx.fillStyle = inks[s];
      ctx.fillRect(x, (at -= part), wide, part);
    });
    const from = Math.max(x, left), room = Math.min(to, left + width) - from;
    if (state !== null && room > ctx.measureText(state).width + 8 * dot) {
      ctx.fillStyle = css(`--state-${state}-ink`);
      ctx.fillText(state, from + room / 2, y + (STRIP / 2 + 0.5) * dot);
    }
    k = end;
  }
  ctx.restore();
}

/** The columns of a picture: times, then highest, lowest and mean of each line. */
const columns = (picture, track) => [track.t,
  ...picture.lines.flatMap(({ name }) => { const s = track.series[name]; return [s.max, s.min, s.mean]; })];

/** Makes a picture in `place`; `hooks` has `view()`, the track as it is drawn now, `selected(from, to)` and `moved(u)`. */
function makeChart(place, picture, track, sync, hooks) {
  const levels = DATA.levels[picture.levels] || [];
  const width = Math.max(280, place.clientWidth);
  const series = [{}], bands = [];
  picture.lines.forEach((line) => {
    const at = series.length;
    const edge = { stroke: () => css(line.colour) + "80", width: 0.75, points: { show: false } };
    series.push({ ...edge, label: line.label }, edge,
      { stroke: () => css(line.colour), width: 1.5, points: { show: false }, dash: line.dash });
    bands.push({ series: [at, at + 1], fill: () => css(line.colour) + "40" });
  });
  const axis = { stroke: () => css("--ink"), grid: { stroke: () => css("--grid"), width: 1 },
    ticks: { stroke: () => css("--grid"), width: 1 }, font: "12px system-ui, sans-serif" };
  const chart = new uPlot({
    width, padding: [8, (u) => (roomBeside(u) ? 158 : 8), 0, 0], height: HEIGHT[picture.id] || 190,
    legend: { show: false },
    scales: { x: { time: false, min: track.from, max: track.to }, y: { range: (_, low, high) => range(picture, levels, low, high) } },
    axes: [
      { ...axis, incrs: STEPS, space: 70, size: 34,
        values: (_, splits, __, ___, step) => splits.map((t) => moment(t, step < 0.01 ? 3 : step < 0.1 ? 2 : step < 1 ? 1 : 0)) },
      { ...axis, size: 62, values: (_, splits, __, ___, step) => ticks(splits, step),
        // Below 0 there is only the strip of states, unless power flows back.
        filter: (u, splits) => (picture.states && u.scales.y.min > -0.3 * u.scales.y.max ? splits.map((v) => (v < 0 ? null : v)) : splits) },
    ],
    series, bands,
    // Dragging selects; what is selected is shown by all pictures of the group.
    cursor: { y: false, bind: { dblclick: () => null }, sync: { key: sync, setSeries: false }, drag: { x: true, y: false, setScale: false },
      points: { size: 6, fill: (_, k) => (k % 3 === 0 ? css(picture.lines[k / 3 - 1].colour) : "transparent"),
        show: (u, k) => { const e = document.createElement("div"); e.className = "u-cursor-pt";
          if (k % 3) e.style.display = "none"; return e; } } },
    hooks: {
      drawClear: [drawAfter],
      drawAxes: [(u) => { if (picture.states) drawStates(u, hooks.view()); }],
      draw: [(u) => { drawMarks(u, picture.id === "load"); drawLevels(u, levels, roomBeside(u)); }],
      setSelect: [(u) => { if (u.select.width > 3) hooks.selected(u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x")); u.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false); }],
      setCursor: [(u) => hooks.moved(u)],
    },
  }, columns(picture, hooks.view()), place);
  return chart;
}
