"""A sequence as a pack shows it: its words, its pictures, its plot and its table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from airproof.circuit.conditions import (
    At,
    Compare,
    Expired,
    Form,
    GoneTo,
    OnTheWay,
    leaves,
)
from airproof.circuit.kinds import Circuit
from airproof.circuit.landmarks import conditions_of
from airproof.circuit.properties import Property
from airproof.evidence.sequence import Sequence
from airproof.report import schematic, words
from airproof.report.pack.frames import (
    Frame,
    Part,
    Row,
    frames_of,
    moments_of,
    parts_of,
    rows_of,
    states_of,
    steps_told,
    times_of,
)
from airproof.report.pack.plot import Axis, Strip, axis_of, strip_of
from airproof.report.pack.settings import Setting, settings_of
from airproof.report.pack.standing import Stands, stands_of
from airproof.report.story import story

WIDE = 900.0  # [px] of two drawings, if one is wider they are printed on a page each


@dataclass(frozen=True, slots=True)
class Telling:
    """One sequence; `key` is its name in the document.

    `stands`: of each frame, what its drawing does not tell
    `items`: those of the story, each with what happened under it and with its steps
    `steady`: what stays as it starts, not worth a line in the table
    """

    key: str
    frames: tuple[Frame, ...]
    stands: tuple[Stands, ...]
    items: tuple[tuple[str, tuple[str, ...], str], ...]
    start: str
    ending: tuple[str, ...]
    film: schematic.Film
    parts: tuple[Part, ...]
    steady: tuple[Row, ...]
    strips: tuple[Strip, ...]
    axis: Axis

    @property
    def apart(self) -> bool:
        """Steps are counted otherwise than the story's items."""
        return len(self.items) < len(self.frames) - 1


def tell(
    key: str,
    circuit: Circuit,
    sequence: Sequence,
    asked: Property,
    studio: schematic.Studio,
    *,
    certain: bool = True,
) -> Telling:
    """The sequence of that circuit, which differs from the drawing's in times at most."""
    tale = story(circuit, sequence, asked, certain=certain)
    frames, rows = frames_of(sequence, tale), rows_of(circuit, sequence)
    named = frozenset(_named(asked))
    axis = axis_of(len(frames), times_of(sequence))
    return Telling(
        key,
        frames,
        stands_of(circuit, sequence, studio.named - circuit.timers.keys()),
        tuple(
            (item.text, item.parts, steps_told(frames, number))
            for number, item in enumerate(tale.items, start=1)
        ),
        tale.start,
        tale.ending,
        studio.film(circuit, list(moments_of(circuit, sequence))),
        parts_of(frames, tuple(row for row in rows if row.changes or row.name in named)),
        tuple(row for row in rows if not row.changes and row.name not in named),
        tuple(_strips(circuit, sequence, asked, axis)),
        axis,
    )


def _named(asked: Property) -> Iterator[str]:
    for tree in conditions_of(asked.sentence):
        for leaf in leaves(tree):
            match leaf:
                case At(name, _) | OnTheWay(name) | Expired(name) | GoneTo(name, _):
                    yield name
                case Compare(form):
                    yield from form.names


def _strips(circuit: Circuit, sequence: Sequence, asked: Property, axis: Axis) -> Iterator[Strip]:
    """What changes or is compared by the property, then the sums that the property compares."""
    settings, states = settings_of(circuit, asked), states_of(sequence)
    named = frozenset(_named(asked))
    for name in sequence.start.values:
        values = [state.values[name] for state in states]
        if len(set(values)) > 1 or name in named:
            yield strip_of(circuit, name, values, settings, axis)
    for form, known in _sums(asked).items():
        values = [
            sum((state.values[name] * weight for name, weight in form.terms), Fraction(0))
            for state in states
        ]
        title = words.form(form)
        yield strip_of(circuit, title, values, {title: known}, axis)


def _sums(asked: Property) -> dict[Form, tuple[Setting, ...]]:
    found: dict[Form, list[Setting]] = {}
    for tree in conditions_of(asked.sentence):
        for leaf in leaves(tree):
            if isinstance(leaf, Compare) and len(leaf.form.terms) > 1:
                setting = Setting(leaf.constant, leaf.tolerance, "the property")
                found.setdefault(leaf.form, []).append(setting)
    return {
        form: tuple(sorted(set(known), key=lambda one: one.value)) for form, known in found.items()
    }
