"""Plain words for verdicts, reasons and health findings."""

from __future__ import annotations

from collections.abc import Mapping

from airproof.evidence.health import Finding
from airproof.evidence.verdict import Note, Verdict

_WITHIN = {
    "no breach within": "no breach within {} steps",
    "not found possible within": "not found possible within {} steps",
}
_REASONS = {
    "needs sizes": "needs sizes: some chokes, timers and moving times allow the run below; "
    "the stated ones would decide",
    "nothing more to learn": "neither proved nor breached, and nothing is left to try",
    "time limit": "the time limit ran out after {} steps were searched",
    "solver limit": "the solver's limit ran out after {} steps were searched",
    "solver failed": "the solver failed",
    "interrupted": "interrupted before it was settled",
    "unhealthy": "the circuit's health is wrong, so nothing is reported as holding",
    "health not examined": "the circuit's health was not examined to the end, so nothing is"
    " reported as holding",
    "defect": "this is a defect of airproof; please report it",
}
_FINDINGS = {
    "no start": "no state satisfies the stated starts",
    "chatter": "with every control still, these never come to rest: {}",
    "stopped time": "a run reaches a state from which time cannot pass: {}",
    "race": "a loop in no time that can be left; the order of moves decides: {}",
    "position not reached": "no run was found that reaches: {}",
    "flow not open": "no run was found that opens: {}",
    "standing state not reached": "no run was found that reaches the standing state: {}",
    "standing state excluded": "standing state that no run can be in: {}",
    "not examined": "not examined to the end: {}",
}
_PROVED = {
    "position not reached": "no run reaches: {}",
    "flow not open": "no run opens: {}",
    "standing state not reached": "no run reaches the standing state: {}",
}

_MET = "its proof was held against {} random runs only; the rest were cut off"
_NOTES: Mapping[Note, str] = {
    "a shorter sequence not ruled out": "the run below has the fewest steps, but one of fewer"
    " moves and stretches, with more turning points, was not ruled out",
}


def reason(verdict: Verdict) -> str | None:
    """Why it is undecided, in plain words; None if it is decided."""
    if verdict.reason is None:
        return None
    text = (_WITHIN | _REASONS)[verdict.reason].format(verdict.depth)
    return f"{text}: {verdict.detail}" if verdict.detail else text


def remarks(verdict: Verdict) -> list[str]:
    """What else must be said of it, in plain words."""
    said = [_NOTES[note] for note in verdict.notes]
    return said if verdict.met is None else [*said, _MET.format(verdict.met)]


def found(finding: Finding) -> str:
    """One health finding in plain words."""
    said = _FINDINGS | _PROVED if finding.proved else _FINDINGS
    text = said[finding.code].format(", ".join(finding.names) or "the rest")
    return f"{text} ({finding.detail})" if finding.detail else text
