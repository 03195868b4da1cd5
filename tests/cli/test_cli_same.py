"""The same answer, however many workers share the work."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from airproof.cli.main import main

ROOT = Path(__file__).resolve().parents[2]
CALLS = {
    "071_timer_runs": (),
    "091_only_after_since": (),
    "099_once_lasted": (),
    "105_standing_state": (),
    "127_multi_port_on_the_way": (),
    "tram_door": ("no_traction_unbolted", "egress_cuts", "egress_in_time", "can_open"),
}
SHARED = {
    "091_only_after_since": (2, 4),
    "099_once_lasted": (4,),
    "127_multi_port_on_the_way": (4,),
}


def answer(path: Path, names: tuple[str, ...], workers: int) -> tuple[int, list[str]]:
    """The exit code and the JSON, but for the seconds that it took."""
    arguments = ["prove", str(path), *names, "--json", "--workers", str(workers)]
    result = CliRunner().invoke(main, arguments)
    lines = result.stdout.splitlines()
    return result.exit_code, [line for line in lines if '"seconds": ' not in line]


@pytest.mark.parametrize("name", CALLS)
def test_the_number_of_workers_changes_nothing(name: str) -> None:
    """Verdicts, proofs, sequences, health: all of it, whatever a process did before."""
    [path] = (
        *ROOT.glob(f"tests/table/{name}.circuit"),
        *ROOT.glob(f"models/worked/{name}.circuit"),
    )
    shared = SHARED.get(name, (2,))
    one, *others = (answer(path, CALLS[name], workers) for workers in (1, *shared))
    assert '"verdict": ' in "".join(one[1])
    assert all(other == one for other in others)
