const begin = "hayweather " + self.registration.scope + " ";
const name = begin + version;
const patience = 4000;

self.addEventListener("install", event => event.waitUntil((async () => {
  const cache = await caches.open(name);
  await cache.addAll(files.map(each => new Request(each, {cache: "no-store"})));
  const own = await (await fetch("sw.js", {cache: "no-store"})).text();
  if (!own.includes(version)) {
    await caches.delete(name);
    throw new Error("a newer night has come meanwhile");
  }
  await self.skipWaiting();
})()));

self.addEventListener("activate", event => event.waitUntil((async () => {
  for (const each of await caches.keys()) {
    if (each.startsWith(begin) && each !== name) await caches.delete(each);
  }
  await self.clients.claim();
})()));

self.addEventListener("fetch", event => {
  if (event.request.method !== "GET") return;
  event.respondWith((async () => {
    const kept = (await caches.open(name)).match(event.request, {ignoreSearch: true});
    const late = new Promise((_, no) => setTimeout(no, patience));
    try {
      const fresh = await Promise.race([fetch(event.request), late]);
      if (fresh.ok) return fresh;
      return (await kept) || fresh;
    } catch {
      return (await kept) || fetch(event.request);
    }
  })());
});
