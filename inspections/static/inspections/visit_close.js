// The closing of a visit on the phone: a form for each job, and the rules that the server asks too.

const NAMELESS = "job-None";
const copyOf = (kind, key) => {
  const template = document.getElementById(kind === "fault" ? "job-fault" : "job-task");
  const copy = document.createElement("template");
  copy.innerHTML = template.innerHTML.replaceAll(NAMELESS, key);
  return copy.content.firstElementChild;
};

function option(value, text) {
  return Object.assign(document.createElement("option"), { value, textContent: text });
}

function grouped(rows, valueOf, textOf) {
  const groups = new Map();
  for (const row of rows) groups.set(row.group, [...(groups.get(row.group) ?? []), row]);
  return [...groups].map(([label, members]) => {
    const options = members.map((row) => option(valueOf(row), textOf(row)));
    if (!label) return options;
    const group = Object.assign(document.createElement("optgroup"), { label });
    group.append(...options);
    return [group];
  }).flat();
}

function offerParts(section, key, shop, model) {
  const fitting = shop.parts.filter((part) => part.fits.length === 0 || part.fits.includes(model));
  section.querySelectorAll(`select[name^="${key}-parts-"][name$="-part"]`).forEach((select) =>
    select.append(...grouped(fitting, (part) => part.value, (part) => part.label)));
  return fitting;
}

// Only the modes of the component where it is known; all of them under their names where not.
function offerModes(section, job, shop) {
  const select = section.querySelector(`select[name="${job.key}-mode"]`);
  if (!select) return;
  const own = shop.modes.filter((mode) => mode.component === job.component);
  const modes = own.length ? own.map((mode) => ({ ...mode, group: "" })) : shop.modes;
  if (!select.options.length) select.append(option("", "–"));
  select.append(...grouped(modes, (mode) => mode.code, (mode) => mode.name));
  select.value = job.mode;
}

// What the search at this door ended in: proposed, never more than that.
function propose(section, job, fitting, verdict) {
  if (job.kind !== "fault" || !verdict || (job.component && !verdict.components.includes(job.component))) return;
  const set = (name, value) => {
    const field = section.querySelector(`[name="${job.key}-${name}"]`);
    if (field && !field.value && [...field.options].some((each) => each.value === value)) field.value = value;
  };
  set("mode", verdict.mode);
  const part = fitting.find((each) => verdict.components.includes(each.component));
  if (!part) return;
  set("parts-0-part", part.value);
  set("action", "replace");
  section.querySelector(`[name="${job.key}-parts-0-part"]`)?.closest("details")?.setAttribute("open", "");
}

export const blankJobs = (jobs, shop, model, verdict) => jobs.map((job) => {
  const section = copyOf(job.kind, job.key);
  section.dataset.job = job.key;
  section.querySelector("h2").textContent = job.label;
  const fitting = offerParts(section, job.key, shop, model);
  offerModes(section, job, shop);
  propose(section, job, fitting, verdict);
  return section;
});

// What is sent: parts only where one was named, and each job's words for whoever reads a conflict.
export function closingOf(fields, jobs) {
  const kept = Object.entries(fields).filter(([name]) => {
    const row = name.match(/^(.*-parts-\d+)-(quantity|removal|position)$/);
    return !row || fields[`${row[1]}-part`] || row[2] !== "quantity" || fields[name] !== "1";
  });
  const labels = jobs.map((job) => [`${job.key}-label`, job.label]);
  return Object.fromEntries([...kept, ...labels]);
}

function problemOfJob(job, fields, words) {
  const said = (name) => fields[`${job.key}-${name}`] ?? "";
  const values = { job: job.label };
  if (!said("outcome")) return [words.outcome_missing, values];
  if (said("outcome") === "not_done") return said("reason").trim() ? null : [words.reason_missing, values];
  if (job.kind === "fault" && !said("action")) return [words.action_missing, values];
  const isHalf = [0, 1].some((row) => !said(`parts-${row}-part`)
    && ["quantity", "removal", "position"].some((name) => said(`parts-${row}-${name}`)));
  return isHalf ? [words.part_missing, values] : null;
}

// Why the visit cannot be closed yet, "" where nothing is missing. The server has the last word.
export function problemOf({ fields, now, facts, applies }) {
  const { words } = facts;
  const fill = self.fleetdoorsRound.fill;
  const left = [...applies].filter((code) => !now.ticks.has(code)).length;
  if (left) return fill(left === 1 ? words.ticks_open_one : words.ticks_open_many, { count: left });
  for (const job of now.jobs) {
    const found = problemOfJob(job, fields, words);
    if (found) return fill(...found);
  }
  const done = now.jobs.filter((job) => fields[`${job.key}-outcome`] === "done" && job.touches);
  const isHeld = facts.holds > 0 && !done.some((job) => job.always);
  if (done.length && !now.hasPassed && !isHeld) return words.check_needed;
  return (fields.signed_by ?? "").trim() ? "" : words.sign_missing;
}
