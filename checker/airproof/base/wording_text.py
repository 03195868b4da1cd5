"""Sentences for what is wrong with a text as it is written: letters, words, layout."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

_FILES = {
    "too_long": "the text has {size} bytes and at most {limit} are read; "
    "split the circuit into parts and `include` them",
    "no_statement": "the text holds no statement; a circuit begins with `circuit NAME`",
    "too_many": "there are more mistakes than the {limit} shown; mend these first",
}

_LETTERS = {
    "letter": "`{letter}` is no letter of the language; quote it or leave it out",
    "control_letter": "{letter} is a sign that steers a screen, not a letter; leave it out",
    "letter_instead": "`{letter}` is no letter of the language; write {instead}",
    "turning_mark": "{letter} turns the reading direction, so the line would not read as it is; "
    "leave it out",
    "name_letters": "a name holds the letters a to z, digits and `_` and begins with a letter; "
    "`{letter}` can stand in a quoted title only",
    "long_name": "a name has at most {limit} letters",
    "unclosed_quote": 'the quote is not closed on this line; end it with `"`',
    "escape": '`{escape}` means nothing in a quoted text; only `\\"` and `\\\\` do',
    "number_size": "the number {number} is out of all proportion; write at most 30 digits "
    "and no exponent beyond 12",
    "decimal_comma": "a decimal point is due, not a comma: `{number}.{rest}`",
    "bare_point": "a number begins with a digit: write `0.` before the digits",
    "stray_point": "a lone `.` means nothing; a range is written `A .. B`",
    "slashes": "a comment begins with `#`, not with `//`",
    "order_spelling": "`{found}` is no sign of the language; a comparison is `>=`, `>`, `<=` or "
    "`<`, a flow's arrow `->`",
    "bracket_open": "this bracket is never closed; a `)` is missing",
    "bracket_closed": "this `)` closes no bracket; leave it out, or open one before it",
    "nesting": "brackets and `not` may stand at most {limit} deep within one another; "
    "give the inner condition a name with `signal`",
}

_LAYOUT = {
    "tab": "a line is indented with spaces; a tab is not equally wide everywhere",
    "margin": "a statement starts at the left margin, and there is none above this line "
    "that it could continue",
    "lost_indent": "`{word}` begins no statement; if this line continues the statement above, "
    "indent it",
    "part_indent": "inside a part every statement is indented alike, here by {columns} spaces; "
    "further in continues a statement, and `end part` ends the part",
    "part_unended": "the part {name} has no `end part` before the next statement "
    "at the left margin; indent what belongs to it and write `end part` after it",
    "end_what": "only a part is ended, with `end part` on a line of its own",
    "end_without_part": "no part is open here that `end part` could end",
    "part_in_part": "a part stands at the left margin, not inside another; "
    "use `fit` to put one part into another",
    "ports_outside": "`ports` stands inside a part only, between `part NAME` and `end part`",
    "long_statement": "a statement has at most {limit} words; "
    "give some of its conditions names with `signal`",
    "indented_statement": "a statement starts at the left margin (inside a part: at the margin "
    "of the part's statements); indented lines continue the statement above",
    "statement_inside": "`{found}` begins a new statement; put it on a line of its own, "
    "at the left margin",
    "unknown_statement": "`{found}` is no kind of statement",
}

_NUMBERS = {
    "missing_unit": "{due} is due here, and `{number}` needs its unit: `{number} {unit}`",
    "other_unit": "{due} is due here, and `{found}` is not a unit of one; "
    "write for instance `{number} {unit}`",
    "unknown_unit": "`{unit}` is no unit",
    "not_positive": "{due} of {number} makes no sense here; write a number above 0",
    "negative_tolerance": "a tolerance is written without a sign: `+- 0.1 bar`",
    "absolute_tolerance": "a tolerance is a difference and cannot be in `{unit}`; "
    "write it without `abs`",
    "range_backwards": "a range runs upwards; write the smaller value first: `A .. B`",
    "offset_amount": "say by how much with a plain positive difference, as in "
    "`pipe is 0.15 bar below aux`",
    "ratio": "`conductance` and `ratio` go together: `conductance 0.5 l/(s bar), ratio 0.4`",
    "ratio_range": "the critical pressure ratio is a plain number from 0 to below 1",
    "restrictions": "one restriction is enough; keep `choke`, `conductance` or `moving`",
}

_CLAUSES = {
    "clause_twice": "`{clause}` is said twice in this statement; keep one of them",
    "clause_missing": "`{clause}` is missing; {statement} needs it",
    "clause_stranger": "`{clause}` is not said of {statement}; what can be said here is {allowed}",
    "branch_alone": "this belongs after `joins A to B when POSITION`",
    "dotted_name": "a new name has no dots; `{name}` would be a name inside a fitted part",
    "reserved_name": "`{name}` is a word of the language and cannot be a name; "
    "add something to it, as in `{name}_1`",
    "bare_form": "a condition compares a pressure with something, as in `main >= 5 bar`, "
    "or is a signal's name",
    "form_stands": "only a name can be said to be something; compare a sum, as in "
    "`main - aux >= 1 bar`",
}

# Keys of rows of `grammar/mistakes.toml`, and what is said when no row fits.
_GRAMMAR = {
    "unexpected": "`{found}` cannot stand here; expected {expected}",
    "breaks_off": "the statement breaks off here; expected {expected}",
    "mixed": "`and` and `or` side by side can be read two ways; put brackets round one of them",
    "colon": "a `:` is missing after the name, as in `{statement} NAME: ...`",
    "title_due": 'a property needs a title in quotes after its name: `property {previous} "..."`',
    "sentence_due": "the property has no sentence; say `never ...`, `always ...`, "
    "`whenever ..., ...`, `A only after B`, `after A, never B`, `once A has lasted T, B`, "
    "`A lasts at most T` or `possible ...`",
    "second_sentence": "a property has one sentence; begin another `property` for `{found}`",
    "upto": "a range is written with two dots: `A .. B`",
    "is_due": "a position is said with `is`: `{previous} is {found}`",
    "pin_is": "a position is said with `is`, a pressure with `=` and its unit: "
    "`lever is brake, main = 7 bar`",
    "hyphen": "a name has no `-`; write `{previous}_{following}`",
    "joins_when": "say in which position: `joins A to B when POSITION, to C otherwise`",
    "if": "the language says `while` or `when` for `if`, and `otherwise` for `else`",
    "name_before": "a name is due before `{previous}`",
    "quoted_after": '`{word}` is followed by a text in quotes: `{word} "..."`',
    "never_due": "say what must not happen afterwards: `after A, never B`",
    "not_first": "`not` stands before a whole condition, as in `not main >= 5 bar`, "
    "or after `is` and `has`",
    "not_side": "say the other side instead of `not`: `is above` or `is below`",
    "joined_pair": "the two feeds are joined with `and`: `A and B to C`",
    "watched": "say first what it watches: `on PIPE`",
    "set_to": "a setting reads `set to 5 bar`",
    "equals": "a pressure is never exactly anything; compare with `>=`, `>`, `<=` or `<` "
    "(and say positions with `is`)",
    "chain": "one comparison at a time: join two with `and`, as in "
    "`main >= 5 bar and main <= 6 bar`",
    "semicolon": "clauses after the positions are set off with `;`, "
    "as in `brake, hold; starts hold`",
    "position_due": "a position is due here",
    "per": "a speed is written with `/`, as in `0.5 bar/s`",
    "arrow": "a flow runs from one place to another: `A -> B`",
    "otherwise": "say where it stands when the condition does not hold: "
    "`picked while ..., dropped otherwise`",
    "condition_due": "a condition is due here, as in `main >= 5 bar` or `lever is lift`",
    "when_due": "say when it moves: `moves to {previous} when ...`",
    "answer_due": "say what must then be so, after a comma: `whenever A, B`",
    "measure_due": "a number with its unit is due here",
    "rule_due": "say the rule: `CONTROL moves to P only while ...`, "
    "`CONTROL is locked in P while ...` or `CONTROL is forced to P when ...`",
    "only_while": "a control's rule reads `moves to P only while ...`",
    "second_rule": "an interlock holds one rule; begin another `interlock` for the next",
    "takes": "a moving time reads `moving takes 0.05 s .. 0.2 s`",
    "at_most": "a speed limit reads `rises at most 0.5 bar/s`",
    "lasted": "say for how long: `once A has lasted 2 s, B`",
    "bound": "say `lasts at least T` or `lasts at most T`",
    "quoted": "a text in quotes is due here",
    "fit_as": "a part is fitted under a name of its own: `fit {previous} as NAME, PORT from PLACE`",
    "port_from": "say what the port is joined to: `{previous} from PLACE`",
}

TEXT: Mapping[str, str] = MappingProxyType(
    {**_FILES, **_LETTERS, **_LAYOUT, **_NUMBERS, **_CLAUSES, **_GRAMMAR}
)
