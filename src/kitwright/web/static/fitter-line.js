"use strict";
// The line to the shop: sends what waits, one item after another, removes each only when the server
// has said that it has it, and asks from time to time what is new.

const HERE = location.pathname.replace(/\/$/, "");
const EVERY = 20_000;
const LONGEST_WAIT = 60_000;
const PATIENCE = 20_000; // on a poor line

let linked = true;
let sending = false;
let shut = ""; // what the server said of a link that no longer opens anything
let newer = false; // the server has a newer page
let pause = 2000;
let again = 0;

const lead = () => (kept().dial?.unit === "mm" ? "mm" : kept().dial ? "in" : told.lead);

// An answer of the shop's server, or an error. A garage's log-in page also answers, but not in JSON.
async function ask(path, options = {}) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), PATIENCE);
  try {
    const answer = await fetch(HERE + path, {
      cache: "no-store",
      redirect: "error",
      ...options,
      headers: { Accept: "application/json", ...options.headers },
      signal: stop.signal,
    });
    if (!answer.headers.get("content-type")?.startsWith("application/json")) throw new Error("not ours");
    return { status: answer.status, body: await answer.json() };
  } finally {
    clearTimeout(timer);
  }
}

const isShut = (status, body) => status === 410 || (status === 404 && body.problems?.[0]?.where === "link");

function sendLater() {
  clearTimeout(again);
  again = setTimeout(pump, pause * (0.75 + Math.random() / 2));
  pause = Math.min(2 * pause, LONGEST_WAIT);
}

async function pump() {
  clearTimeout(again);
  if (sending || shut) return;
  sending = true;
  try {
    for (;;) {
      const item = kept().queue[0];
      if (!item || item.refused) break;
      show();
      const { status, body } = await ask("/send", {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify({
          send_key: item.key,
          stage: item.stage,
          values: item.values,
          typed_at: item.typed_at,
          lead: lead(),
          seen: seenTags(),
          keys: wantedKeys(),
        }),
      });
      linked = true;
      if (status === 200 && body.accepted === item.key) {
        dropItem(item.key);
        pause = 2000;
        news(body);
      } else if (isShut(status, body)) {
        shut = body.lines.join(" ");
        break;
      } else if (status < 500) {
        refused(item, body.problems ?? []);
      } else {
        change((now) => now.queue.forEach((own) => own.key === item.key && (own.fault = body.lines?.[0] ?? status)));
        sendLater();
        break;
      }
    }
  } catch {
    linked = false;
    sendLater();
  } finally {
    sending = false;
    show();
  }
}

// What the server cannot use waits for the fitter. Only a key that is used up is changed here: if it
// was an earlier wording of the same item, that one is taken back first.
function refused(item, problems) {
  change((now) => {
    const own = now.queue.find((each) => each.key === item.key);
    if (!own) return;
    if (own.values.undoes && problems.some((problem) => problem.given.includes("taken back already"))) {
      now.queue = now.queue.filter((each) => each !== own);
      return;
    }
    const used = problems.find((problem) => problem.where === "send_key");
    const key = used && !own.rekeyed ? now.keys.shift() : null;
    if (!key) {
      own.refused = problems;
      if (own.stage === "note") now.drafts.note ??= { values: { said: own.values.said } };
      else if (!own.values.undoes) now.drafts[own.stage] = asDraft(own.values, now);
      const mended = now.drafts[own.stage];
      if (mended) Object.assign(mended, { key: own.key, problems });
      return;
    }
    const undo = now.keys.length && own.stage !== "note" && used.given.includes("something else");
    if (undo) {
      const values = { undoes: own.key };
      now.queue.unshift({ key: now.keys.shift(), stage: own.stage, values, typed_at: own.typed_at });
    }
    Object.assign(own, { key, rekeyed: true });
  });
}

async function poll() {
  if (shut || document.visibilityState !== "visible") return;
  const asked = new URLSearchParams({
    lead: lead(),
    version: state.version,
    seen: seenTags().join(","),
    keys: wantedKeys(),
  });
  try {
    const { status, body } = await ask(`/state?${asked}`);
    linked = true;
    if (isShut(status, body)) shut = body.lines.join(" ");
    else if (status === 200) news(body);
    if (status === 200) pump();
  } catch {
    linked = false;
  }
  show();
}

function news(body) {
  newer = Boolean(body.page) && body.page !== told.page;
  adopt(body);
}

function listen() {
  window.addEventListener("online", () => {
    pause = 2000;
    pump();
    poll();
  });
  window.addEventListener("offline", () => {
    linked = false;
    show();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") {
      pump();
      poll();
    }
  });
  window.addEventListener("storage", () => show());
  setInterval(poll, EVERY);
  pump();
  poll();
}
