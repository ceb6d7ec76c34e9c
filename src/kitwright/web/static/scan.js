// A scanner types into the field and ends with Enter: what stands in it is written over.

const field = document.getElementById("what");
field.addEventListener("focus", () => field.select());
if (document.activeElement === field) field.select();
