"""From text to data: every kind against hand-made data, units, signals, parts, all problems."""

from __future__ import annotations

import tomllib
from fractions import Fraction

import pytest

from airproof.base.diagnostics import Rejected
from airproof.base.quantities import PSI
from airproof.base.wording_circuit import CIRCUIT
from airproof.circuit.conditions import (
    YES,
    AllOf,
    AnyOf,
    At,
    Compare,
    Condition,
    Expired,
    Flowing,
    Form,
    GoneTo,
    Not,
    OnTheWay,
    Order,
    Truth,
)
from airproof.circuit.kinds import (
    Band,
    Change,
    Choke,
    Circuit,
    Conductance,
    Control,
    Device,
    Flow,
    Interlock,
    Move,
    Quantity,
    RangeControl,
    Rate,
    Standing,
    Supply,
    Timer,
    Volume,
)
from airproof.circuit.properties import (
    AfterNever,
    Assumption,
    KeptRule,
    Lasts,
    Never,
    OnceLasted,
    OnlyAfter,
    Possible,
    Property,
    Sentence,
    SupplyRule,
    Within,
)
from airproof.language import load_text
from airproof.resources import folder

F = Fraction

PLACES = """circuit bench "A bench for one kind"
supply main: 0 bar .. 10 bar
reservoir tank: 5 litre, starts 0 bar
pipe line: starts 0 bar
"""
HANDS = """control pedal: up, down; starts up
timer wait: runs while pedal is down; expires after 2 s .. 2.5 s
"""


def bench(text: str) -> Circuit:
    """The circuit of a few places of air and this text."""
    return load_text(PLACES + text).circuit


def band(low: str, high: str | None = None) -> Band:
    return Band(F(low), F(high or low))


def one(name: str, order: Order, constant: str, tolerance: str = "0") -> Compare:
    """A comparison of one pressure."""
    return Compare(Form(((name, F(1)),)), order, F(constant), F(tolerance))


def codes(text: str) -> list[str]:
    """The codes of everything that is wrong with a text."""
    with pytest.raises(Rejected) as caught:
        load_text(text)
    return [problem.code for problem in caught.value.problems]


# ---- primitives


def test_winder_example() -> None:
    """The circuit of the design, whole."""
    circuit = load_text(WINDER).circuit
    main = circuit.supplies["main"]
    assert main == Supply("main", band("0", "8"), band("0", "8"), F(1, 2), F(1))
    assert circuit.volumes["pilot"] == Volume("pilot", "reservoir", band("2.7", "3.3"), band("0"))
    assert circuit.controls["lever"] == Control(
        "lever", ("brake", "hold", "lift"), ("brake",), ordered=True, worked_by="winderman"
    )
    assert circuit.devices["lockout"] == Device(
        "lockout",
        "valve",
        ("shut", "open"),
        (
            Move("open", one("main", ">=", "5.5", "0.1")),
            Move("shut", one("main", "<=", "4.8", "0.1")),
        ),
        ("shut",),
    )
    tight = At("rope", "tight")
    assert circuit.devices["rope_relay"] == Device(
        "rope_relay",
        "relay",
        ("picked", "dropped"),
        (Move("picked", tight), Move("dropped", Not(tight))),
        ("picked", "dropped"),
        starts_called=True,
        moving=band("0.05", "0.2"),
    )
    assert circuit.timers["notice"] == Timer("notice", At("rope", "slack"), band("2", "2.5"))
    (rule,) = circuit.interlocks.values()
    title = "The lever cannot be put to lift while the rope is slack"
    assert rule == Interlock("interlock.1", title, "lever", "only", "lift", tight)
    assert circuit.flows["lift"] == Flow(
        "lift",
        "main",
        "brake",
        AllOf((At("lever", "lift"), At("lockout", "open"), tight)),
        one_way=True,
        restriction=Choke(band("4")),
    )
    falls = AnyOf((At("lever", "brake"), Expired("notice")))
    assert circuit.flows["fall"].condition == falls
    low = one("main", "<", "4.6")
    assert circuit.signals == {"low_supply": low}
    assert circuit.properties["no_lift_on_low_supply"] == Property(
        "no_lift_on_low_supply",
        "The brake is never lifted while the supply is low",
        Never(AllOf((Flowing("lift"), low))),
        severity="catastrophic",
    )
    slack = OnceLasted(At("rope", "slack"), one("brake", "<=", "0.5"), F(9))
    assert circuit.properties["slack_rope_stops"].sentence == slack
    assert circuit.properties["can_lift"].sentence == Possible(one("brake", ">=", "5"))
    assert (circuit.name, circuit.title[:5]) == ("winder", "Slate")


WINDER = """circuit winder "Slate incline winder: the brake is held off by air"

supply main: 0 bar .. 8 bar, starts 0 bar .. 8 bar, rises at most 0.5 bar/s, falls at most 1 bar/s
reservoir pilot: 3 litre +- 10 %, starts 0 bar
cylinder brake: 12 litre, starts 0 bar

control lever: brake, hold, lift; in that order; starts brake; worked by winderman
control rope: tight, slack; starts tight; worked by outside

valve lockout: shut, open; starts shut
    moves to open when main >= 5.5 bar +- 0.1 bar
    moves to shut when main <= 4.8 bar +- 0.1 bar
relay rope_relay: picked while rope is tight, dropped otherwise; moving takes 0.05 s .. 0.2 s
timer notice: runs while rope is slack; expires after 2 s .. 2.5 s

interlock "The lever cannot be put to lift while the rope is slack"
    lever moves to lift only while rope is tight

flow charge: main -> pilot while lockout is open, choke 1.2 mm, one way
flow bleed:  pilot -> atmosphere while lockout is shut, choke 0.8 mm
flow lift:   main -> brake while lever is lift and lockout is open and rope is tight, choke 4 mm, one way
flow fall:   brake -> atmosphere while lever is brake or notice has expired, choke 6 mm

signal low_supply: main < 4.6 bar

property no_lift_on_low_supply "The brake is never lifted while the supply is low"
    severity catastrophic
    never lift is flowing while low_supply
property slack_rope_stops "A slack rope puts the brake on"
    once rope is slack has lasted 9 s, brake <= 0.5 bar
property can_lift "The brake can be released at all"
    possible brake >= 5 bar
"""  # noqa: E501 - as the design has it


def test_places_without_size_or_start() -> None:
    """A supply without starts may start anywhere; a pipe may leave out its size."""
    circuit = bench("supply fixed: 7 bar\nsupply spare: -0.5 bar .. 2 bar, starts 1 bar\n")
    assert circuit.supplies["fixed"] == Supply("fixed", band("7"), band("7"))
    assert circuit.supplies["spare"] == Supply("spare", band("-0.5", "2"), band("1"))
    assert circuit.volumes["line"] == Volume("line", "pipe", None, band("0"))


def test_controls() -> None:
    """Seals, dwell, ranges; without starts a control may stand anywhere, sealed it stays."""
    circuit = bench(
        "control free: a, b\n"
        "control cock: open, shut; sealed open\n"
        "control slow: a, b; starts a; in each position for at least 200 ms\n"
        "control handle: 0 bar .. 5 bar; starts 0 bar; worked by driver\n"
    )
    assert circuit.controls["free"] == Control("free", ("a", "b"), ("a", "b"))
    assert circuit.controls["cock"] == Control("cock", ("open", "shut"), ("open",), sealed="open")
    assert circuit.controls["slow"].dwell == F(1, 5)
    handle = RangeControl("handle", band("0", "5"), band("0"), "driver")
    assert circuit.range_controls == {"handle": handle}


def test_latched_device_and_way() -> None:
    """`latched` allows a position for good; without starts a device may stand anywhere."""
    circuit = bench("latch trip: armed, gone; latched; moves to gone when main >= 9 bar\n")
    gone = Move("gone", one("main", ">=", "9"))
    assert circuit.devices["trip"] == Device(
        "trip", "latch", ("armed", "gone"), (gone,), ("armed", "gone")
    )
    way = bench("relay r: a while main >= 9 bar, b otherwise; moving takes 1 s; closed on the way")
    assert way.devices["r"].on_the_way == "closed"


def test_restrictions() -> None:
    """Chokes, conductances and rates, with relative tolerances as bands."""
    circuit = bench(
        "flow a: main -> tank, choke 2 mm +- 10 %\n"
        "flow b: main -> tank, conductance 0.5 l/(s bar), ratio 0.4\n"
        "flow c: main -> tank, moving 0.3 .. 0.4 bar.litre/s\n"
        "flow d: main -> tank, one way opening at 200 mbar\n"
    )
    limits = [flow.restriction for flow in circuit.flows.values()]
    assert limits == [
        Choke(band("1.8", "2.2")),
        Conductance(band("0.5"), F(2, 5)),
        Rate(band("0.3", "0.4")),
        None,
    ]
    assert circuit.flows["a"].condition == YES
    assert (circuit.flows["d"].one_way, circuit.flows["d"].opening) == (True, F(1, 5))


def test_quantity() -> None:
    """A quantity keeps its unit and its speeds."""
    circuit = bench(
        HANDS + "quantity level: starts 2 cm, changes at 1 mm/s .. 2 mm/s while pedal is down,"
        " at -2 mm/s while pedal is up\n"
    )
    assert circuit.quantities["level"] == Quantity(
        "level",
        "mm",
        band("20"),
        (
            Change(band("1", "2"), At("pedal", "down")),
            Change(band("-2"), At("pedal", "up")),
        ),
    )


# ---- kinds


def test_multi_port_valve() -> None:
    """Each way a valve joins is a two-way flow while it stands there."""
    circuit = bench(
        "valve vent: shut, half, open; starts shut; closed on the way\n"
        "    moves to open when main >= 5 bar; moves to half when main <= 4 bar and main >= 3 bar\n"
        "    moves to shut when main <= 2 bar\n"
        "    joins line to tank when open or half, to atmosphere otherwise\n"
    )
    standing = AnyOf((At("vent", "open"), At("vent", "half")))
    assert circuit.flows == {
        "vent.1": Flow("vent.1", "line", "tank", standing),
        "vent.2": Flow("vent.2", "line", "atmosphere", At("vent", "shut")),
    }
    assert circuit.devices["vent"].on_the_way == "closed"


def test_double_check_valve() -> None:
    """Each side is joined to the third while it is not the lower one."""
    circuit = bench("double check valve shuttle: main and tank to line\n")
    difference = Form((("main", F(1)), ("tank", F(-1))))
    assert circuit.flows == {
        "shuttle.1": Flow("shuttle.1", "main", "line", Compare(difference, ">=", F(0))),
        "shuttle.2": Flow("shuttle.2", "tank", "line", Compare(difference, "<=", F(0))),
    }


def test_relief_valve() -> None:
    """A device on the source's pressure, and a one-way flow while it is open."""
    circuit = bench(
        "relief valve blow: tank -> atmosphere, opens at 8 bar +- 0.1 bar,"
        " shuts at 7.5 bar +- 0.1 bar\n"
    )
    assert circuit.devices["blow"] == Device(
        "blow",
        "relief valve",
        ("shut", "open"),
        (
            Move("open", one("tank", ">=", "8", "0.1")),
            Move("shut", one("tank", "<=", "7.5", "0.1")),
        ),
        ("shut", "open"),
        starts_called=True,
    )
    flow = Flow("blow.flow", "tank", "atmosphere", At("blow", "open"), one_way=True)
    assert circuit.flows == {"blow.flow": flow}


def test_reducing_valve() -> None:
    """One way while the target is below the setting."""
    circuit = bench("reducing valve red: main -> line, set to 5 bar +- 0.1 bar\n")
    below = one("line", "<", "5", "0.1")
    assert circuit.flows == {"red": Flow("red", "main", "line", below, one_way=True)}


def test_self_lapping_valve() -> None:
    """Charges below what it follows, exhausts above it."""
    circuit = bench(
        "control handle: 0 bar .. 5 bar; starts 0 bar\n"
        "self-lapping valve lap: main -> line, exhaust atmosphere, follows handle +- 0.05 bar\n"
    )
    gap = Form((("handle", F(1)), ("line", F(-1))))
    below, above = (Compare(gap, order, F(0), F(1, 20)) for order in (">", "<"))
    assert circuit.flows == {
        "lap.charge": Flow("lap.charge", "main", "line", below, one_way=True),
        "lap.exhaust": Flow("lap.exhaust", "line", "atmosphere", above, one_way=True),
    }


def test_quick_exhaust_valve() -> None:
    """One way to its target, which empties while the source is below it."""
    circuit = bench("quick-exhaust valve dump: line to tank, exhaust atmosphere\n")
    below = Compare(Form((("line", F(1)), ("tank", F(-1)))), "<", F(0))
    assert circuit.flows == {
        "dump.charge": Flow("dump.charge", "line", "tank", YES, one_way=True),
        "dump.exhaust": Flow("dump.exhaust", "tank", "atmosphere", below, one_way=True),
    }


def test_governor() -> None:
    """Runs below one setting, stops above the other; stands where the pressure puts it."""
    circuit = bench("governor pump: on main, starts at 7 bar +- 0.1 bar, stops at 8 bar\n")
    moves = (
        Move("running", one("main", "<=", "7", "0.1")),
        Move("stopped", one("main", ">=", "8")),
    )
    places = ("running", "stopped")
    assert circuit.devices["pump"] == Device("pump", "governor", places, moves, places, True)


@pytest.mark.parametrize(
    ("closes", "opens", "orders"), [("4.5", "4", (">=", "<=")), ("4", "4.5", ("<=", ">="))]
)
def test_pressure_switch(closes: str, opens: str, orders: tuple[Order, Order]) -> None:
    """Whichever setting is higher acts on a rise."""
    text = f"pressure switch low: on main, closes at {closes} bar, opens at {opens} bar"
    device = bench(f"{text}; starts open\n").devices["low"]
    moves = (
        Move("closed", one("main", orders[0], closes)),
        Move("open", one("main", orders[1], opens)),
    )
    assert device == Device("low", "pressure switch", ("open", "closed"), moves, ("open",))


def test_isolating_cock() -> None:
    """A control and a two-way flow while it is open."""
    circuit = bench("isolating cock tap: tank to line; starts open; worked by fitter\n")
    tap = Control("tap", ("open", "shut"), ("open",), worked_by="fitter")
    assert circuit.controls == {"tap": tap}
    assert circuit.flows == {"tap.flow": Flow("tap.flow", "tank", "line", At("tap", "open"))}


def test_spring_cylinder() -> None:
    """A volume and a device; its name reads as either."""
    circuit = bench(
        "spring-applied cylinder park: 12 litre, starts 0 bar; on below 1 bar +- 0.1 bar,"
        " off above 3 bar\n"
        'property p "P"\n    never park is dragging while park >= 2 bar\n'
    )
    assert circuit.volumes["park"] == Volume("park", "cylinder", band("12"), band("0"))
    low, high = one("park", ">=", "1", "0.1"), one("park", "<=", "3")
    places = ("on", "dragging", "off")
    moves = (
        Move("on", one("park", "<", "1", "0.1")),
        Move("dragging", AllOf((low, high))),
        Move("off", one("park", ">", "3")),
    )
    assert circuit.devices["park.spring"] == Device(
        "park.spring", "spring-applied cylinder", places, moves, places, True
    )
    bad = AllOf((At("park.spring", "dragging"), one("park", ">=", "2")))
    assert circuit.properties["p"].sentence == Never(bad)


# ---- conditions


def told(condition: str) -> Condition:
    """The condition as a flow reads it."""
    return bench(f"{HANDS}flow f: main -> tank while {condition}\n").flows["f"].condition


TANK_LINE = Form((("line", F(1)), ("tank", F(-1))))


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("main >= 5 bar +- 2 %", one("main", ">=", "5", "0.1")),
        ("main > 500 kPa", one("main", ">", "5")),
        ("main < 1 bar abs", one("main", "<", "-0.01325")),
        ("main >= 10 psi", one("main", ">=", str(10 * PSI))),
        ("5 bar <= main", one("main", ">=", "5")),
        ("main + 1 bar >= 3 bar", one("main", ">=", "2")),
        ("line is below tank", Compare(TANK_LINE, "<", F(0))),
        ("line is above tank", Compare(TANK_LINE, ">", F(0))),
        ("tank is above line", Compare(TANK_LINE, "<", F(0))),
        ("line is 0.15 bar below tank", Compare(TANK_LINE, "<=", F("-0.15"))),
        ("line is 0.15 bar above tank", Compare(TANK_LINE, ">=", F("0.15"))),
        ("line - tank >= 1 bar +- 0.1 bar", Compare(TANK_LINE, ">=", F(1), F("0.1"))),
        ("line - atmosphere >= 1 bar", one("line", ">=", "1")),
        (
            "2.5 times line + 0.3 bar is below tank",
            Compare(Form((("line", F(1)), ("tank", F(-2, 5)))), "<", F("-0.12")),
        ),
        ("pedal is not up", Not(At("pedal", "up"))),
        ("not (pedal is up)", Not(At("pedal", "up"))),
        ("wait has expired", Expired("wait")),
        ("wait has not expired", Not(Expired("wait"))),
        ("pedal has gone to down", GoneTo("pedal", "down")),
        (
            "pedal is up and (main >= 5 bar or wait has expired)",
            AllOf((At("pedal", "up"), AnyOf((one("main", ">=", "5"), Expired("wait"))))),
        ),
    ],
)
def test_conditions(text: str, meant: Condition) -> None:
    """Each way of writing a condition against its tree."""
    assert told(text) == meant


def test_moving_and_flowing() -> None:
    """`is moving` needs a moving time; a valve with ways flows if any way does."""
    circuit = bench(
        "relay r: a while main >= 9 bar, b otherwise; moving takes 1 s\n"
        "double check valve shuttle: main and tank to line\n"
        'property p "P"\n    never r is moving while shuttle is flowing\n'
    )
    flowing = AnyOf((Flowing("shuttle.1"), Flowing("shuttle.2")))
    assert circuit.properties["p"].sentence == Never(AllOf((OnTheWay("r"), flowing)))


def test_signals_are_written_out() -> None:
    """A signal may stand before the signals it reads."""
    circuit = bench(
        "signal both: low and not high\nsignal low: main < 3 bar\nsignal high: tank > 3 bar\n"
    )
    low, high = one("main", "<", "3"), one("tank", ">", "3")
    assert circuit.signals["both"] == AllOf((low, Not(high)))


# ---- rules and properties


def test_rules() -> None:
    """Interlocks and assumptions of each shape."""
    circuit = bench(
        HANDS + 'interlock keep "Kept down"\n    pedal is locked in down while main >= 5 bar\n'
        "interlock push\n    pedal is forced to up when main <= 2 bar\n"
        "assumption calm\n    pedal moves to down only while wait has not expired\n"
        "assumption strong\n    always main >= 4 bar and main <= 9 bar\n"
    )
    assert list(circuit.interlocks.values()) == [
        Interlock("keep", "Kept down", "pedal", "locked", "down", one("main", ">=", "5")),
        Interlock("push", "", "pedal", "forced", "up", one("main", "<=", "2")),
    ]
    kept = KeptRule("pedal", "only", "down", Not(Expired("wait")))
    supplied = SupplyRule((one("main", ">=", "4"), one("main", "<=", "9")))
    assert list(circuit.assumptions.values()) == [
        Assumption("calm", "", kept),
        Assumption("strong", "", supplied),
    ]


A, B, C = (one("main", ">=", each) for each in "123")


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("never {a}", Never(A)),
        ("never {a} while {b}", Never(AllOf((A, B)))),
        ("always {a}", Never(Not(A))),
        ("whenever {a}, {b}", Never(AllOf((A, Not(B))))),
        ("whenever {a}, {b} within 2 s", Within(A, B, F(2))),
        ("{a} only after {b}", OnlyAfter(A, B, None)),
        ("{a} only after {b} since {c}", OnlyAfter(A, B, C)),
        ("after {a}, never {b}", AfterNever(A, B, None)),
        ("after {a}, never {b} until {c}", AfterNever(A, B, C)),
        ("once {a} has lasted 1 min, {b}", OnceLasted(A, B, F(60))),
        ("{a} lasts at least 500 ms", Lasts(A, "least", F(1, 2))),
        ("{a} lasts at most 2 s", Lasts(A, "most", F(2))),
        ("possible {a}", Possible(A)),
    ],
)
def test_sentences(text: str, meant: Sentence) -> None:
    """Each form of sentence against its data."""
    written = text.format(a="main >= 1 bar", b="main >= 2 bar", c="main >= 3 bar")
    assert bench(f'property p "P"\n    {written}\n').properties["p"].sentence == meant


def test_property_clauses_and_state() -> None:
    """A property's clauses, its standing state and drawings."""
    circuit = bench(
        HANDS + "state ready: main = 7 bar, pedal is down\n"
        'property p "P" drawing "B-104" item 7\n'
        '    severity critical\n    reason "why"\n    hazard "H-7"\n'
        "    never tank >= 5 bar even for an instant from ready\n"
    )
    ready = Standing("ready", {"pedal": "down"}, {"main": F(7)})
    assert circuit.standings == {"ready": ready}
    assert circuit.drawings == {"p": "B-104 item 7"}
    bad = Never(one("tank", ">=", "5"))
    assert circuit.properties["p"] == Property(
        "p", "P", bad, True, "ready", "critical", "why", "H-7"
    )


# ---- parts

CAB = """part cab "A driver's cab"
    ports feed, out
    control handle: off, on; starts off
    valve tap: shut, open; starts shut
        moves to open when handle is on and feed >= 1 bar
        moves to shut when handle is off
    flow give: feed -> out while tap is open
    signal giving: give is flowing
    property p "P"
        never giving while out >= 5 bar
end part
"""


def test_part_fitted_twice() -> None:
    """Each fitting has its own things; its ports lead where they are bound."""
    circuit = bench(
        CAB + "fit cab as one, feed from main, out to line\n"
        "fit cab as two, feed from tank, out to atmosphere\n"
    )
    assert list(circuit.controls) == ["one.handle", "two.handle"]
    give = circuit.flows["one.give"]
    assert (give.source, give.target, give.condition) == ("main", "line", At("one.tap", "open"))
    assert circuit.flows["two.give"].target == "atmosphere"
    assert circuit.properties["two.p"].sentence == Never(AllOf((Flowing("two.give"), Truth(False))))
    bad = AllOf((Flowing("one.give"), one("line", ">=", "5")))
    assert circuit.properties["one.p"].sentence == Never(bad)


def test_names_inside_parts_are_reached_with_a_dot() -> None:
    """The circuit reads a part's things; a part of a part passes its ports on."""
    circuit = bench(
        CAB + "part train\n    ports pipe_in\n    chamber store: starts 0 bar\n"
        "    fit cab as front, feed from pipe_in, out to store\nend part\n"
        "fit train as t, pipe_in from main\n"
        'property q "Q"\n    never t.front.handle is on while t.store >= 5 bar\n'
    )
    give = circuit.flows["t.front.give"]
    assert (give.source, give.target) == ("main", "t.store")
    bad = AllOf((At("t.front.handle", "on"), one("t.store", ">=", "5")))
    assert circuit.properties["q"].sentence == Never(bad)


def test_mistake_in_a_part_is_told_once() -> None:
    """Two fittings of one part do not double its problem."""
    text = PLACES + "part odd\n    flow f: nowhere -> atmosphere\nend part\n"
    assert codes(text + "fit odd as a\nfit odd as b\n") == ["unknown_place"]


# ---- mistakes

MISTAKES = [
    row
    for row in tomllib.loads((folder("grammar") / "mistakes.toml").read_text("utf-8"))["mistake"]
    if row["id"].startswith("means_")
]


# tested here and in test_files
ELSEWHERE = [
    "no_file",
    "is_folder",
    "not_a_file",
    "unreadable",
    "file_too_large",
    "file_not_text",
    "include_link",
    "include_loop",
    "too_many_includes",
    "circuit_in_include",
    "too_many_statements",
    "parts_too_deep",
    "condition_too_large",
    "condition_too_deep",
    "signals_too_deep",
]


@pytest.fixture(scope="module")
def told_by_rows() -> dict[str, list[str]]:
    """The codes that each row of the table brings about."""
    return {row["id"]: codes(row["text"]) for row in MISTAKES}


def test_one_mistake_is_one_problem(told_by_rows: dict[str, list[str]]) -> None:
    """No row of the table is told twice over."""
    assert {name: found for name, found in told_by_rows.items() if len(found) != 1} == {}


def test_every_sentence_about_circuits_is_shown(told_by_rows: dict[str, list[str]]) -> None:
    """Each sentence has a row of the table, or a test of its own."""
    shown = {code for found in told_by_rows.values() for code in found}
    assert set(CIRCUIT) - shown - set(ELSEWHERE) == set()


# ---- all problems at once, and in time


def test_all_problems_at_once() -> None:
    """One run tells everything, in the order of the text."""
    text = PLACES + (
        "flow a: mian -> tank\n"
        "relay r: x while tank >= 5, y otherwise\n"
        "control c: one; starts two\n"
        'property p "P"\n    never r is z while main <= 4 bar +- 1 bar\n'
    )
    assert codes(text) == [
        "unknown_place",
        "bare_number",
        "one_position",
        "unknown_position",
        "unknown_position",
        "tolerance_here",
    ]


def test_signals_that_double_are_refused() -> None:
    """Forty signals that each read the last twice would be a condition of 2^40 leaves."""
    lines = ["signal s0: main >= 5 bar"]
    lines += [f"signal s{n}: s{n - 1} and s{n - 1}" for n in range(1, 41)]
    assert "condition_too_large" in codes(PLACES + "\n".join(lines) + "\n")


def test_parts_that_double_are_refused() -> None:
    """Parts that each fit the last ten times would be a circuit of 10^9 chambers."""
    lines = ["part p0\n    chamber c: starts 0 bar\nend part\n"]
    for n in range(1, 10):
        fits = "".join(f"    fit p{n - 1} as f{k}\n" for k in range(10))
        lines.append(f"part p{n}\n{fits}end part\n")
    assert "too_many_statements" in codes(PLACES + "".join(lines) + "fit p9 as all\n")


def test_a_deep_nest_of_parts_is_refused() -> None:
    """Fifty parts, each in the next, are refused and not followed to the end."""
    lines = ["part p0\n    chamber c: starts 0 bar\nend part\n"]
    lines += [f"part p{n}\n    fit p{n - 1} as f\nend part\n" for n in range(1, 51)]
    assert "parts_too_deep" in codes(PLACES + "".join(lines) + "fit p50 as all\n")


def test_long_chain_of_signals_is_refused() -> None:
    """A chain of signals written backwards does not exhaust the interpreter."""
    lines = [f"signal s{n}: s{n + 1}" for n in range(500)] + ["signal s500: main >= 5 bar"]
    assert "signals_too_deep" in codes(PLACES + "\n".join(lines) + "\n")


def test_deep_signals_are_refused() -> None:
    """Sixty signals of five brackets each would be a condition three hundred deep."""
    lines = ["signal s0: main >= 5 bar"]
    lines += [f"signal s{n}: not (not (not (not (not s{n - 1}))))" for n in range(1, 60)]
    assert "condition_too_deep" in codes(PLACES + "\n".join(lines) + "\n")


def test_a_thousand_problems_are_cut_short() -> None:
    """A hundred problems are shown, and that there are more."""
    lines = [f"flow f{n}: nowhere{n} -> tank" for n in range(1000)]
    found = codes(PLACES + "\n".join(lines) + "\n")
    assert (len(found), found[-1]) == (101, "too_many")


def test_a_start_may_be_asked_for() -> None:
    """`possible` at exactly the pressure of the start is not refused."""
    text = 'property p "P"\n    possible tank <= 0 bar\n'
    assert bench(text).properties["p"].sentence == Possible(one("tank", "<=", "0"))
