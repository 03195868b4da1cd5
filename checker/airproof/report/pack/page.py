"""One self-contained HTML page out of everything that was found."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import jinja2
from markupsafe import Markup

from airproof import __version__
from airproof.evidence.dependence import Dependence
from airproof.evidence.verdict import Verdict
from airproof.report import schematic
from airproof.report.caution import CAUTION
from airproof.report.findings import found
from airproof.report.granted import granted
from airproof.report.leaning import INTRODUCTION as LEANING
from airproof.report.pack import fingerprints
from airproof.report.pack.chapters import Chapter, Writer
from airproof.report.pack.decisions import DISPOSITIONS, Decision
from airproof.report.pack.matrix import CLASSES, Matrix
from airproof.report.pack.plot import box
from airproof.report.pack.scope import kinds_granted, sizes, standings
from airproof.report.results import Results
from airproof.report.schematic.panel import groups_of
from airproof.report.schematic.svg import style
from airproof.report.terminal import STRENGTHS

TEMPLATES = Path(__file__).with_name("templates")
RUNS = 1000  # random runs that a proof is held against
_OBEYED = ("Cc", "Cf", "Cs", "Zl", "Zp")


@dataclass(frozen=True, slots=True)
class Pack:
    """What goes into a pack.

    file:      the circuit's file, as the reader would name it
    date:      of the pack, as it is to be shown
    record:    the file that keeps decisions; None if none was named
    decisions: what that file says, by property
    depends:   what each breach depends on, by property, where that was found out
    none:      by property, why no other sequence than those set aside is told
    recorded:  False if that file is empty or not there, for there was nothing to record
    """

    results: Results
    file: str
    date: str
    matrix: Matrix = CLASSES
    record: str | None = None
    decisions: Mapping[str, tuple[Decision, ...]] = field(default_factory=dict)
    depends: Mapping[str, Dependence] = field(default_factory=dict)
    none: Mapping[str, Verdict] = field(default_factory=dict)
    recorded: bool = True


def render(pack: Pack) -> str:
    """The page as HTML text; the same for the same pack."""
    results, circuit = pack.results, pack.results.circuit
    studio = schematic.Studio(schematic.plan(circuit))
    start = studio.still()
    writer = Writer(
        circuit,
        results.fingerprint,
        studio,
        pack.matrix,
        pack.decisions,
        pack.depends,
        pack.none,
        RUNS,
    )
    chapters = writer.chapters(results.verdicts)
    return (
        environment()
        .get_template("pack.html.j2")
        .render(
            pack=pack,
            circuit=circuit,
            title=f"{circuit.name}: {circuit.title}" if circuit.title else circuit.name,
            chapters=chapters,
            counts=_counts(chapters),
            strengths=_strengths(chapters),
            findings=[(finding.weight, found(finding)) for finding in results.findings],
            healthy=not any(finding.weight == "error" for finding in results.findings),
            granted=kinds_granted(granted(circuit)),
            sizes=sizes(circuit),
            standings=standings(circuit, results.verdicts),
            start=start,
            panel=groups_of(circuit, studio.plan.sheet),
            shelf=markup(studio.shelf.text),
            dispositions=DISPOSITIONS,
            version=__version__,
            properties=fingerprints.of_properties(circuit),
            tool=fingerprints.of_tool(),
            caution=CAUTION,
            leaning=LEANING,
            **assets(),
        )
    )


def environment() -> jinja2.Environment:
    """What fills in the templates: everything that is no markup shows as text."""
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=shown,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["svg"] = markup
    made.filters["box"] = box
    return made


def shown(value: Any) -> Any:
    """A text with `?` for each character that a browser would obey instead of showing."""
    if isinstance(value, Markup) or not isinstance(value, str):
        return value
    return "".join("?" if unicodedata.category(c) in _OBEYED and c != "\n" else c for c in value)


def markup(text: str) -> Markup:
    """What is markup already."""
    return Markup(shown(text))


def assets() -> dict[str, Markup]:
    """Style and scripts, which stand in the page itself."""
    return {
        "css": Markup(_file("pack.css") + style(within="")),
        "head": Markup(_file("head.js")),
        "js": Markup(_file("pack.js")),
    }


def _file(name: str) -> str:
    return (TEMPLATES / name).read_text(encoding="utf-8")


def _counts(chapters: tuple[Chapter, ...]) -> str:
    """`2 breached, 1 undecided, 6 hold`, what there is none of left out."""
    words = [chapter.word for chapter in chapters]
    said = {
        "breached": words.count("breached"),
        "undecided": words.count("undecided"),
        "hold": words.count("holds"),
        "possible": words.count("possible"),
    }
    return ", ".join(f"{count} {word}" for word, count in said.items() if count)


def _strengths(chapters: tuple[Chapter, ...]) -> dict[str, str]:
    """What each strength in the table means."""
    used = dict.fromkeys(chapter.strength for chapter in chapters if chapter.strength)
    return {strength: STRENGTHS[strength] for strength in used}
