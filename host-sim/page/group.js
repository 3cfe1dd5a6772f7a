"use strict";
// Pictures over one stretch of time: they zoom together and share a cursor, by mouse, touch and keyboard.

/** Text of what a picture shows, for those who do not see it. */
function summary(picture, track) {
  const parts = picture.lines.map((line) => {
    const { min, mean, max } = track.series[line.name];
    let low = 0, high = 0, sum = 0, n = 0;
    max.forEach((v, k) => {
      if (v === null) return;
      if (n === 0 || min[k] < min[low]) low = k;
      if (n === 0 || v > max[high]) high = k;
      sum += mean[k]; n++;
    });
    if (n === 0) return `${line.label}: not known`;
    return `${line.label} ${short(min[low])} to ${short(max[high])} ${picture.unit}, mean ${short(sum / n)}, ` +
      `highest at ${moment(track.t[high], 1)}`;
  });
  return `${picture.title}. ${parts.join("; ")}.`;
}

class Group {
  constructor(name, track, place) {
    this.track = track;
    this.dots = Math.max(280, place.clientWidth);
    this.view = resample(track, track.from, track.to, this.dots);
    this.charts = [];
    this.tools = document.querySelector(`[data-tools="${name}"]`);
    for (const picture of picturesOf(track)) this.add(name, picture, place);
    if (this.tools) {
      this.tools.hidden = false;
      this.tools.addEventListener("click", (e) => this.act(e.target.dataset.do));
    }
    setTimeout(() => this.tell(), 0);
    new ResizeObserver(() => this.resize(place)).observe(place);
  }

  add(name, picture, place) {
    const figure = document.createElement("figure");
    const caption = document.createElement("figcaption");
    const line = (colour, dash) => `<svg width="26" height="8" aria-hidden="true"><path d="M0 4H26" stroke="var(${colour})"` +
      ` stroke-width="2.5" stroke-dasharray="${(dash ?? []).join(" ")}"/></svg>`;
    const keys = picture.lines.map((l) => `<span class="key">${line(l.colour, l.dash)} ${l.label}</span>`).join("");
    const levels = (DATA.levels[picture.levels] ?? []).map((l) =>
      `<span class="key">${line(l.trip ? "--trip" : "--level", l.trip ? [6, 4] : [2, 3])} ${l.label}: ${short(l.value)}</span>`);
    caption.innerHTML = `<b>${picture.title}</b> <span class="unit">${picture.unit}</span> ${keys}` +
      `<span class="levels">${levels.join(" ")}</span>` +
      (picture.note ? `<span class="remark">${picture.note}</span>` : "") + `<span class="reading"></span>`;
    const box = document.createElement("div");
    Object.assign(box, { className: "plot", tabIndex: 0 });
    // It takes keys, and says which.
    box.setAttribute("role", "application");
    box.setAttribute("aria-roledescription", "picture");
    box.setAttribute("aria-label", summary(picture, this.track));
    box.setAttribute("aria-keyshortcuts", "ArrowLeft ArrowRight Home End PageUp PageDown + - Escape");
    figure.append(caption, box);
    place.append(figure);
    const entry = { picture, figure, box, output: caption.querySelector(".reading") };
    entry.chart = makeChart(box, picture, this.track, `cursor-${name}`,
      { view: () => this.view, selected: (from, to) => this.zoom(from, to), moved: (u) => this.moved(entry, u) });
    this.charts.push(entry);
    box.addEventListener("keydown", (e) => this.key(e, entry));
    entry.chart.over.addEventListener("dblclick", () => this.act("all"));
    this.touch(entry);
  }

  get limits() { const { min, max } = this.charts[0].chart.scales.x; return [min, max]; }

  /** Shows the stretch from `min` to `max`, held inside the track and at least two slots wide. */
  zoom(min, max) {
    const { from, to, width } = this.track;
    const least = Math.min(4 * width, to - from);
    if (max - min < least) { const middle = (min + max) / 2; min = middle - least / 2; max = middle + least / 2; }
    if (max - min > to - from) { min = from; max = to; }
    if (min < from) { max += from - min; min = from; }
    if (max > to) { min -= max - to; max = to; }
    this.view = resample(this.track, min, max, this.dots);
    for (const { chart, picture } of this.charts) {
      chart.setData(columns(picture, this.view), false);
      chart.setScale("x", { min, max });
    }
    setTimeout(() => this.tell(), 0);
  }

  /** Says how much is shown and how finely. */
  tell() {
    const [min, max] = this.limits, place = this.tools?.querySelector(".shown");
    if (place) place.textContent = `${lasting(max - min)} shown, ${lasting(this.view.width)} a point`;
  }

  /** Where zooming goes to: the cursor, else a trip in view, else the middle. */
  get centre() {
    const [min, max] = this.limits, at = this.charts[0].chart.cursor.idx;
    if (at !== null && at !== undefined && this.charts[0].chart.cursor.left >= 0) return this.view.t[at];
    const trip = DATA.marks.find((m) => m.trip && m.t_s > min && m.t_s < max);
    return trip ? trip.t_s : (min + max) / 2;
  }

  act(what, centre = this.centre) {
    const [min, max] = this.limits, span = max - min, middle = centre;
    const share = (middle - min) / span;
    const about = (s) => this.zoom(middle - s * share, middle + s * (1 - share));
    if (what === "in") about(span / 2);
    else if (what === "out") about(span * 2);
    else if (what === "left") this.zoom(min - span / 2, max - span / 2);
    else if (what === "right") this.zoom(min + span / 2, max + span / 2);
    else if (what === "all") this.zoom(this.track.from, this.track.to);
  }

  moved(entry, u) {
    const at = u.cursor.idx;
    entry.output.textContent = at === null || at === undefined ? "" : this.reading(entry.picture, at);
  }

  /** What a picture shows at a slot. */
  reading(picture, at) {
    const { t, width, states, series } = this.view;
    if (at >= t.length) return "";
    const decimals = width < 0.1 ? 2 : width < 1 ? 1 : 0;
    const parts = picture.lines.map((l) => {
      const s = series[l.name], low = s.min[at], high = s.max[at];
      if (low === null) return `${l.label} –`;
      const apart = short(low) !== short(high);
      return `${l.label} ${short(s.mean[at])}` + (apart ? ` (${short(low)} to ${short(high)})` : "");
    });
    const held = picture.states ? STATES.filter((_, k) => states[at][k] > 0.005)
      .map((name) => { const share = states[at][STATES.indexOf(name)]; return share > 0.995 ? name : `${name} ${Math.round(share * 100)} %`; }) : [];
    const state = held.map((name) => `, ${name}`).join("");
    return `${moment(t[at], decimals)}${state}: ${parts.join(", ")} ${picture.unit}`;
  }

  /** Puts the cursor on a time, in view. */
  point(entry, t) {
    t = Math.max(this.track.from, Math.min(this.track.to, t));
    const [min, max] = this.limits, span = max - min;
    if (t < min || t > max) this.zoom(t - span / 2, t + span / 2);
    // Scales settle after the microtasks of this turn.
    setTimeout(() => {
      const at = entry.chart.valToIdx(t);
      for (const { chart } of this.charts) {
        chart.setCursor({ left: chart.valToPos(chart.data[0][at], "x"), top: 1 }, true);
      }
      say(this.reading(entry.picture, at));
    }, 0);
  }

  key(e, entry) {
    const u = entry.chart, at = u.cursor.idx ?? u.valToIdx((this.limits[0] + this.limits[1]) / 2);
    const centre = this.view.t[at], step = this.view.width * (e.shiftKey ? 20 : 1);
    const keys = {
      ArrowLeft: () => this.point(entry, centre - step), ArrowRight: () => this.point(entry, centre + step),
      Home: () => this.point(entry, this.track.from), End: () => this.point(entry, this.track.to),
      PageUp: () => this.act("left"), PageDown: () => this.act("right"),
      "+": () => this.act("in", centre), "=": () => this.act("in", centre),
      "-": () => this.act("out", centre), "−": () => this.act("out", centre),
      Escape: () => this.act("all"), 0: () => this.act("all"),
    };
    if (!keys[e.key] || e.ctrlKey || e.metaKey || e.altKey) return;
    e.preventDefault();
    keys[e.key]();
  }

  /** One finger moves the cursor, two zoom; the page still scrolls up and down. */
  touch({ chart }) {
    const over = chart.over, fingers = new Map();
    const value = (x) => chart.posToVal(x - over.getBoundingClientRect().left, "x");
    over.addEventListener("pointerdown", (e) => { if (e.pointerType === "touch") fingers.set(e.pointerId, e.clientX); });
    over.addEventListener("pointermove", (e) => {
      if (!fingers.has(e.pointerId)) return;
      const box = over.getBoundingClientRect(), others = [...fingers].filter(([id]) => id !== e.pointerId);
      if (others.length === 1) {
        const other = others[0][1], before = fingers.get(e.pointerId), fixed = value(other);
        const [min, max] = this.limits;
        if (Math.abs(e.clientX - other) > 10 && Math.abs(before - other) > 10) {
          const by = Math.abs(before - other) / Math.abs(e.clientX - other);
          this.zoom(fixed - (fixed - min) * by, fixed + (max - fixed) * by);
        }
      } else if (others.length === 0) {
        chart.setCursor({ left: e.clientX - box.left, top: e.clientY - box.top }, true);
      }
      fingers.set(e.pointerId, e.clientX);
    });
    const gone = (e) => fingers.delete(e.pointerId);
    for (const name of ["pointerup", "pointercancel", "pointerleave"]) over.addEventListener(name, gone);
  }

  resize(place) {
    const width = this.dots = Math.max(280, place.clientWidth);
    for (const { chart, figure } of this.charts) {
      if (chart.width !== width) chart.setSize({ width, height: chart.height });
      figure.classList.toggle("narrow", !roomBeside(chart));
    }
  }

  /** Draws anew, in the colours that hold now. */
  redraw() { for (const { chart } of this.charts) chart.redraw(false, true); }
}

let saying;
/** Tells those who listen rather than look, once the cursor rests. */
function say(text) {
  clearTimeout(saying);
  saying = setTimeout(() => { document.getElementById("said").textContent = text; }, 250);
}
