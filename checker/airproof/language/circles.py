"""Flows whose conditions ask, by way of other flows, whether they flow themselves."""

from __future__ import annotations

from airproof.circuit.conditions import Flowing, leaves
from airproof.language.draft import Draft
from airproof.language.names import Problems


def check_flowing(draft: Draft, problems: Problems) -> None:
    """Every circle of `is flowing` among the conditions of flows is a problem."""
    asks = {
        name: [leaf.flow for leaf in leaves(flow.condition) if isinstance(leaf, Flowing)]
        for name, flow in draft.flows.items()
    }
    free: set[str] = set()  # flows from which no circle is reached, or already told
    for name in asks:
        circle = _circle(name, asks, free)
        if circle:
            way = " -> ".join(f"`{each}`" for each in circle)
            problems.add("flow_in_itself", draft.spans[circle[0]], name=circle[0], way=way)


def _circle(start: str, asks: dict[str, list[str]], free: set[str]) -> list[str] | None:
    """A circle reached from here, or None; walks without recursion."""
    path: list[str] = [start]
    todo = [list(asks[start])]
    while path:
        if not todo[-1]:
            free.add(path.pop())
            todo.pop()
            continue
        here = todo[-1].pop()
        if here in path:
            free.update(path)
            return [*path[path.index(here) :], here]
        if here in asks and here not in free:
            path.append(here)
            todo.append(list(asks[here]))
    return None
