// Likelihood of each cause and the cheapest next test on the phone, as in
// inspections/tracing/likelihood.py and ordering.py. `causes` is the tree's part of that name.

const GOOD = ["pass", "near"];
const FIRST_LOOK = "N00";

const normalised = (weights) => {
  const total = Object.values(weights).reduce((sum, each) => sum + each, 0);
  return Object.fromEntries(Object.entries(weights).map(([code, each]) => [code, each / total]));
};
const weighed = (weights, factor) =>
  normalised(Object.fromEntries(
    Object.entries(weights).map(([group, each]) => [group, each * factor(group)])));

function chance(causes, node, outcome, choice, group) {
  const { epsilon } = causes;
  if (choice !== undefined) return Math.max(epsilon, causes.choices[choice][group] ?? epsilon);
  const fails = causes.fails[node][group] ?? causes.false_alarm;
  return Math.min(Math.max(outcome === "fail" ? fails : 1 - fails, epsilon), 1 - epsilon);
}

export function likelihoods(tree, symptom, position, priors = null) {
  const { causes } = tree;
  const { groups } = tree.symptoms[symptom];
  const assumed = Object.fromEntries(
    Object.entries(causes.groups).map(([code, group]) => [code, group.prior]));
  let found = weighed(priors ?? assumed, (group) =>
    groups.length === 0 || groups.includes(group) ? 1 : causes.elsewhere);
  for (const [node, outcome] of Object.entries(position.outcomes)) {
    const choice = position.known[`${node}.what`];
    const says = [...GOOD, "fail"].includes(outcome);
    if (says && (choice !== undefined || causes.fails[node])) {
      found = weighed(found, (group) => chance(causes, node, outcome, choice, group));
    }
  }
  return found;
}

export function expectedMinutes(order, chances, minutes) {
  const total = order.reduce((sum, group) => sum + chances[group], 0);
  let spent = 0;
  return order.reduce((sum, group) => {
    spent += minutes[group];
    return sum + (chances[group] / total) * spent;
  }, 0);
}

class Choice {
  constructor(tree, symptom, position) {
    this.causes = tree.causes;
    this.symptom = tree.symptoms[symptom];
    this.position = position;
    this.groupOfNode = Object.fromEntries(
      Object.values(this.causes.groups).flatMap((group) =>
        group.nodes.map((node) => [node, group.code])));
  }

  openNodes(group) {
    const { outcomes } = this.position;
    return this.causes.groups[group].nodes.filter((node) => !(node in outcomes));
  }

  isIdle(node) {
    const needed = (this.causes.needs[node] ?? []).map((each) => this.position.outcomes[each]);
    return needed.some((outcome) => outcome !== undefined && !GOOD.includes(outcome));
  }

  minutesLeft() {
    const left = {};
    for (const [code, group] of Object.entries(this.causes.groups)) {
      const open = this.openNodes(code);
      if (open.length > 0 && !this.isIdle(open[0])) {
        left[code] = (group.minutes * open.length) / group.nodes.length;
      }
    }
    return left;
  }

  comesFirst(group, among) {
    const needed = this.causes.groups[group].nodes
      .flatMap((node) => this.causes.needs[node] ?? [])
      .map((node) => this.groupOfNode[node])
      .filter((other) => other !== group);
    return !needed.some((other) => among.includes(other));
  }

  cheapest(chances, minutes) {
    const left = Object.keys(minutes);
    const order = [];
    while (left.length > 0) {
      const free = left.filter((group) => this.comesFirst(group, left));
      const best = free.reduce((one, other) =>
        minutes[other] / chances[other] < minutes[one] / chances[one] ? other : one);
      order.push(best);
      left.splice(left.indexOf(best), 1);
    }
    return order;
  }

  mayChoose() {
    const { outcomes, steps, node, may_power } = this.position;
    if (!this.symptom.may_reorder || !may_power || steps.length === 0) return false;
    if (!GOOD.includes(outcomes[FIRST_LOOK]) || !(node in this.groupOfNode)) return false;
    const last = steps.at(-1);
    if (this.causes.open_ended.includes(last.node)) return true;
    if (!GOOD.includes(last.outcome)) return false;
    const group = this.causes.groups[this.groupOfNode[node]];
    return !group.nodes.some((each) => each in outcomes);
  }
}

// The next test with the best expected minutes beside the classic one; null once there is a verdict.
export function suggest(tree, symptom, position, chances) {
  if (position.node === null) return null;
  const choice = new Choice(tree, symptom, position);
  const left = choice.minutesLeft();
  const current = choice.groupOfNode[position.node];
  const plain = {
    node: position.node, classic_node: position.node, order: [], classic_order: [],
    minutes: null, classic_minutes: null, saves_minutes: 0,
  };
  if (!choice.mayChoose() || !(current in left)) return plain;
  const classicRest = tree.causes.classic_order.filter((each) => each in left && each !== current);
  const classic = [current, ...classicRest];
  const classicMinutes = expectedMinutes(classic, chances, left);
  let order = choice.cheapest(chances, left);
  let minutes = expectedMinutes(order, chances, left);
  if (minutes >= classicMinutes) [order, minutes] = [classic, classicMinutes];
  return {
    node: order[0] === current ? position.node : choice.openNodes(order[0])[0],
    classic_node: position.node,
    order,
    classic_order: classic,
    minutes,
    classic_minutes: classicMinutes,
    saves_minutes: classicMinutes - minutes,
  };
}
