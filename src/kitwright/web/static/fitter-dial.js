"use strict";
// The dial: which one it is, and its readings at their places on the clock, stepped or typed. Seen
// from behind the engine, 12 o'clock up; the pointer runs clockwise as the plunger is pushed in.

const PLACES = [0, 45, 90, 135, 180, 225, 270, 315, 360];
const FEW = [0, 90, 180, 270, 360];
const SIGN = "−";

function el(tag, about = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(about)) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null) made.setAttribute(name, value);
  }
  made.append(...children.filter((child) => child !== null));
  return made;
}

const decimals = (stage) => (dialFor(stage).graduation.split(".")[1] ?? "").length;
const placesOf = () => (dial().places === 4 ? FEW : PLACES);
const numberOf = (text) => (text !== undefined && text.trim() !== "" ? Number(text.replace(SIGN, "-")) : NaN);

const decimalsOf = (text) => (text?.split(".")[1] ?? "").length;

function hour(clock) {
  if (clock === 360) return "12 again";
  const half = clock % 30 !== 0;
  const whole = Math.floor(clock / 30) || 12;
  return half ? `${whole}:30` : `${whole}`;
}

function signed(value, places) {
  const text = Math.abs(value).toFixed(places);
  return Number(text) === 0 ? text : (value < 0 ? SIGN : "+") + text;
}

// Highest minus lowest, as read: plain arithmetic, judged by nobody yet.
function asRead(readings, unit) {
  const values = Object.values(readings).map(numberOf).filter(Number.isFinite);
  if (values.length < 2) return "";
  const swing = Math.max(...values) - Math.min(...values);
  const say = (value, places) => `${value.toFixed(places).replace(/\.?0+$/, "") || 0} ${unit}`;
  return `As read: TIR ${say(swing, 4)}, half of it ${say(swing / 2, 4)}. Not yet judged.`;
}

// ── which dial ───────────────────────────────────────────────────────────────────────────

const DIALS = [
  ["thou", "0.5"], ["thou", "1"], ["thou", "0.1"], ["mm", "0.01"], ["mm", "0.02"], ["mm", "0.05"], ["mm", "0.002"], ["mm", "0.001"],
];

function dialChoices(chosen) {
  const own = dial();
  const one = (words, isOn, pick) =>
    el("button", { type: "button", class: "choice-button", "aria-pressed": String(isOn), onclick: pick }, words);
  const choose = (part) => {
    change((now) => {
      now.dial = { ...own, ...part };
      for (const begun of Object.values(now.drafts)) {
        const empty = !Object.keys(begun.values.readings ?? begun.values).length;
        if (begun.dial && (empty || begun.dial.unit === now.dial.unit)) begun.dial = now.dial;
      }
    });
    chosen();
  };
  const group = (unit) =>
    DIALS.filter(([of]) => of === unit).map(([, graduation]) =>
      one(`${graduation} ${unit}`, Boolean(kept().dial) && own.unit === unit && own.graduation === graduation, () =>
        choose({ unit, graduation }),
      ),
    );
  return [
    el("h2", {}, "One graduation, in inches"),
    el("div", { class: "choices-row" }, ...group("thou")),
    el("h2", {}, "One graduation, metric"),
    el("div", { class: "choices-row" }, ...group("mm")),
    el("h2", {}, "Places round the clock"),
    el(
      "div",
      { class: "choices-row" },
      ...[8, 4].map((count) => one(`${count} places`, own.places === count, () => choose({ places: count }))),
    ),
    el("p", { class: "soft" }, "Eight show an oval bore and a slipped reading; four only the offset."),
  ];
}

// ── the screen of a sweep ────────────────────────────────────────────────────────────────

const SVG = "http://www.w3.org/2000/svg";

function drawn(tag, about, words) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(about)) made.setAttribute(name, value);
  if (words !== undefined) made.textContent = words;
  return made;
}

// The face of the dial: a hundred graduations to a turn, those of this dial.
function dialFace(own) {
  const svg = drawn("svg", { viewBox: "-110 -110 220 220", "aria-hidden": "true", class: "face" });
  svg.append(drawn("circle", { r: 104, class: "rim" }));
  const step = Number(own.graduation);
  for (let tick = 0; tick < 100; tick += 1) {
    const long = tick % 10 === 0 ? 16 : tick % 5 === 0 ? 11 : 6;
    const turn = `rotate(${3.6 * tick})`;
    svg.append(drawn("line", { y1: -101, y2: -101 + long, transform: turn, class: tick % 10 ? "tick" : "tick long" }));
    if (tick % 10 === 0) {
      const off = tick > 50 ? tick - 100 : tick;
      const angle = (3.6 * tick * Math.PI) / 180;
      const at = { x: 72 * Math.sin(angle), y: -72 * Math.cos(angle) + 5 };
      const words = `${Number(Math.abs(off * step).toFixed(3))}`;
      svg.append(drawn("text", { ...at, "text-anchor": "middle", class: "numeral" }, words));
    }
  }
  svg.append(drawn("text", { y: 36, "text-anchor": "middle", class: "unit" }, own.unit));
  svg.append(drawn("path", { d: "M-4 20 L0 -92 L4 20 Z", class: "needle" }), drawn("circle", { r: 7, class: "cap" }));
  return svg;
}

// Builds the screen of a stage once for a dial; `dialShow` keeps it up to date.
function dialBuild(box, stage) {
  const made = JSON.stringify(dialFor(stage));
  if (box.dataset.made === made) return;
  box.dataset.made = made;
  const ring = el("div", { class: "ring", role: "group", "aria-label": "Places, as seen from behind the engine" }, dialFace(dialFor(stage)));
  for (const clock of placesOf().filter((place) => place !== 360)) {
    ring.append(
      el(
        "button",
        { type: "button", class: `place at-${clock}`, "data-clock": clock, onclick: () => pickPlace(stage, clock) },
        el("b", {}, hour(clock)),
        el("span", {}),
      ),
    );
  }
  const input = el("input", { inputmode: "decimal", autocomplete: "off", placeholder: "–", "data-reading": true });
  input.addEventListener("input", () => typedReading(stage, pointed(input)));
  box.replaceChildren(
    ring,
    el("p", { class: "as-read", "data-as-read": true }),
    el("p", { class: "error", "data-place-error": true, hidden: true }),
    el(
      "div",
      { class: "value" },
      stepper("−", "One graduation less", () => stepReading(stage, -1)),
      el("label", {}, el("span", { "data-at": true }), input),
      stepper("+", "One graduation more", () => stepReading(stage, 1)),
    ),
    el(
      "div",
      { class: "value small" },
      el("button", { type: "button", "aria-label": "Change the sign", onclick: () => flipReading(stage) }, "±"),
      el("button", { type: "button", onclick: () => setReading(stage, (0).toFixed(decimals(stage))) }, "0"),
      el("button", { type: "button", "data-undo-reading": true, onclick: () => undoReading(stage) }, "Undo"),
      el("button", { type: "button", "data-early": true, hidden: true, onclick: () => sendSweep(stage) }),
    ),
  );
}

// A button that goes on while it is held.
function stepper(words, label, act) {
  const button = el("button", { type: "button", class: "step", "aria-label": label }, words);
  let timer = 0;
  const stop = () => {
    clearTimeout(timer);
    timer = 0;
  };
  const repeat = (wait) => {
    timer = setTimeout(() => {
      act();
      repeat(Math.max(50, wait * 0.85));
    }, wait);
  };
  button.addEventListener("pointerdown", () => repeat(450));
  for (const end of ["pointerup", "pointerleave", "pointercancel"]) button.addEventListener(end, stop);
  button.addEventListener("contextmenu", (event) => event.preventDefault());
  button.addEventListener("click", act);
  return button;
}

const sweepDraft = (stage) => {
  const own = draft(stage)?.values ?? {};
  return { readings: own.readings ?? {}, at: own.at ?? 0, past: own.past ?? [] };
};

// Every change of a reading keeps what was there before, for undo; typing counts as one change.
function putReading(stage, clock, text, typing = false) {
  draftChange(stage, (own) => {
    const readings = (own.values.readings ??= {});
    const past = (own.values.past ??= []);
    const last = past.at(-1);
    if (!(typing && last?.typing && last.clock === clock)) past.push({ clock, was: readings[clock] ?? "", typing });
    if (past.length > 200) past.shift();
    if (text === "") delete readings[clock];
    else readings[clock] = text;
    own.values.at = clock;
    if (own.problems) own.problems = own.problems.filter((each) => each.where !== `reading_${clock}`);
  });
  show();
}

const setReading = (stage, text) => putReading(stage, sweepDraft(stage).at, text);
const typedReading = (stage, text) => putReading(stage, sweepDraft(stage).at, text, true);

function stepReading(stage, way) {
  const { readings, at } = sweepDraft(stage);
  const now = numberOf(readings[at]);
  const next = (Number.isFinite(now) ? now : 0) + way * Number(dialFor(stage).graduation);
  const places = Math.max(decimals(stage), decimalsOf(readings[at]));
  setReading(stage, plainText(next, places));
}

const plainText = (value, places) => {
  const text = value.toFixed(places);
  return Number(text) === 0 ? (0).toFixed(places) : text;
};

function flipReading(stage) {
  const { readings, at } = sweepDraft(stage);
  const now = numberOf(readings[at]);
  if (Number.isFinite(now) && now !== 0) setReading(stage, plainText(-now, decimalsOf(readings[at])));
}

function undoReading(stage) {
  draftChange(stage, (own) => {
    const last = own.values.past?.pop();
    if (!last) return;
    if (last.was === "") delete own.values.readings[last.clock];
    else own.values.readings[last.clock] = last.was;
    own.values.at = last.clock;
  });
  show();
}

// 12 o'clock is read twice: first and, once others were read, again at the end.
function pickPlace(stage, clock) {
  const { readings, at } = sweepDraft(stage);
  const others = Object.keys(readings).some((place) => place !== "0");
  const place = clock === 0 && others && readings[0] !== undefined && at !== 360 ? 360 : clock;
  draftChange(stage, (own) => (own.values.at = place));
  show();
}

// The place after this one that was not read yet; null when all were.
function nextPlace(stage) {
  const { readings, at } = sweepDraft(stage);
  const places = placesOf();
  const from = places.indexOf(at);
  const order = [...places.slice(from + 1), ...places.slice(0, from)];
  return order.find((place) => readings[place] === undefined) ?? null;
}

const allRead = (stage) => placesOf().every((place) => sweepDraft(stage).readings[place] !== undefined);
const readCount = (stage) => Object.keys(sweepDraft(stage).readings).length;

function dialShow(box, stage) {
  dialBuild(box, stage);
  const { readings, at, past } = sweepDraft(stage);
  const problems = draft(stage)?.problems ?? [];
  for (const button of box.querySelectorAll("[data-clock]")) {
    const clock = Number(button.dataset.clock);
    const again = clock === 0 && at === 360;
    const text = readings[clock];
    const second = clock === 0 ? readings[360] : undefined;
    const value = text === undefined ? "" : Number.isFinite(numberOf(text)) ? signed(numberOf(text), decimalsOf(text)) : text;
    const more = second === undefined ? "" : Number.isFinite(numberOf(second)) ? ` ${signed(numberOf(second), decimalsOf(second))}` : ` ${second}`;
    button.querySelector("span").textContent = value + more;
    button.setAttribute("aria-pressed", String(clock === at || again));
    button.classList.toggle("filled", text !== undefined);
    button.classList.toggle("wrong", problems.some((each) => [`reading_${clock}`, clock === 0 ? "reading_360" : ""].includes(each.where)));
    button.setAttribute("aria-label", `${hour(clock)} o'clock${text === undefined ? ", not read" : `, ${value}${more}`}`);
  }
  const value = numberOf(readings[at]);
  box.querySelector(".needle").setAttribute(
    "transform",
    `rotate(${Number.isFinite(value) ? Number(((3.6 * value) / dialFor(stage).graduation).toFixed(1)) : 0})`,
  );
  box.querySelector(".face").classList.toggle("blank", !Number.isFinite(value));
  const input = box.querySelector("[data-reading]");
  const text = (readings[at] ?? "").replace("-", SIGN);
  if (input.value.replace("-", SIGN) !== text) input.value = text;
  box.querySelector("[data-at]").textContent = at === 360 ? "12 again" : `at ${hour(at)}`;
  input.setAttribute("aria-label", `Reading at ${at === 360 ? "12 again" : `${hour(at)} o'clock`}, ${dialFor(stage).unit}`);
  box.querySelector("[data-as-read]").textContent =
    asRead(readings, dialFor(stage).unit) || "Set the dial to zero at 12. Plus is plunger pushed in.";
  box.querySelector("[data-undo-reading]").disabled = past.length === 0;
  const early = box.querySelector("[data-early]");
  early.hidden = allRead(stage) || readCount(stage) < 3;
  early.textContent = `Send ${readCount(stage)}`;
  const wrong = problems.find((each) => each.where === `reading_${at}`) ?? problems.find((each) => /^reading/.test(each.where));
  const error = box.querySelector("[data-place-error]");
  error.hidden = !wrong;
  error.textContent = wrong ? lineOf(wrong, true) : "";
}

function lineOf(problem, named = false) {
  const line = problem.expected ? `${problem.given}; ${problem.expected}` : problem.given;
  const clock = /^reading_(\d+)$/.exec(problem.where)?.[1];
  return named && clock ? `${hour(Number(clock))}: ${line}` : line;
}

// A decimal comma, which many keypads have alone, becomes a point before the eyes.
function pointed(input) {
  if (input.value.includes(",")) {
    const at = input.selectionStart;
    input.value = input.value.replaceAll(",", ".");
    input.setSelectionRange?.(at, at);
  }
  return input.value.trim().replace(SIGN, "-");
}
