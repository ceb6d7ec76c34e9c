// A button that copies an address, where the browser lets a page do that.

for (const button of document.querySelectorAll("[data-copy]")) {
  if (!navigator.clipboard) continue;
  const words = button.textContent;
  button.hidden = false;
  button.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(button.dataset.copy);
      button.textContent = "Copied";
    } catch {
      button.textContent = "It cannot be copied here: mark it and copy it by hand";
    }
    setTimeout(() => (button.textContent = words), 2500);
  });
}
