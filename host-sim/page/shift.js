// What is folded is printed too.
let opened = [];
addEventListener("beforeprint", () => {
  opened = [...document.querySelectorAll("details[data-print]:not([open])")];
  for (const box of opened) box.open = true;
});
addEventListener("afterprint", () => {
  for (const box of opened) box.open = false;
});
// A link to a shift opens it.
function follow() {
  const target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
  if (target && target.matches("details")) target.open = true;
}
addEventListener("hashchange", follow);
follow();
