// Walks the tree on the phone, one question at a time. Each answer is kept here, to go on after a
// restart, and goes to the server through the outbox.
import { likelihoods, suggest } from "./likely.js";
import { limitsOf, trace } from "./trace.js";

const facts = JSON.parse(document.getElementById("trace-facts").textContent);
const symptoms = document.getElementById("trace-symptoms");
const panel = document.getElementById("trace-walk");
const { fill, made, sendAll, visitBegunHere } = self.fleetdoorsRound;
const writer = self.fleetdoorsWriter;
const phrases = self.fleetdoorsRound.facts.words;
const outbox = self.fleetdoorsOutbox;
const { words } = facts;
// A visit begun on this phone is not known to the page, which is older.
const VISIT = facts.visit ? { visit: String(facts.visit) } : visitBegunHere(facts.door);
const KEY = `fleetdoors-trace:${facts.door}:${VISIT ? Object.values(VISIT)[0] : ""}`;
const MOST_LIKELY = 3;

let tree = null;

const load = () => JSON.parse(localStorage.getItem(KEY) ?? "null");
const save = (state) => localStorage.setItem(KEY, JSON.stringify(state));

function make(tag, { text, ...properties } = {}, ...children) {
  const element = Object.assign(document.createElement(tag), properties);
  if (text !== undefined) element.textContent = text;
  element.append(...children.filter(Boolean));
  return element;
}

function button(text, act, className = "button quiet") {
  const element = make("button", { type: "button", className, text });
  element.addEventListener("click", act);
  return element;
}

const contextOf = (state) => ({ ...facts.context, engine_running: state.engine_running });
const positionOf = (state) =>
  trace(tree, state.symptom, state.answers, contextOf(state), state.earlier);

// What an earlier search of the same visit found is not asked again.
function knownBefore() {
  const before = load();
  return VISIT && before ? positionOf(before).kept : facts.earlier;
}

function begin(symptom, engineRunning) {
  const onRecord = facts.open[symptom];
  save({
    symptom,
    engine_running: onRecord ? onRecord.engine_running : engineRunning,
    answers: onRecord ? onRecord.answers : [],
    earlier: onRecord ? [] : knownBefore(),
    is_over: false,
  });
  show();
}

async function send(kind, state, sequence, label, fields) {
  const about = { door: facts.door, symptom: state.symptom, sequence, ...VISIT };
  const told = state.engine_running ? { ...fields, engine_running: "1" } : fields;
  await outbox.add(made(kind, label, { about, fields: told }));
  await sendAll();
}

async function answer(state, given) {
  if (!(await writer.ready())) return;
  const next = { ...state, answers: [...state.answers, given] };
  positionOf(next);
  save(next);
  const asked = tree.nodes[given.node]?.question ?? given.node;
  const label = fill(words.label, { door: facts.door, question: asked });
  // On the disk before the next question is shown.
  const sent = send("trace_answer", next, next.answers.length, label, given);
  show();
  await sent;
}

async function takeBack(state) {
  if (!(await writer.ready())) return;
  const sequence = state.answers.length;
  save({ ...state, answers: state.answers.slice(0, -1) });
  const sent = send("trace_take_back", state, sequence, fill(words.taken_back, { door: facts.door }), {});
  show();
  await sent;
}

function cautions(codes) {
  return codes.map((code) => {
    const caution = facts.cautions[code];
    return caution && make("p", { className: "trace-caution" },
      make("strong", { text: caution.signal }), ` ${caution.text}`);
  });
}

// The units that this person reads and types; the record, and every rule, is metric.
function scaleOf(field) {
  const scale = facts.scales[field.unit] ?? { unit: field.unit, per: 1, zero: 0, decimals: 9 };
  const shown = (value) => Number(((value - scale.zero) / scale.per).toFixed(scale.decimals));
  return {
    unit: scale.unit,
    kept: (value) => value * scale.per + scale.zero,
    shown: (value) => (value === null || value === undefined ? null : shown(value)),
  };
}

function limitWords(limit, { unit, shown }) {
  const has = (value) => value !== null && value !== undefined;
  if (!limit || (!has(limit.low) && !has(limit.high))) return unit;
  const words_ = has(limit.low) && has(limit.high) ? words.between : has(limit.low) ? words.at_least : words.at_most;
  return fill(words_, { low: shown(limit.low), high: shown(limit.high), unit });
}

function inputFor(field, limit) {
  const id = `field-${field.name}`;
  const options = field.kind === "choice" ? field.options : [["true", words.yes], ["false", words.no]];
  const control = field.kind === "number"
    ? make("input", { id, name: field.name, type: "text", inputMode: "decimal", autocomplete: "off", required: field.required })
    : make("select", { id, name: field.name, required: field.required },
      make("option", { value: "", text: words.not_said }),
      ...options.map(([value, text]) => make("option", { value, text })));
  return make("div", { className: "field" },
    make("label", { htmlFor: id, text: field.label }),
    make("p", { className: "help", id: `${id}-help`, text: limitWords(limit, scaleOf(field)) }),
    make("div", { className: "control" }, control));
}

function valueOf(field, typed) {
  if (field.kind === "yes_no") return typed === "true";
  return field.kind === "number" ? scaleOf(field).kept(Number(typed.replace(",", "."))) : typed;
}

function valuesOf(node, form) {
  const typed = new FormData(form);
  return Object.fromEntries(node.fields
    .map((field) => [field, (typed.get(field.name) ?? "").trim()])
    .filter(([, text]) => text !== "")
    .map(([field, text]) => [field.name, valueOf(field, text)]));
}

// What a value says that cannot be, or that a hurried thumb may have meant otherwise.
function slipIn(node, form, meant) {
  for (const field of node.fields.filter((each) => each.kind === "number" && each.quantity)) {
    const input = form.elements.namedItem(field.name);
    const text = input.value.trim();
    const scale = scaleOf(field);
    const values = { name: field.label, value: text, unit: scale.unit };
    if (!text) continue;
    const number = valueOf(field, text);
    if (Number.isNaN(number)) return { input, said: fill(phrases.no_number, values) };
    const value = field.quantity === "millimetres" ? Math.abs(number) : number;
    const supply = facts.context.supply_volts;
    const found = self.fleetdoorsTyped.check(tree.typed_values, field.quantity, value, supply);
    if (found.verdict === "impossible") {
      const band = { low: scale.shown(found.low) ?? "−∞", high: scale.shown(found.high) ?? "∞" };
      return { input, said: fill(phrases.impossible, { ...values, ...band }) };
    }
    if (found.verdict === "doubtful" && meant.get(field.name) !== text) {
      meant.set(field.name, text);
      const suggested = scale.shown(found.suggestion);
      const said = fill(suggested === null ? phrases.unusual : phrases.meant, { ...values, meant: suggested });
      return { input, said: `${said} ${words.once_more}` };
    }
  }
  return null;
}

function questionForm(state, position, node, reason) {
  const form = make("form", { className: "stack", noValidate: true });
  const meant = new Map();
  const limits = limitsOf(tree, node.code, contextOf(state), position);
  const error = make("p", { className: "field-error", role: "alert", hidden: true });
  const reply = async (kind) => {
    if (kind === "measured" && !form.reportValidity()) return;
    const slip = kind === "measured" ? slipIn(node, form, meant) : null;
    error.hidden = !slip;
    if (slip) {
      error.textContent = slip.said;
      slip.input.focus();
      return;
    }
    try {
      await answer(state, { node: node.code, reply: kind, values: valuesOf(node, form), reason });
    } catch (refused) {
      error.textContent = tree.refusals[refused.code] ?? String(refused.message);
      error.hidden = false;
    }
  };
  const kinds = node.kind === "yes_no" ? ["yes", "no"] : ["measured"];
  form.append(
    ...node.fields.map((field) => inputFor(field, limits.find((each) => each.field === field.name))),
    error,
    ...kinds.map((kind) => button(words[kind], () => reply(kind), "button")),
    button(words.cannot_tell, () => reply("cannot_tell")));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (node.kind !== "yes_no") reply("measured");
  });
  if (node.cautions.includes("C3")) {
    const host = form.insertBefore(make("div"), form.firstChild);
    self.fleetdoorsTimer.add(host, "discharge", node.code);
  }
  self.fleetdoorsTimer.beside(form);
  return form;
}

function likely(state, position) {
  const chances = likelihoods(tree, state.symptom, position, facts.priors);
  const first = Object.entries(chances).sort(([, one], [, other]) => other - one).slice(0, MOST_LIKELY);
  return make("details", {}, make("summary", { text: words.likely }),
    make("ol", {}, ...first.map(([code, chance]) => make("li", {
      text: fill(words.chance, { name: tree.causes.groups[code].name, percent: Math.round(chance * 100) }),
    }))));
}

function sooner(state, position) {
  const chances = likelihoods(tree, state.symptom, position, facts.priors);
  const found = suggest(tree, state.symptom, position, chances);
  if (!found || found.node === position.node || found.saves_minutes < 1) return null;
  const node = tree.nodes[found.node];
  const text = fill(words.sooner, { minutes: Math.round(found.saves_minutes), question: node.question });
  return button(text, () => draw(question(state, position, node, words.sooner_reason)));
}

function question(state, position, node, reason = "") {
  return [
    make("h2", { text: node.question }),
    ...cautions(node.cautions),
    make("p", { text: node.how }),
    questionForm(state, position, node, reason),
    reason ? null : sooner(state, position),
    likely(state, position),
  ];
}

function signature(state, verdict) {
  const name = make("input", { id: "signed-by", type: "text", required: true, autocomplete: "name" });
  const form = make("form", { className: "stack" },
    make("div", { className: "field" }, make("label", { htmlFor: "signed-by", text: words.sign }),
      make("div", { className: "control" }, name)),
    make("button", { type: "submit", className: "button quiet", text: words.signed }));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    answer(state, { node: verdict.code, reply: "signed", values: {}, reason: name.value.trim() });
  });
  return form;
}

function verdictOf(state, position) {
  const verdict = tree.verdicts[position.verdict];
  const mode = facts.modes[position.verdict] ?? "";
  const found = { mode, components: position.components };
  localStorage.setItem(`fleetdoors-verdict:${facts.door}`, JSON.stringify(found));
  const account = new URLSearchParams({ complaint: state.symptom, component: position.components[0] ?? "", mode });
  const next = position.next_node && tree.nodes[position.next_node];
  return [
    make("h2", { text: position.is_hard_stop ? words.stop : fill(words.verdict, { name: verdict.name }) }),
    position.is_hard_stop && make("p", {}, make("strong", { text: verdict.name })),
    ...cautions(verdict.cautions),
    make("p", { text: verdict.advice }),
    position.is_unproven && make("p", { text: fill(words.unproven, { count: position.unproven_nodes.length }) }),
    position.components.length > 0 && make("p", { text: fill(words.parts, { parts: position.components.join(", ").replaceAll("_", " ") }) }),
    position.escalate && make("p", { text: words.escalate }),
    position.is_hard_stop && signature(state, verdict),
    !position.is_hard_stop && next && button(`${words.go_on}: ${next.question}`,
      () => draw(question(state, position, next))),
    make("p", {}, make("a", { className: "button", href: `${facts.fault}?${account}`, text: words.record })),
  ];
}

function answered(state, position) {
  if (position.steps.length === 0) return null;
  return make("details", {}, make("summary", { text: words.answered }),
    make("ol", {}, ...position.steps.map((step) => make("li", {
      text: `${tree.nodes[step.node]?.question ?? tree.verdicts[step.node]?.name ?? step.node} ${words[step.reply] ?? step.reply}`,
    }))));
}

function draw(children) {
  panel.replaceChildren(...children.filter(Boolean));
  panel.hidden = false;
  symptoms.hidden = true;
  panel.focus();
}

function showSymptoms() {
  panel.hidden = true;
  symptoms.hidden = false;
}

function show() {
  const state = load();
  if (!state || state.is_over) {
    showSymptoms();
    return;
  }
  const position = positionOf(state);
  panel.dataset.node = position.node ?? "";
  panel.dataset.verdict = position.verdict ?? "";
  draw([
    ...(position.node ? question(state, position, tree.nodes[position.node]) : verdictOf(state, position)),
    answered(state, position),
    state.answers.length > 0 && button(words.take_back, () => takeBack(state)),
    button(words.again, () => { save({ ...state, is_over: true }); showSymptoms(); }),
  ]);
}

symptoms.addEventListener("submit", (event) => {
  event.preventDefault();
  begin(event.submitter.value, symptoms.elements.namedItem("engine_running").checked);
});

try {
  const response = await fetch(facts.tree);
  if (!response.ok) throw new Error(String(response.status));
  tree = await response.json();
  show();
} catch {
  draw([make("p", { className: "field-error", text: words.no_tree })]);
}
