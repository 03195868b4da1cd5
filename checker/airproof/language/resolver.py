"""From the statements of a circuit to its data, every problem reported at once.

The order: parts are taken apart, everything named is entered in a table, each
statement is read in its own scope, and what can only be seen of the whole is
checked at the end.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from airproof.base.diagnostics import Rejected
from airproof.base.source import SourceText, Span
from airproof.circuit.kinds import Circuit
from airproof.language import checks, syntax
from airproof.language.conditions import signals_of
from airproof.language.declare import declare
from airproof.language.draft import Draft, Here
from airproof.language.meaning import read
from airproof.language.names import Problems
from airproof.language.parts import Placed, take_apart


@dataclass(frozen=True, slots=True)
class Resolved:
    """A circuit and where each of its things is written."""

    circuit: Circuit
    spans: Mapping[str, Span]


def resolve(
    documents: Iterable[syntax.Document], sources: Mapping[str, SourceText] | None = None
) -> Resolved:
    """The circuit of a text (first) and of what it includes.

    Raises Rejected with every problem found.
    """
    listed = list(documents)
    problems = Problems()
    frame = _frame(listed, problems)
    statements = [each for document in listed for each in document.statements]
    draft = _build(statements, problems)
    if len(problems):
        raise Rejected(problems.sorted(), sources)
    assert frame is not None
    title = frame.title.text if frame.title else ""
    return Resolved(draft.circuit(frame.name.text, title), draft.spans)


def _frame(documents: list[syntax.Document], problems: Problems) -> syntax.Circuit | None:
    """The one `circuit` statement, which belongs to the first text."""
    found: list[syntax.Circuit] = []
    for number, document in enumerate(documents):
        for statement in document.statements:
            if isinstance(statement, syntax.Circuit):
                if number:
                    problems.add("circuit_in_include", statement.span)
                elif found:
                    line = str(found[0].span.line)
                    problems.add("second_circuit", statement.span, line=line)
                else:
                    found.append(statement)
    if not found and documents:
        problems.add("no_circuit", Span(documents[0].path, 1, 1, 1, 1))
    return found[0] if found else None


def _build(statements: list[syntax.Statement], problems: Problems) -> Draft:
    if not statements:
        return Draft()
    placed = take_apart(statements, problems)
    table = declare(placed, problems)
    signals = signals_of(placed)
    draft = Draft(spans={entry.name: entry.span for entry in table.entries()})
    heres = [Here(one.scope, table, signals, problems, draft) for one in placed]
    for one, here in sorted(zip(placed, heres, strict=True), key=_rank):
        _read(one.statement, here)
    checks.check(draft, problems)
    return draft


def _rank(pair: tuple[Placed, Here]) -> bool:
    """Standing states last: they are measured against ranges and seals."""
    return isinstance(pair[0].statement, syntax.State)


def _read(statement: syntax.Statement, here: Here) -> None:
    before = len(here.problems)
    read(statement, here)
    name = getattr(statement, "name", None)
    if not isinstance(name, syntax.Name):
        return
    if len(here.problems) > before:
        here.draft.broken.add(here.name(name))
    drawing = getattr(statement, "drawing", None)
    if isinstance(drawing, syntax.Drawing):
        item = f" item {drawing.item}" if drawing.item else ""
        here.draft.drawings[here.name(name)] = drawing.sheet + item
