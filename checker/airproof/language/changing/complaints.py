"""What lark could not read of a change file, said by the kind of step."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from lark.exceptions import UnexpectedInput

from airproof.base.diagnostics import Problem, listed, nearest
from airproof.language.complaints import span_of, token_of
from airproof.language.layout import Chunk

# How each kind of step is written.
FORMS: Mapping[str, str] = MappingProxyType(
    {
        "fix": "`fix NAME at POSITION`",
        "set": "`set NAME: CLAUSE` or `set NAME from VALUE to VALUE`",
        "connect": "`connect NAME from A`, `connect NAME to B` or `connect NAME from A to B`",
        "add": "`add`, and below it a whole statement",
        "replace": "`replace NAME with`, and below it a whole statement",
        "remove": "`remove NAME`",
        "withdraw": '`withdraw PROPERTY because "..."`',
    }
)


def verb_problem(chunk: Chunk, due: int) -> Problem:
    """The chunk begins neither a head nor a step."""
    first = chunk.first
    guess = nearest(first.text, ("change", "step", *FORMS))
    data = {"found": first.text, "due": str(due)}
    return Problem("change_unknown", first.span, data, guess)


def head_complaint(chunk: Chunk, error: UnexpectedInput) -> Problem:
    """What is wrong with the head."""
    token = token_of(error)
    found = "" if token.type == "$END" else str(token).strip()
    code = "change_head_reads" if found else "change_head_ends"
    return Problem(code, span_of(chunk, token), {"found": found})


def step_complaint(chunk: Chunk, error: UnexpectedInput, due: int) -> Problem:
    """What is wrong with a step's own words."""
    token = token_of(error)
    found, span = "" if token.type == "$END" else str(token).strip(), span_of(chunk, token)
    at = sum(one.span.line < span.line or one.span.column < span.column for one in chunk.tokens)
    if at < 3:
        return Problem("step_begins", span, {"found": found, "due": str(due)})
    verb = chunk.tokens[3].text if len(chunk.tokens) > 3 else ""
    if verb not in FORMS:
        verbs = listed(tuple(FORMS), "and")
        return Problem("step_verb", span, {"found": verb, "verbs": verbs}, nearest(verb, FORMS))
    code = "step_reads" if found else "step_ends"
    return Problem(code, span, {"found": found, "form": FORMS[verb]})
