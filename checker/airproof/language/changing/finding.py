"""Which statement of a text a step means."""

from __future__ import annotations

from dataclasses import dataclass

from airproof.base.diagnostics import Problem, Rejected, nearest
from airproof.base.source import Span
from airproof.language.changing.sites import Site, sites
from airproof.language.changing.surgery import Cut, cut_out, with_rows
from airproof.language.syntax import Name, Title


@dataclass(frozen=True, slots=True)
class Asked:
    """A step on its way to a text, for what has to be said of it.

    others: texts that the circuit includes, by their paths
    """

    number: int
    span: Span
    others: dict[str, str]

    def refuse(self, code: str, span: Span, site: Site | None = None, **data: str) -> Rejected:
        """That the step does not apply, and where it would."""
        return self.refused(Problem(code, span, {"number": str(self.number), **data}), site)

    def refused(self, problem: Problem, site: Site | None = None) -> Rejected:
        """The same, with a problem made elsewhere."""
        there = [] if site is None else [self.here(site.chunk.span)]
        return Rejected([problem, *there])

    def here(self, span: Span) -> Problem:
        """The place in the circuit, to be quoted behind the step's."""
        return Problem("step_here", span, {"number": str(self.number)})


@dataclass(frozen=True, slots=True)
class Found:
    """The statement, and the text it stands in: a part's own copy may have been made for it."""

    text: str
    site: Site


def find(asked: Asked, text: str, path: str, called: Name | Title) -> Found:
    """The statement of that name or title; raises Rejected."""
    known = sites(text, path)
    if isinstance(called, Title):
        found = [site for site in known if site.titled and site.name == called.text]
    else:
        found = [s for s in known if s.within is None and not s.titled and s.name == called.text]
    if found:  # the circuit may be called like one of its things
        return Found(text, min(found, key=lambda site: site.head == "circuit"))
    if isinstance(called, Name) and "." in called.text:
        return _inner(asked, text, path, called, known)
    raise _unknown(asked, called, known)


def _unknown(asked: Asked, called: Name | Title, known: tuple[Site, ...]) -> Rejected:
    name = called.text
    for path, other in asked.others.items():
        for site in sites(other, path):
            if site.name == name and site.within is None:
                return asked.refuse("step_included", called.span, site, name=name)
    titled = isinstance(called, Title)
    names = [site.name for site in known if site.within is None and site.titled == titled]
    data = {"number": str(asked.number), "name": name}
    return Rejected([Problem("step_unknown", called.span, data, nearest(name, names))])


def _inner(asked: Asked, text: str, path: str, called: Name, known: tuple[Site, ...]) -> Found:
    """A statement of a fitted part, or of a part for all its fits."""
    first, rest = called.text.split(".", 1)
    outer = [site for site in known if site.within is None and site.name == first]
    fits = [site for site in outer if site.head == "fit"]
    parts = [site for site in outer if site.head == "part"]
    if not fits and not parts:
        if outer:
            raise asked.refuse("step_inner", called.span, outer[0], name=called.text, whole=first)
        raise asked.refuse("step_no_part", called.span, None, name=first, whole=called.text)
    if fits:
        text, part = _own_part(text, path, fits[0], known)
    else:
        part = first
    inner = [site for site in sites(text, path) if site.within == part]
    for site in inner:
        if site.name == rest and not site.titled:
            return Found(text, site)
    names = [f"{first}.{site.name}" for site in inner if not site.titled]
    data = {"number": str(asked.number), "name": called.text}
    problem = Problem("step_unknown", called.span, data, nearest(called.text, names))
    raise asked.refused(problem, (fits or parts)[0])


def _own_part(text: str, path: str, fit: Site, known: tuple[Site, ...]) -> tuple[str, str]:
    """The part of a fit that no other fit shares: copied under a new name if others do."""
    token = fit.chunk.tokens[1]
    shared = [site for site in known if site.head == "fit" and _part_of(site) == token.text]
    if len(shared) == 1:
        return text, token.text
    part = next((site for site in known if site.head == "part" and site.name == token.text), None)
    if part is None:
        return text, token.text
    name = _free(f"{token.text}_{fit.name}", {site.name for site in known})
    rows = text.split("\n")[part.span.line - 1 : part.span.end_line]
    label = part.chunk.tokens[1].span
    rows[0] = rows[0][: label.column - 1] + name + rows[0][label.end_column - 1 :]
    return with_rows(cut_out(text, [Cut(token.span, name)]), rows), name


def _part_of(fit: Site) -> str:
    return fit.chunk.tokens[1].text


def _free(name: str, taken: set[str]) -> str:
    number, free = 2, name
    while free in taken:
        free, number = f"{name}_{number}", number + 1
    return free
