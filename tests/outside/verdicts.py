"""Each sentence as the table of grammar/LANGUAGE.md, section 12, says when it is breached."""

from __future__ import annotations

from dataclasses import dataclass, replace

from airproof.circuit import properties as said
from airproof.circuit.conditions import NO
from airproof.circuit.properties import Property
from outside.machines import Passage
from outside.sensing import Reading, Senses


@dataclass(frozen=True)
class Memory:
    """What is kept of one run: since the last C, in this stretch, and for how long [s]."""

    armed: bool = False
    here_first: bool = False
    here_second: bool = False
    lasted: float | None = None
    breached: bool = False


class Judge:
    """One property over a run, told each passage of time in turn; `possible` counts as a breach."""

    def __init__(self, senses: Senses, judged: Property) -> None:
        sentence = judged.sentence
        names = ("bad", "goal", "act", "leave", "reset", "cause", "release", "answer")
        self.sentence = sentence
        self.read: dict[str, Reading] = {
            name: senses.reading(getattr(sentence, name, None) or NO, f"property {judged.name}")
            for name in names
        }

    def after(self, memory: Memory, passage: Passage, begins: bool) -> Memory:
        """`begins`: a stretch begins with this passage."""
        if begins:
            memory = replace(memory, here_first=False, here_second=False)
        so = {name: read(passage.before, passage.half_way) for name, read in self.read.items()}
        match self.sentence:
            case said.Never():
                return replace(memory, breached=memory.breached or so["bad"])
            case said.Possible():
                return replace(memory, breached=memory.breached or so["goal"])
            case said.OnlyAfter():
                return self._only_after(memory, so)
            case said.AfterNever():
                return self._after_never(memory, so)
            case said.Within() | said.OnceLasted():
                return self._timed(memory, so, passage.blow.seconds, float(self.sentence.limit))
            case _:
                return memory

    def _only_after(self, memory: Memory, so: dict[str, bool]) -> Memory:
        reset_here = memory.here_first or so["reset"]
        armed = not reset_here and (memory.armed or so["leave"])
        breached = memory.breached or (so["act"] and not armed)
        return replace(memory, armed=armed, here_first=reset_here, breached=breached)

    def _after_never(self, memory: Memory, so: dict[str, bool]) -> Memory:
        cause_here = memory.here_first or so["cause"]
        bad_here = memory.here_second or so["bad"]
        armed = cause_here or (memory.armed and not so["release"])
        foul = (armed and so["bad"]) or (so["cause"] and bad_here)
        return Memory(armed, cause_here, bad_here, None, memory.breached or foul)

    def _timed(self, memory: Memory, so: dict[str, bool], seconds: float, limit: float) -> Memory:
        if isinstance(self.sentence, said.OnceLasted):
            lasted = (memory.lasted or 0.0) + seconds if so["cause"] else None
            foul = lasted is not None and lasted > limit and not so["answer"]
        else:
            waits = not so["answer"] and (memory.lasted is not None or so["cause"])
            lasted = (memory.lasted or 0.0) + seconds if waits else None
            foul = lasted is not None and lasted > limit
        return replace(memory, lasted=lasted, breached=memory.breached or foul)
