"""Families of circuits of 1, 2, 4 ... like units: beside one another, or each behind the last.

Posts are brake posts of a ropeway under one main: none has to do with another.
Locks are a flight of canal locks: the paddle ram of each is charged from the
lock above, once the switch there says that it is full.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

SIZES = (1, 2, 4, 8, 16, 32)

Shape = Literal["independent", "chained"]
Bands = Literal["bands", "none"]


@dataclass(frozen=True, slots=True)
class Member:
    """One circuit of a family.

    bands: whether sizes, chokes, moving times, speeds and tolerances are stated
    """

    shape: Shape
    bands: Bands
    units: int

    @property
    def name(self) -> str:
        return f"{self.shape}_{self.bands}_{self.units}"

    @property
    def text(self) -> str:
        """The circuit in the language of circuits."""
        write = _posts if self.shape == "independent" else _locks
        return write(self.units, BANDS[self.bands])

    @property
    def expected(self) -> Mapping[str, bool]:
        """Each property's name, and whether it holds."""
        return POSTS if self.shape == "independent" else LOCKS


POSTS = {"weak_air": True, "handled": True, "late_lift": False, "restart": False}
LOCKS = {"ceiling": True, "keeper": True, "last_fills": False, "drained": False}


def members(shape: Shape, bands: Bands, sizes: tuple[int, ...] = SIZES) -> tuple[Member, ...]:
    """A family, smallest first."""
    return tuple(Member(shape, bands, units) for units in sizes)


@dataclass(frozen=True, slots=True)
class _Words:
    """What is said of a size, a choke, a setting, a speed, a device; nothing where none is."""

    rates: str
    setting: str
    moving: str
    stated: bool

    def size(self, litres: str) -> str:
        return f"{litres} litre +- 5 %, " if self.stated else ""

    def choke(self, mm: str) -> str:
        return f", choke {mm} mm +- 5 %" if self.stated else ""


BANDS: Mapping[Bands, _Words] = {
    "bands": _Words(
        ", rises at most 0.5 bar/s, falls at most 1 bar/s",
        " +- 0.1 bar",
        "; moving takes 0.02 s .. 0.1 s; closed on the way",
        True,
    ),
    "none": _Words("", "", "", False),
}


def _posts(units: int, say: _Words) -> str:
    fits = "\n".join(f"fit post as p{i}, feed from main" for i in range(1, units + 1))
    return f"""\
circuit posts "{units} brake posts of a ropeway under one main"

supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar{say.rates}

part post "One brake post: air from its own receiver holds the brake off the rope"
    ports feed
    reservoir aux: {say.size("20")}starts 0 bar
    pipe line: {say.size("2")}starts 0 bar
    pipe pilot: {say.size("0.5")}starts 0 bar
    cylinder brake: {say.size("6")}starts 0 bar
    control handle: apply, release; starts apply; worked by postman
    control pin: in, out; starts in; worked by fitter
    valve lockout: shut, open; starts shut
        moves to open when aux >= 5 bar{say.setting}
        moves to shut when aux <= 4 bar{say.setting}
    latch trip: fallen, held; starts fallen
        moves to held when pin is out and handle is apply
        moves to fallen when pin is in
    valve relay: hold, lift; starts hold{say.moving}
        moves to lift when pilot >= 3 bar{say.setting}
        moves to hold when pilot <= 2 bar{say.setting}
    flow charge: feed -> aux{say.choke("4")}, one way
    flow reducer: aux -> line while handle is release and lockout is open
        and line < 5 bar{say.setting}{say.choke("3")}, one way
    flow vent: line -> atmosphere while handle is apply{say.choke("5")}
    flow sense: line -> pilot{say.choke("1")}
    flow lift: aux -> brake while relay is lift and trip is held and lockout is open
        and brake < 5 bar{say.setting}{say.choke("4")}, one way
    flow drop: brake -> atmosphere while relay is hold or trip is fallen{say.choke("6")}
end part
{fits}

property weak_air "The brake of the first post is not lifted on weak air"
    never p1.lift is flowing while p1.aux < 3.8 bar
property handled "The brake of the first post is lifted only once its handle has been at release"
    p1.lift is flowing only after p1.handle is release
property late_lift "Broken: the lockout lets the air go on to a lower pressure than this"
    never p1.lift is flowing while p1.aux < 4.5 bar
property restart "Broken: a pin put back lifts the brake again without the handle"
    p1.lift is flowing only after p1.handle has gone to release since p1.trip is fallen
"""


def _locks(units: int, say: _Words) -> str:
    fits = "\n".join(
        f"fit lock as k{i}, feed from k{i - 1}.tank, gate from k{i - 1}.full"
        for i in range(2, units + 1)
    )
    last = f"k{units}"
    charged = ", ".join(
        f"k{i}.tank = 6 bar, k{i}.ram = 0 bar, k{i}.full is closed, k{i}.inlet is open"
        for i in range(1, units + 1)
    )
    return f"""\
circuit locks "A flight of {units} canal locks, each charged from the one above"

supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar{say.rates}
control stopcock: shut, open; starts shut; worked by keeper
pipe head: {say.size("5")}starts 0 bar
flow enter: main -> head while stopcock is open{say.choke("8")}, one way
pressure switch headed: on head, closes at 4.5 bar{say.setting}, opens at 3.5 bar{say.setting}
    starts open

part lock "One lock: its tank fills once the lock above is full, and raises the paddle"
    ports feed, gate
    reservoir tank: {say.size("30")}starts 0 bar
    cylinder ram: {say.size("8")}starts 0 bar
    control lever: down, up; starts down; worked by keeper
    valve inlet: shut, open; starts shut{say.moving}
        moves to open when gate is closed
        moves to shut when gate is open
    pressure switch full: on tank, closes at 4.5 bar{say.setting}, opens at 3.5 bar{say.setting}
        starts open
    flow charge: feed -> tank while inlet is open{say.choke("6")}, one way
    flow raise: tank -> ram while lever is up and full is closed{say.choke("4")}, one way
    flow fall: ram -> atmosphere while lever is down{say.choke("4")}
end part
fit lock as k1, feed from head, gate from headed
{fits}

state charged: main = 6 bar, head = 6 bar, headed is closed, {charged}

property ceiling "The last ram never gets more than the main has"
    always {last}.ram <= 8 bar
property keeper "The last paddle is raised only once the stopcock has been opened"
    {last}.raise is flowing only after stopcock is open
property last_fills "Broken: the last ram does fill, through every lock above it"
    never {last}.ram >= 3 bar
property drained "Broken: a full tank is drawn down while it raises the paddle"
    never {last}.raise is flowing while {last}.tank < 4 bar
    from charged
"""
