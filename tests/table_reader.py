"""The table of tiny circuits: reads what each one is expected to show, from its comments.

A line `# expect: NAME VERDICT LENGTH` stands above or beside each property.  VERDICT is
`breached`, `holds`, `possible`, `impossible` or `needs-sizes`; LENGTH counts switch steps and
stretches of a shortest sequence at any speed.  Expectations say what the steps of the circuit
allow; `# health: KIND` says apart from that what is wrong with its time.  `stopped-time`,
`chatter` and `excluded-state` (a standing state that no run can be in) are errors, under which
nothing is reported as holds; `race` is a warning.  A row without a health comment has no such
error; several kinds are set apart by commas.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).parent / "table"

_COMMENT = re.compile(r"(?m)#[ ]*(?P<key>rule|expect|health):[ ]*(?P<rest>.*?)[ ]*$")
_EXPECT = re.compile(
    r"(?P<name>\w+) (?:(?P<long>breached|possible|needs-sizes) (?P<length>[1-9]\d*)"
    r"|(?P<short>holds|impossible))"
)
_RULE = re.compile(r"\S.* - \S.*")
_HEALTH = re.compile(r"stopped-time|chatter|race|excluded-state")
_PROPERTY = re.compile(r"(?m)^property (\w+)")


@dataclass(frozen=True, slots=True)
class Expectation:
    """`length` is that of a shortest sequence at any speed; None where there is none.

    holds:       no run at any speed breaches it
    breached:    some run does, and the stated sizes do not change that
    needs-sizes: some run at any speed does, none that keeps the stated times and sizes
    possible:    some run reaches it
    impossible:  no run at any speed reaches it
    """

    name: str
    verdict: str
    length: int | None


@dataclass(frozen=True, slots=True)
class Row:
    path: Path
    text: str
    rule: str
    expectations: tuple[Expectation, ...]
    health: tuple[str, ...]

    @property
    def name(self) -> str:
        return self.path.stem


class TableError(Exception):
    """A file of the table does not say what it shows."""


def rows() -> list[Row]:
    """Every row in the order of the numbers; raises TableError."""
    paths = sorted(FOLDER.glob("*.circuit"))
    if not paths:
        raise TableError(f"no circuit in {FOLDER}")
    return [read(path) for path in paths]


def read(path: Path) -> Row:
    """One row of the table; raises TableError."""
    try:
        return row_of(path, path.read_text(encoding="utf-8"))
    except TableError as error:
        raise TableError(f"{path.name}: {error}") from None


def row_of(path: Path, text: str) -> Row:
    """The row that this text is; raises TableError if its comments and properties differ."""
    said: dict[str, list[str]] = {"rule": [], "expect": [], "health": []}
    for comment in _COMMENT.finditer(text):
        said[comment["key"]].append(comment["rest"])
    if len(said["rule"]) != 1 or len(said["health"]) > 1:
        raise TableError("one rule and at most one health comment")
    expectations = tuple(_expectation(rest) for rest in said["expect"])
    _match_properties(text, [expectation.name for expectation in expectations])
    health = tuple(_whole(_HEALTH, word)[0] for rest in said["health"] for word in rest.split(", "))
    rule = _whole(_RULE, said["rule"][0])[0]
    return Row(path, text, rule, expectations, health)


def _expectation(rest: str) -> Expectation:
    match = _whole(_EXPECT, rest)
    length = int(match["length"]) if match["length"] else None
    return Expectation(match["name"], match["long"] or match["short"], length)


def _whole(pattern: re.Pattern[str], text: str) -> re.Match[str]:
    match = pattern.fullmatch(text)
    if match is None:
        raise TableError(f"cannot read the comment `{text}`")
    return match


def _match_properties(text: str, expected: list[str]) -> None:
    properties = _PROPERTY.findall(text)
    if not properties or expected != properties:
        raise TableError(f"expects {expected}, has the properties {properties}")
