// Sends what is kept here. Nothing leaves the phone's keeping before the server says that
// it has it; what is sent twice is kept once, since its identity was made here.
"use strict";

const atOnce = 10, patience = 30000, remembered = 60;

// post sends something and gives the answer; null when there was none to be trusted.
async function post(path, headers, body) {
  try {
    const got = await fetch(path, {method: "POST", headers, body, credentials: "omit", cache: "no-store", redirect: "error", signal: AbortSignal.timeout?.(patience)});
    if (!got.headers.get("Content-Type")?.startsWith("application/json")) return null;
    return await got.json();
  } catch (nothing) {
    return null;
  }
}

const postJSON = (path, body) => post(path, {"Content-Type": "application/json"}, JSON.stringify(body));

// askKit asks what a kit is.
export async function askKit(code) {
  const answer = await postJSON("kit", {code});
  if (answer === null) return {reached: false};
  return answer.refused ? {reached: true, refused: answer.refused} : {reached: true, about: answer};
}

// sendAll sends cards, then photographs of those that are kept; it tells whether the
// server was reached. Cards that were refused are left for a person.
export async function sendAll(keep) {
  const waiting = (await keep.cards()).filter((c) => c.state === "waits");
  const codes = [...new Set(waiting.map((c) => c.code))];
  for (const code of codes) {
    const mine = waiting.filter((c) => c.code === code).sort((a, b) => a.made - b.made);
    for (let i = 0; i < mine.length; i += atOnce) {
      if (!await sendCards(keep, code, mine.slice(i, i + atOnce))) return false;
    }
  }
  for (const card of (await keep.cards()).filter((c) => c.state === "sent")) {
    if (!await sendPhotographs(keep, card)) return false;
  }
  await forget(keep);
  return waiting.length > 0 || navigator.onLine;
}

// sendCards sends some cards of one kit. Before, it is noted that they may have arrived,
// since from then on they must not be changed.
async function sendCards(keep, code, some) {
  const going = await keep.change(some.map((c) => c.id), (c) => c.state === "waits" ? {...c, tried: true} : null);
  if (going.length === 0) return true;
  const answer = await postJSON("cards", {code, cards: going.map((c) => ({id: c.id, cells: c.cells}))});
  if (answer === null) return false;
  if (answer.refused === "pace") return true; // it was reached, and takes them later
  const told = new Map((answer.cards ?? []).map((one) => [one.id, one]));
  await keep.change(going.map((c) => c.id), (c) => {
    const one = told.get(c.id), why = one?.refused ?? answer.refused;
    if (one?.kept) return {...c, state: "sent", why: "", says: []};
    return why ? {...c, state: "refused", why, says: one?.says ?? []} : null;
  });
  return true;
}

// sendPhotographs sends those of a card that is kept, each until it is kept or refused.
async function sendPhotographs(keep, card) {
  let refused = "";
  for (const one of await keep.photographsOf(card.id)) {
    const address = "photographs?" + new URLSearchParams({id: one.id, card: card.id, of: one.of});
    const answer = await post(address, {"Content-Type": "image/jpeg", "X-Kit-Code": card.code}, one.jpeg);
    if (answer === null) return false;
    if (answer.refused === "pace") return true;
    if (answer.kept) await keep.dropPhotograph(one.id);
    else refused = answer.refused;
  }
  await keep.putCards({...card, state: "kept", photograph: refused});
  return true;
}

// forget drops the oldest cards that are kept by the server.
async function forget(keep) {
  const kept = (await keep.cards()).filter((c) => c.state === "kept").sort((a, b) => b.made - a.made);
  for (const card of kept.slice(remembered)) await keep.drop(card.id);
}
