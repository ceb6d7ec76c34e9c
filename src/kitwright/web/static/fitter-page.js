"use strict";
// The page itself: one step at a time, its form, what stands and what waits there, and the way on.

const ORDER = every("section.stage").map((section) => section.dataset.stage);
const TO_DO = ["open", "again", "stop"];
const root = document.documentElement;
const titleOf = (stage) => pick1("h1", sectionOf(stage)).textContent;

// ── where we are: the address says it, so that the phone's own way back works ────────────

const PANELS = ["steps", "talk", "dial"];

function where() {
  const [name, view] = location.hash.slice(1).split("/");
  const last = ORDER.includes(kept().at) ? kept().at : ORDER[0];
  if (PANELS.includes(name)) return { stage: last, panel: name };
  const stage = ORDER.includes(name) ? name : last;
  return { stage, panel: "", dial: view === "dial" && worksOf(stage) === "sweep" };
}

const QUIET = 350; // the second tap of two quick ones must not hit what has come to its place
let quietUntil = 0;

function go(hash) {
  quietUntil = Date.now() + QUIET;
  if (location.hash === `#${hash}`) arrive();
  else location.hash = hash;
}

function arrive() {
  const { stage, panel } = where();
  change((now) => {
    now.at = stage;
    if (panel === "talk") now.read = newestNote();
  });
  show();
  window.scrollTo(0, 0);
  pick1("h1", panel ? document.getElementById(`panel-${panel}`) : sectionOf(stage)).focus({ preventScroll: true });
}

const newestNote = () => Math.max(0, ...state.notes.from_shop);
const unreadNotes = () => state.notes.from_shop.filter((id) => id > kept().read).length;

// ── how a stage stands on this phone ─────────────────────────────────────────────────────

const refusedAt = (stage) => waiting(stage).find((item) => item.refused);
const undoing = (stage) => waiting(stage).some((item) => item.values.undoes);

function modeOf(stage) {
  const { status, said } = state.stages[stage];
  const waits = waiting(stage);
  if (state.ended && !waits.length) return "done";
  if (refusedAt(stage)) return refusedAt(stage).values.undoes ? "done" : "form";
  if (waits.some((item) => !item.values.undoes)) return "waiting";
  if (worksOf(stage) === "verdict") return "done";
  if (draft(stage)) return "form";
  if (worksOf(stage) === "dowels" && status === "again") return "form";
  if (["open", "later"].includes(status)) return undoing(stage) || !said || status === "open" ? "form" : "done";
  return status === "again" ? "again" : "done";
}

// The next stage to do: what only waits to be sent is done as far as this phone is concerned.
function nextStage() {
  if (state.ended) return "";
  const open = (name) => TO_DO.includes(state.stages[name].status) && !waiting(name).some((item) => !item.values.undoes);
  return ORDER.find(open) ?? "result";
}

function wordOf(stage) {
  if (refusedAt(stage)) return { word: "mend it", shape: "open" };
  if (waiting(stage).length) return { word: "waits to be sent", shape: "hatched" };
  const { status, word } = state.stages[stage];
  const shapes = { within: "filled", outside: "open", "too close to call": "hatched" };
  const shape = shapes[word] ?? { done: "filled", again: "hatched", stop: "open" }[status] ?? "";
  if (status === "open" && draft(stage)) return { word: "begun", shape: "" };
  return { word: status === "stop" && word === "outside" ? "outside: stop" : word, shape };
}

function markUp(place, { word, shape }) {
  if (place.dataset.is === word + shape) return;
  place.dataset.is = word + shape;
  place.className = `state ${shape}`;
  place.replaceChildren();
  if (shape) {
    const mark = document.createElementNS(SVG, "svg");
    mark.setAttribute("class", "mark");
    mark.setAttribute("viewBox", "0 0 14 14");
    mark.setAttribute("aria-hidden", "true");
    mark.append(drawn("circle", { cx: 7, cy: 7, r: 5.6 }));
    if (shape === "hatched") mark.append(drawn("path", { d: "M3 11L11 3M1.9 8L8 1.9M6 12.1L12.1 6" }));
    place.append(mark);
  }
  place.append(word);
}

// ── sending ──────────────────────────────────────────────────────────────────────────────

function sendForm(stage) {
  const problems = missing(stage);
  if (problems.length) return setProblems(stage, problems);
  const values = { unit: dialFor(stage).unit };
  for (const [name, value] of Object.entries(gather(stage))) {
    const filled = Array.isArray(value) ? value.filter(Boolean) : value;
    if (filled.length !== 0) values[name] = filled;
  }
  return sendOff(stage, values);
}

function sendSweep(stage) {
  const problems = missing(stage);
  if (problems.length) {
    go(stage);
    return setTimeout(() => setProblems(stage, problems));
  }
  const { readings } = sweepDraft(stage);
  const places = Object.keys(readings).map(Number).sort((a, b) => a - b);
  const { unit, graduation } = dialFor(stage);
  const taken = places.map((clock) => [clock, readings[clock]]);
  return sendOff(stage, { ...gather(stage), unit, graduation, readings: taken });
}

function sendOff(stage, values) {
  if (modeOf(stage) !== "form") return; // sent by the tap before this one
  if (!enqueue(stage, values)) return notice("This phone has no keys left to send with. Connect, and try again.");
  delete filledWith[stage];
  go(stage);
  pump();
}

function takeBack(stage, key) {
  const taken = change((now) => {
    if (now.queue.some((item) => item.values.undoes === key)) return false;
    const own = now.keys.shift();
    if (!own) return false;
    now.queue.push({ key: own, stage, values: { undoes: key }, typed_at: new Date().toISOString() });
    const said = state.stages[stage].said;
    if (said) now.drafts[stage] = asDraft(said, now);
    return true;
  });
  if (taken) {
    quietUntil = Date.now() + QUIET;
    show();
    pump();
  }
}

function sendNote(call) {
  const box = document.getElementById("note");
  const text = box.value.trim();
  const said = call ? `${text ? `${text} ` : ""}Please call me.` : text;
  const error = pick1("[data-error]", box.closest(".line"));
  error.hidden = Boolean(said);
  error.textContent = said ? "" : "Write what you want to know.";
  if (!said) return box.focus();
  draftChange("note", (own) => (own.values = { said }));
  if (!enqueue("note", { said, at: kept().at })) return notice("This phone has no keys left to send with.");
  quietUntil = Date.now() + QUIET;
  box.value = "";
  show();
  pump();
}

// ── what is shown ────────────────────────────────────────────────────────────────────────

let said = "";

function notice(words) {
  said = words;
  show();
}

// A piece of HTML from the server, put in only when it is another one.
function piece(place, { tag, html }) {
  if (place.dataset.tag === tag) return;
  place.dataset.tag = tag;
  place.innerHTML = html;
  for (const time of every("time", place)) {
    const at = new Date(time.dateTime);
    time.textContent = at.toLocaleString([], { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
  }
}

function show() {
  const { stage, panel, dial: dialing } = where();
  const mode = modeOf(stage);
  root.dataset.unit = dial().unit;
  if (kept().light) root.dataset.light = kept().light;
  else delete root.dataset.light;
  document.body.classList.toggle("dialing", Boolean(dialing) && !panel && mode === "form");
  for (const name of ORDER) {
    sectionOf(name).hidden = Boolean(panel) || name !== stage;
    markUp(pick1(`[data-state-of="${name}"]`), wordOf(name));
  }
  for (const name of PANELS) document.getElementById(`panel-${name}`).hidden = panel !== name;
  for (const button of every("[data-go]")) {
    if (button.dataset.go === nextStage()) button.setAttribute("aria-current", "step");
    else button.removeAttribute("aria-current");
  }
  showStage(stage, mode, Boolean(dialing) && mode === "form");
  showPanels(panel);
  showLine();
  showNotice(stage, panel);
  showBar(stage, panel, mode, Boolean(dialing) && mode === "form");
}

function showStage(stage, mode, dialing) {
  const section = sectionOf(stage);
  markUp(pick1("[data-state]", section), wordOf(stage));
  const shown = pick1("[data-shown]", section);
  piece(shown, state.stages[stage]);
  shown.classList.toggle("going", undoing(stage));
  shown.hidden = dialing || (mode === "form" && Boolean(draft(stage)?.values.readings)) || mode === "waiting";
  const words = pick1(".words", section);
  words.hidden = dialing;
  const fold = mode === "form" ? "open" : "folded";
  if (words.dataset.fold !== fold) {
    words.dataset.fold = fold;
    words.open = mode === "form";
  }
  const form = formOf(stage);
  buildForm(stage, form);
  form.hidden = mode !== "form" || dialing || !fieldsOf(stage).length;
  if (mode === "form") {
    fill(stage);
    showProblems(stage);
    showHours(form);
  }
  const box = pick1("[data-dial]", section);
  if (box) {
    box.hidden = !dialing;
    if (dialing) dialShow(box, stage);
  }
  showWaiting(stage, mode, pick1("[data-waiting]", section));
}

function showWaiting(stage, mode, place) {
  const items = waiting(stage);
  const made = JSON.stringify([items, linked, sending, mode]);
  if (place.dataset.made === made) return;
  place.dataset.made = made;
  place.hidden = items.length === 0;
  place.replaceChildren(...items.map((item) => waitingItem(item, mode)));
}

function labelOf(stage, where) {
  const label = fieldsOf(stage).find((field) => field.name === where)?.label;
  return label ? `${label}: ` : "";
}

function waitingItem(item) {
  const box = el("div", { class: "waiting" });
  if (item.refused) {
    box.append(
      el("p", {}, el("strong", {}, "Not kept. "), item.values.undoes ? "It could not be taken back: " : "Mend this and send it again: "),
      el("ul", {}, ...item.refused.map((each) => el("li", {}, labelOf(item.stage, each.where), lineOf(each, true)))),
      el("p", { class: "soft" }, "What you sent after it waits until this is mended or set aside."),
      el("button", { type: "button", "data-aside": item.key }, "Set it aside"),
    );
    return box;
  }
  const how = linked ? "On its way to the shop." : "No line. It is kept on this phone and sent when the line is back.";
  box.append(el("p", {}, item.values.undoes ? `Taking it back. ${how}` : how));
  if (item.values.readings) {
    box.append(el("p", { class: "also" }, asRead(Object.fromEntries(item.values.readings), item.values.unit)));
  }
  if (item.fault) {
    box.append(
      el("p", {}, `The shop's server failed at this: ${item.fault}. It is tried again.`),
      el("button", { type: "button", "data-aside": item.key }, "Set it aside"),
    );
  } else if (!item.values.undoes) box.append(el("button", { type: "button", "data-out": item.key }, "Change it"));
  return box;
}

function showPanels(panel) {
  piece(pick1("[data-notes]"), state.notes);
  const notes = waiting("note");
  pick1("[data-notes-waiting]").replaceChildren(
    ...notes.map((item) =>
      el(
        "div",
        { class: "note fitter" },
        el("p", { class: "soft" }, item.refused ? item.refused.map((each) => lineOf(each)).join(" ") : "You, waits to be sent"),
        el("p", { class: "words" }, item.values.said),
        item.refused ? el("button", { type: "button", "data-aside": item.key }, "Set it aside") : null,
      ),
    ),
  );
  const box = document.getElementById("note");
  if (document.activeElement !== box) box.value = draft("note")?.values.said ?? "";
  pick1("[data-dial-words]").textContent = kept().dial
    ? `Dial: ${dial().graduation} ${dial().unit} a graduation, ${dial().places} places.`
    : "No dial chosen yet.";
  pick1("[data-light]").textContent = lightNow() === "day" ? "Night light" : "Day light";
  if (panel === "dial") {
    const place = pick1("[data-dial-choices]");
    const made = JSON.stringify(kept().dial);
    if (place.dataset.made !== made) {
      place.dataset.made = made;
      place.replaceChildren(...dialChoices(dialChosen));
    }
  }
}

function dialChosen() {
  show();
  poll();
}

function showLine() {
  const count = kept().queue.length;
  const place = pick1("[data-line-state]");
  const words = shut
    ? "link closed"
    : !linked
      ? count
        ? `no line, ${count} kept here`
        : "no line"
      : kept().queue[0]?.refused
        ? "one thing to mend"
        : count
          ? `sending ${count}`
          : "all sent";
  if (place.textContent !== words) place.textContent = words;
  place.className = `line-state ${shut || !linked ? "off" : count ? "busy" : ""}`;
}

function showNotice(stage, panel) {
  const place = pick1("[data-notice]");
  const stuck = kept().queue[0]?.refused ? kept().queue[0] : null;
  if (panel === "talk" && unreadNotes()) change((now) => (now.read = newestNote()));
  const unread = unreadNotes();
  let made = null;
  if (shut) made = [`${shut} What you typed stays on this phone.`, null];
  else if (!keeps) made = ["This phone keeps nothing when the page is closed. Send before you close it.", null];
  else if (stuck && stuck.stage !== "note" && stuck.stage !== stage) {
    made = [`What you sent at “${titleOf(stuck.stage)}” cannot be used.`, ["Mend it", stuck.stage]];
  } else if (unread) made = ["The shop wrote to you.", ["Read it", "talk"]];
  else if (newer && linked) made = ["There is a newer page.", ["Load it", ""]];
  else if (said) made = [said, null];
  const is = JSON.stringify(made);
  const news = pick1("[data-news]");
  news.hidden = !unread;
  news.textContent = `${unread} new`;
  if (place.dataset.made === is) return;
  place.dataset.made = is;
  place.hidden = !made;
  if (!made) return;
  const [words, way] = made;
  const button = way && el("button", { type: "button", onclick: () => (way[1] ? go(way[1]) : loadNewer()) }, way[0]);
  place.replaceChildren(el("p", {}, words), ...(button ? [button] : []));
}

// The page is loaded anew only when the server has just answered.
async function loadNewer() {
  await poll();
  if (linked && !shut) location.reload();
}

function showBar(stage, panel, mode, dialing) {
  const button = pick1("[data-do]");
  const [words, act, plain] = actionOf(stage, panel, mode, dialing);
  button.textContent = words;
  button.onclick = act;
  button.disabled = !act;
  button.classList.toggle("do", !plain);
  const at = ORDER.indexOf(stage);
  pick1("[data-back]").hidden = Boolean(panel);
  pick1("[data-forth]").hidden = Boolean(panel) || dialing;
  pick1("[data-back]").disabled = !dialing && at === 0;
  pick1("[data-forth]").disabled = at === ORDER.length - 1;
  pick1(".bar").hidden = false;
}

function onward(stage) {
  const next = nextStage();
  if (!next || next === stage) {
    const after = ORDER[ORDER.indexOf(stage) + 1];
    return after ? [`On: ${titleOf(after)}`, () => go(after), true] : ["Steps", () => go("steps"), true];
  }
  return [`Next: ${titleOf(next)}`, () => go(next)];
}

function actionOf(stage, panel, mode, dialing) {
  const works = worksOf(stage);
  if (panel === "dial") return kept().dial ? ["This is my dial", () => go(`${kept().at}${works === "sweep" ? "/dial" : ""}`)] : ["Choose your dial", null];
  if (panel) return ["Back to the step", () => go(kept().at), true];
  if (mode === "waiting") return onward(stage);
  if (mode === "again") return [`${works === "sweep" ? "Sweep" : "Do"} it again`, () => beginAgain(stage)];
  if (mode === "done") {
    return state.stages[stage].status === "stop" ? ["Write to the shop", () => go("talk")] : onward(stage);
  }
  if (works === "sweep") return dialing ? dialAction(stage) : ["To the dial", () => toDial(stage)];
  if (works === "dowels") return ["Send what is in", () => sendForm(stage)];
  if (works === "result") return ["Send the result", () => sendForm(stage)];
  return ["Done: send it", () => sendForm(stage)];
}

function toDial(stage) {
  const problems = missing(stage);
  if (problems.length) return setProblems(stage, problems);
  if (!kept().dial && !readCount(stage)) return go("dial");
  return go(`${stage}/dial`);
}

function dialAction(stage) {
  if (allRead(stage)) return [`Send ${readCount(stage)} readings`, () => sendSweep(stage)];
  const next = nextPlace(stage);
  if (next === null) return ["Read this place", null];
  const act = () => {
    draftChange(stage, (own) => (own.values.at = next));
    show();
  };
  return [`Next place: ${hour(next)}`, act];
}

function beginAgain(stage) {
  const was = state.stages[stage].said;
  change((now) => {
    const begun = was ? asDraft(was, now) : { values: {}, dial: dialNow(now) };
    if (worksOf(stage) === "sweep") {
      delete begun.values.readings;
      delete begun.values.together;
    }
    now.drafts[stage] = begun;
  });
  go(stage);
}

// ── light ────────────────────────────────────────────────────────────────────────────────

const dark = window.matchMedia("(prefers-color-scheme: dark)");
const lightNow = () => kept().light || (dark.matches ? "night" : "day");

// ── begin ────────────────────────────────────────────────────────────────────────────────

document.addEventListener("input", (event) => {
  if (event.target.id === "note") draftChange("note", (own) => (own.values = { said: event.target.value }));
  else formChanged(event);
});
document.addEventListener("submit", (event) => event.preventDefault());
document.addEventListener(
  "click",
  (event) => {
    if (Date.now() < quietUntil && event.target.closest(".bar, [data-undo], [data-note-send], [data-call]")) {
      event.preventDefault();
      event.stopPropagation();
    }
  },
  true,
);
document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  if (!button) return;
  const { stage } = where();
  const data = button.dataset;
  if (data.open) go(data.open);
  else if (data.go) go(data.go);
  else if (data.undo) takeBack(stage, data.undo);
  else if (data.out) {
    takeOut(data.out);
    delete filledWith[stage];
    show();
  } else if (data.aside) {
    change((now) => {
      for (const own of Object.values(now.drafts)) if (own.key === data.aside) delete own.key;
    });
    dropItem(data.aside);
    show();
    pump();
  } else if ("noteSend" in data) sendNote(false);
  else if ("call" in data) sendNote(true);
  else if ("dialSet" in data) go("dial");
  else if ("light" in data) {
    change((now) => (now.light = lightNow() === "day" ? "night" : "day"));
    show();
  } else if ("back" in data) {
    const at = ORDER.indexOf(stage);
    go(document.body.classList.contains("dialing") ? stage : ORDER[Math.max(0, at - 1)]);
  } else if ("forth" in data) go(ORDER[Math.min(ORDER.length - 1, ORDER.indexOf(stage) + 1)]);
});
window.addEventListener("hashchange", arrive);
dark.addEventListener("change", show);

pick1(".steps").append(
  ...ORDER.map((name) =>
    el("li", {}, el("button", { type: "button", "data-go": name }, titleOf(name), el("span", { "data-state-of": name }))),
  ),
);
begin();
show();
listen();
root.dataset.ready = "yes";
