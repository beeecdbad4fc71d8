// The pages of the round on a phone: what is entered goes through the outbox, so that it arrives
// once, with or without a signal. A page also works without this script, as long as there is one.
(() => {
  "use strict";

  const outbox = self.fleetdoorsOutbox;
  const writer = self.fleetdoorsWriter;
  const element = (id) => document.getElementById(id);
  const factsElement = element("phone-facts");
  if (!outbox || !factsElement || !self.indexedDB) return;

  const facts = JSON.parse(factsElement.textContent);
  const { words } = facts;
  const TAG = "fleetdoors-outbox";
  const RETRY_AFTER = 30_000;
  const LONGEST_SIDE = 1600;
  const DRAFT_KEPT = 12 * 3600 * 1000;
  // Five digits are typed again sooner than an old value is noticed; what asks no typing has no draft.
  const WITHOUT_DRAFT = ["reading", "tick", "visit_open"];
  const keptAt = document.querySelector("meta[name=kept-at]")?.content;

  const fill = (text, values) => text.replace(/\{(\w+)\}/g, (_all, name) => values[name] ?? "");
  const counted = (name, count) => fill(count === 1 ? words[`${name}_one`] : words[`${name}_many`], { count });
  const clock = new Intl.DateTimeFormat(document.documentElement.lang, {
    weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit", hourCycle: "h23",
  });

  // As the server writes it: Wed 25 Nov, 14:05.
  function moment(iso) {
    const part = Object.fromEntries(
      clock.formatToParts(new Date(iso)).map(({ type, value }) => [type, value]));
    return `${part.weekday} ${part.day} ${part.month}, ${part.hour}:${part.minute}`;
  }

  function age(iso) {
    const minutes = Math.max(0, Math.round((Date.now() - Date.parse(iso)) / 60_000));
    if (minutes < 1) return words.minutes_none;
    return minutes < 120 ? counted("minutes", minutes) : counted("hours", Math.round(minutes / 60));
  }

  function tellCopy() {
    const line = element("phone-copy");
    if (!keptAt || !line) return;
    line.textContent = fill(words.copy, { moment: moment(keptAt), age: age(keptAt) });
    line.hidden = false;
  }

  let lastStatus = "sent";

  // Written only when it changes: a live region speaks each time.
  function say(id, text) {
    const line = element(id);
    if (line && line.textContent !== text) line.textContent = text;
  }

  async function tellWaiting() {
    const { waiting, refused } = await outbox.counts();
    const parts = [];
    if (waiting) parts.push(`${counted("waits", waiting)}.`);
    if (waiting && lastStatus !== "sent") parts.push(words[lastStatus]);
    if (refused) parts.push(`${counted("refused", refused)}.`);
    say("phone-waiting", parts.join(" "));
    element("phone-links").hidden = parts.length === 0;
    element("phone-sign-in").hidden = !(waiting && lastStatus === "sign_in");
    document.documentElement.dataset.waiting = waiting;
    document.documentElement.dataset.refused = refused;
  }

  let retry = null;
  async function sendAll() {
    clearTimeout(retry);
    const { waiting } = await outbox.counts();
    if (!waiting) {
      lastStatus = "sent";
      await tellWaiting();
      return new Map();
    }
    const { status, answers } = navigator.onLine
      ? await outbox.send(facts.entries)
      : { status: "unreachable", answers: new Map() };
    const isLeft = (await outbox.counts()).waiting > 0;
    // Taken up, and yet not taken: the server asked for some of them again later.
    lastStatus = status === "sent" && isLeft ? "server" : status;
    await tellWaiting();
    if (isLeft && lastStatus !== "sign_in") {
      retry = setTimeout(sendAll, RETRY_AFTER);
      askForSync();
    }
    return answers;
  }

  async function askForSync() {
    try {
      const registration = await navigator.serviceWorker?.ready;
      await registration?.sync?.register(TAG);
    } catch {
      // Not every browser has it; the next page and the timer send as well.
    }
  }

  async function shrunk(photo) {
    const picture = await createImageBitmap(photo, { imageOrientation: "from-image" });
    const share = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * share);
    canvas.height = Math.round(picture.height * share);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.8));
    if (!blob) throw new Error("no picture came of it");
    return blob;
  }

  const isLeftOut = (form, name, value) => {
    const input = form.elements.namedItem(name);
    const isUntouched = input instanceof HTMLElement && input.closest("[data-now]:not([data-touched])");
    return name === "csrfmiddlewaretoken" || value instanceof File || value === "" || isUntouched;
  };

  function typed(form, submitter) {
    const fields = {};
    for (const [name, value] of new FormData(form, submitter)) {
      if (isLeftOut(form, name, value)) continue;
      fields[name] = name in fields ? [].concat(fields[name], value) : value;
    }
    return fields;
  }

  const about = (form) => Object.fromEntries(
    Object.entries(form.dataset)
      .filter(([name]) => name.startsWith("about") && name.length > 5)
      .map(([name, value]) => [name[5].toLowerCase() + name.slice(6), value]));

  const firstInput = (form, name) => {
    const input = form.elements.namedItem(name);
    return input instanceof RadioNodeList ? input[0] : input;
  };

  const wordsOf = (input) => input?.labels?.[0]?.childNodes[0]?.textContent.trim() ?? "";

  function labelOf(form, name) {
    const input = firstInput(form, name);
    const isOneOfSeveral = input?.type === "radio" || form.elements.namedItem(name) instanceof RadioNodeList;
    return (isOneOfSeveral ? input.closest("fieldset")?.querySelector("legend")?.childNodes[0]?.textContent.trim()
      : wordsOf(input) || input?.closest("label")?.textContent.trim()) || name;
  }

  // What could have been chosen, for a correction days later on another page.
  function choicesOf(form, name) {
    const input = form.elements.namedItem(name);
    if (input instanceof HTMLSelectElement && !input.multiple) {
      return [...input.options].map((option) => [option.value, option.textContent.trim()]);
    }
    if (!(input instanceof RadioNodeList) || input[0].type !== "radio") return null;
    return [...input].map((each) => [each.value, each.labels[0]?.textContent.trim() ?? each.value]);
  }

  const labels = (form, fields) =>
    Object.fromEntries(Object.keys(fields).map((name) => [name, labelOf(form, name)]));
  const choices = (form, fields) => Object.fromEntries(
    Object.keys(fields).map((name) => [name, choicesOf(form, name)]).filter(([, found]) => found));

  function made(kind, label, rest) {
    const { person, name, author } = writer.current();
    return {
      client_id: crypto.randomUUID(),
      kind,
      version: facts.version,
      happened_at: new Date().toISOString(),
      author,
      author_name: name,
      person,
      label,
      fields: {},
      about: {},
      ...rest,
    };
  }

  // The visit that the phone has begun at a door by itself, which no page from the server knows.
  const JOURNAL = "fleetdoors-visit:";
  const visitBegunHere = (door) => {
    const journal = JSON.parse(localStorage.getItem(JOURNAL + door) ?? "null");
    return journal && !journal.is_over ? journal.root : null;
  };

  // --- what is typed outlives a killed browser ---

  const draftKey = (form) =>
    `fleetdoors-draft:${facts.person}:${location.pathname}:${form.dataset.offline ?? form.dataset.kind}:${form.elements.namedItem("units")?.value ?? ""}`;
  const hasDraft = (form) => !WITHOUT_DRAFT.includes(form.dataset.offline ?? form.dataset.kind);

  function keepDraft(form) {
    if (hasDraft(form)) {
      const draft = { at: Date.now(), fields: typed(form) };
      localStorage.setItem(draftKey(form), JSON.stringify(draft));
    }
  }

  const dropDraft = (form) => localStorage.removeItem(draftKey(form));

  function putBack(form, [name, value]) {
    const input = form.elements.namedItem(name);
    if (!input) return;
    const values = [].concat(value);
    const each = input instanceof RadioNodeList ? [...input] : [input];
    for (const one of each) {
      if (one.type === "hidden" || one.type === "password") continue;
      if (one.type === "checkbox" || one.type === "radio") one.checked = values.includes(one.value);
      else one.value = value;
      one.closest("details")?.setAttribute("open", "");
      const now = one.closest("[data-now]");
      if (now) now.dataset.touched = "";
    }
  }

  function restoreDraft(form) {
    const draft = JSON.parse(localStorage.getItem(draftKey(form)) ?? "null");
    if (!draft || form.querySelector(".error-summary, .field-error")) return;
    if (Date.now() - draft.at > DRAFT_KEPT || Object.keys(draft.fields).length === 0) {
      dropDraft(form);
      return;
    }
    form.querySelectorAll("input[type=checkbox]").forEach((box) => { box.checked = false; });
    Object.entries(draft.fields).forEach((field) => putBack(form, field));
    const line = document.createElement("p");
    line.className = "draft";
    const empty = document.createElement("button");
    Object.assign(empty, { type: "button", className: "plain", textContent: words.empty_form });
    empty.addEventListener("click", () => { dropDraft(form); form.reset(); setMoments(); line.remove(); });
    line.append(`${fill(words.draft, { moment: moment(draft.at) })} `, empty);
    form.prepend(line);
  }

  function aboutWithVisit(form) {
    const told = about(form);
    const begun = form.dataset.offline === "inspection" && !told.visit && visitBegunHere(told.door);
    return begun ? { ...told, ...begun } : told;
  }

  async function entriesOf(form, submitter) {
    const fields = typed(form, submitter);
    // The form was filled in for who is signed in; the name under it is of who writes.
    if (fields.inspector === facts.authorName) fields.inspector = writer.current().name;
    const told = [form.dataset.label, fields.counter_value].filter(Boolean).join(": ");
    const entry = made(form.dataset.offline, told, {
      about: aboutWithVisit(form), fields, labels: labels(form, fields), choices: choices(form, fields),
    });
    const photo = form.elements.namedItem("photo")?.files?.[0];
    if (!photo) return [entry];
    const picture = await shrunk(photo).catch(() => null);
    if (!picture) {
      say("phone-kept", words.photo_unreadable);
      return [entry];
    }
    const label = `${words.photo} · ${told}`;
    return [entry, made("photo", label, { about: { of: entry.client_id }, photo: picture })];
  }

  // The usual way, with the token of the session that there is now.
  function postAsUsual(form) {
    const token = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1];
    const input = form.querySelector("[name=csrfmiddlewaretoken]");
    if (token && input) input.value = token;
    HTMLFormElement.prototype.submit.call(form);
  }

  async function takeBack(entries) {
    const ids = new Set(entries.map((entry) => entry.client_id));
    const places = (await outbox.list()).filter((each) => ids.has(each.client_id)).map((each) => each.place);
    if (places.length) await outbox.remove(...places);
  }

  async function tellKept(form, entry) {
    form.reset();
    setMoments();
    say("phone-kept", "");
    say("phone-kept", fill(words.kept, { label: entry.label }));
    element("phone-kept").focus();
    document.dispatchEvent(new CustomEvent("phone:kept", { detail: entry }));
  }

  // Another tab, or the worker, may have handed it over in the meantime.
  async function whatBecameOf(entry) {
    const found = (await outbox.list()).find((each) => each.client_id === entry.client_id);
    if (!found) return { outcome: "stored" };
    return found.state === outbox.REFUSED ? { outcome: "refused" } : null;
  }

  // --- a slip is asked about before it is kept ---

  let shop = null;
  async function shopFacts() {
    shop ??= fetch(facts.shop, { credentials: "same-origin" }).then((answer) => {
      if (!answer.ok) throw new Error(String(answer.status));
      return answer.json();
    });
    try {
      return await shop;
    } catch {
      shop = null;
      return null;
    }
  }

  // The units that stand beside the boxes; the record, and every rule, is metric.
  function scaleOf(form, kept) {
    const scale = JSON.parse(form.dataset.scales || "{}")[kept] ?? { unit: kept, per: 1, zero: 0, decimals: 9 };
    const shown = (value) => Number(((value - scale.zero) / scale.per).toFixed(scale.decimals));
    return {
      unit: scale.unit,
      kept: (value) => value * scale.per + scale.zero,
      shown: (value) => (value === null || value === undefined ? null : shown(value)),
    };
  }

  function judged(form, known) {
    const found = [];
    for (const [name, { typed_as, name: title, unit }] of Object.entries(known.quantities)) {
      const input = form.elements.namedItem(name);
      const text = input?.value?.trim() ?? "";
      if (!text) continue;
      const number = Number(text.replace(",", "."));
      const scale = scaleOf(form, unit);
      const values = { name: title, value: text, unit: scale.unit };
      if (Number.isNaN(number)) {
        found.push({ input, said: fill(words.no_number, values) });
        continue;
      }
      // Drift has a sign; how far is what can be judged.
      const value = scale.kept(typed_as === "millimetres" ? Math.abs(number) : number);
      const supply = Number(form.dataset.supplyVolts) || undefined;
      const { verdict, suggestion, low, high } = self.fleetdoorsTyped.check(known.typed_values, typed_as, value, supply);
      if (verdict === "impossible") {
        const ends = { low: scale.shown(low) ?? "−∞", high: scale.shown(high) ?? "∞" };
        found.push({ input, said: fill(words.impossible, { ...values, ...ends }) });
      } else if (verdict === "doubtful") {
        const size = scale.shown(suggestion);
        const meant = size === null ? "" : String(number < 0 ? -size : size);
        found.push({ input, meant, unit: scale.unit, isDoubt: true, said: fill(meant ? words.meant : words.unusual, { ...values, meant }) });
      }
    }
    return found;
  }

  function askAbout(form, found) {
    form.querySelectorAll(".asked").forEach((line) => line.remove());
    for (const { input, said, meant, unit, isDoubt } of found) {
      const line = document.createElement("div");
      line.className = "field-error asked";
      line.setAttribute("role", "alert");
      line.append(said);
      if (meant) {
        const take = document.createElement("button");
        Object.assign(take, { type: "button", className: "button quiet", textContent: fill(words.take_meant, { meant, unit }) });
        take.addEventListener("click", () => { input.value = meant; line.remove(); input.focus(); keepDraft(form); });
        line.append(take);
      }
      if (isDoubt) {
        const right = document.createElement("button");
        Object.assign(right, { type: "button", className: "button quiet", textContent: words.is_right });
        right.addEventListener("click", () => { input.dataset.meant = input.value; line.remove(); input.focus(); });
        line.append(right);
      }
      input.closest("details")?.setAttribute("open", "");
      input.closest(".field").append(line);
    }
    found[0]?.input.focus();
  }

  // The server asks the same; without a signal there is nobody to ask the next day.
  async function isUnderstood(form) {
    if (form.dataset.offline !== "inspection" || !self.fleetdoorsTyped) return true;
    const known = await shopFacts();
    const found = known ? judged(form, known) : [];
    const open = found.filter(({ input, isDoubt }) => !isDoubt || input.dataset.meant !== input.value);
    askAbout(form, open);
    if (open.length === 0 && found.length > 0 && !form.elements.namedItem("is_confirmed")) {
      form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "is_confirmed", value: "1" }));
    }
    return open.length === 0;
  }

  async function enter(form, submitter) {
    if (!(await isUnderstood(form)) || !(await writer.ready())) return;
    const entries = await entriesOf(form, submitter);
    try {
      await outbox.add(...entries);
    } catch {
      // The phone keeps nothing (private window, no room left): then it has to go at once.
      postAsUsual(form);
      return;
    }
    dropDraft(form);
    say("phone-kept", words.sending);
    await tellWaiting();
    const answer = (await sendAll()).get(entries[0].client_id) ?? (await whatBecameOf(entries[0]));
    if (answer?.outcome === "stored") {
      say("phone-kept", "");
      if (answer.url) location.assign(answer.url);
      else location.reload();
    } else if (answer?.outcome === "refused") {
      await takeBack(entries);
      postAsUsual(form);
    } else {
      await tellKept(form, entries[0]);
    }
  }

  const isBusy = new WeakSet();
  document.addEventListener("submit", (event) => {
    const form = event.target.closest("form[data-offline]");
    if (!form || event.defaultPrevented) return;
    event.preventDefault();
    form.querySelectorAll(".counter-input").forEach((input) => {
      input.value = input.value.replace(/\s/g, "");
    });
    if (isBusy.has(form) || !form.reportValidity()) return;
    isBusy.add(form);
    enter(form, event.submitter).finally(() => isBusy.delete(form));
  });

  // The clock of the depot, whatever the phone's own zone; a page may have been kept for hours.
  function setMoments() {
    for (const nowField of document.querySelectorAll("[data-now]:not([data-touched])")) {
      const shown = new Date().toLocaleString("sv-SE", { timeZone: nowField.dataset.zone || undefined });
      nowField.querySelector("input").value = shown.replace(" ", "T").slice(0, 16);
    }
  }

  document.addEventListener("input", (event) => {
    const nowField = event.target.closest("[data-now]");
    if (nowField) nowField.dataset.touched = "";
    const form = event.target.closest("form[data-offline]");
    if (form) keepDraft(form);
  });

  // How much of each listed door still waits on this phone.
  async function tellDoors() {
    const lines = document.querySelectorAll("[data-door-waits]");
    if (lines.length === 0) return;
    const entries = await outbox.list();
    for (const line of lines) {
      const count = entries.filter((entry) => entry.about?.door === line.dataset.doorWaits).length;
      line.textContent = count ? counted("door_waits", count) : "";
    }
  }

  async function keepRound() {
    const registration = await navigator.serviceWorker.register(facts.worker, { scope: "/" });
    await navigator.serviceWorker.ready;
    if (keptAt) return;
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = ({ data }) => {
      if (data) document.documentElement.dataset.kept = data.pages;
      document.dispatchEvent(new CustomEvent("phone:round-kept", { detail: data }));
    };
    (registration.active ?? navigator.serviceWorker.controller)?.postMessage({ ask: "keep-round" }, [port2]);
  }

  self.fleetdoorsRound = {
    facts, fill, counted, moment, made, sendAll, tellWaiting, typed, labels, choices, shopFacts,
    visitBegunHere, keepDraft, dropDraft, restoreDraft, say, keptAt, JOURNAL,
  };
  outbox.changes.addEventListener("message", () => { tellWaiting(); tellDoors(); });
  document.querySelectorAll("form[data-offline]").forEach(restoreDraft);
  tellDoors();
  addEventListener("online", sendAll);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") sendAll();
  });
  addEventListener("pageshow", (event) => {
    setMoments();
    // Come back to with the browser's own "back": nothing of the page ran again.
    if (event.persisted) tellWaiting().then(sendAll);
  });
  tellCopy();
  tellWaiting().then(sendAll);
  if (navigator.serviceWorker) keepRound().catch(() => undefined);
  document.documentElement.dataset.phone = "ready";
})();
