"""The state of one fold over answers: what is known, where it stands, what is allowed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from inspections.tracing.answers import Answer, Reply, defect_of
from inspections.tracing.elements import GOOD, Kind, Node, Outcome, Route, Tree, Verdict
from inspections.tracing.predicates import Value, evaluate

FIRST_LOOK = "N00"
WHAT_IS_WRONG = "N31"
NOTHING_FOUND = "V39"
# What was seen of the door as a whole: stale once anything was done to it.
WHOLE_DOOR = "function"
MOST_ARRIVALS = 3
# How many verdicts of this trace were repaired: known to expressions beside the context.
REPAIRS = "repairs"


@dataclass(frozen=True)
class Step:
    """One answer and where it led."""

    node: str
    reply: str
    outcome: str
    goes_to: str
    note: str
    reason: str


class Walk:
    """The state of one fold; only the engine makes one."""

    def __init__(self, tree: Tree, symptom: str, context: Mapping[str, Value]) -> None:
        self.tree = tree
        self.symptom = tree.symptoms[symptom]
        self.known: dict[str, Value] = {**context, REPAIRS: 0}
        self.stored: dict[str, Answer] = {}
        self.outcomes: dict[str, Outcome] = {}
        self.steps: list[Step] = []
        self.trail: list[str] = []
        self.node: str | None = None
        self.verdict: Verdict | None = None
        self.is_stop = False
        self.escalate = False
        self.may_power = self.symptom.unpowered_until is None
        self.path_index = 0
        self.arrivals = 0
        self.repairs = 0

    def store(self, answer: Answer) -> None:
        """Remember an answer and its values in place of an earlier one."""
        self.forget([answer.node])
        self.stored[answer.node] = answer
        for name, value in answer.values.items():
            if value is not None:
                self.known[f"{answer.node}.{name}"] = value
        if answer.reply in (Reply.YES, Reply.NO):
            self.known[f"{answer.node}.yes"] = answer.reply == Reply.YES

    def forget(self, codes: Iterable[str]) -> None:
        """Drop answers that no longer hold."""
        for code in codes:
            if code not in self.stored and code not in self.outcomes:
                continue
            self.stored.pop(code, None)
            self.outcomes.pop(code, None)
            for name in [each for each in self.known if each.startswith(f"{code}.")]:
                del self.known[name]

    def in_groups(self, groups: Iterable[str]) -> list[str]:
        """Nodes that belong to any of these causes."""
        wanted = set(groups)
        return [code for code, node in self.tree.nodes.items() if wanted & set(node.groups)]

    def is_true(self, route: Route) -> bool:
        return evaluate(route.when, self.known, self.tree.derived) is True

    def judge(self, node: Node) -> Route:
        """Where the node's answer leads with what is known now; keeps the outcome."""
        taken = next((each for each in self.open_routes(node) if self.is_true(each)), None)
        if taken is None:
            taken = Route(True, node.if_unknown, Outcome.CANNOT_TELL, is_stop=node.unknown_is_stop)
        self.outcomes[node.code] = taken.outcome
        self.known[f"{node.code}.outcome"] = str(taken.outcome)
        self.known[f"{node.code}.passed"] = taken.outcome in GOOD
        return taken

    def open_routes(self, node: Node) -> tuple[Route, ...]:
        """All routes; for "cannot tell", only a failure that shows in what could be read."""
        answer = self.stored.get(node.code)
        if answer is None or answer.reply != Reply.CANNOT_TELL:
            return node.routes
        return tuple(
            each for each in node.routes if each.outcome is Outcome.FAIL and each.when is not True
        )

    def along_the_path(self, node: Node, taken: Route) -> Route:
        """The symptom's next entry in place of the node's own way on, once it passed."""
        path = self.symptom.path
        if self.path_index >= len(path) or path[self.path_index] != node.code:
            return taken
        is_last = self.path_index + 1 == len(path)
        if is_last or taken.outcome not in GOOD:
            self.path_index = len(path)
            return taken
        self.path_index += 1
        return Route(True, path[self.path_index], taken.outcome, note=taken.note)

    def follow(self, node: Node) -> Route:
        """Take an answered or automatic node's route, and what it permits or forbids."""
        taken = self.along_the_path(node, self.judge(node))
        self.trail.append(node.code)
        self.is_stop = taken.is_stop
        if node.code == self.symptom.unpowered_until and not taken.is_stop:
            self.may_power = True
        return taken

    def arrive(self, target: str) -> None:
        """Go on from a node or verdict until something has to be asked or said."""
        passed: set[str] = set()
        self.node = None
        while target in self.tree.nodes:
            node = self.tree.nodes[self.admitted(target)]
            if node.code == WHAT_IS_WRONG:
                return self.ask_what_is_wrong()
            if not self.is_answered(node):
                self.node = node.code
                return None
            if node.code in passed:
                # The answers contradict each other: nobody is sent round in circles.
                return self.give_up()
            passed.add(node.code)
            target = self.follow(node).goes_to
        self.verdict = self.tree.verdicts[target]
        return None

    def is_answered(self, node: Node) -> bool:
        """Whether the node is not asked: a reading that said nothing alone is taken again."""
        if node.kind is Kind.AUTOMATIC:
            return True
        answer = self.stored.get(node.code)
        said_nothing = self.outcomes.get(node.code) is Outcome.CANNOT_TELL
        return answer is not None and (not said_nothing or answer.reply == Reply.CANNOT_TELL)

    def ask_what_is_wrong(self) -> None:
        """Ask anew what the door does; the third time in one trace a person has to think."""
        self.arrivals += 1
        self.forget(self.in_groups([WHOLE_DOOR]))
        if self.arrivals >= MOST_ARRIVALS:
            return self.give_up()
        self.node = WHAT_IS_WRONG
        return None

    def give_up(self) -> None:
        """Nothing found, for somebody with more experience."""
        self.node = None
        self.escalate = True
        self.verdict = self.tree.verdicts[NOTHING_FOUND]

    def leave_verdict(self) -> None:
        """The repair is done: answers about the repaired group no longer hold."""
        verdict, following = self.verdict, self.due_next()
        if verdict is None or following is None:
            return
        self.forget([*self.in_groups([*verdict.groups, WHOLE_DOOR]), following])
        self.repairs += 1
        self.known[REPAIRS] = self.repairs
        self.trail.clear()
        self.verdict = None
        self.is_stop = False
        if following == FIRST_LOOK:
            self.path_index = 0
        self.arrive(following)

    def refusal(self, answer: Answer) -> str | None:
        """The code of a rule that forbids the answer here, or nothing."""
        if self.verdict and self.verdict.next_node is None:
            return "closed"
        if answer.reply == Reply.SIGNED:
            return self.refusal_to_sign(answer)
        if self.is_stop:
            return "stopped"
        node = self.tree.nodes.get(answer.node)
        if node is None:
            return "unknown_node"
        return defect_of(node, answer) or self.refusal_to_jump(node, answer)

    def refusal_to_sign(self, answer: Answer) -> str | None:
        if not (self.is_stop and self.verdict and self.verdict.code == answer.node):
            return "not_stopped"
        return None if answer.reason.strip() else "needs_reason"

    def refusal_to_jump(self, node: Node, answer: Answer) -> str | None:
        if node.code == self.due_next():
            return None
        if self.outcomes.get(FIRST_LOOK) not in GOOD:
            return "before_first_look"
        if node.code == WHAT_IS_WRONG:
            return "not_askable"
        if node.is_powered and not self.may_power:
            return "powered_too_early"
        return None if answer.reason.strip() else "needs_reason"

    def due_next(self) -> str | None:
        """The node whose answer is no jump."""
        if self.verdict is None:
            return self.node
        following = self.verdict.next_node
        return self.admitted(following) if following else None

    def admitted(self, code: str) -> str:
        """The node, or the one that has to come first because the node needs power."""
        first = self.symptom.unpowered_until
        needs_power = code in self.tree.nodes and self.tree.nodes[code].is_powered
        return first if needs_power and first and not self.may_power else code

    def take(self, answer: Answer) -> None:
        """One allowed answer: go where it leads."""
        if answer.reply == Reply.SIGNED:
            self.may_power = True
            self.leave_verdict()
            self.steps.append(self.step(answer, "", self.node or "", ""))
            return
        if answer.node != self.due_next():
            self.verdict = None
            self.path_index = len(self.symptom.path)
        elif self.verdict:
            self.leave_verdict()
        self.store(answer)
        taken = self.follow(self.tree.nodes[answer.node])
        self.steps.append(self.step(answer, str(taken.outcome), taken.goes_to, taken.note))
        self.arrive(taken.goes_to)

    @staticmethod
    def step(answer: Answer, outcome: str, goes_to: str, note: str) -> Step:
        return Step(answer.node, str(answer.reply), outcome, goes_to, note, answer.reason)
