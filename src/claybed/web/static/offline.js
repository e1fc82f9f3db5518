'use strict';
// Keeps the quick mix, the pours that were opened, and what they need. The network comes first, so that a page is
// never older than it must be; without it the kept page is given.
const KEPT = 'claybed-1';
const FIRST = ['/mix', '/assets/colours.css', '/static/app.css', '/static/bench.js', '/static/mix.js', '/static/mark.svg', '/assets/htmx/htmx.min.js', '/assets/fonts/AtkinsonHyperlegibleNext-Regular.woff2', '/assets/fonts/AtkinsonHyperlegibleNext-Bold.woff2'];
const ours = (path) => path === '/mix' || path === '/pour' || path.startsWith('/pour/') || path.startsWith('/static/') || path.startsWith('/assets/');

self.addEventListener('install', (event) => event.waitUntil(caches.open(KEPT).then((kept) => kept.addAll(FIRST)).then(() => self.skipWaiting())));
self.addEventListener('activate', (event) => event.waitUntil(caches.keys().then((names) => Promise.all(names.filter((name) => name !== KEPT).map((name) => caches.delete(name)))).then(() => self.clients.claim())));
self.addEventListener('fetch', (event) => {
  const address = new URL(event.request.url);
  if (event.request.method !== 'GET' || address.origin !== self.location.origin || !ours(address.pathname)) return;
  event.respondWith((async () => {
    const kept = await caches.open(KEPT);
    try {
      const answer = await fetch(event.request);
      if (answer.ok && !answer.redirected) await kept.put(event.request, answer.clone());
      return answer;
    } catch (gone) {
      const found = await kept.match(event.request, { ignoreSearch: true });
      if (found) return found;
      throw gone;
    }
  })());
});
