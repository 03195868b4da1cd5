"""What is wrong with a circuit whatever is asked of it, as far as search can tell."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

import z3

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.conditions import NO, At, Flowing, leaves
from airproof.circuit.kinds import Circuit, Device
from airproof.circuit.properties import Never, Property
from airproof.circuit.state import State
from airproof.engines.budget import Budget
from airproof.engines.rounding import Candidate, rounded
from airproof.engines.unrolling import Unrolling
from airproof.evidence.health import Code, Finding
from airproof.evidence.sequence import Sequence
from airproof.transition.encode import encode, layout_of
from airproof.transition.probes import Probes, overlooked, overlooking, positions_put, probes
from airproof.transition.system import conjunction

DEEPEST = 14  # steps within which troubles are looked for
FARTHEST = 16  # steps within which positions and flows are looked for
REACH_UNITS = 25_000_000  # solver units for that
LONGEST_LOOP = 12  # moves in no time within which a loop must close to be seen
MOST_STARTS = 1024  # joint starting positions of devices that start where they are called
TRIES = 40  # concrete states explored for trouble, from each kind of start
NOTHING = Property("", "", Never(NO))  # judges nothing

PLACES = ("position", "way", "left", "running", "expired")  # variables that say where things are

Goal = tuple[Code, str]


def examine(circuit: Circuit, budget: Budget) -> tuple[Finding, ...]:
    """Chatter, stopped time, races, starts and standing states that cannot be; errors first.

    Nothing found does not prove that there is nothing: the search goes only
    so many steps deep.  What the budget cut off is a finding of its own.
    """
    excluded = tuple(_excluded(circuit, budget))
    context = z3.Context()
    known = probes(circuit, context)
    if Unrolling(encode(circuit, None, context)).check(budget).word == "unsat":
        return (Finding("error", "no start", ()), *excluded)
    starts = (NOTHING, *(replace(NOTHING, start=name) for name in circuit.standings))
    found: dict[tuple[Code, tuple[str, ...]], Finding] = {}
    for finding in _thinned(circuit, budget):
        found[finding.code, finding.names] = finding
    for start in starts:
        for finding in Troubles(circuit, known, budget, start).findings():
            found.setdefault((finding.code, finding.names), finding)
    return tuple(sorted((*excluded, *found.values()), key=lambda f: f.weight != "error"))


def unreached(circuit: Circuit, budget: Budget) -> tuple[Finding, ...]:
    """Positions, flows and standing states that no run of some steps reaches."""
    context = z3.Context()
    return Reach(circuit, probes(circuit, context), budget).findings()


def _excluded(circuit: Circuit, budget: Budget) -> Iterator[Finding]:
    for name in circuit.standings:
        judged = Property("", "", Never(NO), start=name)
        if Unrolling(encode(circuit, judged, z3.Context())).check(budget).word == "unsat":
            yield Finding("error", "standing state excluded", (name,))


def _thinned(circuit: Circuit, budget: Budget) -> Iterator[Finding]:
    """Starts that are left out because no position of the devices that start called would rest.

    A device without a stated start starts where its moves put it; where they
    put it nowhere, it chatters from the start, and leaving that start out in
    silence would make everything hold there.
    """
    called = [d for d in circuit.devices.values() if d.starts_called]
    if not _circular(called):
        return
    combinations = list(itertools.product(*(d.positions for d in called)))
    names = tuple(sorted(d.name for d in called))
    if len(combinations) > MOST_STARTS:
        yield Finding("warning", "not examined", names, None, "too many starting positions")
        return
    lifted = {d.name: replace(d, starts_called=False) for d in called}
    free = replace(circuit, devices={**circuit.devices, **lifted})
    context = z3.Context()
    stated = encode(circuit, None, context)
    whole = conjunction(context, stated.start)
    run = Unrolling(encode(free, None, context))
    for places in combinations:
        put = positions_put(
            stated, circuit, {d.name: p for d, p in zip(called, places, strict=True)}
        )
        run.solver.add(z3.Not(run.at(z3.substitute(whole, *put), 0)))
    answer = run.check(budget)
    if answer.word == "unknown":
        yield Finding("warning", "not examined", names, None, answer.why)
    if answer.word == "sat":
        candidate = Candidate(free, run, 0, run.model())
        sequence = rounded(candidate, NOTHING, replace(budget, seconds=0.0))
        yield Finding("error", "chatter", names, sequence)


def _circular(called: list[Device]) -> bool:
    """Some device among them reads its own position, or theirs in a circle."""
    names = {d.name for d in called}
    reads = {
        d.name: names.intersection(
            leaf.component if isinstance(leaf, At) else d.name
            for move in d.moves
            for leaf in leaves(move.when)
            if isinstance(leaf, At | Flowing)  # a flow may read any of them
        )
        for d in called
    }
    while free := [name for name, read in reads.items() if not read]:
        reads = {n: read.difference(free) for n, read in reads.items() if n not in free}
    return bool(reads)


class Troubles:
    """Reachable states from which devices alone go round in circles, or controls are stuck."""

    def __init__(self, circuit: Circuit, known: Probes, budget: Budget, start: Property) -> None:
        self.circuit, self.known, self.budget = circuit, known, budget
        self.behaviour = Behaviour(circuit)
        self.context: z3.Context = known.driven.ctx
        self.system = overlooking(encode(circuit, start, self.context))
        self.unrolling = Unrolling(self.system)
        self.stuck = z3.Or([z3.BoolVal(False, self.context), *known.stuck.values()])
        self.places = {
            n: layout.position_keys(n)
            for layout in [layout_of(self.system, circuit)]
            for n in circuit.positions
        }
        self.seen: list[z3.BoolRef] = []
        self.cut: str | None = None  # why some question went without an answer

    def findings(self) -> tuple[Finding, ...]:
        """Each trouble once, by the names concerned."""
        loops = self._loop_lengths()
        if not loops and not self.known.stuck:
            return ()
        found: dict[tuple[Code, tuple[str, ...]], Finding] = {}
        for depth, loop in self._places(loops):
            while len(self.seen) < TRIES and (finding := self._trouble(depth, loop)):
                if finding.names:
                    found.setdefault((finding.code, finding.names), finding)
        if self.cut is None and len(self.seen) >= TRIES:
            self.cut = f"more than {TRIES} states with moves that go round"
        if self.cut is not None:
            yet = Finding("warning", "not examined", ("chatter and stopped time",), None, self.cut)
            return (*found.values(), yet)
        return tuple(found.values())

    def _loop_lengths(self) -> list[int]:
        """How many driven moves can close a circle, from any state at all."""
        free, lengths = Unrolling(self.system, anywhere=True), list[int]()
        for steps in range(1, LONGEST_LOOP + 1):
            free.extend()
            if steps > 1:
                with free.scope():
                    free.solver.add(*self._closes(free, 0, steps))
                    if self._found(free) or self.cut:
                        lengths.append(steps)
        return lengths

    def _found(self, run: Unrolling) -> bool:
        """Whether what is asserted can be; a question without an answer is remembered."""
        answer = run.check(self.budget)
        if answer.word == "unknown":
            self.cut = answer.why
        return answer.word == "sat"

    def _closes(self, run: Unrolling, first: int, steps: int) -> Iterator[z3.BoolRef]:
        """From state `first`, `steps` driven moves in no time lead back to the same positions."""
        for i in range(first, first + steps):
            yield run.switches[i]
            yield run.between(self.known.driven, i)
        for key, term in run.states[first].items():
            if key.split(" ", 1)[0] in PLACES:
                yield term == run.states[first + steps][key]

    def _places(self, loops: list[int]) -> Iterator[tuple[int, int]]:
        """(depth, loop length), shallow first; loop length 0 asks for stuck controls."""
        for depth in range(DEEPEST + 1):
            if self.budget.remaining <= 0:
                self.cut = "time limit"
                return
            if depth:
                self.unrolling.extend()
            if self.known.stuck:
                yield depth, 0
            yield from ((depth - n, n) for n in loops if n <= depth)

    def _overlooked(self, run: Unrolling, depth: int, loop: int) -> Iterator[z3.BoolRef]:
        """Only the last step before the trouble overlooks what is due, and only in the troubled.

        Otherwise no elapse step leads to where time cannot go on, and nobody would see it.
        """
        for i in range(depth):
            for name in self.system.due:
                heeds = run.inputs[i][overlooked(name)] == 0
                if i < depth - 1:
                    yield heeds
                elif loop:
                    yield z3.Or(heeds, *self._moves_in_loop(run, name, depth, loop))
                elif name in self.known.stuck:
                    yield z3.Or(heeds, run.at(self.known.stuck[name], depth))
                else:
                    yield heeds

    def _moves_in_loop(
        self, run: Unrolling, name: str, depth: int, loop: int
    ) -> Iterator[z3.BoolRef]:
        for key in self.places.get(name, ()):
            for j in range(depth, depth + loop):
                yield run.states[j][key] != run.states[j + 1][key]

    def _trouble(self, depth: int, loop: int) -> Finding | None:
        """One more state at this depth from which something goes wrong."""
        run = self.unrolling
        wrong = self._closes(run, depth, loop) if loop else iter((run.at(self.stuck, depth),))
        with run.scope():
            run.solver.add(*self._overlooked(run, depth, loop))
            run.solver.add(*wrong, *(z3.Not(run.at(seen, depth)) for seen in self.seen))
            if not self._found(run):
                return None
            model = run.model()
            candidate = Candidate(self.circuit, run, depth, model)
            as_found = replace(self.budget, seconds=0.0)  # other numbers might be no trouble
            sequence = rounded(candidate, NOTHING, as_found)
            stands = [
                term
                if z3.is_true(model.eval(run.at(term, depth), model_completion=True))
                else z3.Not(term)
                for term in self.known.stands.values()
            ]
        self.seen.append(z3.And([z3.BoolVal(True, self.context), *stands]))
        return self._judged(sequence)

    def _judged(self, sequence: Sequence) -> Finding:
        """What devices alone make of the state that the sequence leads to."""
        state = sequence.steps[-1].after if sequence.steps else sequence.start
        explored = self.behaviour.explore_devices(state)
        if explored.outcome == "deadlock":
            last = explored.steps[-1] if explored.steps else state
            names = tuple(sorted({due.name for due in self.behaviour.due_now(last)}))
            return Finding("error", "stopped time", names, sequence)
        names = self._moved(explored.race)
        if explored.outcome == "loop":
            return Finding("error", "chatter", names, sequence)
        if explored.outcome == "settled":
            return Finding("warning", "race", names, sequence)
        return Finding("warning", "not examined", names, sequence, "too many states in no time")

    def _moved(self, states: tuple[State, ...]) -> tuple[str, ...]:
        moves = (self.behaviour.moves_made(a, b) for a, b in itertools.pairwise(states))
        return tuple(sorted({move.name for made in moves for move in made}))


class Reach:
    """Positions, flows and standing states that no short run reaches."""

    def __init__(self, circuit: Circuit, known: Probes, budget: Budget) -> None:
        self.circuit, self.known = circuit, known
        self.budget = replace(budget, resource=min(budget.resource, REACH_UNITS))
        self.unrolling = Unrolling(encode(circuit, None, known.driven.ctx))
        self.left: dict[Goal, z3.BoolRef] = {
            ("position not reached", f"{name} is {place}"): term
            for (name, place), term in known.stands.items()
            if self._free(name)
        }
        self.left |= {("standing state not reached", n): t for n, t in known.pinned.items()}
        self.flows: dict[Goal, z3.BoolRef] = {
            ("flow not open", name): term for name, term in known.open.items()
        }

    def _free(self, name: str) -> bool:
        control = self.circuit.controls.get(name)
        return control is None or control.sealed is None

    def findings(self) -> tuple[Finding, ...]:
        """What is left over after FARTHEST steps, or when the budget ends."""
        run, word = self.unrolling, "sat"
        while (self.left or self.flows) and word != "unknown":
            while (word := self._reach_some()) == "sat":
                pass
            if self.budget.remaining <= 0:
                return (Finding("warning", "not examined", (), None, "time limit"),)
            if run.steps == FARTHEST:
                break
            if word == "unsat":
                run.extend()
        depth = str(run.steps - (word == "unknown"))
        return tuple(
            Finding("warning", code, (name,), None, depth)
            for code, name in (*self.left, *self.flows)
        )

    def _reach_some(self) -> str:
        """Drops what one more model reaches; `unsat` if nothing more is reached by this depth."""
        run, last = self.unrolling, self.unrolling.steps
        wanted = [run.at(term, last) for term in self.left.values()]
        if last:
            wanted += [
                z3.And(z3.Not(run.switches[last - 1]), run.between(term, last - 1))
                for term in self.flows.values()
            ]
        with run.scope():
            run.solver.add(z3.Or([z3.BoolVal(False, run.system.context), *wanted]))
            answer = run.check(self.budget)
            if answer.word == "sat":
                self._drop(run.model())
        return answer.word

    def _drop(self, model: z3.ModelRef) -> None:
        run = self.unrolling

        def so(term: z3.ExprRef) -> bool:
            return bool(z3.is_true(model.eval(term, model_completion=True)))

        for goal, term in list(self.left.items()):
            if any(so(run.at(term, i)) for i in range(run.steps + 1)):
                del self.left[goal]
        passing = [i for i in range(run.steps) if not so(run.switches[i])]
        for goal, term in list(self.flows.items()):
            if any(so(run.between(term, i)) for i in passing):
                del self.flows[goal]
