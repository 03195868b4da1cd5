"""Where a device must stay, as far as its own conditions tell without any pressure."""

from __future__ import annotations

from collections.abc import Iterator

from airproof.circuit.conditions import AllOf, AnyOf, At, Condition, Not, OnTheWay, Truth, leaves
from airproof.circuit.kinds import Device


def reads_only_itself(device: Device) -> bool:
    """Nothing but its own position ever moves it."""
    read = [leaf for move in device.moves for leaf in leaves(move.when)]
    return bool(read) and all(_own(leaf, device.name) for leaf in read)


def _own(leaf: Condition, device: str) -> bool:
    if isinstance(leaf, At):
        return leaf.component == device
    return isinstance(leaf, OnTheWay) and leaf.device == device


def never_left(device: Device) -> Iterator[str]:
    """Positions that some move enters and no move leaves."""
    for position in device.positions:
        others = [each for each in device.positions if each != position]
        entered = any(_can_move(device, here, position) for here in others)
        if entered and not any(_can_move(device, position, there) for there in others):
            yield position


def _can_move(device: Device, here: str, there: str) -> bool:
    return any(
        move.to == there and _truth(move.when, device.name, here) is not False
        for move in device.moves
    )


def _truth(condition: Condition, device: str, position: str) -> bool | None:
    """The condition's truth while the device stands at the position, None if others decide."""
    match condition:
        case Truth(value=value):
            return value
        case At(component=component, position=asked) if component == device:
            return asked == position
        case OnTheWay(device=other) if other == device:
            return False
        case Not(part=part):
            truth = _truth(part, device, position)
            return None if truth is None else not truth
        case AllOf(parts=parts):
            return _merged([_truth(part, device, position) for part in parts], False)
        case AnyOf(parts=parts):
            return _merged([_truth(part, device, position) for part in parts], True)
        case _:
            return None


def _merged(truths: list[bool | None], decisive: bool) -> bool | None:
    if decisive in truths:
        return decisive
    return None if None in truths else not decisive
