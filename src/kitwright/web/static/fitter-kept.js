"use strict";
// What this phone keeps of a fit-up: what was typed, what waits to be sent, unused send keys, the
// dial that was chosen, and the last that the server said. Everything is read afresh before it is
// changed, so that two tabs cannot undo each other's.

const SHAPE = 1; // of what is kept; another shape is set aside unread
const told = JSON.parse(document.getElementById("fit-up").textContent);
const OWN = `kitwright fit-up ${told.number}`;
const STATE = `${OWN} state`;

let memory = null; // used where the phone keeps nothing, as in some private windows
let keeps = true;

function fresh() {
  return { shape: SHAPE, drafts: {}, queue: [], keys: [], made: "", dial: null, at: "", read: 0, light: "" };
}

function readKept(name) {
  try {
    return JSON.parse(localStorage.getItem(name));
  } catch {
    return null;
  }
}

function writeKept(name, value) {
  try {
    localStorage.setItem(name, JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}

function kept() {
  if (!keeps && memory) return memory;
  const found = readKept(OWN);
  if (found?.shape === SHAPE) return found;
  if (found) writeKept(`${OWN} of shape ${found.shape}`, found);
  return fresh();
}

// Changes what is kept, gives what `act` gives.
function change(act) {
  const now = kept();
  const given = act(now);
  memory = now;
  keeps = writeKept(OWN, now);
  return given;
}

// ── what the server said ─────────────────────────────────────────────────────────────────

let state = null;

// Takes in an answer; pieces that were seen before come without their HTML.
function adopt(answer) {
  if (answer.stages) {
    const before = state;
    state = answer;
    const whole = (piece, old) => {
      piece.html ??= piece.tag ? (old?.html ?? "") : "";
    };
    for (const [name, piece] of Object.entries(state.stages)) whole(piece, before?.stages[name]);
    whole(state.notes, before?.notes);
    const { keys: _, ...rest } = state;
    writeKept(STATE, rest);
  }
  if (answer.keys?.length) change((now) => now.keys.push(...answer.keys));
}

const pieces = () => (state ? [...Object.values(state.stages), state.notes] : []);
const seenTags = () => pieces().flatMap((piece) => piece.tag || []);
const wantedKeys = () => Math.max(0, 40 - kept().keys.length);

// A page that comes out of the phone's own store has old keys and old news: neither is taken twice.
function begin() {
  const older = readKept(STATE);
  const isNew = kept().made < told.made;
  if (older && !isNew) state = older;
  const { keys, ...news } = told;
  adopt(isNew ? { ...news, keys } : older ? {} : news);
  change((now) => {
    if (isNew) now.made = told.made;
    if (!now.at) now.at = state.next || "result";
  });
}

// ── what is typed, and what waits ────────────────────────────────────────────────────────

// The dial that was chosen, or the shop's own unit until then. What was begun in one unit is ended in
// it: a draft has a dial of its own.
const dialNow = (now) =>
  now.dial ?? (told.lead === "in" ? { unit: "thou", graduation: "0.5", places: 8 } : { unit: "mm", graduation: "0.01", places: 8 });
const dial = () => dialNow(kept());
const dialFor = (stage) => ({ ...dial(), ...draft(stage)?.dial, places: dial().places });

const draft = (stage) => kept().drafts[stage] ?? null;

function draftChange(stage, act) {
  change((now) => {
    act((now.drafts[stage] ??= { values: {}, dial: dialNow(now) }));
  });
}

// Puts an item at the end of the queue, or a mended one back in its place. The second of two quick
// taps finds no draft any more.
function enqueue(stage, values) {
  return change((now) => {
    const own = now.drafts[stage];
    const key = own?.key ?? now.keys.shift();
    if (!key) return false;
    const item = { key, stage, values, typed_at: new Date().toISOString() };
    const place = now.queue.findIndex((each) => each.key === key);
    if (place < 0) now.queue.push(item);
    else now.queue[place] = item;
    delete now.drafts[stage];
    return true;
  });
}

const waiting = (stage) => kept().queue.filter((item) => item.stage === stage);

function dropItem(key) {
  change((now) => {
    now.queue = now.queue.filter((item) => item.key !== key);
  });
}

// An item that waits becomes a draft again. It keeps its key: should the server have it after all,
// sending what was changed under the same key is refused, and then it is taken back first.
function takeOut(key) {
  change((now) => {
    const item = now.queue.find((each) => each.key === key);
    if (!item) return;
    now.queue = now.queue.filter((each) => each !== item);
    if (item.stage === "note") now.drafts.note = { values: { said: item.values.said }, key };
    else if (!item.values.undoes) now.drafts[item.stage] = { ...asDraft(item.values, now), key };
  });
}

// What was sent, as a draft: readings by their place.
function asDraft(said, now) {
  const { readings, unit, graduation, ...rest } = said;
  const values = readings ? { ...rest, readings: Object.fromEntries(readings) } : rest;
  return { values, dial: { ...dialNow(now), unit, ...(graduation && { graduation }) } };
}
