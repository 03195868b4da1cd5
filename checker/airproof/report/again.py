"""What was asked again of properties that hold, in plain words and as data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from airproof.circuit.kinds import Circuit
from airproof.circuit.slow import instantly, slowed
from airproof.evidence.verdict import Retried, Verdict
from airproof.report.findings import reason

INTRODUCTION = (
    "Each device without a moving time was taken to be slow, one at a time, and every `never` "
    "and `always` was judged in instants too. That changes no verdict; it says what a proof "
    "counts on. A device that is not named below may be slow, and what was proved still holds; "
    "what is `possible` was not asked again."
)

NAMED = 3  # devices that a mark in a table names; more are counted


@dataclass(frozen=True, slots=True)
class Line:
    """One remark on a property; `stories` are what it goes on to tell."""

    text: str
    stories: tuple[Retried, ...] = ()


def lines(verdict: Verdict) -> Iterator[Line]:
    """What must be said of a verdict's retries; nothing where all of them hold too."""
    name, quick = verdict.property, _quick(verdict)
    if quick:
        yield Line(f"{name} holds {_at_once(quick)}", quick)
    for one in verdict.retried:
        if one.device is None and one.word == "breached":
            yield Line(f"{name} holds while time passes, but fails in an instant", (one,))
    for why, doubted in _undecided(verdict).items():
        yield Line(f"{name}: not decided {_doubts(doubted)}: {why}", _with_runs(doubted))


def mark(verdict: Verdict) -> str:
    """What goes with the verdict in a table: `only if lockout moves at once`, or nothing."""
    quick = _quick(verdict)
    if len(quick) > NAMED:
        return f"only if each of {len(quick)} devices moves at once"
    return _at_once(quick) if quick else ""


def _quick(verdict: Verdict) -> tuple[Retried, ...]:
    """The devices that must move at once, each with the run if it does not."""
    return tuple(
        one for one in verdict.retried if one.device is not None and one.word == "breached"
    )


def _at_once(quick: tuple[Retried, ...]) -> str:
    names = _listed(one.device for one in quick)
    return f"only if {names} {'moves' if len(quick) == 1 else 'each move'} at once"


def _with_runs(several: tuple[Retried, ...]) -> tuple[Retried, ...]:
    return tuple(one for one in several if one.sequence is not None)


def _undecided(verdict: Verdict) -> Mapping[str, tuple[Retried, ...]]:
    """The undecided ones by the reason, in plain words."""
    found: dict[str, tuple[Retried, ...]] = {}
    for one in verdict.retried:
        if one.word == "undecided":
            why = why_undecided(one) or "for no reason known"
            found[why] = (*found.get(why, ()), one)
    return found


def why_undecided(one: Retried) -> str | None:
    """Why it is undecided, in plain words; None if it is decided."""
    if one.reason == "time limit" and not one.depth:
        return "the time for these questions ran out"
    detail = one.detail if one.reason != "no breach within" else None
    return reason(Verdict("", one.word, reason=one.reason, detail=detail, depth=one.depth))


def _doubts(several: tuple[Retried, ...]) -> str:
    devices = [one.device for one in several if one.device is not None]
    parts = [f"with {_listed(devices, 'or')} slow"] if devices else []
    if len(devices) < len(several):
        parts.append("in an instant")
    return " or ".join(parts)


def _listed(names: Iterable[str | None], word: str = "and") -> str:
    known = [str(name) for name in names]
    return f" {word} ".join(filter(None, [", ".join(known[:-1]), known[-1]]))


def heading(verdict: Verdict, one: Retried) -> str:
    """What its story is called."""
    if one.device is None:
        return f"{verdict.property}: breached in an instant"
    return f"{verdict.property}: {one.word} if {one.device} is slow"


def changed(circuit: Circuit, verdict: Verdict, one: Retried) -> Circuit:
    """The circuit of which its sequence is a run."""
    if one.device is None:
        return instantly(circuit, verdict.property)
    return slowed(circuit, one.device)
