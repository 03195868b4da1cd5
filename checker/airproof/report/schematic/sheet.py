"""What stands on a sheet: blocks by name, and the lines between their ports."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from airproof.circuit.conditions import Condition
from airproof.report.schematic.blocks import Block, Port


@dataclass(frozen=True, slots=True)
class End:
    """One port of one block."""

    block: str
    port: int


@dataclass(frozen=True, slots=True)
class Link:
    """A line of air; `flows` that use it, each with +1 if its air goes from `start` to `end`."""

    start: End
    end: End
    flows: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Frame:
    """The measures of one block, taken once: measuring words takes its time."""

    size: tuple[float, float]
    ports: tuple[Port, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The blocks in the order of the text, and the lines.

    `spelled`: conditions that no symbol stands for, each with the name and the kind of what
    has it, for the panel to spell out.
    """

    blocks: Mapping[str, Block]
    links: tuple[Link, ...]
    spelled: tuple[tuple[str, str, Condition], ...] = ()
    frames: Mapping[str, Frame] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        frames = {name: Frame(block.size, block.ports) for name, block in self.blocks.items()}
        object.__setattr__(self, "frames", frames)
