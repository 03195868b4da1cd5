"""What every test has: a folder that all processes of this run share."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
import z3

import airproof.transition.terms  # noqa: F401 - turns off what is turned on again here
from sharing import FOLDER

z3.z3.Z3_DEBUG = True  # z3py checks arguments: terms of two contexts are told from each other


@pytest.fixture(scope="session", autouse=True)
def shared_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Named in the environment, see `sharing`; new in each run, and the same for its workers."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "shared"
    folder.mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(FOLDER, str(folder))
        yield
