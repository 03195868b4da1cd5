"""How wide a text is, by the advance widths of a wide sans-serif face.

The widths are those of DejaVu Sans, one of the widest faces that a system falls
back to for `sans-serif`; text set in a narrower face leaves more room.
"""

from __future__ import annotations

import unicodedata

FAMILY = "DejaVu Sans, Verdana, Arial, sans-serif"
NAME = 16.0  # [px] names
SMALL = 15.0  # [px] settings
TITLE = 20.0  # [px]
LINE = 1.28  # line height over size
ASCENT = 0.80  # tallest capital or accent above the base line, over size
DESCENT = 0.24

# Hundredths of the size, characters 32 to 126.
_PLAIN = (
    "32 41 46 84 64 96 78 28 40 40 50 84 32 37 32 34 64 64 64 64 64 64 64 64 64 64 34 34 84 84 84 "
    "54 100 69 69 70 77 64 58 78 76 30 30 66 56 87 75 79 61 79 70 64 62 74 69 99 69 62 69 40 34 40 "
    "84 50 50 62 64 55 64 62 36 64 64 28 28 58 28 98 64 62 64 64 42 53 40 64 60 82 60 60 53 64 34 "
    "64 84"
)
_BOLD = (
    "35 46 53 84 70 101 88 31 46 46 53 84 38 42 38 37 70 70 70 70 70 70 70 70 70 70 40 40 84 84 84 "
    "58 100 78 77 74 83 69 69 83 84 38 38 78 64 100 84 85 74 85 77 73 69 82 78 111 78 73 73 46 37 "
    "46 84 50 50 68 72 60 72 68 44 72 72 35 35 67 35 105 72 69 72 72 50 60 48 72 66 93 65 66 59 72 "
    "37 72 84"
)
_FIRST = 32
_OTHER = 95  # letters beyond ASCII: Greek and Cyrillic among them
_FULL = 110  # East Asian wide, symbols


def _widths(text: str) -> tuple[int, ...]:
    return tuple(int(word) for word in text.split())


PLAIN = _widths(_PLAIN)
BOLD = _widths(_BOLD)


def width(text: str, size: float, *, bold: bool = False) -> float:
    """The width of one line [px] at this size [px].

    >>> width("valve", 10)
    27.2
    """
    table = BOLD if bold else PLAIN
    return round(sum(_hundredths(character, table) for character in text) * size / 100, 2)


def _hundredths(character: str, table: tuple[int, ...]) -> int:
    place = ord(character) - _FIRST
    if 0 <= place < len(table):
        return table[place]
    kind = unicodedata.category(character)
    if kind in ("Mn", "Me", "Cf"):
        return 0
    wide = kind[0] in "SC" or unicodedata.east_asian_width(character) in "WF"
    heavy = 17 if table is BOLD else 0
    return (_FULL if wide else _OTHER) + heavy


def height(size: float) -> float:
    """From one base line to the next [px]."""
    return round(size * LINE, 2)


def shortened(text: str, size: float, most: float, *, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits `most` [px] with three dots."""
    if width(text, size, bold=bold) <= most:
        return text
    low, high = 0, len(text)
    while low < high:  # the longest beginning that fits
        middle = (low + high + 1) // 2
        if width(text[:middle] + "...", size, bold=bold) <= most:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "..."


def wrapped(text: str, size: float, most: float, *, lines: int = 99) -> tuple[str, ...]:
    """The text in lines of at most `most` [px]; what does not fit the last line is cut short."""
    made: list[str] = []
    words = text.split(" ")
    while words:
        if len(made) == lines - 1:
            made.append(shortened(" ".join(words), size, most))
            break
        line = words.pop(0)
        while words and width(f"{line} {words[0]}", size) <= most:
            line = f"{line} {words.pop(0)}"
        made.append(shortened(line, size, most))
    return tuple(made)
