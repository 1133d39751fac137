"use strict";
// Where a browser allows it (https, or this computer): the last pages open without a network.
const NAME = "hayweather-pages";
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", event => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", event => {
  const {request} = event, path = new URL(request.url).pathname;
  if (request.method !== "GET" || path.endsWith("/events") || path.includes("/in/")) return;
  event.respondWith((async () => {
    const pages = await caches.open(NAME);
    try {
      const answer = await fetch(request);
      if (answer.ok) await pages.put(request, answer.clone());
      else if (answer.status === 403) await caches.delete(NAME);
      return answer;
    } catch {
      return (await pages.match(request)) || Response.error();
    }
  })());
});
