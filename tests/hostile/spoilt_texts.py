"""Texts spoilt at random: letters, words, lines, brackets, numbers, and what is no text at all."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random

LONGEST = 20_000  # letters of a spoilt text, before it becomes bytes
SHARE_UNLIKE = 12  # one input in so many is made from nothing

_WORD = re.compile(r'"[^"\n]*"|\d+(?:\.\d+)?|\w+|->|\.\.|\+-|[<>]=|[^\w\s]')
_NUMBER = re.compile(r"\d+(?:\.\d+)?")

ODD_LETTERS: tuple[str, ...] = (
    *"\0\a\b\t\v\f\r\x1b\x7f\x85",
    *"\u00ad\u061c\u200b\u200e\u200f\u2028\u2029\ufeff\ufffd\uffff",
    *"\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069",
    *"\u05d0\u0627\u0662\u0660\u0966\u0301\u00b2\u2155\u2460\u4e00\uff11\uff08\u1d7d9\U0001f600",
    *"\u2265\u2264\u2192\u2013\u2212\u00a0\u201c\u2018\u00d7\u00b1\\[]{}|&!*'`$@~^%/",
)
NUMBERS: tuple[str, ...] = (
    *("0", "00", "0.0", "1e999", "1e-999", "1e12", "1e-12", "1E+12", "9" * 29, "9" * 31),
    *("9" * 5000, "0." + "0" * 27 + "1", "1.", ".5", "1,5", "1e", "0x10", "1_000", "-1", "nan"),
    *("0.1", "7", "1000000", "1/0", "1 bar abs", "5 %", "200 %", "3 psi", "1 inHg", "1 min"),
)
STRINGS: tuple[str, ...] = (
    *('"[bold]x[/bold]"', '"[/]"', '"[link=file:///x]"', '"\\"', '"\\\\"', '"{}"', '"%s%n"'),
    *('""', '"\x1b[2J"', '":smile:"', '"<b>&amp;</b>"', '"' + "x" * 3000 + '"', '"../../x"'),
)
WORDS: tuple[str, ...] = (
    *("and", "or", "not", "is", "while", "when", "otherwise", "never", "always", "possible"),
    *("whenever", "within", "once", "has lasted", "for", "at least", "after", "until", "since"),
    *("starts", "moves to", "one way", "choke", "latched", "sealed", "worked by", "in order"),
    *("atmosphere", "moving", "flowing", "expired", "supply", "flow", "valve", "relay", "timer"),
    *("control", "property", "part", "fit", "end part", "ports", "include", "state", "observe"),
    *("signal",),
    *("interlock", "assumption", "locked in", "forced to", "from", "even for an instant", "x" * 61),
    *("quantity", "governor", "(", ")", ",", ";", ":", "->", "..", "+-", ">=", "<", "-", "/"),
)


@dataclass(frozen=True, slots=True)
class Spoiler:
    """Draws inputs from the texts of sound circuits."""

    texts: Sequence[str]
    rng: Random

    def draw(self) -> bytes:
        """One input: a circuit spoilt in a few places or, now and then, no circuit at all."""
        if self.rng.randrange(SHARE_UNLIKE) == 0:
            return self._unlike()
        text = self._sound()
        while True:
            text = self.rng.choice(_WAYS)(self, text)[:LONGEST]
            if self.rng.randrange(2):
                break
        data = text.encode("utf-8", "surrogatepass")
        return self._bytes(data) if self.rng.randrange(10) == 0 else data

    def _sound(self) -> str:
        """Rather a short text than a long one, which takes longer to read."""
        return min(self.rng.choice(self.texts), self.rng.choice(self.texts), key=len)

    def _unlike(self) -> bytes:
        size = self.rng.randrange(400)
        match self.rng.randrange(4):
            case 0:
                return self.rng.randbytes(size)
            case 1:
                return "".join(self._letter() for _ in range(size)).encode("utf-8", "surrogatepass")
            case 2:
                return " ".join(self._piece() for _ in range(size)).encode()
        lines = self.rng.sample(self._sound().split("\n"), 5)
        return "\n".join(line.strip() for line in lines).encode()

    def _bytes(self, data: bytes) -> bytes:
        at = self.rng.randrange(len(data) + 1)
        match self.rng.randrange(3):
            case 0:
                return data[:at]
            case 1:
                return data[:at] + self.rng.randbytes(self.rng.randrange(1, 9)) + data[at:]
        return data.replace(b"\n", b"\r\n" if self.rng.randrange(2) else b"\r")

    def _letter(self) -> str:
        match self.rng.randrange(3):
            case 0:
                return self.rng.choice(ODD_LETTERS)
            case 1:
                return chr(self.rng.randrange(32, 127))
        return chr(self.rng.randrange(0x110000))

    def _piece(self) -> str:
        kind = self.rng.choice((WORDS, WORDS, NUMBERS, STRINGS))
        if self.rng.randrange(3):
            return self.rng.choice(kind)
        return self.rng.choice([match.group() for match in _WORD.finditer(self._sound())])

    # ---- ways to spoil a text

    def letters(self, text: str) -> str:
        """One letter goes, comes, comes twice, or changes places with the next."""
        at = self.rng.randrange(len(text) + 1)
        before, here, rest = text[:at], text[at : at + 1], text[at + 1 :]
        swapped = before + rest[:1] + here + rest[1:]
        return self.rng.choice(
            (
                before + rest,
                before + self._letter() + here + rest,
                before + here * 2 + rest,
                swapped,
            )
        )

    def words(self, text: str) -> str:
        """One word goes, comes twice, becomes another, or another comes before it."""
        found = list(_WORD.finditer(text))
        if not found:
            return self._piece()
        match, other = self.rng.choice(found), self.rng.choice(found).group()
        here, piece = match.group(), self._piece()
        new = self.rng.choice(("", f"{here} {here}", other, other, piece, f"{piece} {here}"))
        return text[: match.start()] + new + text[match.end() :]

    def swapped(self, text: str) -> str:
        """Two words change places."""
        found = list(_WORD.finditer(text))
        if len(found) < 2:
            return text * 2
        first, second = sorted(self.rng.sample(found, 2), key=lambda match: match.start())
        between = text[first.end() : second.start()]
        return (
            f"{text[: first.start()]}{second.group()}{between}{first.group()}{text[second.end() :]}"
        )

    def lines(self, text: str) -> str:
        """One line goes, moves, comes twice, comes from another circuit, or loses its indent."""
        lines = text.split("\n")
        at, to = self.rng.randrange(len(lines)), self.rng.randrange(len(lines))
        foreign = self.rng.choice(self._sound().split("\n"))
        match self.rng.randrange(6):
            case 0:
                del lines[at]
            case 1:
                lines.insert(to, lines.pop(at))
            case 2:
                lines.insert(to, lines[at])
            case 3:
                lines.insert(to, foreign)
            case 4:
                lines[at] = lines[at].lstrip()
            case _:
                lines[at] = " " * self.rng.randrange(1, 9) + lines[at]
        return "\n".join(lines)

    def numbers(self, text: str) -> str:
        """One number becomes another one."""
        found = list(_NUMBER.finditer(text))
        if not found:
            return text + self.rng.choice(NUMBERS)
        match = self.rng.choice(found)
        new = self.rng.choice((self.rng.choice(NUMBERS), self.rng.choice(found).group()))
        return text[: match.start()] + new + text[match.end() :]

    def brackets(self, text: str) -> str:
        """A word is put in brackets, or `not`, many times over."""
        found = list(_WORD.finditer(text))
        match = self.rng.choice(found) if found else None
        if match is None:
            return "(" * 3000
        times = self.rng.choice((1, 2, 39, 41, 1000))
        opening = self.rng.choice(("(", "not ", "not (", "[", "((", ")"))
        closing = ")" * times * opening.count("(") if self.rng.randrange(4) else ""
        new = opening * times + match.group() + closing
        return text[: match.start()] + new + text[match.end() :]

    def strings(self, text: str) -> str:
        """A title becomes markup, an escape, a very long one, or another title."""
        found = list(re.finditer(r'"[^"\n]*"', text))
        if not found:
            return text + self.rng.choice(STRINGS)
        match = self.rng.choice(found)
        new = self.rng.choice(STRINGS)
        return text[: match.start()] + new + text[match.end() :]

    def cut(self, text: str) -> str:
        """The text ends, or begins, somewhere in its middle."""
        at = self.rng.randrange(len(text) + 1)
        return text[:at] if self.rng.randrange(3) else text[at:]

    def joined(self, text: str) -> str:
        """The text stands twice, or the end of another one follows."""
        other = self.rng.choice((text, self._sound()))
        return text + other[self.rng.randrange(len(other) + 1) :]


_WAYS: tuple[Callable[[Spoiler, str], str], ...] = (
    *(Spoiler.letters, Spoiler.words, Spoiler.words, Spoiler.swapped, Spoiler.lines),
    *(Spoiler.lines, Spoiler.numbers, Spoiler.brackets, Spoiler.strings, Spoiler.cut),
    Spoiler.joined,
)
