"""Trees without their spans, and a text that holds every kind of statement."""

from __future__ import annotations

import dataclasses
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

EVERYTHING = """\
circuit works "Every statement once"  drawing "W-1"
include "shelf.circuit"

part cab "A driver's stand"
    ports feed, out
    control handle: shut, open; starts shut; worked by driver
    # air to the pipe
    flow fill: feed -> out while handle is open, choke 3 mm +- 10 %, one way
end part

fit cab as cab1, feed from main, out to pipe_line, drawing "W-2" item 7a
supply main: 0 bar .. 8 bar, starts 7 bar, rises at most 0.5 bar/s, falls at most 1 bar/s
reservoir tank: 12 litre +- 5 %, starts 0 bar .. 7 bar
pipe pipe_line: starts 0 bar
cylinder ram: 1.5 litre; starts -0.1 bar
chamber bell: 30 cubic inch, starts 1.01325 bar abs
quantity level: starts 0 mm, changes at 1 mm/s .. 2 mm/s while pump is on,
    at -2 mm/s while pump is off
control lever: brake, hold, lift; in that order; starts brake or hold; worked by winderman
    in each position for at least 0.2 s; sealed hold
control handle: 0 bar .. 5 bar; starts 0 bar; worked by driver
relay pump: on while level < 5 mm, off otherwise; moving takes 0.05 s .. 0.2 s
valve lockout: shut, open; starts shut; joined on the way   # the guard
    moves to open when main >= 5.5 bar +- 0.1 bar
        and tank >= 1 bar
    moves to shut when main <= 4.8 bar +- 2 %
latch trip: set_up, fallen; latched
    moves to fallen when ram > 6 bar
switch foot: up, down
    moves to down when (lever is lift or pump is on) and not (notice has expired)
    moves to up when lever is not lift
valve vent: up, down; moves to up when main > 1 bar; moves to down when main < 1 bar
    joins ram to tank when up, choke 4 mm, to atmosphere otherwise, choke 3 mm
valve dump: joins bell to atmosphere when open or half, to tank otherwise; closed on the way
    moves to open when main < 1 bar
timer notice: runs while foot is down; expires after 2 s .. 2.5 s
interlock "No lift on a slack rope"
    lever moves to lift only while foot is up
interlock holding drawing "W-3"
    lever is locked in brake while main < 4 bar
interlock lever is forced to brake when lockout is moving
assumption steady "The main is steady"
    always main >= 4 bar
assumption sober
    lever moves to lift only while foot is down
flow lift: main -> ram while lever is lift and lockout is open, conductance 0.5 l/(s bar), ratio 0.4
flow drip: ram -> atmosphere, moving 0.3 .. 0.4 bar.litre/s
flow check: tank -> ram, one way opening at 0.2 bar
double check valve pair: tank and ram to bell, choke 5 mm
relief valve pop: tank -> atmosphere, opens at 8 bar +- 0.1 bar, shuts at 7.5 bar +- 0.1 bar
reducing valve step: main -> pipe_line, set to 5 bar +- 0.1 bar
self-lapping valve brake_valve: main -> ram, exhaust atmosphere, follows handle +- 0.05 bar
quick-exhaust valve quick: tank to ram, exhaust atmosphere
governor gov: on main, starts at 7 bar +- 0.1 bar, stops at 8 bar +- 0.1 bar; starts running
pressure switch proof: on ram, closes at 4.5 bar +- 0.1 bar, opens at 4 bar +- 0.1 bar; starts open
isolating cock cock: tank to bell; starts open; worked by fitter; sealed open
spring-applied cylinder spring: 12 litre, starts 0 bar; on below 1 bar, off above 3 bar
signal low: 2.5 times pipe_line + 0.3 bar is below tank
signal apart: pipe_line is 0.15 bar below tank +- 0.01 bar
signal odd: -ram + 2 bar <= tank - 0.5 times bell or lever has gone to lift
state charged: main = 7 bar, pipe_line = -0.2 bar, lever is brake
observe ram, lever
property never_low "Never \\"low\\""
    severity catastrophic
    reason "a \\\\ fall"
    hazard "H-7"
    drawing "W-4" item 12
    never lift is flowing while low
    even for an instant
    from charged
property always_high "Always"
    always main >= 1 bar
property answered "Answered"
    whenever foot is down, notice has not expired within 3 s
property answered_at_once "Answered at once"
    whenever foot is down, lockout is not moving
property ordered "Ordered"
    lever is lift only after foot is down since lever is brake
property tied "Tied"
    after trip is fallen, never lift is not flowing until lever is brake
property lasting "Lasting"
    once foot is down has lasted 9 s, brake_valve.charge is flowing
property short "Short"
    lever is lift lasts at most 5 s
property long "Long"
    lever is lift lasts at least 100 ms
property can "Can"
    possible cab1.handle is open and vent.1 is flowing
    from charged
"""


def bare(node: object) -> object:
    """The node without its spans, to be compared."""
    if isinstance(node, tuple):
        return tuple(bare(part) for part in node)
    if dataclasses.is_dataclass(node) and not isinstance(node, type):
        fields = [field.name for field in dataclasses.fields(node) if field.name != "span"]
        return (type(node).__name__, *(bare(getattr(node, name)) for name in fields))
    return node


def circuit_files() -> list[Path]:
    """The worked circuits and every small one; the broken ones are variants of the worked."""
    return sorted([*ROOT.glob("models/worked/*.circuit"), *ROOT.glob("tests/**/*.circuit")])
