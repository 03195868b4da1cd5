"""Clauses set in a statement: those that stand there replaced, new ones put behind it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lark import Tree

from airproof.base.diagnostics import listed
from airproof.base.source import Span
from airproof.language.changing.finding import Asked
from airproof.language.changing.nodes import Clause
from airproof.language.changing.sites import Site
from airproof.language.changing.surgery import WIDEST, Cut, after
from airproof.language.clauses import RESTRICTIONS, SPOKEN, clauses_of, with_article
from airproof.language.complaints import plain_text
from airproof.language.grammar import tree_of
from airproof.language.reader import Node, Reader
from airproof.language.statements import divided

SIZED = ("supply", "volume", "range_control", "spring_cylinder")
EXTENTS = ("single", "range", "tolerated")


def with_clauses(asked: Asked, site: Site, clauses: Sequence[Clause]) -> list[Cut]:
    """The cuts that set the clauses; raises Rejected if the statement takes one of them not."""
    tree = tree_of(plain_text(site.chunk))
    setting = _Setting(asked, site, tree)
    cuts: list[Cut] = []
    for clause in clauses:
        cuts += setting.cuts(clause)
    cuts += setting.restricted([clause for clause in clauses if clause.rule in RESTRICTIONS])
    added = [clause.text for clause in clauses if setting.is_new(clause)]
    return [*cuts, *setting.behind(added)]


class _Setting:
    """One statement whose clauses are set."""

    def __init__(self, asked: Asked, site: Site, tree: Node) -> None:
        self.asked, self.site, self.kind = asked, site, str(tree.data)
        self.reader = Reader(site.span.path, site.chunk.lines[0].number - 1)
        parts, self.items = divided(tree)
        heads = [part for part in parts if isinstance(part, Tree) and part.data in EXTENTS]
        self.extent = self.reader.span(heads[0]) if heads else None

    def cuts(self, clause: Clause) -> Iterator[Cut]:
        """Where the clause stands, or a size before everything else."""
        self._check(clause)
        if clause.rule == "extent":
            yield self._sized(clause)
        elif clause.rule not in RESTRICTIONS:
            for span in self._standing(clause):
                yield Cut(span, clause.text)

    def is_new(self, clause: Clause) -> bool:
        """It has to be put behind the statement."""
        if clause.rule == "extent":
            return False
        if clause.rule in RESTRICTIONS:
            return not self._restrictions()
        return not self._standing(clause)

    def restricted(self, clauses: Sequence[Clause]) -> Iterator[Cut]:
        """One restriction in the place of another, whatever kind either is."""
        now = self._restrictions()
        if not clauses or not now:
            return
        yield Cut(now[0], ", ".join(clause.text for clause in clauses))
        for span in now[1:]:
            yield Cut(self._with_comma(span), "")

    def behind(self, texts: Sequence[str]) -> Iterator[Cut]:
        """New clauses, on the last line if they still fit there."""
        if not texts:
            return
        joint = "; " if self.kind in ("control", "device") else ", "
        last, text = self.site.chunk.lines[-1], joint.join(texts)
        place, below = after(last.tokens[-1].span), f"\n{self.site.margin}    {text}"
        if last.comment is not None:
            yield Cut(place, joint.rstrip())
            yield Cut(after(last.comment.span), below)
        elif place.column + len(text) + 1 <= WIDEST:
            yield Cut(place, f"{joint}{text}")
        else:
            yield Cut(place, joint.rstrip() + below)

    def _check(self, clause: Clause) -> None:
        site = self.site
        if clause.rule == "extent":
            if self.kind not in SIZED:
                data = {"name": site.name, "value": clause.text}
                raise self.asked.refuse("step_no_extent", clause.span, site, **data)
            return
        allowed = clauses_of(self.kind)
        if clause.rule not in allowed:
            words = sorted({SPOKEN[rule] for rule in allowed})
            data = {
                "clause": SPOKEN[clause.rule],
                "statement": with_article(site.head),
                "allowed": listed(words, "and"),
            }
            raise self.asked.refuse("step_no_clause", clause.span, site, **data)
        if clause.rule in RESTRICTIONS and any(item.data == "joins" for item in self.items):
            raise self.asked.refuse("step_many_joins", clause.span, site, name=site.name)

    def _standing(self, clause: Clause) -> list[Span]:
        return [
            self.reader.span(item)
            for item in self.items
            if item.data == clause.rule
            and (not clause.place or self.reader.name(item.children[0]).text == clause.place)
        ]

    def _restrictions(self) -> list[Span]:
        return [self.reader.span(item) for item in self.items if item.data in RESTRICTIONS]

    def _with_comma(self, span: Span) -> Span:
        """The span from the end of the word before it, so that a `,` between goes too."""
        before = [t for t in self.site.chunk.tokens if _before(t.span, span) and t.text not in ",;"]
        end = before[-1].span
        return Span(span.path, end.end_line, end.end_column, span.end_line, span.end_column)

    def _sized(self, clause: Clause) -> Cut:
        if self.extent is not None:
            return Cut(self.extent, clause.text)
        colon = next(token for token in self.site.chunk.tokens if token.text == ":")
        return Cut(after(colon.span), f" {clause.text},")


def _before(one: Span, other: Span) -> bool:
    return (one.line, one.column) < (other.line, other.column)
