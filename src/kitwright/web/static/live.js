// A page that stays as it was when somebody far away adds to it: while it is looked at, it asks every
// few seconds for its version, and puts the parts that are marked in anew when that is another one.

const EVERY = 8000;
const place = document.querySelector("[data-version]");

async function look() {
  if (document.visibilityState !== "visible") return;
  try {
    const asked = await fetch(place.dataset.versionAt, { cache: "no-store" });
    const version = await asked.text();
    if (!asked.ok || version === place.dataset.version) return;
    const page = await (await fetch(location.pathname, { cache: "no-store" })).text();
    const made = new DOMParser().parseFromString(page, "text/html");
    for (const part of document.querySelectorAll("[data-live]")) {
      const fresh = made.getElementById(part.id);
      if (fresh) part.replaceChildren(...fresh.childNodes);
    }
    place.dataset.version = version;
  } catch {
    // the server is away; the page stays as it is and asks again
  }
}

setInterval(look, EVERY);
document.addEventListener("visibilitychange", look);
