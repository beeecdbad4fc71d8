// A visit on the phone, from its beginning to the sign-off. What stands is what the page brought
// from the server, and on top of it what was entered here since: kept in a journal until a page
// from the server has it too. Each entry goes out through the outbox.
import { blankJobs, closingOf, problemOf } from "./visit_close.js";
import { afresh, journalOf, standing } from "./visit_journal.js";

const page = document.getElementById("visit-page");
const facts = JSON.parse(document.getElementById("visit-facts").textContent);
const round = self.fleetdoorsRound;
const writer = self.fleetdoorsWriter;
const outbox = self.fleetdoorsOutbox;
const { words } = facts;
const { fill } = round;
const VIEWS = ["check", "close", "hand-over"];
const ALWAYS_CAUTIONS = ["C6", "C2"];
const ENDS = ["visit_close", "hand_over", "visit_absent"];

let shop = null;
let now = null;

const all = (selector) => [...page.querySelectorAll(selector)];
const into = (name, ...children) => all(`[data-list="${name}"]`).forEach((host) => {
  host.replaceChildren(...children.map((child) => (child instanceof Node ? child.cloneNode(true) : child)));
});

function make(tag, { text, ...properties } = {}, ...children) {
  const element = Object.assign(document.createElement(tag), properties);
  if (text !== undefined) element.textContent = text;
  element.append(...children);
  return element;
}

function caution(code) {
  const { signal, word, text } = shop.cautions[code];
  const box = make("div", { className: "caution" },
    make("p", { className: "caution-signal", text: signal.toUpperCase() }),
    make("p", { className: "caution-text", text }));
  box.dataset.signal = word.toUpperCase();
  box.setAttribute("role", "note");
  return box;
}

// The gravest first.
const GRAVITY = ["DANGER", "WARNING", "CAUTION", "NOTICE"];
const gravity = (code) => GRAVITY.indexOf(shop.cautions[code].word.toUpperCase());
const cautions = (codes) => [...new Set(codes)].filter((code) => shop.cautions[code])
  .sort((one, other) => gravity(one) - gravity(other)).map(caution);

const knownJobs = () => new Map([...shop.tasks, ...facts.offered].map((job) => [job.key, job]));

function jobsIn(fields) {
  const known = knownJobs();
  const named = { tasks: "task", faults: "fault", follow_ups: "follow_up", defect_reports: "defect" };
  return Object.entries(named).flatMap(([name, kind]) =>
    [].concat(fields[name] ?? []).map((key) => known.get(`${kind}-${key}`)).filter(Boolean));
}

// --- what is said ---

function sayError(text) {
  const box = document.getElementById("visit-error");
  box.querySelector("p").textContent = text;
  box.hidden = !text;
  if (text) box.focus();
}

function stateInWords() {
  const { ended } = now;
  const last = {
    visit_close: () => fill(words.closed, { person: ended.fields.signed_by }),
    visit_absent: () => words.absent,
    hand_over: () => fill(words.handed, { person: ended.told }),
    visit_plan: () => fill(words.later, { day: ended.fields.planned_on }),
  };
  const parts = [];
  if (ended) parts.push(last[ended.kind]());
  else if (now.isBegun) parts.push(now.person ? fill(words.in_hand, { person: now.person }) : words.open);
  else parts.push(now.isPlanned ? words.planned : words.none);
  if (now.waiting) parts.push(words.waits);
  if (now.refused) parts.push(words.refused);
  return parts.join(" ");
}

const appliesNow = () => new Set([...shop.ticks_always, ...now.jobs.flatMap((job) => job.ticks)]);

function springWords() {
  const people = shop.people.filter((person) => person.springs_until)
    .map((person) => fill(words.until, { person: person.name, day: person.springs_until_words }));
  return fill(words.no_training, { people: people.join(", ") || words.nobody });
}

function drawTicks() {
  const applies = appliesNow();
  const left = [...applies].filter((code) => !now.ticks.has(code)).length;
  all("li[data-tick]").forEach((row) => {
    const { tick } = row.dataset;
    const set = now.ticks.get(tick);
    const label = row.querySelector("form[data-kind=tick]").dataset.label;
    const done = row.querySelector("[data-tick-done]");
    row.hidden = !applies.has(tick);
    done.hidden = !set;
    done.textContent = set ? fill(set.reason ? words.tick_skipped : words.tick_set, { tick: label, reason: set.reason }) : "";
    row.querySelectorAll("form[data-kind=tick], [data-tick-skip]").forEach((each) => { each.hidden = Boolean(set); });
    row.querySelector("form[data-kind=tick_back]").hidden = !set;
    row.querySelectorAll("[data-name]").forEach((each) => { each.hidden = !set; });
  });
  into("ticks-left", left ? plural("ticks_open", left) : "");
  into("springs", applies.has("spring_trained") ? springWords() : "");
}

const plural = (name, count) => fill(count === 1 ? words[`${name}_one`] : words[`${name}_many`], { count });

function drawTakeUp() {
  const has = new Set(now.jobs.map((job) => job.key));
  const more = [...facts.offered, ...shop.tasks].filter((job) => !has.has(job.key));
  const names = { task: "tasks", fault: "faults", follow_up: "follow_ups", defect: "defect_reports" };
  into("take-up", ...more.map((job) => {
    const id = `more-${job.key}`;
    const value = job.key.slice(job.kind.length + 1);
    return make("label", { className: "check", htmlFor: id },
      make("input", { type: "checkbox", id, name: names[job.kind], value }), ` ${job.label}`);
  }));
}

function checkWords() {
  if (now.hasPassed === null) return words.check_missing;
  return now.hasPassed ? words.check_passed : words.check_not_passed;
}

// --- which part of the page stands open ---

function viewNow() {
  if (now.ended) return "ended";
  if (!now.isBegun) return now.isPlanned ? "planned" : "none";
  const asked = location.hash.slice(1);
  return VIEWS.includes(asked) ? asked : "open";
}

function draw({ hasMoved = false } = {}) {
  const view = viewNow();
  all("[data-view]").forEach((section) => { section.hidden = section.dataset.view !== view; });
  document.getElementById("visit-state").textContent = stateInWords();
  page.dataset.state = view;
  into("jobs", ...(now.jobs.length ? now.jobs.map((job) => make("li", { text: job.label })) : [make("li", { text: words.no_jobs })]));
  into("cautions", ...cautions([...ALWAYS_CAUTIONS, ...now.jobs.flatMap((job) => job.cautions)]));
  all("[data-cautions]").forEach((host) => host.replaceChildren(...cautions(host.dataset.cautions.split(" "))));
  into("check-state", checkWords());
  drawTicks();
  drawTakeUp();
  if (view === "close") drawClosing();
  if (hasMoved) page.querySelector(`[data-view="${view}"][tabindex]`)?.focus();
  page.hidden = false;
}

async function drawClosing() {
  const host = page.querySelector("[data-list=closings]");
  const keys = now.jobs.map((job) => job.key).join(" ");
  if (host.dataset.keys !== keys) {
    host.dataset.keys = keys;
    const verdict = JSON.parse(localStorage.getItem(`fleetdoors-verdict:${facts.door}`) ?? "null");
    host.replaceChildren(...blankJobs(now.jobs, shop, facts.model, verdict));
    if (!now.jobs.length) host.append(make("p", { text: words.no_jobs }));
    round.restoreDraft(host.closest("form"));
  }
  const byPin = await writer.signsByPin();
  const { name } = writer.current();
  page.querySelector("[data-sign-name]").hidden = byPin;
  const line = page.querySelector("[data-sign-pin]");
  line.hidden = !byPin;
  line.textContent = fill(words.by_pin, { person: name });
  const input = page.querySelector("[name=signed_by]");
  if (byPin || !input.value) input.value = name;
  proposeMinutes();
}

// From the beginning until now, until somebody types; a visit left open overnight says nothing.
function proposeMinutes() {
  const input = page.querySelector("[name=minutes]");
  if (!now.startedAt || (input.value && input.value !== input.dataset.proposed)) return;
  const minutes = Math.round((Date.now() - Date.parse(now.startedAt)) / 60_000);
  input.dataset.proposed = minutes >= 1 && minutes <= facts.longest_minutes ? String(minutes) : "";
  input.value = input.dataset.proposed;
}

async function refresh(options) {
  now = standing(facts, await journalOf(facts, round), new Map((await outbox.list()).map((each) => [each.client_id, each])));
  draw(options);
}

// --- what is entered ---

function rootOf(journal, entry) {
  if (journal.root) return journal.root;
  if (entry.kind === "visit_plan") return { visit_of: entry.client_id };
  return { visit: String(facts.visit.pk) };
}

async function keep(kind, fields, form) {
  const journal = await journalOf(facts, round);
  const about = { door: facts.door, ...(kind === "visit_plan" ? {} : journal.root ?? { visit: String(facts.visit.pk) }) };
  const label = form.dataset.label || { visit_open: words.begun, visit_plan: words.plan, visit_close: words.close }[kind] || form.querySelector("button").textContent.trim();
  const isOver = ENDS.includes(kind) || (kind === "visit_plan" && !fields.begin);
  const told = form.elements.namedItem("to_person")?.selectedOptions?.[0]?.textContent ?? "";
  const jobs = jobsIn(fields);
  const entry = round.made(kind, label, {
    about, fields, labels: round.labels(form, fields), choices: round.choices(form, fields),
    step: { told, jobs, ends: isOver },
  });
  const item = { client_id: entry.client_id, kind, at: new Date().toISOString(), fields, told, jobs, name: entry.author_name };
  const next = { ...journal, root: rootOf(journal, entry), items: [...journal.items, item], is_over: isOver };
  localStorage.setItem(round.JOURNAL + facts.door, JSON.stringify(next));
  try {
    await outbox.add(entry);
  } catch {
    localStorage.setItem(round.JOURNAL + facts.door, JSON.stringify(journal));
    throw new Error(words.refused);
  }
  return { entry, journal };
}

// To what comes next, so that a thumb stays where it is.
function goOn(kind) {
  const first = (selector) => all(selector).find((each) => each.offsetParent);
  const next = {
    final_check: () => first('a[href="#close"]'),
    visit_jobs: () => first("[data-take-up] summary"),
  }[kind] ?? (() => first("li[data-tick] > form[data-kind=tick] button") ?? first('a[href="#check"]'));
  (now.ended ? document.getElementById("phone-kept") : next())?.focus();
}

async function settle({ entry, journal }, answer, form) {
  if (answer?.outcome === "stored" && ENDS.includes(entry.kind) && answer.url) {
    location.assign(answer.url);
    return;
  }
  const isPlain = answer?.outcome === "refused" && !answer.differences?.length;
  if (isPlain) {
    // Nothing stands on record otherwise: it is put right here, in its own form.
    const found = (await outbox.list()).find((each) => each.client_id === entry.client_id);
    if (found) await outbox.remove(found.place);
    localStorage.setItem(round.JOURNAL + facts.door, JSON.stringify(journal));
    await refresh();
    sayError(answer.refusal);
    return;
  }
  form.reset();
  if (location.hash) history.replaceState(null, "", location.pathname);
  await refresh();
  if (now.ended) round.say("phone-kept", fill(round.facts.words.kept, { label: entry.label }));
  goOn(entry.kind);
}

async function signed(fields) {
  if (!(await writer.signsByPin())) return fields;
  const signer = await writer.sign();
  return signer && { ...fields, signed_by: signer.name, signed_with: "pin" };
}

function localProblem(kind, fields) {
  if (kind === "visit_close") return problemOf({ fields, now, facts, shop, applies: appliesNow() });
  const mayNot = kind === "tick" && fields.tick === "spring_trained"
    && !shop.people.some((person) => person.pk === writer.current().person && person.springs_until >= facts.today);
  return mayNot ? springWords() : "";
}

async function enter(form, submitter) {
  sayError("");
  const { kind } = form.dataset;
  let fields = round.typed(form, submitter);
  // Begun now: the day and the person are those of this moment.
  if (fields.begin) ["planned_on", "technician", "plan"].forEach((name) => delete fields[name]);
  if (kind === "visit_close") fields = closingOf(fields, now.jobs);
  if (!(await writer.ready())) return;
  const problem = localProblem(kind, fields);
  if (problem) {
    sayError(problem);
    return;
  }
  if (kind === "visit_close") fields = await signed(fields);
  if (!fields) return;
  const made = await keep(kind, fields, form);
  round.dropDraft(form);
  await settle(made, (await round.sendAll()).get(made.entry.client_id), form);
}

const busy = new WeakSet();
page.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-kind]");
  if (!form) return;
  event.preventDefault();
  if (busy.has(form) || !form.reportValidity()) return;
  busy.add(form);
  enter(form, event.submitter).catch((error) => sayError(String(error.message ?? error))).finally(() => busy.delete(form));
});
page.addEventListener("input", (event) => {
  const form = event.target.closest("form[data-kind=visit_close], form[data-kind=hand_over]");
  if (form) round.keepDraft(form);
});
document.getElementById("another-visit").addEventListener("click", async () => {
  afresh(facts, round);
  await refresh({ hasMoved: true });
});
addEventListener("hashchange", () => { sayError(""); draw({ hasMoved: true }); });
outbox.changes.addEventListener("message", () => { if (shop) refresh(); });

shop = await round.shopFacts();
if (shop) {
  all("form[data-kind=hand_over]").forEach((form) => round.restoreDraft(form));
  await refresh();
  document.documentElement.dataset.visit = "ready";
} else {
  page.before(make("p", { className: "field-error", text: words.no_shop }));
}
