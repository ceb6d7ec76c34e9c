// Day or night by a switch. Without this script a page follows the system's setting.
// A choice is kept in a cookie, so that the server writes it into the page and nothing flashes;
// choosing what the system says anyway forgets it again.

const YEAR = 365 * 24 * 3600;
const root = document.documentElement;
const button = document.querySelector("[data-switch='light']");
const dark = window.matchMedia("(prefers-color-scheme: dark)");

const kept = () => /(?:^|; )light=(day|night)(?:;|$)/.exec(document.cookie)?.[1];
const system = () => (dark.matches ? "night" : "day");
const shown = () => root.dataset.light ?? system();

function say() {
  button.textContent = shown() === "day" ? "Night light" : "Day light";
}

function choose(light) {
  if (light === system()) {
    delete root.dataset.light;
    document.cookie = "light=; path=/; max-age=0; samesite=lax";
  } else {
    root.dataset.light = light;
    document.cookie = `light=${light}; path=/; max-age=${YEAR}; samesite=lax`;
  }
  say();
}

if (button) {
  const before = kept();
  if (before) root.dataset.light = before;
  say();
  button.hidden = false;
  button.addEventListener("click", () => choose(shown() === "day" ? "night" : "day"));
  dark.addEventListener("change", say);
}
