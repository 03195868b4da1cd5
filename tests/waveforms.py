"""The independent reader of VCD, imported in one place because its import changes the process.

On import it lets a broken pipe end the process without a word, which Python itself ignores; a
test that writes to a program that has stopped reading would take the whole test run with it.
"""

import signal

_kept = signal.getsignal(signal.SIGPIPE)

from vcdvcd import VCDVCD  # noqa: E402  (the signal must be read before)

signal.signal(signal.SIGPIPE, _kept)

__all__ = ["VCDVCD"]
