"""What several tests need is worked out once in a run of the suite, by whichever process is first.

pytest-xdist spreads the tests of a file over its processes, so a cache of each process
would pay half.  What is kept lies in the run's own temporary folder.
"""

from __future__ import annotations

import hashlib
import os
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from filelock import FileLock

FOLDER = "AIRPROOF_TESTS_SHARED"  # the environment variable that names the folder
Thing = TypeVar("Thing")


def once(key: bytes, make: Callable[[], Thing]) -> Thing:
    """What `make` returns, from whoever called it first under that key in this run of the suite.

    before: it depends on nothing but the key, and can be pickled
    Each caller has a copy; what `make` raises is kept for nobody.
    """
    folder = os.environ.get(FOLDER)
    if folder is None:  # while tests are collected
        return make()
    place = Path(folder) / hashlib.sha256(key).hexdigest()
    with FileLock(f"{place}.lock"):
        if not place.exists():
            place.write_bytes(pickle.dumps(make()))
    thing: Thing = pickle.loads(place.read_bytes())
    return thing
