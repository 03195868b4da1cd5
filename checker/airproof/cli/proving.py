"""`prove`: health and every property side by side, gathered into one result."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace

from airproof.base.diagnostics import listed, nearest
from airproof.circuit.kinds import Circuit
from airproof.cli.shell import Refused
from airproof.cli.task import HEALTH, REACH, Task, work
from airproof.cli.workers import Depth, Done, Job, Lost, Work, run
from airproof.evidence.health import Finding, still_unreached
from airproof.evidence.verdict import Reason, Verdict

_REASONS: Mapping[str, Reason] = {
    "crashed": "solver failed",
    "memory": "solver failed",
    "solver": "solver failed",
    "raised": "defect",
    "overtime": "time limit",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What to prove, and what it may cost: seconds for each property, the longest sequence."""

    circuit: Circuit
    properties: tuple[str, ...]
    seconds: float
    steps: int | None
    workers: int


@dataclass(frozen=True, slots=True)
class Told:
    """Who is told how deep a property (or HEALTH) is, of each verdict, and of the end."""

    depth: Callable[[str, int], None] = field(default=lambda key, depth: None)
    verdict: Callable[[Verdict], None] = field(default=lambda verdict: None)
    over: Callable[[], None] = field(default=lambda: None)


@dataclass(frozen=True, slots=True)
class Gathered:
    """Verdicts in the order asked for, findings, and one line for each defect of airproof."""

    verdicts: tuple[Verdict, ...]
    findings: tuple[Finding, ...]
    defects: tuple[str, ...]

    @property
    def exit_code(self) -> int:
        """2 wrong, 1 breached, 3 undecided, 0 all hold."""
        words = {verdict.word for verdict in self.verdicts}
        if self.defects or any(finding.weight == "error" for finding in self.findings):
            return 2
        return 1 if "breached" in words else 3 if "undecided" in words else 0


def chosen(circuit: Circuit, wanted: Sequence[str], file: str) -> tuple[str, ...]:
    """The properties asked for, in the order of the text; all of them if none is named.

    Raises Refused if there is none, or none of a name.
    """
    known = circuit.properties
    if not known:
        raise Refused(f"{file} states no property, so there is nothing to prove")
    unknown = [_unknown(name, list(known)) for name in dict.fromkeys(wanted) if name not in known]
    if unknown:
        raise Refused("\n".join(unknown))
    return tuple(name for name in known if not wanted or name in wanted)


def _unknown(name: str, known: Sequence[str]) -> str:
    likely = nearest(name, known)
    hint = f"did you mean `{likely}`?" if likely else f"there are {listed(known, 'and')}"
    return f"there is no property `{name}`; {hint}"


def gather(asked: Asked, told: Told, work: Work = work) -> Gathered:
    """Everything that was found out, also when Ctrl-C cut it short.

    A `holds` is told of only once the circuit's health is known, and is
    withheld if that is wrong or was never found out.
    """
    collected = _Collected(told)
    try:
        with closing(run(_jobs(asked), work, asked.workers)) as events:
            for event in events:
                collected.take(event)
    except KeyboardInterrupt:
        pass
    told.over()
    return collected.ended(asked.properties)


def _jobs(asked: Asked) -> Sequence[Job]:
    """Health beside the first property, for a `holds` waits for it; what is never reached last."""
    keys = (HEALTH, *asked.properties, REACH)
    return [
        Job(key, Task(asked.circuit, key, asked.seconds, asked.steps), asked.seconds)
        for key in keys
    ]


@dataclass(slots=True)
class _Collected:
    """What came in so far; `findings` is None until health is known."""

    told: Told
    verdicts: dict[str, Verdict] = field(default_factory=dict)
    findings: tuple[Finding, ...] | None = None
    unreached: tuple[Finding, ...] | None = None  # None until that is known
    unknown: Verdict | None = None  # why health is not known, as a verdict's reason and detail
    defects: list[str] = field(default_factory=list)
    untold: list[str] = field(default_factory=list)

    def take(self, event: Depth | Done | Lost) -> None:
        match event:
            case Depth(key, depth):
                self.told.depth(key, depth)
            case Done(key, outcome) if key == HEALTH:
                self.findings = outcome
            case Done(key, outcome) if key == REACH:
                self.unreached = outcome
            case Done(key, outcome):
                self._judged(outcome)
            case Lost():
                self._lost(event)
        for verdict in self._tellable():
            self.told.verdict(verdict)

    def _judged(self, verdict: Verdict) -> None:
        if verdict.reason == "defect":
            self.defects.append(f"{verdict.property}: {verdict.detail}")
        self.verdicts[verdict.property] = verdict
        self.untold.append(verdict.property)

    def _lost(self, lost: Lost) -> None:
        verdict = _undecided(lost.key, _REASONS[lost.why], lost.detail, lost.depth)
        if lost.key in (HEALTH, REACH):
            if lost.key == HEALTH:
                self.unknown = verdict
            if lost.why == "raised":
                self.defects.append(f"health: {lost.detail}")
        else:
            self._judged(verdict)

    def _tellable(self) -> Iterator[Verdict]:
        known = self.findings is not None or self.unknown is not None
        for name in list(self.untold):
            if known or self.verdicts[name].word != "holds":
                self.untold.remove(name)
                yield self._sound(self.verdicts[name])

    def _sound(self, verdict: Verdict) -> Verdict:
        """The verdict, or why a `holds` cannot be said."""
        if verdict.certificate is None and verdict.word != "holds":
            return verdict
        if self.unknown is not None:
            detail = "; ".join(filter(None, ["health was not examined", self.unknown.detail]))
            return _withheld(verdict, self.unknown.reason, detail)
        findings = self.findings or ()
        errors = [finding.code for finding in findings if finding.weight == "error"]
        if errors:
            return _withheld(verdict, "unhealthy", errors[0])
        unseen = [finding for finding in findings if finding.code == "not examined"]
        if unseen:
            return _withheld(verdict, "health not examined", unseen[0].detail)
        return verdict

    def ended(self, names: Sequence[str]) -> Gathered:
        """The whole, with whatever is missing called interrupted."""
        if self.findings is None and self.unknown is None:
            self.unknown = _undecided(HEALTH, "interrupted", None, 0)
        verdicts = [
            self._sound(self.verdicts.get(name) or _undecided(name, "interrupted", None, 0))
            for name in names
        ]
        sequences = [verdict.sequence for verdict in verdicts if verdict.sequence is not None]
        findings = still_unreached(self._findings(), sequences)
        return Gathered(tuple(verdicts), findings, tuple(self.defects))

    def _findings(self) -> tuple[Finding, ...]:
        reach: tuple[Finding, ...] = (Finding("warning", "not examined", ("what is not reached",)),)
        if self.unreached is not None:
            reach = self.unreached
        if self.unknown is None:
            return (*(self.findings or ()), *reach)
        detail = "; ".join(filter(None, [self.unknown.reason, self.unknown.detail]))
        return (Finding("warning", "not examined", ("health",), detail=detail), *reach)


def _undecided(name: str, reason: Reason, detail: str | None, depth: int) -> Verdict:
    return Verdict(name, "undecided", reason=reason, detail=detail or None, depth=depth)


def _withheld(verdict: Verdict, reason: Reason | None, detail: str | None) -> Verdict:
    return replace(verdict, word="undecided", strength=None, reason=reason, detail=detail)
