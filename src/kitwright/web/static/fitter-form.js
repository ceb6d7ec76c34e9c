"use strict";
// The form of a step: its fields are built from what the server says of them, filled from what was
// typed before, and read into what is sent.

const sectionOf = (stage) => document.getElementById(`stage-${stage}`);
const formOf = (stage) => pick1("[data-form]", sectionOf(stage));
const worksOf = (stage) => sectionOf(stage).dataset.works;
const pick1 = (selector, within = document) => within.querySelector(selector);
const every = (selector, within = document) => [...within.querySelectorAll(selector)];

const fieldsOf = (stage) => (Array.isArray(told.fields[stage]) ? told.fields[stage] : fieldsOf(told.fields[stage]));

function buildForm(stage, form) {
  const again = Boolean(state.stages[stage].said);
  const made = worksOf(stage) === "dowels" ? String(state.dowels.sizes) : `made ${again}`;
  if (form.dataset.made === made) return;
  form.dataset.made = made;
  delete filledWith[stage];
  const head = worksOf(stage) === "sweep" ? "More about this sweep" : "Write down";
  form.replaceChildren(
    el("h2", {}, head),
    ...fieldsOf(stage).filter((field) => !field.again || again).map((field) => buildField(stage, field)),
    el("p", { class: "error", "data-error-all": true, hidden: true }),
  );
}

const errorLine = () => el("p", { class: "error", "data-error": true, hidden: true });

function buildField(stage, field) {
  const { name, label, kind = "check", needed, help } = field;
  const id = `${stage}-${name}`;
  const about = { name, "data-kind": kind, "data-needed": Boolean(needed) };
  const line = (...parts) => el("div", { class: "line", "data-field": name }, ...parts, errorLine());
  const hint = help ? el("p", { class: "help" }, help) : null;
  const typing = (more) => el("input", { ...about, autocomplete: "off", ...more });
  if (kind === "check") {
    return line(el("label", { class: "tick" }, el("input", { ...about, id, type: "checkbox" }), el("span", {}, label)));
  }
  if (kind === "choice") {
    const choices = field.options.map(([value, words]) =>
      el("label", { class: "tick" }, el("input", { ...about, type: "radio", name: `${stage}.${name}`, value }), el("span", {}, words)),
    );
    return el("fieldset", { class: "line choice", "data-field": name }, el("legend", {}, label), ...choices, errorLine());
  }
  const unit = ["fine", "length", "lengths"].includes(kind) ? el("span", { "data-unit-word": kind }) : null;
  const optional = needed || help || !unit ? null : el("span", { class: "soft" }, " if known");
  const words = el("label", { for: id }, label, unit && ", ", unit, optional);
  if (kind === "size") {
    const sizes = state.dowels.sizes.map((size) => el("option", { value: size }, size));
    return line(words, el("select", { ...about, id }, ...sizes));
  }
  if (kind === "slot") {
    const turn = (by) => el("button", { type: "button", onclick: () => turnSlot(id, by) }, `${by > 0 ? "+" : SIGN}5°`);
    const box = typing({ id, inputmode: "decimal" });
    return line(words, hint, el("div", { class: "several" }, turn(-5), box, turn(5)), el("p", { class: "help", "data-hour": true }));
  }
  if (kind === "lengths") {
    const boxes = Array.from({ length: field.most }, (_, index) =>
      typing({ id: index ? null : id, inputmode: "decimal", "aria-label": `${label}, ${index + 1}` }),
    );
    return line(words, hint, el("div", { class: "several" }, ...boxes));
  }
  return line(words, hint, typing({ id, maxlength: "400", inputmode: kind === "text" ? null : "decimal" }));
}

function turnSlot(id, by) {
  const input = document.getElementById(id);
  const value = numberOf(input.value);
  input.value = String((((Number.isFinite(value) ? value : 0) + by) % 360 + 360) % 360);
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

function unitWords(stage, form) {
  const { unit } = dialFor(stage);
  for (const word of every("[data-unit-word]", form)) {
    word.textContent = word.dataset.unitWord === "fine" || unit === "mm" ? unit : "in";
  }
}

function nearHour(degrees) {
  const halves = ((Math.round(degrees / 15) % 24) + 24) % 24;
  const whole = Math.floor(halves / 2) || 12;
  return halves % 2 ? `half past ${whole}` : `${whole} o'clock`;
}

const filledWith = {}; // what each form shows, so that typing is never overwritten

function valuesToShow(stage) {
  const own = draft(stage)?.values;
  if (worksOf(stage) === "dowels") return { ...state.dowels.filled, ...own };
  return own ?? {};
}

function fill(stage) {
  const form = formOf(stage);
  const values = valuesToShow(stage);
  unitWords(stage, form);
  const wanted = JSON.stringify(values);
  if (filledWith[stage] === wanted) return;
  filledWith[stage] = wanted;
  const index = {};
  for (const input of every("[data-kind]", form)) {
    const name = nameOf(input);
    const value = values[name];
    if (input.dataset.kind === "check") input.checked = value === true;
    else if (input.dataset.kind === "choice") input.checked = value === input.value;
    else if (input.dataset.kind === "lengths") {
      index[name] = (index[name] ?? -1) + 1;
      input.value = value?.[index[name]] ?? "";
    } else input.value = value ?? "";
  }
}

const nameOf = (input) => input.name.split(".").at(-1);

function gather(stage) {
  const values = {};
  for (const input of every("[data-kind]", formOf(stage))) {
    const name = nameOf(input);
    if (input.dataset.kind === "check") {
      if (input.checked) values[name] = true;
    } else if (input.dataset.kind === "choice") {
      if (input.checked) values[name] = input.value;
    } else if (input.dataset.kind === "lengths") {
      (values[name] ??= []).push(input.value.trim());
    } else if (input.value.trim()) values[name] = input.value.trim();
  }
  return values;
}

function formChanged(event) {
  const input = event.target.closest("[data-kind]");
  const stage = input?.closest("[data-stage]")?.dataset.stage;
  if (!stage) return;
  if (["fine", "length", "lengths", "slot"].includes(input.dataset.kind)) pointed(input);
  const values = gather(stage);
  const own = nameOf(input);
  draftChange(stage, (mine) => {
    const { readings, at, past } = mine.values;
    mine.values = readings ? { ...values, readings, at, past } : values;
    if (mine.problems) mine.problems = mine.problems.filter((each) => each.where !== own);
  });
  filledWith[stage] = JSON.stringify(valuesToShow(stage));
  show();
}

// What is missing can be said without a line; everything else the server says.
function missing(stage) {
  const problems = [];
  const filled = gather(stage);
  const asked = new Map(every("[data-needed]", formOf(stage)).map((input) => [nameOf(input), input.dataset.kind]));
  for (const [where, kind] of asked) {
    const value = filled[where];
    if (value === undefined || (Array.isArray(value) && !value.some(Boolean))) {
      problems.push(
        kind === "check"
          ? { where, given: "not ticked", expected: "do it first, or stop and call the shop" }
          : { where, given: "missing", expected: kind === "choice" ? "choose one" : "fill it in" },
      );
    }
  }
  return problems;
}

function showProblems(stage) {
  const problems = draft(stage)?.problems ?? [];
  const form = formOf(stage);
  const placed = new Set();
  for (const place of every("[data-field]", form)) {
    const own = problems.filter((each) => each.where.split("[")[0] === place.dataset.field);
    own.forEach((each) => placed.add(each));
    const error = [...place.children].find((child) => child.matches("[data-error]"));
    error.hidden = own.length === 0;
    error.textContent = own.map((each) => lineOf(each)).join(" ");
    for (const input of every("input, select", place)) {
      if (own.length) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
    }
  }
  const rest = problems.filter((each) => !placed.has(each) && !/^reading/.test(each.where));
  const all = pick1("[data-error-all]", form);
  all.hidden = rest.length === 0;
  all.textContent = rest.map((each) => lineOf(each)).join(" ");
}

function setProblems(stage, problems) {
  draftChange(stage, (own) => (own.problems = problems));
  show();
  const wrong = pick1("[aria-invalid=true]", formOf(stage));
  wrong?.focus();
  wrong?.closest(".line")?.scrollIntoView({ block: "center" });
}

function showHours(form) {
  for (const words of every("[data-hour]", form)) {
    const value = numberOf(pick1("input", words.closest("[data-field]")).value);
    words.textContent = Number.isFinite(value) ? `about ${nearHour(value)}, as you see it from behind` : "";
  }
}
