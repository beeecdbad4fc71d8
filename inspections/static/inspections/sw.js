// The worker behind the round: keeps its pages and files, and hands over what waits.
// The server writes SHELL before this text: addresses, files, and a version made of their content.
"use strict";

importScripts(SHELL.outbox);

const FILES = `fleetdoors-files-${SHELL.version}`;
const PAGES = "fleetdoors-pages";
const PERSON = "/fleetdoors-person";
const LABELS = "/fleetdoors-labels";
const TAG = "fleetdoors-outbox";
const AGED = 12 * 3600 * 1000;
const PATIENCE = 15_000;
const PRECACHED = new Set(SHELL.files.map((file) => new URL(file, self.location).href));

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const files = await caches.open(FILES);
    const fresh = [...SHELL.files, SHELL.fallback].map(
      (address) => new Request(address, { cache: "reload" }));
    await files.addAll(fresh);
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const names = await caches.keys();
    const old = names.filter((name) => name.startsWith("fleetdoors-files-") && name !== FILES);
    await Promise.all(old.map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

const kept = async (address) =>
  (await caches.open(PAGES)).match(address, { ignoreVary: true, ignoreSearch: true });

// The code on a door, scanned without a signal, leads to that door's page; the address of a visit
// that only the server has leads to the visit as the phone carries it.
async function insteadOf(address) {
  const places = await (await kept(LABELS))?.json();
  const place = places?.[new URL(address).pathname];
  return place && Response.redirect(new URL(place, self.location).href);
}

const forget = () => caches.delete(PAGES);

async function file(request) {
  const found = await (await caches.open(FILES)).match(request, { ignoreVary: true });
  return found ?? fetch(request);
}

const tooLong = () => new Promise((_resolve, reject) => {
  setTimeout(() => reject(new Error("no answer in time")), PATIENCE);
});

// The network first; the phone's copy where there is no answer, or none but an error.
async function page(request) {
  try {
    const response = await Promise.race([fetch(request), tooLong()]);
    if (response.status < 500) return response;
    return (await kept(request.url)) ?? response;
  } catch {
    const copy = (await kept(request.url)) ?? (await insteadOf(request.url)) ?? (await caches.open(FILES).then(
      (files) => files.match(SHELL.fallback, { ignoreVary: true })));
    return copy ?? Response.error();
  }
}

async function data(request) {
  try {
    const response = await fetch(request);
    if (response.status < 500) return response;
    return (await kept(request.url)) ?? response;
  } catch {
    return (await kept(request.url)) ?? Response.error();
  }
}

// Another person may hold the phone after this: no page of the one before stays on it.
async function changeOfPerson(request) {
  const isOut = new URL(request.url).pathname === SHELL.signOut;
  if (isOut) await forget();
  const response = await fetch(request);
  // A sign-in that worked sends the browser on; one that failed shows its form again.
  if (!isOut && response.type === "opaqueredirect") await forget();
  return response;
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (address.origin !== self.location.origin) return;
  if (request.method === "POST" && [SHELL.signIn, SHELL.signOut].includes(address.pathname)) {
    event.respondWith(changeOfPerson(request));
  } else if (request.method !== "GET") {
    return;
  } else if (PRECACHED.has(address.href)) {
    event.respondWith(file(request));
  } else if ([SHELL.tree, SHELL.shop].includes(address.pathname)) {
    event.respondWith(data(request));
  } else if (request.mode === "navigate") {
    event.respondWith(page(request));
  }
});

// A copy says in its own text when it was made: the page tells it without asking anybody.
async function copyOf(response, mark) {
  const keptAt = new Date().toISOString();
  const headers = { "Content-Type": response.headers.get("Content-Type"), "X-Mark": mark, "X-Kept-At": keptAt };
  const body = headers["Content-Type"].startsWith("text/html")
    ? (await response.text()).replace("<head>", `<head><meta name="kept-at" content="${keptAt}">`)
    : await response.blob();
  return new Response(body, { headers });
}

const isGood = (found, mark) =>
  found?.headers.get("X-Mark") === mark
  && Date.now() - Date.parse(found.headers.get("X-Kept-At")) < AGED;

async function keepPage(pages, { url, mark }) {
  if (isGood(await pages.match(url, { ignoreVary: true }), mark)) return 0;
  const response = await fetch(url, { credentials: "same-origin", redirect: "error" })
    // One page that does not come keeps none of the others away.
    .catch(() => Response.error());
  if (response.status === 404 || response.status === 403) await pages.delete(url);
  if (response.ok) await pages.put(url, await copyOf(response, mark));
  return 1;
}

async function keepRound() {
  const answer = await fetch(SHELL.data, { credentials: "same-origin", redirect: "error" });
  if (!answer.ok) return null;
  const round = await answer.json();
  const before = await (await caches.open(PAGES)).match(PERSON);
  if (before && (await before.text()) !== String(round.person)) await forget();
  const pages = await caches.open(PAGES);
  await pages.put(PERSON, new Response(String(round.person)));
  const wanted = [{ url: SHELL.tree, mark: SHELL.version }, ...round.pages];
  await pages.put(LABELS, new Response(JSON.stringify(round.labels)));
  const addresses = new Set([PERSON, LABELS]);
  wanted.forEach((each) => addresses.add(new URL(each.url, self.location).pathname));
  for (const request of await pages.keys()) {
    if (!addresses.has(new URL(request.url).pathname)) await pages.delete(request);
  }
  let fetched = 0;
  for (const each of wanted) fetched += await keepPage(pages, each);
  return { pages: wanted.length, fetched };
}

let keeping = null;
self.addEventListener("message", (event) => {
  if (event.data?.ask !== "keep-round") return;
  // Two tabs that ask at one time are answered by one round of fetching.
  keeping ??= keepRound().catch(() => null).finally(() => { keeping = null; });
  event.waitUntil(keeping.then((answer) => event.ports[0]?.postMessage(answer)));
});

self.addEventListener("sync", (event) => {
  if (event.tag !== TAG) return;
  event.waitUntil(self.fleetdoorsOutbox.send(SHELL.entries).then(({ status }) => {
    // Told as failed, the browser tries again by itself; a sign-in it cannot do.
    if (status === "unreachable" || status === "server") throw new Error(status);
  }));
});
