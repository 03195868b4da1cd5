"""Puzzles whose shortest solutions are known, told as circuits.

The numbers of moves, of shortest solutions and of states are in textbooks (from
memory) and were computed by exhaustive breadth-first search.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import networkx as nx
import pytest

from airproof.circuit.behaviour import Behaviour
from airproof.circuit.kinds import Circuit
from airproof.engines import search
from airproof.engines.budget import Budget
from airproof.evidence.sequence import Sequence
from airproof.language.load import load, load_text
from outside.exploring import Explorer, Places
from outside.river import text

HERE = Path(__file__).parent
NEAR, FAR = "near", "far"


def puzzle(name: str) -> Circuit:
    return load(HERE / f"{name}.circuit").circuit


def solution(circuit: Circuit) -> Sequence:
    """The shortest sequence to the circuit's one property, followed by both accounts."""
    (asked,) = circuit.properties.values()
    found = search.run(circuit, asked, Budget(steps=40, seconds=300)).sequence
    assert found is not None
    replay = Behaviour(circuit).replay(asked, found.start, found.steps)
    assert replay.accepted
    assert replay.decided == len(found.steps) - 1
    return found


def moves(circuit: Circuit, found: Sequence) -> Counter[str]:
    """How often each control moves."""
    behaviour = Behaviour(circuit)
    return Counter(
        move.name
        for before, step in found.pairs()
        if step.kind == "switch"
        for move in behaviour.moves_made(before, step.after)
    )


def shortest(ways: nx.DiGraph[Places], start: Places, end: Places) -> list[list[Places]]:
    return [list(path) for path in nx.all_shortest_paths(ways, start, end)]


# ---- wolf, goat and cabbage: 7 crossings, 2 shortest solutions, 10 states


def test_ferry_takes_seven_crossings() -> None:
    """The ferryman pushes off, his load gets in, time passes: 2 a crossing and 1 a load."""
    circuit = puzzle("ferry")
    found = solution(circuit)
    moved = moves(circuit, found)
    loads = moved["wolf"] + moved["goat"] + moved["cabbage"]
    assert moved["ferryman"] == 7
    assert found.length == 2 * 7 + loads == 2 * 7 + 5


def test_ferry_has_two_shortest_solutions_among_ten_states() -> None:
    """Where nothing is eaten, ten states can be reached."""
    ways = Explorer(Behaviour(puzzle("ferry")), together=4, foul="eaten").stretches()
    assert len(ways) == 10
    found = shortest(ways, (NEAR,) * 4, (FAR,) * 4)
    assert [len(path) - 1 for path in found] == [7, 7]


# ---- missionaries and cannibals: 11 crossings, 4 shortest solutions, 16 states


def banks(count: int) -> nx.DiGraph[tuple[int, int, str]]:
    """The puzzle itself: missionaries and cannibals near, and where the boat is."""
    circuit = load_text(text(count)).circuit
    ways = Explorer(Behaviour(circuit), together=2, foul="foul").stretches()
    names = list(circuit.controls)

    def counted(places: Places) -> tuple[int, int, str]:
        near = Counter(n[0] for n, p in zip(names, places, strict=True) if p == NEAR)
        return near["m"], near["c"], places[names.index("boat")]

    return nx.DiGraph((counted(one), counted(other)) for one, other in ways.edges)


def crossings(count: int) -> nx.DiGraph[tuple[int, int, str]]:
    """The same, counted without any circuit."""
    ways: nx.DiGraph[tuple[int, int, str]] = nx.DiGraph()
    waiting = [(count, count, NEAR)]
    while waiting:
        m, c, bank = here = waiting.pop()
        sign, other = (-1, FAR) if bank == NEAR else (1, NEAR)
        for a, b in ((1, 0), (2, 0), (0, 1), (0, 2), (1, 1)):
            near, far = (m + sign * a, c + sign * b), (count - m - sign * a, count - c - sign * b)
            if all(n >= 0 for n in (*near, *far)) and all(x == 0 or x >= y for x, y in (near, far)):
                after = (*near, other)
                if after not in ways:
                    waiting.append(after)
                ways.add_edge(here, after)
    return ways


@pytest.mark.slow
def test_three_and_three_cross_in_eleven() -> None:
    """The boat pushes off, its people get in together, time passes: 3 a crossing."""
    circuit = load_text(text(3)).circuit
    found = solution(circuit)
    assert moves(circuit, found)["boat"] == 11
    assert found.length == 3 * 11


def test_three_and_three_have_four_shortest_solutions_among_sixteen_states() -> None:
    """Counting people of a kind as alike."""
    ways = banks(3)
    ways.remove_edges_from(list(nx.selfloop_edges(ways)))
    assert len(ways) == 16
    found = list(nx.all_shortest_paths(ways, (3, 3, NEAR), (0, 0, FAR)))
    assert [len(path) - 1 for path in found] == [11] * 4


def test_four_and_four_never_cross() -> None:
    """Explored to the end: the circuit reaches what the puzzle reaches, the far bank not among it.

    Explored are all runs in which no stretch shows a foul.
    """
    reached = set(banks(4))
    assert reached == set(crossings(4))
    assert (0, 0, FAR) not in reached


# ---- jugs of 3 and 5 litre, 4 litre wanted: 6 moves, one shortest solution, 16 states


def test_jugs_take_six_moves() -> None:
    """A move and some time: 2 a move."""
    circuit = puzzle("jugs")
    found = solution(circuit)
    assert moves(circuit, found) == {"jugs": 6}
    assert found.length == 2 * 6


def test_jugs_have_one_shortest_solution_among_sixteen_states() -> None:
    """Of 24 fillings 16 are reached; they are those of the jugs' own arithmetic."""
    ways = Explorer(Behaviour(puzzle("jugs"))).stretches()
    assert len(ways) == 16
    goals = [places for places in ways if places[0].endswith("b4")]
    far = nx.single_source_shortest_path_length(ways, ("s0b0",))
    nearest = min(goals, key=lambda places: far[places])
    assert [far[p] for p in goals].count(far[nearest]) == 1
    assert [len(path) - 1 for path in shortest(ways, ("s0b0",), nearest)] == [6]


def test_jugs_move_as_jugs_do() -> None:
    """Each stretch leads where filling, emptying or pouring leads, or nothing is done."""
    ways = Explorer(Behaviour(puzzle("jugs"))).stretches()
    for (filling,) in ways:
        small, big = int(filling[1]), int(filling[3])
        right, left = min(3 - small, big), min(small, 5 - big)
        poured = {(small + right, big - right), (small - left, big + left)}
        able = {(3, big), (0, big), (small, 5), (small, 0), (small, big)} | poured
        assert set(ways.successors((filling,))) == {(f"s{s}b{b}",) for s, b in able}


# ---- three discs on three pegs: 7 moves, one shortest solution, 27 states


def test_discs_take_seven_moves() -> None:
    """A switch step a move, and a stretch after each move of the small disc."""
    circuit = puzzle("discs")
    found = solution(circuit)
    moved = moves(circuit, found)
    assert moved.total() == 7
    assert found.length == 7 + moved["small"] == 7 + 4


def test_discs_have_one_shortest_solution_among_27_states() -> None:
    """Every way to lay three discs is reached, and no two discs move in one step."""
    ways = Explorer(Behaviour(puzzle("discs"))).steps()
    assert len(ways) == 27
    found = shortest(ways, ("left",) * 3, ("right",) * 3)
    assert [len(path) - 1 for path in found] == [7]
    assert all(sum(a != b for a, b in zip(*edge, strict=True)) == 1 for edge in ways.edges)
