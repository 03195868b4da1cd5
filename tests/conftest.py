"""What every test has: a folder that all processes of this run share."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from sharing import FOLDER


@pytest.fixture(scope="session", autouse=True)
def shared_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Named in the environment, see `sharing`; new in each run, and the same for its workers."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "shared"
    folder.mkdir(exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(FOLDER, str(folder))
        yield
