// What this phone keeps: cards and photographs, on its own disk before anything is told
// to be kept, and until the server says that it has them.
"use strict";

let opening;

function open() {
  opening ??= new Promise((done, fail) => {
    const asked = indexedDB.open("earstone-phone", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("cards", {keyPath: "id"});
      asked.result.createObjectStore("photographs", {keyPath: "id"}).createIndex("card", "card");
      asked.result.createObjectStore("settings");
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
  return opening;
}

// within does something in one transaction and waits until it lies on the disk.
async function within(stores, mode, act) {
  const db = await open();
  return new Promise((done, fail) => {
    const work = db.transaction(stores, mode, {durability: "strict"});
    let answer;
    work.oncomplete = () => done(answer?.result);
    work.onerror = work.onabort = () => fail(work.error ?? new Error("the transaction was broken off"));
    answer = act(...stores.map((name) => work.objectStore(name)));
  });
}

export const setting = (name) => within(["settings"], "readonly", (settings) => settings.get(name));
export const setSetting = (name, value) => within(["settings"], "readwrite", (settings) => settings.put(value, name));
export const cards = () => within(["cards"], "readonly", (all) => all.getAll());
export const putCards = (...some) => within(["cards"], "readwrite", (all) => { for (const one of some) all.put(one); });
export const photographsOf = (card) => within(["photographs"], "readonly", (all) => all.index("card").getAll(card));
export const dropPhotograph = (id) => within(["photographs"], "readwrite", (all) => { all.delete(id); });

// change makes other cards of some, all in one transaction, and gives those that it
// changed; act gives null for one that is to stay as it is.
export async function change(ids, act) {
  const changed = [];
  await within(["cards"], "readwrite", (all) => {
    for (const id of ids) {
      all.get(id).onsuccess = (event) => {
        const now = event.target.result && act(event.target.result);
        if (!now) return;
        all.put(now);
        changed.push(now);
      };
    }
  });
  return changed;
}

// putCard keeps a card with the photographs that are new, and drops those of its places
// that were taken again: all of it or nothing.
export function putCard(one, photographs) {
  return within(["cards", "photographs"], "readwrite", (all, pictures) => {
    all.put(one);
    if (photographs.length === 0) return;
    const taken = photographs.map((p) => p.of);
    pictures.index("card").openCursor(one.id).onsuccess = (event) => {
      const at = event.target.result;
      if (at) {
        if (taken.includes(at.value.of)) at.delete();
        at.continue();
      } else for (const p of photographs) pictures.put(p);
    };
  });
}

// drop takes a card away with its photographs.
export function drop(id) {
  return within(["cards", "photographs"], "readwrite", (all, pictures) => {
    all.delete(id);
    pictures.index("card").openCursor(id).onsuccess = (event) => {
      const at = event.target.result;
      if (!at) return;
      at.delete();
      at.continue();
    };
  });
}

// newID is a fresh identity (UUID version 7, RFC 9562).
export function newID() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let now = Date.now();
  for (let i = 5; i >= 0; i--) {
    bytes[i] = now % 256;
    now = Math.floor(now / 256);
  }
  bytes[6] = bytes[6] & 0x0f | 0x70;
  bytes[8] = bytes[8] & 0x3f | 0x80;
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
