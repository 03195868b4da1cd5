"""What can only be seen of the whole circuit: devices that stick, settings that meet, empty ranges.

Each check passes over things that already have a problem of their own.
"""

from __future__ import annotations

from itertools import combinations, product

from airproof.circuit.kinds import Device
from airproof.language.boxes import conjunctions, meet
from airproof.language.ceilings import check_ceilings
from airproof.language.circles import check_flowing
from airproof.language.draft import Draft
from airproof.language.names import Problems
from airproof.language.ranges import check_states, check_supplies, plain, spell
from airproof.language.standing import never_left, reads_only_itself


def check(draft: Draft, problems: Problems) -> None:
    """Adds every problem of the whole circuit."""
    for name, device in draft.devices.items():
        owner = name.rpartition(".")[0]
        if device.moves and not draft.broken & {name, owner}:
            _check_device(draft, device, problems)
    check_flowing(draft, problems)
    if not draft.broken:
        check_supplies(draft, problems)
        check_states(draft, problems)
        check_ceilings(draft, problems)


def _check_device(draft: Draft, device: Device, problems: Problems) -> None:
    span, data = draft.spans[device.name], {"name": device.name, "word": device.kind}
    if reads_only_itself(device):
        problems.add("reads_only_itself", span, **data)
        return
    if device.name not in draft.latched:
        for position in never_left(device):
            problems.add("never_left", span, position=position, **data)
    pair = _due_together(device)
    if pair:
        first, second, where = pair
        problems.add("settings_overlap", span, first=first, second=second, at=where, **data)


def _due_together(device: Device) -> tuple[str, str, str] | None:
    """Two positions the device is due to move to at once, and an example."""
    boxes = [(move.to, conjunctions(move.when, device.name) or []) for move in device.moves]
    for (first, ours), (second, theirs) in combinations(boxes, 2):
        for one, other in product(ours, theirs):
            where = meet(one, other) if first != second else None
            if where is not None:
                form, value = where
                return first, second, f" at {spell(form)} = {plain(value)}" if form else ""
    return None
