// What if: once a case is answered, every change of its form is worked out beside that answer. The
// form itself is never touched while someone types in it; messages are put beside its fields.

const WAIT_MS = 250;

const form = document.querySelector("form.case");
const strip = document.querySelector(".what-if");
const [now, held, was, shown] = ["now", "held", "was", "shown"].map((name) =>
  strip.querySelector(`.${name}`),
);
const text = document.querySelector("textarea#text");
let answer = document.querySelector("section.answer");

const said = (section) => section.querySelector(".say").textContent;
const caseOf = (section) => section.querySelector("input[name=text]").value;
const given = (of) =>
  JSON.stringify([...new FormData(of)].map(plain).filter(([, value]) => value.trim()));

// A chosen file by what tells it from another; none chosen is nothing.
function plain([name, value]) {
  if (!(value instanceof File)) return [name, value];
  return [name, value.size ? `${value.name} ${value.size} ${value.lastModified}` : ""];
}

const first = {
  form: form.cloneNode(true),
  answer: answer.cloneNode(true),
  text: text.defaultValue,
};
first.form.reset();
first.given = given(first.form);

let waiting;
let asking;

function stop() {
  clearTimeout(waiting);
  asking?.abort();
}

function changed() {
  stop();
  waiting = setTimeout(ask, WAIT_MS);
}

async function ask() {
  if (given(form) === first.given) {
    inPlace(() => {
      unmark();
      if (!was.hidden || !held.hidden) asItWas();
    });
    return;
  }
  asking = new AbortController();
  const { signal } = asking;
  const data = new FormData(form);
  data.set("what-if", caseOf(first.answer));
  const body = form.enctype === "multipart/form-data" ? data : new URLSearchParams(data);
  let made;
  try {
    const reply = await fetch(form.action, { method: "POST", body, signal });
    made = new DOMParser().parseFromString(await reply.text(), "text/html");
  } catch {
    // told below: there is no answer
  }
  if (signal.aborted) return;
  const fresh = made?.querySelector("section.answer");
  inPlace(() => {
    unmark();
    if (fresh) show(document.adoptNode(fresh));
    else hold(Array.from(made?.querySelectorAll("[data-at]") ?? []));
  });
}

// What is typed in stays where it is on the screen, whatever grows or shrinks above it; and in sight.
function inPlace(change) {
  const field = form.contains(document.activeElement) ? document.activeElement : form;
  const top = field.getBoundingClientRect().top;
  change();
  window.scrollBy(0, field.getBoundingClientRect().top - top);
  const above = strip.getBoundingClientRect();
  const box = field.getBoundingClientRect();
  const covered = above.bottom - box.top;
  if (field !== form && above.left < box.right && box.bottom > above.top && covered > 0) {
    window.scrollBy(0, -covered - 8);
  }
}

// ── the answer ─────────────────────────────────────────────────────────────────────────────

function replace(fresh) {
  const folds = Array.from(answer.querySelectorAll("details"), (fold) => fold.open);
  answer.replaceWith(fresh);
  answer = fresh;
  answer.querySelectorAll("details").forEach((fold, index) => (fold.open = folds[index] ?? false));
}

function show(fresh) {
  replace(fresh);
  tell(said(answer), answer.querySelector(".was").textContent);
  shown.replaceChildren(...[answer.querySelector(".picture")?.cloneNode(true)].filter(Boolean));
  text.defaultValue = caseOf(answer); // a text that was changed by hand stays as it is
}

function asItWas() {
  replace(first.answer.cloneNode(true));
  tell(`As it was: ${said(answer)}`, "");
  shown.replaceChildren();
  text.defaultValue = first.text;
}

function tell(sentence, before) {
  if (now.textContent !== sentence) now.textContent = sentence;
  was.textContent = before;
  was.hidden = strip.querySelector("[data-back]").hidden = !before;
  held.hidden = true;
}

// ── what stands against it ─────────────────────────────────────────────────────────────────

// The last answer stays, and says that it is not of what is typed now.
function hold(messages) {
  const lost = [];
  for (const message of messages) {
    const field = document.getElementById(message.dataset.at);
    const blank = field?.matches("input, select, textarea") && !field.value && !unfilled(field);
    if (!form.contains(field)) lost.push(message.textContent.trim());
    else if (!blank) mark(field, message.firstElementChild);
  }
  const marked = form.querySelector("[data-tried]");
  const what = lost[0] ?? (marked ? "Mend what is marked." : "Something is still to fill in.");
  const line = messages.length
    ? `Not worked out. ${what} This answer is of before that.`
    : "Not worked out: no answer came. This answer is of before that.";
  held.textContent = line;
  held.hidden = strip.querySelector("[data-back]").hidden = false;
  answer.querySelector(":scope > .held")?.remove();
  answer.prepend(held.cloneNode(true));
}

// A field that held something when the page was made, and holds nothing now.
function unfilled(field) {
  return field.tagName === "SELECT"
    ? Array.from(field.options).some((option) => option.defaultSelected && option.value)
    : Boolean(field.defaultValue);
}

function mark(field, message) {
  message.dataset.tried = field.id;
  if (field.matches("input, select, textarea")) {
    field.closest(".field, td").append(message);
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", [...helps(field), message.id].join(" "));
  } else if (field.matches("tr")) field.lastElementChild.append(message);
  else field.querySelector("legend").after(message);
}

function unmark() {
  for (const message of form.querySelectorAll("[data-tried]")) {
    const field = document.getElementById(message.dataset.tried);
    message.remove();
    if (!field?.hasAttribute("aria-invalid")) continue;
    field.removeAttribute("aria-invalid");
    if (helps(field).length) field.setAttribute("aria-describedby", helps(field).join(" "));
    else field.removeAttribute("aria-describedby");
  }
}

function helps(field) {
  return [`${field.id}-help`].filter((id) => document.getElementById(id));
}

// ── and back ───────────────────────────────────────────────────────────────────────────────

document.addEventListener("click", (event) => {
  if (!event.target.closest("[data-back]")) return;
  stop();
  form.replaceChildren(...first.form.cloneNode(true).childNodes);
  asItWas();
  strip.focus({ preventScroll: true });
});

form.addEventListener("input", changed);
form.addEventListener("submit", stop);
strip.hidden = false;
if (given(form) !== first.given) changed(); // a browser may bring back what was typed
