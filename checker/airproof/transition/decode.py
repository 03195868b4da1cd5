"""Between valuations of a system's variables and states of the circuit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction

from airproof.circuit.kinds import Circuit
from airproof.circuit.state import Monitor, State, TimerState
from airproof.transition.layout import value_names

Valuation = Mapping[str, bool | Fraction]


def state_of(circuit: Circuit, values: Valuation) -> State:
    """The state that a valuation of the variables stands for."""
    places = circuit.positions
    ways = [n for n in circuit.devices if values.get(f"way {n}")]
    positions = {n: _place(values, "position", n, p) for n, p in places.items()}
    return State(
        positions=positions,
        values={n: Fraction(values[f"value {n}"]) for n in value_names(circuit)},
        leaving={n: _left(values, n, places[n], positions[n]) for n in ways},
        aged=frozenset(n for n in ways if values[f"aged {n}"]),
        timers={n: _timer(values, n) for n in circuit.timers},
        fresh=frozenset(
            n for n in (*circuit.controls, *circuit.range_controls) if values[f"fresh {n}"]
        ),
        rested=bool(values["rested"]),
    )


def valuation_of(circuit: Circuit, state: State) -> dict[str, bool | Fraction]:
    """The variables' values in a state; the inverse of `state_of`."""
    found: dict[str, bool | Fraction] = {"rested": state.rested}
    for name, places in circuit.positions.items():
        found.update(spread("position", name, places, state.positions[name]))
    for name, device in circuit.devices.items():
        if device.moving is not None:
            found[f"way {name}"] = name in state.leaving
            found[f"aged {name}"] = name in state.aged
            if len(device.positions) > 2:
                found.update(spread("left", name, device.positions, state.leaving.get(name)))
    for name in circuit.timers:
        found[f"running {name}"] = state.timers[name] == "running"
        found[f"expired {name}"] = state.timers[name] == "expired"
    for name in (*circuit.controls, *circuit.range_controls):
        found[f"fresh {name}"] = name in state.fresh
    found.update({f"value {n}": state.values[n] for n in value_names(circuit)})
    return found


def monitor_values(monitor: Monitor, keys: Iterator[str]) -> dict[str, bool | Fraction]:
    """The monitor's variables, for the keys that the system has."""
    known: dict[str, Callable[[], bool | Fraction]] = {
        "monitor breached": lambda: monitor.breached,
        "monitor clock": lambda: monitor.clock,
    }
    return {
        key: known[key]() if key in known else key.removeprefix("monitor ") in monitor.flags
        for key in keys
        if key.startswith("monitor ")
    }


def _place(values: Valuation, word: str, name: str, places: tuple[str, ...]) -> str:
    if len(places) == 1:
        return places[0]
    if len(places) == 2:
        return places[1] if values[f"{word} {name}"] else places[0]
    (place,) = (p for p in places if values[f"{word} {name} {p}"])
    return place


def _left(values: Valuation, name: str, places: tuple[str, ...], bound: str) -> str:
    if len(places) == 2:
        return places[0] if bound == places[1] else places[1]
    return _place(values, "left", name, places)


def _timer(values: Valuation, name: str) -> TimerState:
    if values[f"expired {name}"]:
        return "expired"
    return "running" if values[f"running {name}"] else "idle"


def spread(
    word: str, name: str, places: tuple[str, ...], place: str | None
) -> dict[str, bool | Fraction]:
    """The variables of one position (None: of none), by key."""
    if len(places) == 1:
        return {}
    if len(places) == 2:
        return {f"{word} {name}": place == places[1]}
    return {f"{word} {name} {p}": p == place for p in places}
