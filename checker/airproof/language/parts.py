"""Takes parts apart: each fitted part becomes its statements, seen from its own scope."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from airproof.base.diagnostics import nearest
from airproof.language import syntax
from airproof.language.names import Problems, Scope

MOST_STATEMENTS = 20_000  # of a circuit with its parts taken apart
DEEPEST = 40  # parts within parts


@dataclass(frozen=True, slots=True)
class Placed:
    """A statement and the scope in which its names are read."""

    statement: syntax.Statement
    scope: Scope


def take_apart(statements: Iterable[syntax.Statement], problems: Problems) -> list[Placed]:
    """Every statement of the circuit but `part`, those of fitted parts behind their `fit`."""
    listed = list(statements)
    work = _Work(_parts(listed, problems), problems)
    work.lay(listed, Scope(), ())
    for part in work.parts.values():
        if part.name.text not in work.fitted and part.span.path == listed[0].span.path:
            problems.add("part_never_fitted", part.name.span, name=part.name.text)
    return work.placed


def _parts(statements: list[syntax.Statement], problems: Problems) -> dict[str, syntax.Part]:
    parts: dict[str, syntax.Part] = {}
    for statement in statements:
        if not isinstance(statement, syntax.Part):
            continue
        name = statement.name.text
        first = parts.setdefault(name, statement)
        if first is not statement:
            where = f"line {first.name.span.line} of {first.name.span.path}"
            problems.add("duplicate_part", statement.name.span, name=name, where=where)
        _check_ports(statement, problems)
    return parts


def _check_ports(part: syntax.Part, problems: Problems) -> None:
    seen: set[str] = set()
    for port in part.ports:
        if port.text in seen:
            problems.add("duplicate_port", port.span, name=port.text)
        seen.add(port.text)
    for statement in part.body:
        name = getattr(statement, "name", None)
        if isinstance(name, syntax.Name) and name.text in seen:
            problems.add("name_of_port", name.span, name=name.text)


class _Work:
    """The statements laid out so far."""

    def __init__(self, parts: dict[str, syntax.Part], problems: Problems) -> None:
        self.parts = parts
        self.problems = problems
        self.placed: list[Placed] = []
        self.fitted: set[str] = set()

    def lay(
        self, statements: Iterable[syntax.Statement], scope: Scope, within: tuple[str, ...]
    ) -> None:
        for statement in statements:
            if len(self.placed) >= MOST_STATEMENTS:
                most = str(MOST_STATEMENTS)
                self.problems.add("too_many_statements", statement.span, most=most)
                return
            self._lay_one(statement, scope, within)

    def _lay_one(self, statement: syntax.Statement, scope: Scope, within: tuple[str, ...]) -> None:
        if within and isinstance(statement, syntax.Circuit | syntax.Include | syntax.Part):
            self.problems.add("not_in_part", statement.span)
        elif isinstance(statement, syntax.Fit):
            self.placed.append(Placed(statement, scope))
            self._fit(statement, scope, within)
        elif not isinstance(statement, syntax.Part):
            self.placed.append(Placed(statement, scope))

    def _fit(self, fit: syntax.Fit, scope: Scope, within: tuple[str, ...]) -> None:
        name = fit.part.text
        part = self.parts.get(name)
        if part is None:
            meant = nearest(name, self.parts)
            self.problems.add("unknown_part", fit.part.span, meant, name=name)
        elif name in within:
            way = " in ".join(f"`{each}`" for each in (*reversed(within), name))
            self.problems.add("part_in_itself", fit.part.span, name=name, way=way)
        elif len(within) >= DEEPEST:
            self.problems.add("parts_too_deep", fit.part.span, name=name, most=str(DEEPEST))
        else:
            self.fitted.add(name)
            ports = self._ports(fit, part, scope)
            inner = Scope(scope.full(fit.name.text) + ".", ports)
            self.lay(part.body, inner, (*within, name))

    def _ports(self, fit: syntax.Fit, part: syntax.Part, scope: Scope) -> dict[str, str]:
        ports = [port.text for port in part.ports]
        bound: dict[str, str] = {}
        for binding in fit.bindings:
            port = binding.port
            data = {"name": port.text, "part": part.name.text}
            if port.text not in ports:
                self.problems.add("unknown_port", port.span, nearest(port.text, ports), **data)
            elif port.text in bound:
                self.problems.add("port_bound_twice", port.span, **data)
            else:
                bound[port.text] = scope.full(binding.target.text)
        for name in ports:
            if name not in bound:
                data = {"name": name, "part": part.name.text, "fit": fit.name.text}
                self.problems.add("port_not_bound", fit.name.span, **data)
                bound[name] = ""
        return bound
