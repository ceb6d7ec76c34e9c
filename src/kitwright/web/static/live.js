// A page that stays as it was when somebody far away adds to it: while it is looked at, it asks every
// few seconds for its version. When that is another one, it puts anew what has changed in the parts
// that are marked, and nothing else: what is typed, folded open or focused stays.

const EVERY = 15_000;
const place = document.querySelector("[data-version]");
const page = place.dataset.versionAt.replace(/\/version$/, ""); // a refused form stands at another address
const parts = [...document.querySelectorAll("[data-live]")];
const before = new Map(); // an element's name → its HTML as the server last made it

const nameOf = (part, child) => `${part.id} ${child.dataset.key}`;
const keyed = (part) => [...part.children].filter((child) => child.dataset.key);

function note(part) {
  before.set(part.id, part.innerHTML);
  for (const child of keyed(part)) before.set(nameOf(part, child), child.outerHTML);
}

// What a reader would lose: the focus, and folds that he has opened or closed.
function held(root) {
  const at = document.activeElement;
  const words = (fold) => fold.querySelector("summary")?.textContent;
  return {
    focus: root.contains(at) ? { href: at.getAttribute("href"), id: at.id, summary: at.matches("summary") && at.textContent } : null,
    folds: new Map([...root.querySelectorAll("details")].map((fold) => [words(fold), fold.open])),
  };
}

function giveBack(root, { focus, folds }) {
  for (const fold of root.querySelectorAll("details")) {
    const was = folds.get(fold.querySelector("summary")?.textContent);
    if (was !== undefined) fold.open = was;
  }
  if (!focus) return;
  const same = [...root.querySelectorAll("a, summary, [tabindex]")].find(
    (each) =>
      (focus.href && each.getAttribute("href") === focus.href) ||
      (focus.id && each.id === focus.id) ||
      (focus.summary && each.matches("summary") && each.textContent === focus.summary),
  );
  same?.focus({ preventScroll: true });
}

function renew(part, fresh) {
  const html = fresh.innerHTML;
  if (html === before.get(part.id)) return;
  const kept = held(part);
  if (keyed(part).length && keyed(fresh).length) {
    const own = new Map(keyed(part).map((child) => [child.dataset.key, child]));
    part.replaceChildren(
      ...[...fresh.children].map((child) => {
        const mine = own.get(child.dataset.key);
        return mine && before.get(nameOf(part, child)) === child.outerHTML ? mine : child.cloneNode(true);
      }),
    );
  } else part.replaceChildren(...[...fresh.childNodes].map((child) => child.cloneNode(true)));
  note(fresh);
  giveBack(part, kept);
}

// A form is filled by what the server knows, as long as nobody has typed there.
function refill(made) {
  for (const input of document.querySelectorAll("[data-refill] input")) {
    const fresh = made.getElementById(input.id);
    if (fresh && input.value === input.defaultValue) input.value = input.defaultValue = fresh.defaultValue;
  }
}

let asking = false;

async function look() {
  if (asking || document.visibilityState !== "visible") return;
  asking = true;
  try {
    const asked = await fetch(place.dataset.versionAt, { cache: "no-store" });
    if (!asked.ok) return;
    const { version } = await asked.json();
    if (version === place.dataset.version) return;
    const answer = await fetch(page, { cache: "no-store" });
    if (!answer.ok) return;
    const made = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const part of parts) {
      const fresh = made.getElementById(part.id);
      if (fresh) renew(part, fresh);
    }
    refill(made);
    place.dataset.version = made.querySelector("[data-version]").dataset.version;
  } catch {
    // the server is away; the page stays as it is and asks again
  } finally {
    asking = false;
  }
}

parts.forEach(note);
setInterval(look, EVERY);
document.addEventListener("visibilitychange", look);
