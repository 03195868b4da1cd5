"""What holds asked again with slow devices, once everything else of a circuit is known."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace

from airproof.cli.collecting import REASONS, Asked, Gathered, Told, defects_of
from airproof.cli.retrying import Retrying
from airproof.cli.task import work
from airproof.cli.workers import Depth, Jobs, Work, run


def slowly(asked: Asked, gathered: Gathered, told: Told, work: Work = work) -> Gathered:
    """The same with each `holds` asked again, also when Ctrl-C cut that short."""
    retrying = Retrying(asked.circuit, asked.seconds, asked.steps)
    jobs, held = Jobs(), [one for one in gathered.verdicts if one.word == "holds"]
    jobs.add(retrying.due(held))
    try:
        with closing(run(jobs, work, asked.workers)) as events:
            for event in events:
                if not isinstance(event, Depth) and retrying.ended(event, REASONS):
                    jobs.drop(retrying.given_up())
                    told.further(retrying.progress())
    except KeyboardInterrupt:
        pass
    told.over()
    verdicts = {one.property: retrying.told(one) for one in held}
    return replace(
        gathered,
        verdicts=tuple(verdicts.get(one.property, one) for one in gathered.verdicts),
        defects=(*gathered.defects, *defects_of(verdicts.values())),
    )
