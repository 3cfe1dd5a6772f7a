"use strict";
// Puts the page together: pictures, close-ups when they are opened, figures, colours, printing.

const groups = [];
const whole = unpack(DATA.whole);

function build(name, track) {
  const place = document.querySelector(`[data-pictures="${name}"]`);
  if (track.t.length === 0) {
    place.textContent = "Too short: there is nothing to draw.";
    return null;
  }
  const group = new Group(name, track, place);
  groups.push(group);
  return group;
}

const main = build("whole", whole);

for (const box of document.querySelectorAll("[data-close-up]")) {
  let built = false;
  const open = () => {
    if (!box.open || built) return;
    built = true;
    build(`close-up-${box.dataset.closeUp}`, unpack(DATA.close_ups[box.dataset.closeUp]));
  };
  box.addEventListener("toggle", open);
  open();
}

// A link to a close-up opens it; a link into the picture zooms there.
function follow() {
  const target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
  if (target && target.matches("details")) target.open = true;
}
addEventListener("hashchange", follow);
follow();
document.addEventListener("click", (e) => {
  const link = e.target.closest("a[data-go]");
  if (link && main) {
    const t = Number(link.dataset.go), half = Math.min(Math.max(10, 100 * whole.width), (whole.to - whole.from) / 6);
    main.zoom(t - half, t + half);
    main.point(main.charts[0], t);
  }
  const around = e.target.closest('a[href^="#close-up-"]');
  if (around) document.querySelector(around.getAttribute("href")).open = true;
});

/** The pictures as a table of so many rows: means, with lowest and highest. */
function table(track, rows) {
  const pictures = picturesOf(track), per = Math.max(1, Math.ceil(track.t.length / rows));
  const lines = pictures.flatMap((p) => p.lines.map((l) => ({ ...l, unit: p.unit })));
  const head = `<tr><th scope="col">from</th>${lines.map((l) => `<th scope="col">${l.label}, ${l.unit}</th>`).join("")}</tr>`;
  const body = [];
  for (let k = 0; k < track.t.length; k += per) {
    const cells = lines.map((l) => {
      const s = track.series[l.name];
      let low = Infinity, high = -Infinity, sum = 0, n = 0;
      for (let i = k; i < Math.min(k + per, track.t.length); i++) {
        if (s.mean[i] === null) continue;
        low = Math.min(low, s.min[i]); high = Math.max(high, s.max[i]); sum += s.mean[i]; n++;
      }
      return `<td>${n ? `${short(sum / n)} <small>${short(low)} to ${short(high)}</small>` : "–"}</td>`;
    });
    body.push(`<tr><th scope="row">${moment(track.t[k] - track.width / 2, per * track.width < 1 ? 1 : 0)}</th>${cells.join("")}</tr>`);
  }
  return `<table><thead>${head}</thead><tbody>${body.join("")}</tbody></table>`;
}
for (const box of document.querySelectorAll("[data-figures]")) {
  box.addEventListener("toggle", () => {
    const place = box.querySelector("div");
    if (box.open && !place.firstChild) place.innerHTML = table(whole, 60);
  });
}

addEventListener("theme", () => { for (const group of groups) group.redraw(); });

// For whoever times the page: milliseconds from navigation to the pictures.
requestAnimationFrame(() => { root.dataset.readyMs = Math.round(performance.now()); });
