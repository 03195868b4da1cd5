"""Packs of the kiln-car pusher, and a reader of their markup."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Xml

import html5lib

from airproof.circuit.kinds import Circuit
from airproof.evidence.certificate import Invariant
from airproof.evidence.health import Finding
from airproof.evidence.sequence import Sequence
from airproof.evidence.verdict import Retried, Verdict
from airproof.report.pack import Pack, render
from airproof.report.results import Results
from airproof.transition.literals import Bit, Literal
from report.pusher import GATE_OFF, INLET_OPEN, PEDAL_DOWN, PEDAL_UP, Run, pusher, weak_push

X = "{http://www.w3.org/1999/xhtml}"
S = "{http://www.w3.org/2000/svg}"
BREACH = Verdict("no_weak_push", "breached", "for some sizes", sequence=weak_push())
POSSIBLE = Verdict("can_push", "holds", "for some sizes", sequence=weak_push())
PROVED = Verdict(
    "gate_first",
    "holds",
    "any speed",
    certificate=Invariant(((Literal(Bit("gate=up"), True),),)),
    retried=(Retried("inlet", "breached", sequence=weak_push()), Retried("gate", "holds")),
)
OPEN = Verdict("bell_drops", "undecided", reason="no breach within", depth=20)
FINDINGS = (Finding("warning", "position not reached", ("gate is up",)),)


def results(circuit: Circuit | None = None, *verdicts: Verdict) -> Results:
    """All kinds of verdicts of the pusher, if none is given."""
    told = verdicts or (BREACH, POSSIBLE, PROVED, OPEN)
    return Results(circuit or pusher(), "ab" * 32, told, FINDINGS)


def pack(of: Results | None = None, **more: Any) -> Pack:
    return Pack(of or results(), "pusher.circuit", "2026-11-28", **more)


def parsed(text: str) -> Xml.Element:
    """The page as a tree; the parser refuses whatever is no HTML."""
    tree: Xml.Element = html5lib.HTMLParser(strict=True).parse(text)
    return tree


INLINE = frozenset(f"{X}{tag}" for tag in ("a", "b", "bdi", "code", "data", "span", "strong", "u"))


def words(element: Xml.Element) -> str:
    """The text in it, blanks made equal; what stands on a line of its own is a word of its own."""
    return " ".join("".join(_pieces(element)).split())


def _pieces(element: Xml.Element) -> Iterator[str]:
    apart = "" if element.tag in INLINE else " "
    yield apart
    yield element.text or ""
    for child in element:
        yield from _pieces(child)
        yield child.tail or ""
    yield apart


def by_class(tree: Xml.Element, name: str) -> list[Xml.Element]:
    return [e for e in tree.iter() if name in (e.get("class") or "").split()]


def pressures(run: Xml.Element) -> dict[str, dict[int, str]]:
    """Exact values by name and step, as a run's tables and its last line give them."""
    found: dict[str, dict[int, str]] = {}
    for table in by_class(run, "states"):
        for row in table.iter(f"{X}tr"):
            heads = row.findall(f"{X}th")
            name = words(heads[0].find(f"{X}bdi")) if heads[0].find(f"{X}bdi") is not None else ""  # type: ignore[arg-type]
            for cell in row.findall(f"{X}td"):
                for data in cell.iter(f"{X}data"):
                    found.setdefault(name, {})[int(cell.get("data-step") or "")] = (
                        data.get("value") or ""
                    )
    for one in run.iter(f"{X}span"):
        data_here = one.find(f"{X}data")
        if one.get("data-name") and data_here is not None:
            steps = len(by_class(run, "frame"))
            value = data_here.get("value") or ""
            found[str(one.get("data-name"))] = dict.fromkeys(range(steps), value)
    return found


def long_run(steps: int) -> Sequence:
    """So many steps: the pedal goes down and up, and the main wavers."""
    run = Run(pusher(), main=6)
    run.switch(PEDAL_DOWN, INLET_OPEN).switch(GATE_OFF)
    for turn in range(steps):
        if len(run.steps) >= steps:
            break
        low = Fraction(5) + Fraction(turn % 7, 10)
        run.elapse(main=low, ram=Fraction(turn % 5), amounts={"push": 1})
        if len(run.steps) < steps:
            run.switch(PEDAL_UP if turn % 2 == 0 else PEDAL_DOWN)
    return Sequence(run.start, tuple(run.steps[:steps]))


HOSTILE = (
    '<script>alert("x")</script>',
    "a & b < c > d",
    "\"quoted\" 'so' `too`",
    "\u05e9\u05dc\u05d5\u05dd \u0627\u0644\u0636\u063a\u0637",
    "very long " * 80,
    "</title></style><b>",
    "{{ 7 * 7 }}{% raw %}",
    "&amp;lt;",
)


def hostile(text: str) -> Circuit:
    """The pusher with that text wherever a text may stand."""
    of = pusher(text)
    lock = replace(of.interlocks["pedal_door"], title=text)
    told = {
        name: replace(one, title=text, reason=text, hazard=text, severity=text)
        for name, one in of.properties.items()
    }
    pedal = replace(of.controls["pedal"], worked_by=text)
    return replace(
        of,
        interlocks={"pedal_door": lock},
        properties=told,
        controls={**of.controls, "pedal": pedal},
        drawings=dict.fromkeys((*of.properties, "inlet", "main", "push"), text),
    )


@dataclass(slots=True)
class Page:
    """A pack in a file."""

    path: Path
    text: str = field(default="")

    @property
    def uri(self) -> str:
        return self.path.resolve().as_uri()


def written(folder: Path, name: str, one: Pack) -> Page:
    path = folder / f"{name}.html"
    text = render(one)
    path.write_text(text, encoding="utf-8")
    return Page(path, text)


def unused(text: str) -> set[str]:
    """Definitions that no picture uses."""
    return set(re.findall(r'<g id="(d\d+)">', text)) - set(re.findall(r'href="#(d\d+)"', text))
