"""`prove`: health and every property side by side, gathered into one result."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing

from airproof.base.diagnostics import listed, nearest
from airproof.circuit.kinds import Circuit
from airproof.cli.collecting import Asked, Collected, Gathered, Told
from airproof.cli.shell import Refused
from airproof.cli.task import work
from airproof.cli.workers import Jobs, Work, run


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

    A `holds` is told of only once the circuit's health is known and its proof
    has met its random runs, and is withheld if either is wrong or health was
    never found out.  After that it is asked again with slow devices.
    """
    jobs = Jobs()
    collected = Collected(asked, told, jobs)
    try:
        with closing(run(jobs, work, asked.workers)) as events:
            for event in events:
                collected.take(event)
    except KeyboardInterrupt:
        pass
    told.over()
    return collected.ended()
