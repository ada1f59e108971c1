// Keeps the page on the phone, so that it opens with no network.
"use strict";

const version = "VERSION", files = FILES;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const kept = await caches.open(version);
    await kept.addAll(files.map((name) => new Request(name, {cache: "reload"})));
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name !== version) await caches.delete(name);
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  if (event.request.method !== "GET") return;
  event.respondWith((async () => {
    const kept = await caches.open(version);
    return await kept.match(event.request, {ignoreSearch: true}) ?? fetch(event.request);
  })());
});
