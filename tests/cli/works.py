"""Work for the workers of the tests: what a prover may do well, badly, or never."""

from __future__ import annotations

import os
import signal
import time
from typing import Any

from airproof.circuit.state import State
from airproof.cli.task import (
    HEALTH,
    REACH,
    Again,
    AnyTask,
    Confront,
    Confronted,
    Explain,
    Prime,
    Retry,
)
from airproof.cli.workers import Tell
from airproof.evidence.certificate import Invariant
from airproof.evidence.given import Given
from airproof.evidence.health import Finding
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Retried, Verdict

NOTHING = Sequence(State({}, {}), ())
SICK = Finding("error", "chatter", ("inlet",))


def act(what: str, tell: Tell) -> Any:
    """Does what it is told: ends well, dies, raises, runs out of memory, or goes on for ever."""
    tell(7)
    match what:
        case "die":
            os.kill(os.getpid(), signal.SIGKILL)
        case "leave":
            os._exit(9)
        case "raise":
            raise KeyError("nothing here")
        case "memory":
            raise MemoryError
        case "solver":
            raise type("Z3Exception", (Exception,), {"__module__": "z3.z3types"})("overflow")
        case "sleep":
            time.sleep(600)
        case "chatter":
            print("this is for nobody")
            os.write(2, b"neither is this")
        case "faint":
            Faint()
        case "who":
            return os.getpid()
    return what.upper()


class Faint:
    """Ends the process when it is collected as garbage, between two jobs."""

    def __init__(self) -> None:
        self.myself = self

    def __del__(self) -> None:
        os._exit(9)


def confronted(task: Confront) -> Confronted:
    """What the titles of the proved properties say of their random runs."""
    titles = {name: task.circuit.properties[name].title for name in task.claims}
    if "proved, dies" in titles.values():
        os.kill(os.getpid(), signal.SIGKILL)
    if "proved, raises" in titles.values():
        raise KeyError("nothing here")
    strays = {name: "it strays" for name, title in titles.items() if title == "proved, strays"}
    cut = "proved, cut" in titles.values()
    return Confronted(task.runs // 2 if cut else task.runs, cut, strays)


def again(task: Retry) -> Again:
    """What a device's own kind says of it when it is slow; an instant breaches."""
    if task.device is None:
        return Again(Retried(None, "breached", sequence=NOTHING), 1.0)
    kind = task.circuit.devices[task.device].kind
    if kind == "quick":
        return Again(Retried(task.device, "breached", sequence=NOTHING), 1.0)
    if kind == "patient":
        return Again(Retried(task.device, "holds"), 1.0)
    act(kind, lambda _: None)
    return Again(Retried(task.device, "holds"), 1000.0)


def judge(task: AnyTask, tell: Tell) -> Any:
    """A verdict that the property's title names; the circuit's title is what health does."""
    if isinstance(task, Confront):
        return confronted(task)
    if isinstance(task, Explain):
        if task.circuit.properties[task.claim.property].title == "proved, unexplained":
            raise KeyError("nothing here")
        return task.claim
    if isinstance(task, Retry):
        return again(task)
    if isinstance(task, Prime):
        return Given()
    if task.key == REACH:
        return ()
    if task.key == HEALTH:
        word = task.circuit.title
        if word == "sick":
            return (SICK,)
        if word != "well":
            act(word, tell)
        return ()
    word = task.circuit.properties[task.key].title
    if word in ("holds", "breached"):
        return Verdict(task.key, word, "any speed", depth=3)  # type: ignore[arg-type]
    if word.startswith("proved"):
        return Verdict(task.key, "holds", "any speed", certificate=Invariant(()))
    if word == "undecided":
        return Verdict(task.key, "undecided", reason="no breach within", depth=task.steps or 0)
    if word == "disagreement":
        return Verdict(task.key, "undecided", reason="defect", detail="step 2: due")
    act(word, tell)
    raise AssertionError(word)
