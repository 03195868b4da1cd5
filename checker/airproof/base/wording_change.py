"""Sentences for what is wrong with a change file, or with its steps on a circuit's text."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

_WRITTEN = {
    "change_no_head": "a change file begins with its head, as in "
    '`change "A larger choke" to "winder.circuit"`',
    "change_second_head": "a change file has one head, and it is in line {line}; "
    "put further changes into files of their own",
    "change_no_step": "the change has no step; say what is done, as in "
    "`step 1: set bleed: choke 1.6 mm`",
    "change_unknown": "`{found}` begins neither the head of a change nor a step; "
    "a step begins with its number, as in `step {due}: ...`",
    "change_head_reads": '`{found}` cannot stand here; the head reads `change "..." to '
    '"FILE.circuit"`, and may end with `reason "..."`',
    "change_head_ends": 'the head breaks off here; it reads `change "..." to "FILE.circuit"`',
    "step_margin": "a step begins at the left margin, and there is none above this line "
    "that it could continue",
    "step_begins": "`{found}` cannot stand here; a step begins with its number, "
    "as in `step {due}: ...`",
    "step_number": "this is step {due}, not {found}; steps are numbered in their order",
    "step_verb": "`{found}` is no kind of step; what can be done is {verbs}",
    "step_reads": "`{found}` cannot stand here; such a step reads {form}",
    "step_ends": "the step breaks off here; such a step reads {form}",
    "step_brings_nothing": "say what is {word}: a whole statement, indented below this line",
    "step_whole": "`{clause}` is not set by itself; put the whole statement in its place with "
    "`replace NAME with`",
    "step_values": "`{old}` and `{new}` do not measure the same",
}

_APPLIED = {
    "other_circuit": "this change is for `{wanted}`, not for `{given}`",
    "step_unknown": "step {number} does not apply: the circuit has no `{name}`",
    "step_included": "step {number} does not apply: `{name}` is written in a text that the "
    "circuit includes; change that text, or bring the statement into the circuit's own",
    "step_no_part": "step {number} does not apply: `{name}` is no fitted part, and no part, "
    "so there is no `{whole}`",
    "step_inner": "step {number} does not apply: `{name}` stands for a piece of `{whole}`; "
    "change `{whole}`",
    "step_property": "step {number} does not apply: a property is not removed; "
    'it is withdrawn with a reason: `withdraw {name} because "..."`',
    "step_no_property": "step {number} does not apply: `{name}` is no property; "
    "`remove {name}` takes it out",
    "step_property_kept": "step {number} does not apply: a property is not replaced or set, so "
    "that nobody weakens it unseen; withdraw it with a reason and add another",
    "step_no_position": "step {number} does not apply: `{name}` has no position `{position}`; "
    "there are {positions}",
    "step_unfixable": "step {number} does not apply: only a control, a cock, a device without "
    "`joins` and a switch are fixed at a position; put something in its place with "
    "`replace {name} with`",
    "step_no_clause": "step {number} does not apply: `{clause}` is not said of {statement}; "
    "what can be said here is {allowed}",
    "step_no_extent": "step {number} does not apply: `{name}` has no size or range "
    "that could be `{value}`",
    "step_many_joins": "step {number} does not apply: `{name}` has a restriction for each of its "
    "ways; put the whole statement in its place with `replace {name} with`",
    "step_no_value": "step {number} does not apply: nothing in `{name}` is `{value}`",
    "step_values_twice": "step {number} does not apply: `{value}` stands {times} times in "
    "`{name}`; set the clause, or put the whole statement in its place",
    "step_no_ends": "step {number} does not apply: `{name}` leads from nowhere to nowhere; "
    "a flow, a valve with two ends or a port of a fitted part is connected",
    "step_same": "step {number} does nothing: the circuit is so already",
    "step_here": "this is where step {number} would be done",
    "step_leads": "after step {number} the circuit is wrong, as follows",
}

CHANGE: Mapping[str, str] = MappingProxyType({**_WRITTEN, **_APPLIED})
