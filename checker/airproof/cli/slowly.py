"""What holds asked again with slow devices, once everything else of a circuit is known."""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace

from airproof.cli.collecting import REASONS, Asked, Gathered, Told, defects_of
from airproof.cli.retrying import Retrying
from airproof.cli.task import work
from airproof.cli.workers import Depth, Jobs, Work, run
from airproof.evidence.verdict import Verdict


def slowly(asked: Asked, gathered: Gathered, told: Told, work: Work = work) -> Gathered:
    """The same with each `holds` asked again, also when Ctrl-C cut that short."""
    retrying, jobs = _retrying(asked), Jobs()
    jobs.add(retrying.due(_held(gathered)))
    try:
        with closing(run(jobs, work, asked.workers)) as events:
            for event in events:
                if not isinstance(event, Depth) and retrying.ended(event, REASONS):
                    jobs.drop(retrying.given_up())
                    told.further(retrying.progress())
    except KeyboardInterrupt:
        pass
    told.over()
    return _told(retrying, gathered)


def given_up(asked: Asked, gathered: Gathered) -> Gathered:
    """As if Ctrl-C had come before anything was asked again."""
    return _told(_retrying(asked), gathered)


def _retrying(asked: Asked) -> Retrying:
    return Retrying(asked.circuit, asked.seconds, asked.steps)


def _held(gathered: Gathered) -> list[Verdict]:
    return [one for one in gathered.verdicts if one.word == "holds"]


def _told(retrying: Retrying, gathered: Gathered) -> Gathered:
    verdicts = {one.property: retrying.told(one) for one in _held(gathered)}
    return replace(
        gathered,
        verdicts=tuple(verdicts.get(one.property, one) for one in gathered.verdicts),
        defects=(*gathered.defects, *defects_of(verdicts.values())),
    )
