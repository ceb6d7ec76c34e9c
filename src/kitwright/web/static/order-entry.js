// Taking an order: what can be promised is shown beside the form as it is filled in. The form works
// without this; then its button asks.

const WAIT_MS = 200;

const form = document.getElementById("order");
const quote = document.getElementById("quote");
const place = (name) => quote.querySelector(`[data-said="${name}"]`);
const why = document.getElementById("why").closest(".field");

let waiting;
let asking;

function options() {
  for (const set of form.querySelectorAll("fieldset[data-variant]")) {
    const mine = set.dataset.variant === form.elements.variant.value;
    set.hidden = !mine;
    set.disabled = !mine; // what belongs to another variant is not sent
  }
}

function chosen() {
  return Array.from(
    form.querySelectorAll("fieldset[data-variant]:not([hidden]) input:checked"),
    (box) => box.name.replace("option-", ""),
  ).join(",");
}

function changed() {
  options();
  clearTimeout(waiting);
  asking?.abort();
  waiting = setTimeout(ask, WAIT_MS);
}

async function ask() {
  const variant = form.elements.variant.value;
  if (!variant) {
    quote.hidden = true;
    return;
  }
  asking = new AbortController();
  const { signal } = asking;
  const asked = new URLSearchParams({ variant, options: chosen() });
  try {
    const reply = await fetch(`${form.dataset.quote}?${asked}`, {
      headers: { accept: "application/json" },
      signal,
    });
    if (!reply.ok) throw new Error("no answer");
    show(await reply.json());
  } catch {
    if (!signal.aborted) lost();
  }
}

function show(said) {
  for (const name of ["say", "gate", "price"]) {
    if (place(name).textContent !== said[name]) place(name).textContent = said[name];
  }
  place("gate").hidden = !said.gate;
  place("worksheet").href = said.worksheet;
  place("rests_on").replaceChildren(
    ...said.rests_on.map((line) => {
      const item = document.createElement("li");
      item.textContent = line;
      return item;
    }),
  );
  gate(said.shut);
  quote.hidden = false;
}

// The reason is asked for only where the gate is shut, or where one is written already.
function gate(shut) {
  why.hidden = !shut && !form.elements.why.value;
}

// An old promise beside a new choice would mislead; it goes.
function lost() {
  place("say").textContent = "No answer came: ask again with the button.";
  place("rests_on").replaceChildren();
  place("price").textContent = "";
  place("gate").hidden = true;
  why.hidden = false;
  quote.hidden = false;
}

form.elements.variant.addEventListener("change", changed);
form.addEventListener("change", (event) => {
  if (event.target.type === "checkbox") changed();
});
form.addEventListener("submit", () => clearTimeout(waiting));
document.getElementById("ask").closest(".actions").hidden = true;
options();
if (form.querySelector("#why-error")) why.hidden = false;
else gate(false);
if (form.elements.variant.value) ask();
