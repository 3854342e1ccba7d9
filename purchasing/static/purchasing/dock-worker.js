// Keeps the pages of the dock readable without signal: the network first, what was kept if it
// does not answer. It looks after /deliveries/ and what those pages show, and nothing else.
"use strict";
const KEPT = "dock-1";
const PATIENCE = 4000; // ms; a walk-in has signal that never answers

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(takeOver()));
self.addEventListener("fetch", (event) => {
  const asked = event.request, url = new URL(asked.url);
  if (asked.method !== "GET" || url.origin !== self.location.origin) return;
  if (url.pathname.startsWith("/deliveries/") || url.pathname.startsWith("/static/")) {
    event.respondWith(networkFirst(asked, url));
  }
});

async function takeOver() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name !== KEPT).map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function networkFirst(asked, url) {
  const kept = await caches.open(KEPT);
  const name = url.origin + url.pathname;
  const fresh = fetch(asked).then((answer) => {
    if (answer.ok && !answer.redirected && !url.search) kept.put(name, answer.clone());
    return answer;
  });
  const old = await kept.match(name, { ignoreVary: true });
  if (!old) return fresh;
  const late = new Promise((done) => setTimeout(() => done(old.clone()), PATIENCE));
  return Promise.race([fresh.catch(() => old), late]);
}
