"""Work for the workers of the tests: what a prover may do well, badly, or never."""

from __future__ import annotations

import os
import signal
import time
from typing import Any

from airproof.cli.task import HEALTH, REACH, Task
from airproof.cli.workers import Tell
from airproof.evidence.health import Finding
from airproof.evidence.verdict import Verdict

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
    return what.upper()


def judge(task: Task, tell: Tell) -> Verdict | tuple[Finding, ...]:
    """A verdict that the property's title names; the circuit's title is what health does."""
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
    if word == "undecided":
        return Verdict(task.key, "undecided", reason="no breach within", depth=task.steps or 0)
    if word == "disagreement":
        return Verdict(task.key, "undecided", reason="defect", detail="step 2: due")
    act(word, tell)
    raise AssertionError(word)
