"use strict";
// Where a browser allows it (https, or this computer): the last pages open without a network.
const NAME = "hayweather-pages";
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", event => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", event => {
  const {request} = event, path = new URL(request.url).pathname;
  if (request.method !== "GET" || path.endsWith("/events") || path.includes("/in/")) return;
  const asked = fetch(request);
  event.waitUntil(asked.then(async answer => {
    if (answer.status === 403) await caches.delete(NAME);
    else if (answer.ok && !answer.redirected)
      await (await caches.open(NAME)).put(request, answer.clone());
  }).catch(() => {}));
  event.respondWith(asked.then(answer => answer.clone(), async () =>
    await caches.match(request, {ignoreVary: true}) || Response.error()));
});
