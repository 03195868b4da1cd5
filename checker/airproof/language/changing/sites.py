"""Where the statements of a text stand, by name, before any of them is parsed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from airproof.base.source import Span
from airproof.language import syntax
from airproof.language.layout import Chunk, PartChunk, cut, head_of
from airproof.language.parser import read_chunk
from airproof.language.scan import Token, lines_of


@dataclass(frozen=True, slots=True)
class Site:
    """One statement of a text.

    name:   what it is called: a name, or the title of a nameless rule
    within: the part that it stands in, None at the margin
    ports:  of a part
    span:   a part's goes to its `end part`
    """

    chunk: Chunk
    head: str
    name: str
    titled: bool
    span: Span
    within: str | None = None
    ports: tuple[str, ...] = ()

    @property
    def rows(self) -> range:
        """The numbers of its lines."""
        return range(self.span.line, self.span.end_line + 1)

    @property
    def margin(self) -> str:
        return " " * self.chunk.lines[0].indent

    @property
    def node(self) -> syntax.Statement:
        """Its tree; the text that it stands in has been parsed before."""
        node = read_chunk(self.chunk, [])
        if node is None or isinstance(node, tuple):
            raise ValueError(f"no statement: {self.name}")
        return node


def sites(text: str, path: str) -> tuple[Site, ...]:
    """Every statement of a well-formed text in its order, those of parts behind the part's."""
    return tuple(_sites(cut(lines_of(text, path)).chunks))


def _sites(chunks: Iterable[Chunk | PartChunk]) -> Iterator[Site]:
    for chunk in chunks:
        if isinstance(chunk, PartChunk):
            whole = chunk.header.span.to(chunk.end or chunk.header.span)
            part = replace(_site(chunk.header, whole, None), ports=_ports(chunk))
            yield part
            for inner in chunk.body:
                if inner.first.text != "ports":
                    yield _site(inner, inner.span, part.name)
        else:
            yield _site(chunk, chunk.span, None)


def _ports(part: PartChunk) -> tuple[str, ...]:
    lines = (chunk.tokens for chunk in part.body if chunk.first.text == "ports")
    return tuple(token.text for tokens in lines for token in tokens[1:] if token.text != ",")


def _site(chunk: Chunk, span: Span, within: str | None) -> Site:
    head = head_of(chunk.tokens)
    token = _named(chunk.tokens, head)
    titled = token is not None and token.kind == "string"
    name = "" if token is None else token.text[1:-1] if titled else token.text
    return Site(chunk, head, name, titled, span, within)


def _named(tokens: Sequence[Token], head: str) -> Token | None:
    """The token that names the statement; what is observed is named by other statements."""
    if head == "observe":
        return None
    size = 3 if head == "fit" else len(head.split())
    return tokens[size] if len(tokens) > size else None
