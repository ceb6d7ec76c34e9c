// Buttons that change a form's rows ("More rows", "Add", "Take out") do so in place: the server
// makes the same page as without this script, and its form takes the place of the one shown.

const CHANGES = ["more", "add", "remove"];

document.addEventListener("submit", async (event) => {
  const form = event.target;
  const button = event.submitter;
  if (!form.dataset.grows || !CHANGES.includes(button?.name)) return;
  event.preventDefault();
  const list = button.closest("fieldset.rows, fieldset.blocks")?.id;
  const before = new Set(Array.from(form.elements, (input) => input.id));
  const data = new FormData(form, button);
  try {
    const answer = await fetch(form.dataset.grows, {
      method: "POST",
      body: form.enctype === "multipart/form-data" ? data : new URLSearchParams(data),
    });
    const made = new DOMParser()
      .parseFromString(await answer.text(), "text/html")
      .querySelector("form[data-grows]");
    if (!answer.ok || !made) throw new Error(`status ${answer.status}`);
    form.replaceChildren(...made.childNodes);
  } catch {
    // without an answer the browser goes the ordinary way and shows what is wrong
    const field = document.createElement("input");
    field.type = "hidden";
    field.name = button.name;
    field.value = button.value;
    form.append(field);
    form.submit();
    return;
  }
  form.dispatchEvent(new Event("input", { bubbles: true })); // rows that come and go change the case
  const fresh = Array.from(form.elements).find(
    (input) => input.id && !before.has(input.id) && /^(INPUT|SELECT|TEXTAREA)$/.test(input.tagName),
  );
  (fresh ?? document.getElementById(list))?.focus();
});
