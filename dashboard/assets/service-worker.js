// Keeps the page of what was last known, and shows it in the place of any page while the garden computer cannot be reached.
"use strict";

const KEPT = "cooldepth-kept-1";
const LAST_KNOWN = "/last-known";
const WITH_IT = ["/assets/last-known.js", "/assets/overpass-latin.woff2"];
const NOT_THERE = [502, 503, 504];

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function keep() {
  const kept = await caches.open(KEPT);
  const page = await fetch(LAST_KNOWN, { credentials: "same-origin" });
  // Whoever is not signed in is led to another page, and that is not what is to be kept.
  if (!page.ok || page.redirected) return;
  await kept.put(LAST_KNOWN, page.clone());
  const sheets = Array.from((await page.text()).matchAll(/href="(\/assets\/[^"]+)"/g), (found) => found[1]);
  await Promise.all([...sheets, ...WITH_IT].map((path) => kept.add(path).catch(() => undefined)));
}

async function lastKnown() {
  const kept = await caches.match(LAST_KNOWN);
  if (kept) return kept;
  const words = "The garden computer cannot be reached, and this phone has kept nothing of it yet.";
  return new Response(words, { status: 503, headers: { "Content-Type": "text/plain; charset=utf-8" } });
}

async function page(request) {
  try {
    const answer = await fetch(request);
    return NOT_THERE.includes(answer.status) ? lastKnown() : answer;
  } catch {
    return lastKnown();
  }
}

async function drawnWith(request) {
  try {
    return await fetch(request);
  } catch (error) {
    const kept = await caches.match(request, { ignoreSearch: true });
    if (kept) return kept;
    throw error;
  }
}

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const address = new URL(request.url);
  if (address.origin !== self.location.origin) return;
  // What a household knows leaves the phone with whoever signs out.
  if (address.pathname === "/sign-out") event.waitUntil(caches.delete(KEPT));
  if (request.method !== "GET") return;
  if (request.mode === "navigate") event.respondWith(page(request));
  else if (address.pathname.startsWith("/assets/")) event.respondWith(drawnWith(request));
});

self.addEventListener("message", (event) => {
  if (event.data === "keep") event.waitUntil(keep().catch(() => undefined));
});
