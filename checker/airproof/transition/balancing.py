"""Air without its amounts: what the two ends of an elapse step must satisfy for some to fit.

Amounts are a flow in a network whose ways are shut or carry any amount.  By
Hoffman's theorem on circulations some fit if and only if every set of volumes
of stated size can be served as a whole: where no way leads into the set, what
its volumes must gain together is nothing, and where none leads out, what they
must lose.  Sets that no way connects need not be looked at, for their parts are.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, islice

import z3

from airproof.circuit.kinds import Circuit, Volume
from airproof.transition.elapsing import Elapsing
from airproof.transition.layout import number
from airproof.transition.system import Conjunct
from airproof.transition.terms import any_of

MOST_SETS = 48  # beyond, amounts are cheaper

Set = frozenset[str]


def balanceable(circuit: Circuit) -> bool:
    """There are few enough sets of connected volumes."""
    return next(islice(_connected(circuit), MOST_SETS, None), None) is None


def balanced(elapsing: Elapsing) -> Iterator[Conjunct]:
    """In place of `Elapsing.air`: true of two states just if that is for some amounts."""
    circuit = elapsing.circuit
    for together in _connected(circuit):
        into, out = _ways(elapsing, together)
        net = [_net(elapsing, circuit.volumes[name]) for name in sorted(together)]
        least, most = (z3.Sum([part[side] for part in net]) for side in (0, 1))
        keys = tuple(f"value {name}" for name in sorted(together))
        yield Conjunct(any_of([least <= 0, *into]), keys)
        yield Conjunct(any_of([most >= 0, *out]), keys)
    for volume in circuit.volumes.values():
        if volume.size is None:
            yield from elapsing.unsized(volume)


def _connected(circuit: Circuit) -> Iterator[Set]:
    """Each set of volumes of stated size that flows connect."""
    sized = {name for name, volume in circuit.volumes.items() if volume.size is not None}
    beside: dict[str, set[str]] = {name: set() for name in sized}
    for flow in circuit.flows.values():
        if flow.source in sized and flow.target in sized:
            beside[flow.source].add(flow.target)
            beside[flow.target].add(flow.source)
    found: dict[Set, None] = {frozenset((name,)): None for name in sorted(sized)}
    waiting = list(found)
    yield from waiting
    while waiting:
        here = waiting.pop()
        for name in sorted({*chain.from_iterable(beside[one] for one in here)} - here):
            more = here | {name}
            if more not in found:
                found[more] = None
                waiting.append(more)
                yield more


def _ways(elapsing: Elapsing, together: Set) -> tuple[list[z3.BoolRef], list[z3.BoolRef]]:
    """What opens a way into the set, and one out of it."""
    into: list[z3.BoolRef] = []
    out: list[z3.BoolRef] = []
    for flow in elapsing.circuit.flows.values():
        ends = (flow.source in together, flow.target in together)
        if ends[0] is not ends[1]:
            for forward in (True, False):
                side = into if ends[1] is forward else out
                side.append(elapsing.leads(flow, forward=forward))
    return into, out


def _net(elapsing: Elapsing, volume: Volume) -> tuple[z3.ArithRef, z3.ArithRef]:
    """The least and the most that must go in, less what goes out [bar litre]."""
    assert volume.size is not None
    context = elapsing.now.layout.context
    change = elapsing.then.value(volume.name) - elapsing.now.value(volume.name)
    low, high = (number(context, size) * change for size in (volume.size.low, volume.size.high))
    if volume.size.low == volume.size.high:
        return low, low
    rises = change >= 0
    return z3.If(rises, low, high), z3.If(rises, high, low)
