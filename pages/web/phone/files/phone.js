// The page on the phone: enter a card, keep it here, send it when there is a network.
"use strict";

import * as keep from "./keep.js";
import {parse, parseKit, letters} from "./label.js";
import {begin as beginScan} from "./scan.js";
import {shrink, draw} from "./photograph.js";
import {sendAll, askKit} from "./send.js";

const $ = (id) => document.getElementById(id);
const form = $("card"), columns = ["fish", "species", "length", "length_unit", "length_kind", "caught_on", "area", "stones", "gear", "weight", "weight_unit", "weight_form", "remark"];
const stays = ["species", "length_unit", "length_kind", "caught_on", "area", "gear", "weight_unit", "weight_form"];

let languages = {}, texts = {}, kit, kits = {}, all = [], editing = null, photographs = [], sending = false, reached = navigator.onLine;

const say = (key, values = {}) => (texts["phone." + key] ?? key).replace(/\{(\w+)\}/g, (hole, name) => values[name] ?? hole);

function speak(code) {
  const language = languages[code] ?? languages.en;
  texts = language.texts;
  document.documentElement.lang = code in languages ? code : "en";
  document.documentElement.dir = language.rightleft ? "rtl" : "ltr";
  for (const place of document.querySelectorAll("[data-say]")) place.textContent = say(place.dataset.say);
}

function tell(text, manner = "") {
  $("told").className = "told " + manner;
  $("told").textContent = text;
  $("told").hidden = text === "";
}

// mark says what is wrong beside a field, or that nothing is.
function mark(field, text, doubt = false) {
  const place = $(field.getAttribute("aria-describedby").split(" ")[0]);
  place.textContent = text;
  place.hidden = text === "";
  place.classList.toggle("doubt", doubt);
  if (text !== "" && !doubt) field.setAttribute("aria-invalid", "true");
  else field.removeAttribute("aria-invalid");
}

// labelSays is how a label was read, in words; "" when there is nothing to say.
function labelSays(read) {
  if (read.remark === "as_written") return "";
  const key = "label." + (read.remark === "wrong_check" && read.near.length > 0 ? "swapped" : read.remark);
  const values = {code: read.code?.text, sign: read.sign, as: read.as, near: (read.near ?? []).join(", "), letters, example: "QB-00412-T", most: "9999999"};
  return texts[key].replace(/\{(\w+)\}/g, (hole, name) => values[name] ?? hole);
}

// within tells whether a label lies among those of a kit.
function within(code, of) {
  const first = parse(of.first).code, last = parse(of.last).code;
  return code.prefix === first.prefix && code.number >= first.number && code.number <= last.number;
}

const number = (text) => /^\d{1,5}([.,]\d{1,2})?$/.test(text) && Number(text.replace(",", ".")) > 0;

function today() {
  const now = new Date();
  return new Date(now.getTime() - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10);
}

// read is what stands on the card, once nothing is wrong in it; otherwise null, and the
// keyboard goes to the first wrong field.
function read() {
  const cells = {}, wrong = [];
  for (const name of columns) if ($(name).value.trim() !== "") cells[name] = $(name).value.trim();
  const blame = (name, text) => { mark($(name), text); if (text !== "") wrong.push($(name)); };
  const label = parse($("fish").value), code = label.code;
  if (!code) blame("fish", labelSays(label));
  else if (all.some((c) => c.cells.fish === code.text && c.id !== editing?.id)) blame("fish", say("wrong.twice"));
  else if (label.remark === "look_alike" && $("fish").dataset.seen !== code.text) {
    $("fish").dataset.seen = code.text;
    mark($("fish"), labelSays(label) + " " + say("wrong.look"), true);
    wrong.push($("fish"));
  } else if (Object.keys(kits).length > 0 && !Object.values(kits).some((one) => within(code, one)) && $("fish").dataset.seen !== code.text) {
    $("fish").dataset.seen = code.text;
    mark($("fish"), say("wrong.other_kit") + " " + say("wrong.look"), true);
    wrong.push($("fish"));
  } else blame("fish", "");
  if (code) cells.fish = code.text;
  blame("length", number(cells.length ?? "") ? "" : say("wrong.length"));
  blame("weight", !cells.weight || number(cells.weight) ? "" : say("wrong.number"));
  blame("caught_on", !cells.caught_on && !$("caught_on").validity.badInput || cells.caught_on <= today() ? "" : say("wrong.date"));
  for (const name of ["length", "weight"]) cells[name] = cells[name]?.replace(",", ".");
  if (!cells.weight) for (const name of ["weight", "weight_unit", "weight_form"]) delete cells[name];
  if (wrong.length === 0) return cells;
  wrong[0].closest("details")?.setAttribute("open", "");
  wrong[0].focus();
  return null;
}

// clear makes the form ready for the next card, with what the last one says of the day and
// the place.
function clear() {
  for (const name of columns) {
    if ($(name).tagName === "SELECT" && !stays.includes(name)) $(name).selectedIndex = 0;
    else if (!stays.includes(name)) $(name).value = "";
  }
  delete $("fish").dataset.seen;
  photographs = [];
  editing = null;
  for (const place of document.querySelectorAll(".photo")) {
    place.classList.remove("taken");
    place.querySelector("canvas").hidden = true;
    place.querySelector("input").value = "";
  }
  $("card-back").hidden = true;
}

async function save(event) {
  event.preventDefault();
  tell("");
  const cells = read();
  if (!cells) return;
  const of = Object.keys(kits).find((code) => within(parse(cells.fish).code, kits[code])) ?? kit;
  const card = {id: keep.newID(), code: of, cells, state: "waits", made: Date.now(), tried: false};
  if (editing) [card.id, card.made] = [editing.id, editing.made];
  const photos = photographs.map((p) => ({...p, id: keep.newID(), card: card.id}));
  try {
    await keep.putCard(card, photos);
  } catch (trouble) {
    tell(say("trouble.keep"), "grave");
    return;
  }
  clear();
  await keep.setSetting("draft", null);
  await show();
  tell(say("kept.here", {label: cells.fish}));
  $("fish").focus();
  send();
}

// edit takes a card out of the sending, unless it may have arrived already.
async function edit(card) {
  if (editing) await letGo();
  const [held] = await keep.change([card.id], (c) => c.state === "refused" ? c : c.state === "waits" && !c.tried ? {...c, state: "held"} : null);
  if (!held) {
    await show();
    return tell(say("edit.late"), "doubt");
  }
  clear();
  editing = card;
  for (const name of columns) if (card.cells[name]) $(name).value = card.cells[name];
  $("card-back").hidden = false;
  tell(say("edit", {label: card.cells.fish}));
  $("fish").focus();
}

// letGo ends the changing of a card: it waits as it was.
async function letGo() {
  await keep.change([editing.id], (c) => c.state === "held" ? {...c, state: "waits"} : null);
  clear();
}

// line is one card of the list.
function line(card) {
  const item = document.createElement("li"), label = document.createElement("b"), said = document.createElement("p"), state = document.createElement("p");
  item.className = card.state;
  item.dataset.label = card.cells.fish;
  label.textContent = card.cells.fish;
  said.textContent = [card.cells.length + " " + card.cells.length_unit, card.cells.caught_on, card.cells.area].filter(Boolean).join(", ");
  state.className = "state";
  state.textContent = card.state === "refused" ? say("refused." + card.why) : say("state." + card.state) + (card.photograph ? " " + say("refused." + card.photograph) : "");
  item.append(label, said, state);
  for (const text of card.says ?? []) {
    const more = document.createElement("p");
    more.lang = "en";
    more.dir = "ltr";
    more.textContent = text;
    item.append(more);
  }
  const deed = (key, act) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plain";
    button.textContent = say(key);
    button.setAttribute("aria-label", say(key) + " " + card.cells.fish);
    button.addEventListener("click", act);
    item.append(button, " ");
  };
  if (card.state === "refused" || card.state === "waits" && !card.tried) {
    deed("edit.this", () => edit(card));
    deed("remove", async () => {
      if (!confirm(say("remove.sure", {label: card.cells.fish}))) return;
      await keep.drop(card.id);
      await show();
    });
  }
  return item;
}

async function show() {
  all = (await keep.cards()).sort((a, b) => b.made - a.made);
  const order = ["refused", "waits", "kept"], waits = all.filter((c) => c.state !== "kept").length;
  $("lists").hidden = all.length === 0;
  $("cards").replaceChildren(...all.slice().sort((a, b) => order.indexOf(a.state) - order.indexOf(b.state)).map(line));
  $("waits").textContent = waits === 0 ? say("waits.none") : say("waits", {n: waits});
  $("send").hidden = waits === 0;
  $("net").textContent = say(reached ? "net.on" : "net.off");
  $("net").classList.toggle("off", !reached);
  const about = kits[kit];
  $("kit-line").hidden = !kit;
  $("kit-line").firstElementChild.textContent = about ? say("kit.line", {kit: about.kit, first: about.first, last: about.last}) : say("kit.unchecked", {code: kit});
  $("species-field").hidden = (about?.species ?? []).length < 2;
  const fill = (list, names) => list.replaceChildren(...names.map((name) => new Option(name, name)));
  if (about && $("species").options.length === 0) fill($("species"), (about.species ?? []).length > 1 ? about.species : []);
  fill($("areas"), about?.areas ?? []);
}

// send sends what waits. It is asked for whenever there may be a network.
async function send() {
  if (sending) return;
  sending = true;
  try {
    reached = await sendAll(keep);
  } finally {
    sending = false;
  }
  await show();
}

// checkKit asks the server what a kit is; without a network that waits.
async function checkKit(code) {
  const got = await askKit(code);
  reached = got.reached;
  if (got.about) {
    kits[code] = got.about;
    await keep.setSetting("kits", kits);
  }
  return got.refused ?? "";
}

function askForKit() {
  form.hidden = true;
  $("kit").hidden = false;
  $("kit-back").hidden = !kit;
  $("code").value = "";
  mark($("code"), "");
  $("code").focus();
}

async function takeKit(event) {
  event.preventDefault();
  const code = parseKit($("code").value);
  if (code === "") return mark($("code"), say("refused.code"));
  const refused = await checkKit(code);
  if (refused !== "") return mark($("code"), say("refused." + refused));
  kit = code;
  await keep.setSetting("kit", kit);
  const stranded = (await keep.cards()).filter((c) => c.state === "refused" && ["cancelled", "no_kit", "code"].includes(c.why));
  await keep.putCards(...stranded.map((c) => ({...c, code: kit, state: "waits", tried: false, why: "", says: []})));
  beginCards();
  await show();
  send();
}

function beginCards() {
  $("kit").hidden = true;
  form.hidden = false;
  if ($("caught_on").value === "") $("caught_on").value = today();
  if (kits[kit]?.unit && !$("length_unit").dataset.chosen) $("length_unit").value = kits[kit].unit;
  $("length_unit").dataset.chosen = "yes";
}

async function photograph(event) {
  const input = event.target, file = input.files[0], place = input.closest(".photo");
  if (!file) return;
  try {
    const taken = await shrink(file);
    photographs = photographs.filter((p) => p.of !== input.dataset.of);
    photographs.push({of: input.dataset.of, jpeg: taken});
    await draw(taken, place.querySelector("canvas"));
    place.querySelector("canvas").hidden = false;
    place.classList.add("taken");
  } catch (trouble) {
    tell(say("trouble.photo"), "grave");
  }
}

// draft keeps what is half entered, without photographs.
async function draft() {
  if (!editing) await keep.setSetting("draft", Object.fromEntries(columns.map((name) => [name, $(name).value])));
}

async function start() {
  languages = await (await fetch("words.json")).json();
  $("language").replaceChildren(...Object.entries(languages).map(([code, l]) => new Option(l.name, code)));
  const chosen = await keep.setting("language") ?? (navigator.languages ?? []).map((l) => l.slice(0, 2)).find((l) => l in languages) ?? "en";
  $("language").value = chosen;
  speak(chosen);
  kits = await keep.setting("kits") ?? {};
  kit = await keep.setting("kit");
  for (const [name, value] of Object.entries(await keep.setting("draft") ?? {})) if (columns.includes(name)) $(name).value = value;
  await keep.change((await keep.cards()).map((c) => c.id), (c) => c.state === "held" ? {...c, state: "waits"} : null);
  await show();
  const linked = parseKit(location.hash.slice(1));
  if (kit) beginCards();
  else askForKit();
  if (linked !== "" && linked !== kit) {
    askForKit();
    $("code").value = linked;
  }
  $("insecure").hidden = isSecureContext;
  $("kit").addEventListener("submit", takeKit);
  $("kit-back").addEventListener("click", beginCards);
  $("other-kit").addEventListener("click", askForKit);
  form.addEventListener("submit", save);
  form.addEventListener("change", draft);
  $("card-back").addEventListener("click", async () => {
    await letGo();
    tell("");
    await show();
    send();
  });
  $("send").addEventListener("click", send);
  for (const input of document.querySelectorAll(".photo input")) input.addEventListener("change", photograph);
  $("language").addEventListener("change", async () => {
    await keep.setSetting("language", $("language").value);
    speak($("language").value);
    tell("");
    for (const field of document.querySelectorAll("[aria-invalid]")) mark(field, ""); // told again, in the new language, when the card is kept
    await show();
  });
  await beginScan($("scan"), $("scan-end"), $("camera"), $("video"), (text) => {
    $("fish").value = text;
    const read = parse(text);
    mark($("fish"), read.code ? "" : labelSays(read));
    $("length").focus();
  });
  $("fish").addEventListener("change", () => {
    const read = parse($("fish").value);
    mark($("fish"), read.code ? "" : labelSays(read));
  });
  if (kit && !kits[kit]) await checkKit(kit);
  send();
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  setInterval(() => { if (all.some((c) => c.state !== "kept")) send(); }, 10000);
  document.documentElement.dataset.ready = "yes";
}

if ("serviceWorker" in navigator) navigator.serviceWorker.register("worker.js");
navigator.storage?.persist?.();
start();
