// Keyboard niceties. Every page works without them.
"use strict";

// A scanner types a label and then Enter: while the next field is empty, go on to it
// instead of sending the form. Enter in any other field sends it.
for (const field of document.querySelectorAll("input[data-scan]")) {
  field.form.addEventListener("submit", (event) => {
    if (document.activeElement !== field || field.value.trim() === "") return;
    const stops = [...field.form.elements].filter((e) => e.tagName === "INPUT" && e.type !== "hidden");
    const next = stops[stops.indexOf(field) + 1];
    if (!next || next.type !== "text" || next.value !== "") return;
    event.preventDefault();
    event.stopImmediatePropagation();
    next.focus();
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
