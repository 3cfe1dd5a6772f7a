"use strict";
// Colours: as the system has it, until the button is pressed; always light on paper. Pictures that keep colours listen for "theme".
const dark = matchMedia("(prefers-color-scheme: dark)");
const root = document.documentElement, button = document.getElementById("theme");
let chosen = null;
function paint(theme) {
  root.dataset.theme = theme;
  button.textContent = theme === "dark" ? "Light" : "Dark";
  dispatchEvent(new Event("theme"));
}
const current = () => chosen ?? (dark.matches ? "dark" : "light");
button.hidden = false;
button.addEventListener("click", () => { chosen = current() === "dark" ? "light" : "dark"; paint(chosen); });
dark.addEventListener("change", () => paint(current()));
paint(current());
addEventListener("beforeprint", () => paint("light"));
addEventListener("afterprint", () => paint(current()));
