// What was entered of a visit on this phone, until a page from the server has it too.

const blank = (over = []) => ({ root: null, items: [], is_over: false, over });

const read = (facts, round) =>
  JSON.parse(localStorage.getItem(round.JOURNAL + facts.door) ?? "null") ?? blank();
const write = (facts, round, journal) =>
  localStorage.setItem(round.JOURNAL + facts.door, JSON.stringify(journal));

// When this page left the server, by the phone's own clock.
const fetchedAt = (round) => (round.keptAt ? Date.parse(round.keptAt) : performance.timeOrigin);

// A browser that was killed may have lost the last seconds of the journal, never of the outbox.
function recovered(facts, round, journal, entries) {
  const known = new Set(journal.items.map((item) => item.client_id));
  const lost = entries.filter((entry) => entry.about?.door === facts.door && entry.step
    && !known.has(entry.client_id)
    && !journal.over.some((root) => [entry.client_id, entry.about.visit_of, entry.about.visit].includes(root)));
  if (lost.length === 0) return journal;
  const { about, client_id: id } = lost[0];
  const root = journal.root ?? (about.visit ? { visit: about.visit } : { visit_of: about.visit_of ?? id });
  const items = [...journal.items, ...lost.map(({ client_id, kind, fields, author_name, step }) =>
    ({ client_id, kind, fields, name: author_name, told: step.told, jobs: step.jobs }))];
  const whole = { ...journal, root, items, is_over: lost.some((entry) => entry.step.ends) || journal.is_over };
  write(facts, round, whole);
  return whole;
}

let isFirstLook = true;

// Put aside once everything in it has arrived and the page was fetched after that.
export async function journalOf(facts, round) {
  const entries = await self.fleetdoorsOutbox.list();
  const journal = recovered(facts, round, read(facts, round), entries);
  const isFirst = isFirstLook;
  isFirstLook = false;
  if (journal.items.length === 0) return journal;
  const ids = new Set(entries.map((entry) => entry.client_id));
  if (journal.items.some((item) => ids.has(item.client_id))) return journal;
  if (!journal.arrived_at) {
    // A page that came from the server with nothing left to send knows everything.
    journal.arrived_at = isFirst && !round.keptAt ? performance.timeOrigin : Date.now();
    write(facts, round, journal);
  }
  if (fetchedAt(round) < journal.arrived_at) return journal;
  write(facts, round, blank());
  return blank();
}

const rootsOf = (visit) => [String(visit.pk), ...visit.begun_as];

// Another visit at the same door, while the one before still waits to be sent.
export function afresh(facts, round) {
  const journal = read(facts, round);
  const ended = Object.values(journal.root ?? {});
  if (facts.visit && rootsOf(facts.visit).includes(ended[0])) ended.push(...rootsOf(facts.visit));
  write(facts, round, blank([...journal.over, ...ended]));
}

function baseOf(facts, journal) {
  const { visit } = facts;
  if (!visit) return null;
  const roots = rootsOf(visit);
  if (roots.some((root) => journal.over.includes(root))) return null;
  return !journal.root || roots.includes(Object.values(journal.root)[0]) ? visit : null;
}

const isYes = (value) => value === "yes";
const ITEMS = /^(?!note$)/;

const TAKES = {
  visit_plan(state, item) {
    state.jobs.push(...item.jobs);
    if (item.fields.begin) {
      state.isBegun = true;
      state.person = item.name;
      state.startedAt ??= item.at;
    } else state.ended = item;
  },
  visit_open(state, item) {
    state.isBegun = true;
    state.person = item.name;
    state.startedAt ??= item.at;
  },
  visit_jobs(state, item) { state.jobs.push(...item.jobs); },
  tick(state, { fields }) {
    state.ticks.set(fields.tick, { reason: fields.skipped_reason ?? "" });
  },
  tick_back(state, { fields }) { state.ticks.delete(fields.tick); },
  final_check(state, { fields }) {
    state.hasPassed = Object.entries(fields).filter(([name]) => ITEMS.test(name)).every(([, value]) => isYes(value));
  },
  hand_over(state, item) { state.ended = item; },
  visit_close(state, item) { state.ended = item; },
  visit_absent(state, item) { state.ended = item; },
};

// The visit as it stands: what the server said, and what was entered here since.
export function standing(facts, journal, waiting) {
  const base = baseOf(facts, journal);
  const state = {
    isBegun: base?.state === "open",
    isPlanned: base?.state === "planned",
    person: base?.technician ?? "",
    startedAt: base?.started_at ?? null,
    jobs: [...(base?.jobs ?? [])],
    ticks: new Map((base?.ticks ?? []).map((tick) => [tick.code, tick])),
    hasPassed: base?.has_passed ?? null,
    ended: null,
    waiting: 0,
    refused: 0,
  };
  for (const item of journal.items) {
    const entry = waiting.get(item.client_id);
    if (entry?.state === "refused") {
      state.refused += 1;
      continue;
    }
    if (entry) state.waiting += 1;
    TAKES[item.kind]?.(state, item);
  }
  const byKey = new Map(state.jobs.map((job) => [job.key, job]));
  return { ...state, jobs: [...byKey.values()] };
}
