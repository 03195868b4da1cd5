"""Sentences for what is wrong with a circuit that reads well: names, kinds, units, starts."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

# What a name can be needed for, by the resolver's word for it.
_DUE = {
    "place": "a supply, a volume or `atmosphere`",
    "value": "a pressure or a quantity (a supply, a volume, a range control, a quantity)",
    "positions": "a control or a device",
    "control": "a control with positions",
    "device": "a device (a valve, relay, switch or latch)",
    "timer": "a timer",
    "flow": "a flow",
    "signal": "a signal",
    "state": "a standing state",
    "target": "something to bind the port to",
    "watched": "something to watch (a device, a control, a volume or a quantity)",
}

_NAMES = {
    **{f"unknown_{use}": f"nothing here is called `{{name}}`; {_DUE[use]} is due" for use in _DUE},
    **{f"due_{use}": f"`{{name}}` is {{a_word}}; {_DUE[use]} is due here" for use in _DUE},
    "due_signal": "`{name}` is {a_word} and says nothing by itself; compare it or say where it "
    "is, only a signal stands alone",
    "duplicate_name": "`{name}` already names the {word} on {where}; give this one another name",
    "duplicate_part": "a part `{name}` already stands on {where}; give this one another name",
    "duplicate_port": "`{name}` is listed twice among the ports",
    "name_of_port": "`{name}` is a port of this part already; give this one another name",
    "name_of_the_air": "`{name}` is the air outside; give this another name",
    "unknown_position": "the {word} `{name}` has no position `{position}`; it has {positions}",
    "position_twice": "the position `{position}` is listed twice",
}

_FRAME = {
    "no_circuit": "this text has no `circuit NAME` statement; begin with one",
    "second_circuit": "a second `circuit`; the first is on line {line}, and a text describes one",
    "circuit_in_include": "an included text has no `circuit` statement of its own; take it out",
    "too_many_statements": "more than {most} statements once every part is taken apart",
    "not_in_part": "this belongs outside a part; a part holds things, rules and properties only",
    "unknown_part": "no part is called `{name}`",
    "part_in_itself": "the part `{name}` would contain itself: {way}",
    "parts_too_deep": "`{name}` lies more than {most} parts deep",
    "part_never_fitted": "the part `{name}` is never fitted, so nothing of it would be checked; "
    "add `fit {name} as ...`",
    "unknown_port": "the part `{part}` has no port `{name}`",
    "port_bound_twice": "the port `{name}` of `{part}` is bound twice",
    "port_not_bound": "`{fit}` leaves the port `{name}` of `{part}` unbound; "
    "add `{name} from ...` or `{name} to ...`",
}

_FILES = {
    "no_file": "`{path}` does not exist",
    "is_folder": "`{path}` is a folder; the name of a circuit file is due",
    "not_a_file": "`{path}` is not an ordinary file",
    "unreadable": "`{path}` cannot be read",
    "file_too_large": "`{path}` is larger than {most}, the most that is read",
    "file_not_text": "`{path}` is not UTF-8 text",
    "include_outside": "`{path}` leads out of the circuit's folder; include files from that "
    "folder, from below it, or from the library",
    "include_link": "`{path}` is reached through a link; include the file itself",
    "include_missing": "no file `{path}` in the circuit's folder, and none in the library",
    "include_loop": "these files include one another without end: {way}",
    "too_many_includes": "more than {most} files are included",
}

_NUMBERS = {
    "bare_number": "`{written}` has no unit, and `{name}` is {due}; say `{offer}`",
    "other_dimension": "`{written}` is {is}, but `{name}` is {due}; say for instance `{offer}`",
    "terms_differ": "`{name}` is {is} and `{other}` is {due}; they cannot be weighed together",
    "compares_constants": "this compares numbers only; name a pressure or a quantity",
    "compares_atmosphere": "the atmosphere is always at 0 bar; name a pressure or a quantity",
    "cancels_out": "what is named here cancels out, so nothing is compared",
    "absolute_in_sum": "`{written}` is absolute, and in a difference or a sum that is ambiguous; "
    "give it as a gauge pressure",
    "percent_of_nothing": "`{written}` of 0 is nothing; give the tolerance as a size",
    "percent_of_absolute": "`{written}` of an absolute pressure can be read two ways; "
    "give the tolerance as a size",
    "tolerance_here": "a property, a state or an assumption has no tolerance; "
    "say the number that must be kept",
    "tolerance_in_signal": "the signal `{name}` has a tolerance, and here exact numbers are due; "
    "write the comparison out without one",
    "below_vacuum": "`{name}` would be below -1.01325 bar, a complete vacuum",
    "not_above_zero": "`{written}` for `{name}` must be above 0",
    "tolerance_reaches_zero": "`{written}` for `{name}` is not above 0 over its whole tolerance",
    "missing_start": "`{name}` does not say where it starts; add `starts {offer}`",
    "start_outside": "`{name}` would start outside its range",
    "negative_opening": "an opening pressure is a difference of 0 bar or more, not `{written}`",
}

_THINGS = {
    "sealed_elsewhere": "`{name}` is sealed in a position in which it does not start",
    "one_position": "`{name}` needs two positions or more",
    "no_positions": "the {word} `{name}` lists no positions; begin with them: `{name}: shut, open`",
    "never_moves": "nothing moves the {word} `{name}`; add `moves to ... when ...`",
    "never_left": "the {word} `{name}` can move to `{position}` and never away from it; "
    "add a `moves to`, or say `latched` if that is meant",
    "settings_overlap": "the {word} `{name}` would be due to move to `{first}` and to `{second}` "
    "at once{at}; part the settings",
    "settings_meet": "the settings of `{name}` meet: {low} must lie below {high}, "
    "tolerances included",
    "reads_only_itself": "the moves of the {word} `{name}` read nothing but itself",
    "moves_at_once": "the {word} `{name}` has no moving time and is never on the way; "
    "add `moving takes ...`",
    "nothing_otherwise": "no position of `{name}` is left for `otherwise`",
    "joined_twice": "`{name}` is joined in two ways at once when `{position}`",
    "flow_to_itself": "this leads from `{name}` to itself",
    "atmosphere_twice": "this leads from the atmosphere to the atmosphere",
    "watches_atmosphere": "the atmosphere is always at 0 bar and moves nothing",
    "condition_too_large": "this condition has more than {most} comparisons once its signals "
    "are written out",
    "condition_too_deep": "this condition lies more than {most} brackets deep once its signals "
    "are written out",
    "flow_in_itself": "whether `{name}` flows depends on whether it flows: {way}",
    "signal_in_itself": "the signal `{name}` stands for itself: {way}",
    "signals_too_deep": "more than {most} signals stand for one another in a row",
}

_RULES = {
    "forced_assumption": "nobody is forced by an assumption; write an interlock, or assume "
    "`{name} is locked in ...` or `{name} moves to ... only while ...`",
    "assumes_other": "`always` assumes comparisons of supplies, joined by `and`; nothing else",
    "assumes_volume": "`{name}` is a {word}; only the pressure of a supply may be assumed",
    "empty_range": "the assumption `{assumption}` leaves `{name}` nowhere to be "
    "({low} bar .. {high} bar)",
    "empty_start": "the assumption `{assumption}` leaves `{name}` nowhere to start "
    "({low} bar .. {high} bar)",
    "state_unkept": "the standing state `{name}` is outside what the assumption `{assumption}` "
    "takes for granted",
    "pinned_twice": "`{name}` is pinned twice",
    "pinned_outside": "`{name}` would stand outside its range",
    "pinned_sealed": "`{name}` is sealed in `{position}`",
    "unknown_severity": "`{word}` is no severity; say catastrophic, critical, marginal or "
    "negligible",
    "setting_only_neared": "`{name}` waits for `{volume}` to reach {value} bar, which the air "
    "only approaches; give a tolerance (`+- 0.1 bar`) or a lower setting",
    "setting_only_sunk_to": "`{name}` waits for `{volume}` to fall to {value} bar, which the air "
    "only approaches; give a tolerance (`+- 0.1 bar`) or a higher setting",
    "goal_only_neared": "`{name}` asks whether `{volume}` reaches {value} bar, which the air "
    "only approaches; ask for a lower number",
    "goal_only_sunk_to": "`{name}` asks whether `{volume}` falls to {value} bar, which the air "
    "only approaches; ask for a higher number",
}

CIRCUIT: Mapping[str, str] = MappingProxyType(
    {**_NAMES, **_FRAME, **_FILES, **_NUMBERS, **_THINGS, **_RULES}
)
