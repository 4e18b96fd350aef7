/* Stands between the pages and the network: where the server cannot be reached, the log opens all
   the same and every other page says that it needs the server. It keeps files that are the same for
   everybody, nothing of the orchard and no page of anyone. */
const PREFIX = {{ prefix|tojson }};
const FILES = {{ files|tojson }};
const OURS = `orchard:${PREFIX}:`;
const CACHE = OURS + {{ version|tojson }};
const PATIENCE_MS = 10000;
const DOWN = [502, 503, 504]; // said by a web server in front of ours

addEventListener("install", (event) => {
  const asked = FILES.map((file) => new Request(file, { cache: "reload" }));
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(asked)).then(() => skipWaiting()));
});

addEventListener("activate", (event) => {
  const old = (names) => names.filter((name) => name.startsWith(OURS) && name !== CACHE);
  const forget = caches.keys().then((names) => Promise.all(old(names).map((name) => caches.delete(name))));
  event.waitUntil(forget.then(() => clients.claim()));
});

const kept = (file) => caches.match(file, { cacheName: CACHE });

/** The server's answer; without one, or without one in good time, what is kept for the log. */
async function page(request, isLog) {
  const patience = new AbortController();
  const timer = isLog && setTimeout(() => patience.abort(), PATIENCE_MS);
  try {
    const answer = await fetch(request, isLog ? { signal: patience.signal } : {});
    if (!DOWN.includes(answer.status)) return answer;
  } catch {
    /* no answer */
  } finally {
    clearTimeout(timer);
  }
  return (await kept(PREFIX + (isLog ? "offline/log" : "offline/page"))) || Response.error();
}

addEventListener("fetch", (event) => {
  const { request } = event;
  const { pathname, search } = new URL(request.url);
  if (request.method !== "GET") return;
  if (request.mode === "navigate") event.respondWith(page(request, pathname === PREFIX + "log"));
  else if (FILES.includes(pathname + search)) event.respondWith(kept(pathname + search).then((file) => file || fetch(request)));
});
