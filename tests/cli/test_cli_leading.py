"""What has a time in it is begun once the run that it may be gone on from is known."""

from __future__ import annotations

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import State
from airproof.cli.leading import Leading
from airproof.cli.task import Task
from airproof.cli.workers import Done, Job, Lost
from airproof.evidence.given import Led
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Verdict
from airproof.language import load_text

SCENE = """
circuit bell "A bell"
control pull: still, pulled; starts still
relay gong: struck while pull is pulled, silent otherwise
property rings "It can ring"
    possible gong is struck
property rings_soon "A pull rings it soon"
    whenever pull is pulled, gong is struck within 1 s
property never_by_itself "It never rings by itself"
    never gong is struck while pull is still
"""
RUN = Sequence(State({"pull": "still", "gong": "silent"}, {}), ())


def bell() -> Circuit:
    return load_text(SCENE, "bell").circuit


def jobs(circuit: Circuit) -> list[Job]:
    return [Job(name, Task(circuit, name, 60.0, None), 60.0) for name in circuit.properties]


def leading(*asked: str) -> Leading:
    return Leading(bell(), frozenset(asked or bell().properties))


def led(jobs: list[Job]) -> list[tuple[str, Led | None]]:
    return [(job.key, job.data.led) for job in jobs]


def test_it_waits_for_the_run() -> None:
    """The others do not; when the run is there it goes along."""
    waits = leading()
    assert led(waits.ready(jobs(bell()))) == [("rings", None), ("never_by_itself", None)]
    assert waits.ended(Done("never_by_itself", Verdict("never_by_itself", "holds"))) == []
    found = waits.ended(Done("rings", Verdict("rings", "holds", sequence=RUN)))
    assert led(found) == [("rings_soon", Led(RUN))]


def test_it_is_begun_though_no_run_was_found() -> None:
    """A leader that is never reached, undecided or lost leads nowhere, but holds nobody up."""
    for event in (
        Done("rings", Verdict("rings", "undecided")),
        Lost("rings", "crashed", "its process ended"),
    ):
        waits = leading()
        waits.ready(jobs(bell()))
        assert led(waits.ended(event)) == [("rings_soon", Led(None))]


def test_a_leader_not_asked_for_is_not_waited_for() -> None:
    waits = leading("rings_soon")
    assert led(waits.ready(jobs(bell())[1:2])) == [("rings_soon", None)]


def test_one_that_comes_after_its_leader_has_the_run() -> None:
    waits = leading()
    waits.ended(Done("rings", Verdict("rings", "holds", sequence=RUN)))
    assert ("rings_soon", Led(RUN)) in led(waits.ready(jobs(bell())))
