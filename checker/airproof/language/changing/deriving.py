"""The change between two circuits, as the steps that a person would have written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import PurePath

from lark import Tree

from airproof.language import syntax
from airproof.language.changing.clausing import EXTENTS
from airproof.language.changing.deeds import WHOLE, text_in
from airproof.language.changing.sites import Site, sites
from airproof.language.complaints import plain_text
from airproof.language.grammar import tree_of
from airproof.language.printer import print_statement
from airproof.language.reader import Node, Reader
from airproof.language.statements import divided

_Key = tuple[str, str]


def derived(old: str, old_path: str, new: str, new_path: str) -> str | None:
    """The text of a change that makes the old circuit's statements those of the new one.

    before: both texts are well formed
    None if they say the same; comments, order and layout count for nothing
    """
    work = _Work(_keyed(old, old_path), _keyed(new, new_path), new.split("\n"), new_path)
    steps = list(work.steps())
    if not steps:
        return None
    files = (PurePath(path).name for path in (old_path, new_path))
    first, second = (name.replace("\\", "\\\\").replace('"', '\\"') for name in files)
    rows = [f'change "From {first} to {second}" to "{first}"', ""]
    rows += [f"step {number}: {step}" for number, step in enumerate(steps, start=1)]
    return "\n".join(rows) + "\n"


def _keyed(text: str, path: str) -> dict[_Key, Site]:
    """Every statement; what is observed is nothing that a step changes."""
    found = [site for site in sites(text, path) if site.head != "observe"]
    return {_key(site): site for site in found if site.within is None} | {
        (site.within, _key(site)[1]): site for site in found if site.within is not None
    }


def _key(site: Site) -> _Key:
    if site.head == "circuit":
        return ("", "circuit ")
    return ("", f'"{site.name}"' if site.titled else site.name)


class _Work:
    """Two circuits, statement by statement."""

    def __init__(
        self, old: Mapping[_Key, Site], new: Mapping[_Key, Site], rows: list[str], path: str
    ) -> None:
        self.old, self.new, self.rows, self.path = old, new, rows, path

    def steps(self) -> Iterator[str]:
        """Each step's words behind its number; what is added comes before what goes."""
        again: list[Site] = []
        for key, site in self._outer(self.old):
            after = self.new.get(key)
            if after is not None and self._text(site, self.old) != self._text(after, self.new):
                if "property" in (site.head, after.head):
                    yield self._gone(site)
                    again.append(after)
                else:
                    yield from self._changed(site, after)
        added = [site for key, site in self._outer(self.new) if key not in self.old]
        for site in (*again, *added):
            yield f"add{self._brought(site)}"
        for key, site in self._outer(self.old):
            if key not in self.new:
                yield self._gone(site)

    def _outer(self, known: Mapping[_Key, Site]) -> Iterator[tuple[_Key, Site]]:
        return ((key, site) for key, site in known.items() if not key[0])

    def _text(self, site: Site, known: Mapping[_Key, Site]) -> str:
        """What the statement says, however it is laid out."""
        text = print_statement(site.node)
        inner = [self._text(one, known) for key, one in known.items() if key[0] == site.name]
        return "\n".join([text, *site.ports, *(inner if site.head == "part" else ())])

    def _gone(self, site: Site) -> str:
        if site.head == "property":
            name = PurePath(self.path).name.replace("\\", "\\\\").replace('"', '\\"')
            return f'withdraw {site.name} because "it is not so in {name}"'
        return f"remove {_called(site)}"

    def _brought(self, site: Site) -> str:
        rows = self.rows[site.span.line - 1 : site.span.end_line]
        return "".join(f"\n    {row}".rstrip() for row in rows)

    def _changed(self, old: Site, new: Site) -> Iterator[str]:
        if old.head == "part" and new.head == "part" and (inner := self._inner(old, new)):
            yield from inner
            return
        yield _finer(old, new, old.name) or f"replace {_called(old)} with{self._brought(new)}"

    def _inner(self, old: Site, new: Site) -> list[str] | None:
        """The steps inside a part for all its fits; None if it has to be replaced as a whole."""
        heads = [(print_statement(site.node), site.ports) for site in (old, new)]
        if heads[0] != heads[1]:
            return None
        mine = {key: site for key, site in self.old.items() if key[0] == old.name}
        theirs = {key: site for key, site in self.new.items() if key[0] == old.name}
        if mine.keys() != theirs.keys():
            return None
        steps: list[str] = []
        for key, site in mine.items():
            if print_statement(site.node) != print_statement(theirs[key].node):
                step = None if site.titled else _finer(site, theirs[key], f"{old.name}.{site.name}")
                if step is None:
                    return None
                steps.append(step)
        return steps


def _called(site: Site) -> str:
    return f'"{site.name}"' if site.titled else site.name


def _finer(old: Site, new: Site, name: str) -> str | None:
    """A step that touches as little as it can; None if only the whole statement will do."""
    if old.titled or old.head != new.head:
        return None
    return _fixed(old, new, name) or _connected(old, new, name) or _set(old, new, name)


def _fixed(old: Site, new: Site, name: str) -> str | None:
    before, after = old.node, new.node
    if not isinstance(before, syntax.Control | syntax.IsolatingCock):
        return None
    if not isinstance(after, type(before)) or after.sealed is None:
        return None
    said = {"starts": [n.text for n in after.starts], "sealed": [after.sealed.text]}
    if said["starts"] != said["sealed"]:
        return None
    changed = _clauses(old, new)
    if changed is None or {rule for rule, _ in changed} - {"starts_names", "sealed"}:
        return None
    return f"fix {name} at {after.sealed.text}"


def _connected(old: Site, new: Site, name: str) -> str | None:
    before, after = old.node, new.node
    if not isinstance(before, syntax.Flow) or not isinstance(after, syntax.Flow):
        return None
    if _parts(old)[1] != _parts(new)[1]:
        return None
    ends = [
        f"{word} {now.text}"
        for word, was, now in (
            ("from", before.source, after.source),
            ("to", before.target, after.target),
        )
        if was.text != now.text
    ]
    return f"connect {name} {' '.join(ends)}" if ends else None


def _set(old: Site, new: Site, name: str) -> str | None:
    changed = _clauses(old, new)
    if not changed or any(rule in WHOLE or rule.startswith("binding") for rule, _ in changed):
        return None
    return f"set {name}: {'; '.join(changed.values())}"


def _clauses(old: Site, new: Site) -> dict[_Key, str] | None:
    """The clauses that differ; None if something else does, or a clause is gone."""
    (before, was), (after, now) = _parts(old), _parts(new)
    restricted = {key for key in was if key[0] in ("choke", "conductance", "ratio", "moving")}
    gone = was.keys() - now.keys()
    if before != after or gone - restricted:
        return None
    if gone and not any(key[0] in ("choke", "conductance", "moving") for key in now):
        return None
    changed = {key: text for key, text in now.items() if was.get(key) != text}
    if any(key[0] in ("conductance", "ratio") for key in changed):
        changed |= {key: now[key] for key in now if key[0] in ("conductance", "ratio")}
    return changed


def _parts(site: Site) -> tuple[list[str], dict[_Key, str]]:
    """The words of the head, and each clause by its rule and place."""
    tree = tree_of(plain_text(site.chunk))
    reader = Reader(site.span.path, site.chunk.lines[0].number - 1)
    parts, items = divided(tree)
    clauses: dict[_Key, str] = {}
    heads: list[str] = [str(tree.data)]
    for part in parts:
        text = "" if part is None else text_in(site.chunk, reader.span(part))
        if isinstance(part, Tree) and part.data in EXTENTS:
            clauses["extent", ""] = text
        else:
            heads.append(text)
    for number, item in enumerate(items):
        clauses[_clause_key(reader, item, number)] = text_in(site.chunk, reader.span(item))
    return heads, clauses


def _clause_key(reader: Reader, item: Node, number: int) -> _Key:
    rule = str(item.data)
    if rule == "moves":
        return rule, reader.name(item.children[0]).text
    return rule, str(number) if rule in WHOLE or rule.startswith("binding") else ""
