// Keyboard niceties. Every page works without them.
"use strict";

// A scanner types a label and then Enter: go on to the next field instead of sending the
// form. Nothing is held back for who types by hand: Enter in any other field sends it.
for (const field of document.querySelectorAll("input[data-scan]")) {
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing || field.value.trim() === "") return;
    const stops = [...field.form.elements].filter((e) => e.offsetParent !== null && !e.disabled && e.tagName !== "FIELDSET" && e.type !== "hidden");
    const next = stops[stops.indexOf(field) + 1];
    if (!next) return;
    event.preventDefault();
    next.focus();
    if (next.select) next.select();
  });
}

// A form is sent once, however often Enter is pressed.
for (const form of document.querySelectorAll('form[method="post"]')) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) event.preventDefault();
    form.dataset.sent = "yes";
  });
}
addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent));

// A file dropped on a form that takes one.
for (const place of document.querySelectorAll("form[data-drop]")) {
  const input = place.querySelector('input[type="file"]');
  place.addEventListener("dragover", (event) => event.preventDefault());
  place.addEventListener("drop", (event) => {
    if (event.dataTransfer.files.length === 0) return;
    event.preventDefault();
    input.files = event.dataTransfer.files;
    place.requestSubmit();
  });
}

// What was wrong comes first: the keyboard begins at the first field with a problem.
const wrong = document.querySelector("[aria-invalid], .doubt > input, .doubt > select");
if (wrong) wrong.focus();
