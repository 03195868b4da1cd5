"""Each kind of step, done to a circuit's text."""

from __future__ import annotations

from airproof.base.diagnostics import listed
from airproof.language import syntax
from airproof.language.changing import nodes
from airproof.language.changing.clausing import with_clauses
from airproof.language.changing.finding import Asked, Found, find
from airproof.language.changing.sites import Site
from airproof.language.changing.surgery import Cut, cut_out, with_rows, without_rows
from airproof.language.changing.values import swapped
from airproof.language.declare import device_positions
from airproof.language.printer import print_statement

BOTH_WAYS = ("open", "shut")
_SWITCHES = {"pressure switch": ("open", "closed"), "governor": ("running", "stopped")}


def act(asked: Asked, deed: nodes.Deed, text: str, path: str) -> str:
    """The text once the deed is done; raises Rejected if it does not apply."""
    match deed:
        case nodes.Add(new):
            return with_rows(text, new.lines)
        case nodes.Withdraw(name):
            found = find(asked, text, path, name)
            if found.site.head != "property":
                raise asked.refuse("step_no_property", name.span, found.site, name=name.text)
            return without_rows(found.text, found.site.rows)
        case nodes.Connect():
            return _connected(asked, deed, text, path)
    return _other(asked, deed, text, path)


def _other(
    asked: Asked,
    deed: nodes.Remove | nodes.Replace | nodes.SetClauses | nodes.Swap | nodes.Fix,
    text: str,
    path: str,
) -> str:
    found = find(asked, text, path, deed.name)
    site = found.site
    if site.head == "property" and isinstance(deed, nodes.Remove):
        raise asked.refuse("step_property", deed.name.span, site, name=site.name)
    if site.head == "property":
        raise asked.refuse("step_property_kept", deed.name.span, site)
    match deed:
        case nodes.Remove():
            return without_rows(found.text, site.rows)
        case nodes.Replace(new=new):
            rows = (f"{site.margin}{row}".rstrip() for row in new.lines)
            return without_rows(found.text, site.rows, rows)
        case nodes.SetClauses(clauses=clauses):
            return cut_out(found.text, with_clauses(asked, site, clauses))
        case nodes.Swap():
            return cut_out(found.text, swapped(asked, site, deed))
        case nodes.Fix():
            return _fixed(asked, found, deed)


# ---- fixed at a position


def _fixed(asked: Asked, found: Found, deed: nodes.Fix) -> str:
    site, wanted = found.site, deed.position
    positions = _positions(site)
    if positions is None:
        raise asked.refuse("step_unfixable", deed.name.span, site, name=deed.name.text)
    if wanted.text not in positions:
        shown = listed(positions, "and")
        data = {"name": deed.name.text, "position": wanted.text, "positions": shown}
        raise asked.refuse("step_no_position", wanted.span, site, **data)
    if site.head in ("control", "isolating cock"):
        clauses = [_clause(rule, wanted) for rule in ("starts", "sealed")]
        return cut_out(found.text, with_clauses(asked, site, clauses))
    stuck = _stuck(site, positions, wanted)
    rows = (f"{site.margin}{row}" for row in stuck.split("\n"))
    return without_rows(found.text, site.rows, rows)


def _positions(site: Site) -> tuple[str, ...] | None:
    """Where the thing can stand; None if it is no such thing."""
    if site.head == "isolating cock":
        return BOTH_WAYS
    if site.head in _SWITCHES:
        return _SWITCHES[site.head]
    node = site.node
    if isinstance(node, syntax.Control):
        return tuple(name.text for name in node.positions)
    if isinstance(node, syntax.Device) and not node.joins:
        return tuple(name.text for name in device_positions(node))
    return None


def _clause(word: str, position: syntax.Name) -> nodes.Clause:
    rule = {"starts": "starts_names"}.get(word, word)
    return nodes.Clause(rule, "", f"{word} {position.text}", position.span)


def _stuck(site: Site, positions: tuple[str, ...], wanted: syntax.Name) -> str:
    """A device that nothing moves any more is a control that is sealed."""

    def named(text: str) -> syntax.Name:
        return syntax.Name(text, wanted.span)

    node = site.node
    drawing = node.drawing if isinstance(node, syntax.Device) else None
    control = syntax.Control(
        named(site.name),
        tuple(map(named, positions)),
        (wanted,),
        False,
        wanted,
        None,
        None,
        drawing,
        wanted.span,
    )
    return print_statement(control)


# ---- connected elsewhere


def _connected(asked: Asked, deed: nodes.Connect, text: str, path: str) -> str:
    port = _port(asked, deed, text, path)
    if port is not None:
        return cut_out(text, [port])
    found = find(asked, text, path, deed.name)
    cuts = [
        _end(asked, found.site, deed.name, field, end)
        for field, end in (("source", deed.source), ("target", deed.target))
        if end is not None
    ]
    return cut_out(found.text, cuts)


def _end(asked: Asked, site: Site, name: syntax.Name, field: str, end: syntax.Name) -> Cut:
    now = getattr(site.node, field, None) if site.head != "fit" else None
    if not isinstance(now, syntax.Name):
        raise asked.refuse("step_no_ends", name.span, site, name=name.text)
    return Cut(now.span, end.text)


def _port(asked: Asked, deed: nodes.Connect, text: str, path: str) -> Cut | None:
    """The place that a fitted part's port is joined to; None if no such port is named."""
    first, _, rest = deed.name.text.rpartition(".")
    if not first or "." in first or (deed.source is None) == (deed.target is None):
        return None
    found = find(asked, text, path, syntax.Name(first, deed.name.span))
    node, end = found.site.node, deed.source or deed.target
    if not isinstance(node, syntax.Fit) or end is None:
        return None
    for binding in node.bindings:
        if binding.port.text == rest:
            return Cut(binding.target.span, end.text)
    return None
