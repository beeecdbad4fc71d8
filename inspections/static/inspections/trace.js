// Walks the fault-tracing tree on the phone: the same fold over the same data as
// inspections/tracing/walk.py, whose words and order of steps it keeps. A test walks both.

const SLACK = 1e-9;
const FIRST_LOOK = "N00";
const WHAT_IS_WRONG = "N31";
const NOTHING_FOUND = "V39";
const WHOLE_DOOR = "function";
const MOST_ARRIVALS = 3;
const GOOD = ["pass", "near"];
const REPLIES = { yes_no: ["yes", "no", "cannot_tell"], measured: ["measured", "cannot_tell"] };

export class TraceRefused extends Error {
  constructor(code, index) {
    super(`Answer ${index}: ${code}`);
    this.code = code;
    this.index = index;
  }
}

const has = (object, key) => Object.prototype.hasOwnProperty.call(object, key);
const isNumber = (value) => typeof value === "number" && Number.isFinite(value);
const isGood = (outcome) => GOOD.includes(outcome);

const isEqual = (left, right) =>
  isNumber(left) && isNumber(right) ? Math.abs(left - right) <= SLACK : left === right;

const ON_KNOWN = {
  "+": (a, b) => a + b,
  "-": (a, b) => a - b,
  "*": (a, b) => a * b,
  min: (...all) => Math.min(...all),
  max: (...all) => Math.max(...all),
  abs: (a) => Math.abs(a),
  "<=": (a, b) => a <= b + SLACK,
  "<": (a, b) => a < b - SLACK,
  ">=": (a, b) => a >= b - SLACK,
  ">": (a, b) => a > b + SLACK,
  "==": isEqual,
  not: (a) => !a,
};
const settled = (values, word, other) => {
  if (values.includes(word)) return word;
  return values.includes(null) ? null : other;
};
const ON_ANY = {
  and: (values) => settled(values, false, true),
  or: (values) => settled(values, true, false),
  first: (values) => values.find((each) => each !== null) ?? null,
  known: (values) => values[0] !== null,
};

// The language is told in inspections/tracing/predicates.py.
export function evaluate(expression, known, derived) {
  if (!Array.isArray(expression)) return expression ?? null;
  const [operation, ...operands] = expression;
  if (operation === "text") return operands[0];
  if (operation === "value") {
    const name = operands[0];
    return known.has(name) ? known.get(name) : evaluate(derived[name] ?? null, known, derived);
  }
  const values = operands.map((each) => evaluate(each, known, derived));
  if (has(ON_ANY, operation)) return ON_ANY[operation](values);
  if (!has(ON_KNOWN, operation)) throw new Error(`No operation ${operation}`);
  return values.includes(null) ? null : ON_KNOWN[operation](...values);
}

const given = (answer) =>
  Object.entries(answer.values ?? {}).filter(([, value]) => value !== null && value !== undefined);

function fits(field, value) {
  if (field.kind === "yes_no") return typeof value === "boolean";
  if (field.kind === "choice") return field.options.some(([code]) => code === value);
  return isNumber(value);
}

function defectOf(node, answer) {
  if (node.kind === "automatic") return "not_askable";
  if (!REPLIES[node.kind].includes(answer.reply)) return "bad_reply";
  const fields = new Map(node.fields.map((field) => [field.name, field]));
  const values = given(answer);
  if (values.some(([name, value]) => !fields.has(name) || !fits(fields.get(name), value))) {
    return "bad_value";
  }
  const names = values.map(([name]) => name);
  const isMissing = node.fields.some((field) => field.required && !names.includes(field.name));
  return isMissing && answer.reply === "measured" ? "missing_value" : null;
}

class Walk {
  constructor(tree, symptom, contextValues) {
    this.tree = tree;
    this.symptom = tree.symptoms[symptom];
    this.known = new Map(Object.entries(contextValues).map(([name, each]) => [name, each ?? null]));
    this.repairs = 0;
    this.known.set("repairs", this.repairs);
    this.stored = new Map();
    this.outcomes = new Map();
    this.steps = [];
    this.trail = [];
    this.node = null;
    this.verdict = null;
    this.isStop = false;
    this.escalate = false;
    this.mayPower = this.symptom.unpowered_until === null;
    this.pathIndex = 0;
    this.arrivals = 0;
  }

  store(answer) {
    this.forget([answer.node]);
    this.stored.set(answer.node, answer);
    for (const [name, value] of given(answer)) this.known.set(`${answer.node}.${name}`, value);
    if (answer.reply === "yes" || answer.reply === "no") {
      this.known.set(`${answer.node}.yes`, answer.reply === "yes");
    }
  }

  forget(codes) {
    for (const code of codes) {
      if (!this.stored.has(code) && !this.outcomes.has(code)) continue;
      this.stored.delete(code);
      this.outcomes.delete(code);
      for (const name of [...this.known.keys()]) {
        if (name.startsWith(`${code}.`)) this.known.delete(name);
      }
    }
  }

  inGroups(groups) {
    const holds = ([, node]) => node.groups.some((group) => groups.includes(group));
    return Object.entries(this.tree.nodes).filter(holds).map(([code]) => code);
  }

  isTrue(when) {
    return evaluate(when, this.known, this.tree.derived) === true;
  }

  judge(node) {
    const taken = this.openRoutes(node).find((route) => this.isTrue(route.when)) ?? {
      goes_to: node.if_unknown, outcome: "cannot_tell", is_stop: node.unknown_is_stop, note: "",
    };
    this.outcomes.set(node.code, taken.outcome);
    this.known.set(`${node.code}.outcome`, taken.outcome);
    this.known.set(`${node.code}.passed`, isGood(taken.outcome));
    return taken;
  }

  openRoutes(node) {
    if (this.stored.get(node.code)?.reply !== "cannot_tell") return node.routes;
    return node.routes.filter((route) => route.outcome === "fail" && route.when !== true);
  }

  alongThePath(node, taken) {
    const path = this.symptom.path;
    if (path[this.pathIndex] !== node.code) return taken;
    if (this.pathIndex + 1 === path.length || !isGood(taken.outcome)) {
      this.pathIndex = path.length;
      return taken;
    }
    this.pathIndex += 1;
    return { goes_to: path[this.pathIndex], outcome: taken.outcome, is_stop: false, note: taken.note };
  }

  follow(node) {
    const taken = this.alongThePath(node, this.judge(node));
    this.trail.push(node.code);
    this.isStop = taken.is_stop;
    if (node.code === this.symptom.unpowered_until && !taken.is_stop) this.mayPower = true;
    return taken;
  }

  admitted(code) {
    const first = this.symptom.unpowered_until;
    return this.tree.nodes[code]?.is_powered && first && !this.mayPower ? first : code;
  }

  arrive(start) {
    const passed = new Set();
    let target = start;
    this.node = null;
    while (has(this.tree.nodes, target)) {
      const node = this.tree.nodes[this.admitted(target)];
      if (node.code === WHAT_IS_WRONG) return this.askWhatIsWrong();
      if (!this.isAnswered(node)) {
        this.node = node.code;
        return undefined;
      }
      if (passed.has(node.code)) return this.giveUp();
      passed.add(node.code);
      target = this.follow(node).goes_to;
    }
    this.verdict = this.tree.verdicts[target];
    return undefined;
  }

  isAnswered(node) {
    if (node.kind === "automatic") return true;
    const saidNothing = this.outcomes.get(node.code) === "cannot_tell";
    const answer = this.stored.get(node.code);
    return answer !== undefined && (!saidNothing || answer.reply === "cannot_tell");
  }

  askWhatIsWrong() {
    this.arrivals += 1;
    this.forget(this.inGroups([WHOLE_DOOR]));
    if (this.arrivals >= MOST_ARRIVALS) this.giveUp();
    else this.node = WHAT_IS_WRONG;
  }

  giveUp() {
    this.node = null;
    this.escalate = true;
    this.verdict = this.tree.verdicts[NOTHING_FOUND];
  }

  dueNext() {
    if (!this.verdict) return this.node;
    return this.verdict.next_node ? this.admitted(this.verdict.next_node) : null;
  }

  leaveVerdict() {
    const following = this.dueNext();
    this.forget([...this.inGroups([...this.verdict.groups, WHOLE_DOOR]), following]);
    this.repairs += 1;
    this.known.set("repairs", this.repairs);
    this.trail = [];
    this.verdict = null;
    this.isStop = false;
    if (following === FIRST_LOOK) this.pathIndex = 0;
    this.arrive(following);
  }

  refusal(answer) {
    if (this.verdict && !this.verdict.next_node) return "closed";
    if (answer.reply === "signed") return this.refusalToSign(answer);
    if (this.isStop) return "stopped";
    if (!has(this.tree.nodes, answer.node)) return "unknown_node";
    const node = this.tree.nodes[answer.node];
    return defectOf(node, answer) ?? this.refusalToJump(node, answer);
  }

  refusalToSign(answer) {
    if (!this.isStop || this.verdict?.code !== answer.node) return "not_stopped";
    return (answer.reason ?? "").trim() ? null : "needs_reason";
  }

  refusalToJump(node, answer) {
    if (node.code === this.dueNext()) return null;
    if (!isGood(this.outcomes.get(FIRST_LOOK))) return "before_first_look";
    if (node.code === WHAT_IS_WRONG) return "not_askable";
    if (node.is_powered && !this.mayPower) return "powered_too_early";
    return (answer.reason ?? "").trim() ? null : "needs_reason";
  }

  take(answer) {
    if (answer.reply === "signed") {
      this.mayPower = true;
      this.leaveVerdict();
      this.keepStep(answer, { outcome: "", goes_to: this.node ?? "", note: "" });
      return;
    }
    if (answer.node !== this.dueNext()) {
      this.verdict = null;
      this.pathIndex = this.symptom.path.length;
    } else if (this.verdict) {
      this.leaveVerdict();
    }
    this.store(answer);
    const taken = this.follow(this.tree.nodes[answer.node]);
    this.keepStep(answer, taken);
    this.arrive(taken.goes_to);
  }

  keepStep(answer, { outcome, goes_to, note }) {
    const { node, reply, reason = "" } = answer;
    this.steps.push({ node, reply, outcome, goes_to, note, reason });
  }

  unproven() {
    const isUnknown = (code) => this.stored.get(code)?.reply === "cannot_tell";
    return this.verdict ? [...new Set(this.trail.filter(isUnknown))] : [];
  }

  kept() {
    const stale = this.inGroups([...(this.verdict?.groups ?? []), WHOLE_DOOR]);
    const answers = [...this.stored].filter(
      ([code]) => !stale.includes(code) && this.isAnswered(this.tree.nodes[code]));
    return answers.map(([, { node, reply, values = {}, reason = "" }]) => ({
      node, reply, values, reason,
    }));
  }

  knownFields() {
    const fields = [...this.stored].flatMap(([code, answer]) =>
      given(answer).map(([name, value]) => [`${code}.${name}`, value]));
    return Object.fromEntries(fields);
  }

  position() {
    const unproven = this.unproven();
    const parts = (this.verdict?.parts ?? []).filter((part) => this.isTrue(part.when));
    return {
      node: this.node,
      verdict: this.verdict?.code ?? null,
      is_hard_stop: this.isStop,
      is_closed: this.verdict !== null && !this.verdict.next_node,
      escalate: this.escalate,
      is_unproven: unproven.length > 0,
      unproven_nodes: unproven,
      components: parts.map((part) => part.component),
      next_node: this.verdict ? this.dueNext() : null,
      may_power: this.mayPower && !this.isStop,
      steps: this.steps,
      outcomes: Object.fromEntries(this.outcomes),
      known: this.knownFields(),
      kept: this.kept(),
    };
  }
}

// `tree` is what tree_as_json gives, `contextValues` what Context.values gives.
export function trace(tree, symptom, answers, contextValues, earlier = []) {
  if (!has(tree.symptoms, symptom)) throw new TraceRefused("unknown_symptom", 0);
  const walk = new Walk(tree, symptom, contextValues);
  earlier.forEach((answer, place) => {
    const node = has(tree.nodes, answer.node) ? tree.nodes[answer.node] : null;
    const refusal = node ? defectOf(node, answer) : "unknown_node";
    if (refusal) throw new TraceRefused(refusal, place - earlier.length);
    walk.store(answer);
  });
  for (const code of walk.stored.keys()) walk.judge(tree.nodes[code]);
  walk.arrive(walk.symptom.path[0]);
  answers.forEach((answer, index) => {
    const refusal = walk.refusal(answer);
    if (refusal) throw new TraceRefused(refusal, index);
    walk.take(answer);
  });
  return walk.position();
}

// Pass bands of a node's fields as numbers, null where there is none or it is not known yet.
export function limitsOf(tree, code, contextValues, position = null) {
  const known = new Map(Object.entries({ ...contextValues, ...(position?.known ?? {}) }));
  const number = (expression) => {
    const found = evaluate(expression, known, tree.derived);
    return isNumber(found) ? Number(found.toFixed(6)) : null;
  };
  return tree.nodes[code].fields.map(({ name, low, high }) => ({
    field: name, low: number(low), high: number(high),
  }));
}
