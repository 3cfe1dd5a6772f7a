"use strict";
// Colours: as the system has it, until the button is pressed; always light on paper. What is folded is printed too.
const dark = matchMedia("(prefers-color-scheme: dark)");
const root = document.documentElement, button = document.getElementById("theme");
let chosen = null, opened = [];
function paint(theme) {
  root.dataset.theme = theme;
  button.textContent = theme === "dark" ? "Light" : "Dark";
}
const current = () => chosen ?? (dark.matches ? "dark" : "light");
button.hidden = false;
button.addEventListener("click", () => { chosen = current() === "dark" ? "light" : "dark"; paint(chosen); });
dark.addEventListener("change", () => paint(current()));
paint(current());
addEventListener("beforeprint", () => {
  paint("light");
  opened = [...document.querySelectorAll("details[data-print]:not([open])")];
  for (const box of opened) box.open = true;
});
addEventListener("afterprint", () => {
  paint(current());
  for (const box of opened) box.open = false;
});
// A link to a shift opens it.
function follow() {
  const target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
  if (target && target.matches("details")) target.open = true;
}
addEventListener("hashchange", follow);
follow();
