// Entries that wait on this phone, in their order, until the server has answered each of them.
// A plain script, not a module: the pages and the worker share it. It touches no page.
(() => {
  "use strict";

  const NAME = "fleetdoors-outbox";
  const STORE = "entries";
  // Few enough for an answer within the patience below, also where each is computed at once.
  const MOST_AT_ONCE = 20;
  // A body well below what the server takes; a photo above that travels alone.
  const MOST_BYTES = 1_500_000;
  const PATIENCE = 30_000;
  const WAITING = "waiting";
  const REFUSED = "refused";
  const changes = new BroadcastChannel(NAME);

  const asked = (request) => new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

  let opened = null;
  function database() {
    if (opened) return opened;
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () =>
      request.result.createObjectStore(STORE, { keyPath: "place", autoIncrement: true });
    opened = asked(request).then((found) => {
      // A newer page may change the store: this one lets go and asks again.
      found.onversionchange = () => { found.close(); opened = null; };
      found.onclose = () => { opened = null; };
      return found;
    });
    opened.catch(() => { opened = null; });
    return opened;
  }

  // Strict: what was said to be kept is on the disk, also when the phone's battery fails.
  async function written(work) {
    const transaction = (await database()).transaction(STORE, "readwrite", { durability: "strict" });
    const done = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error);
    });
    work(transaction.objectStore(STORE));
    await done;
    changes.postMessage("changed");
  }

  async function list() {
    const transaction = (await database()).transaction(STORE, "readonly");
    return asked(transaction.objectStore(STORE).getAll());
  }

  const add = (...entries) => written((store) =>
    entries.forEach((entry) => store.add({ state: WAITING, ...entry })));
  const put = (entry) => written((store) => store.put(entry));
  const remove = (...places) => written((store) => places.forEach((place) => store.delete(place)));

  async function counts() {
    const all = await list();
    const refused = all.filter((entry) => entry.state === REFUSED).length;
    return { waiting: all.length - refused, refused };
  }

  async function base64(blob) {
    const bytes = new Uint8Array(await blob.arrayBuffer());
    const pieces = [];
    for (let start = 0; start < bytes.length; start += 32_768) {
      pieces.push(String.fromCharCode(...bytes.subarray(start, start + 32_768)));
    }
    return btoa(pieces.join(""));
  }

  async function asSent(entry) {
    const fields = { ...entry.fields };
    if (entry.photo) fields.data = await base64(entry.photo);
    return {
      client_id: entry.client_id,
      kind: entry.kind,
      version: entry.version,
      payload: { about: entry.about, fields },
      happened_at: entry.happened_at,
      phone_now: new Date().toISOString(),
      author: entry.author,
    };
  }

  const weight = (entry) => 500 + JSON.stringify(entry.fields).length + (entry.photo?.size ?? 0) * 1.4;

  function batchOf(entries, most) {
    const batch = [];
    let bytes = 0;
    for (const entry of entries) {
      bytes += weight(entry);
      if (batch.length >= most || (batch.length > 0 && bytes > MOST_BYTES)) break;
      batch.push(entry);
    }
    return batch;
  }

  const asks = (address, options) => fetch(address, {
    credentials: "same-origin",
    cache: "no-store",
    redirect: "error",
    signal: AbortSignal.timeout(PATIENCE),
    ...options,
  });

  // One try to hand over a batch: { status, answers } or { status, message }.
  async function post(address, token, batch) {
    try {
      const response = await asks(address, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": token },
        body: JSON.stringify(await Promise.all(batch.map(asSent))),
      });
      const isOurs = response.headers.get("Content-Type")?.startsWith("application/json");
      const body = isOurs ? await response.json() : {};
      if (response.status === 200 && Array.isArray(body.entries)) {
        return { status: "answered", answers: body.entries };
      }
      return { status: response.status === 200 ? "unreachable" : response.status, message: body.message };
    } catch {
      return { status: "unreachable" };
    }
  }

  // A token of the session that there is now: the page that made the entry may be days old.
  async function freshToken(address) {
    try {
      const response = await asks(address, {});
      if (response.status === 401) return { status: 401 };
      const body = response.ok ? await response.json() : {};
      return body.csrf_token ? { token: body.csrf_token } : { status: response.status };
    } catch {
      return { status: "unreachable" };
    }
  }

  // Only what is still there as it was sent: a person may have corrected it in the meantime.
  const settle = (batch, answers) => written((store) => {
    const byId = new Map(answers.map((answer) => [answer.client_id, answer]));
    for (const { place, client_id } of batch) {
      const answer = byId.get(client_id);
      const request = store.get(place);
      request.onsuccess = () => {
        const entry = request.result;
        if (entry?.client_id !== client_id || entry.state !== WAITING) return;
        if (answer?.outcome === "stored") store.delete(place);
        if (answer?.outcome === REFUSED) {
          store.put({
            ...entry, state: REFUSED, refusal: answer.refusal, differences: answer.differences ?? [],
          });
        }
      };
    }
  });

  const words = (status) => {
    if (status === 401 || status === 403) return "sign_in";
    return status === "unreachable" ? status : "server";
  };

  // Hands over what waits, in order. Returns { status, answers by client id }.
  async function handOver(address) {
    const answers = new Map();
    const tried = new Set();
    let most = MOST_AT_ONCE;
    let token = null;
    const open = async () =>
      (await list()).filter((entry) => entry.state === WAITING && !tried.has(entry.place));
    for (let left = await open(); left.length > 0; left = await open()) {
      if (token === null) {
        const fresh = await freshToken(address);
        if (!fresh.token) return { status: words(fresh.status), answers };
        token = fresh.token;
      }
      const batch = batchOf(left, most);
      const result = await post(address, token, batch);
      if (result.status === "answered") {
        await settle(batch, result.answers);
        result.answers.forEach((answer) => answers.set(answer.client_id, answer));
        batch.forEach((entry) => tried.add(entry.place));
      } else if ((result.status === 413 || result.status === 400) && batch.length > 1) {
        // Something in it cannot be taken: one by one, so that only that stays behind.
        most = 1;
      } else if (result.status === 413 || result.status === 400) {
        const refusal = result.message || String(result.status);
        const answer = { client_id: batch[0].client_id, outcome: REFUSED, refusal };
        await settle(batch, [answer]);
        answers.set(answer.client_id, answer);
      } else {
        return { status: words(result.status), answers };
      }
    }
    return { status: "sent", answers };
  }

  // One at a time in this page. No lock over pages: a page that the browser put aside would hold it
  // for ever, and the server takes an entry once however often it comes.
  let last = Promise.resolve();
  const send = (address) => {
    last = last.catch(() => undefined).then(() => handOver(address));
    return last;
  };

  self.fleetdoorsOutbox = { add, put, remove, list, counts, send, changes, WAITING, REFUSED };
})();
