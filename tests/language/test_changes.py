"""Change files: the steps' effect on the text, and the change between two circuits."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from airproof.base.diagnostics import Rejected
from airproof.language import load
from airproof.language.changing.applying import Original, applied, changed, original
from airproof.language.changing.deriving import derived
from airproof.language.changing.reading import is_change, parse_change
from language.trees import ROOT

PAGE = (ROOT / "grammar" / "LANGUAGE.md").read_text(encoding="utf-8")
CIRCUITS = {
    example.split()[1]: example
    for example in re.findall(r"^```circuit\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
}
CHANGES = re.findall(r"^```change\n(.*?)^```$", PAGE, re.DOTALL | re.MULTILINE)
WORKED = sorted((ROOT / "models" / "worked").glob("*.circuit"))
BROKEN = sorted((ROOT / "models" / "broken").glob("*.circuit"))
SHED = """circuit shed "S"
supply main: 0 bar .. 8 bar, starts 0 bar  # the works' air
pipe feed: 3 litre, starts 0 bar
control lever: hold, lift
relay call: on while lever is lift and feed >= 2 bar +- 0.1 bar, off otherwise
interlock "No lifting on poor air"
    lever moves to lift only while main >= 4 bar
part post
    ports line
    control knob: in, out; starts in
    flow bleed: line -> atmosphere while knob is out
end part
fit post as near, line to feed
fit post as far, line to feed
flow lift: main -> feed while lever is lift  # comes from the wall
property never_full "N"
    never feed >= 7 bar while call is on and near.knob is out and far.knob is out
"""
YARD = Original(SHED, "shed.circuit", None)


def after(*steps: str) -> str:
    """The shed's text after the steps, which must leave it a circuit."""
    rows = [f"step {number}: {step}" for number, step in enumerate(steps, start=1)]
    text = "\n".join(['change "A" to "shed.circuit"', *rows])
    done = applied(YARD, [parse_change(text, "a.change")], {})
    changed(YARD, done, {})
    return done[-1].text


@pytest.mark.parametrize(
    ("step", "was", "now"),
    [
        (
            "fix lever at hold",
            "control lever: hold, lift",
            "control lever: hold, lift; starts hold; sealed hold",
        ),
        (
            "fix call at off",
            "relay call: on while lever is lift and feed >= 2 bar +- 0.1 bar, off otherwise",
            "control call: on, off; starts off; sealed off",
        ),
        (
            "set call from 2 bar to 2.5 bar",
            "feed >= 2 bar +- 0.1 bar",
            "feed >= 2.5 bar +- 0.1 bar",
        ),
        (
            "set call from 2 bar +- 0.1 bar to 2 bar +- 0.3 bar",
            "feed >= 2 bar +- 0.1 bar",
            "feed >= 2 bar +- 0.3 bar",
        ),
        (
            "set main from 0 bar .. 8 bar to 1 bar .. 9 bar\nstep 2: set main: starts 2 bar",
            "0 bar .. 8 bar, starts 0 bar  # the works' air",
            "1 bar .. 9 bar, starts 2 bar  # the works' air",
        ),
        ("set feed: 4 litre +- 5 %", "feed: 3 litre, starts", "feed: 4 litre +- 5 %, starts"),
        (
            "set lift: choke 2 mm",
            "while lever is lift  # comes from the wall",
            "while lever is lift,  # comes from the wall\n    choke 2 mm",
        ),
        ("connect lift to atmosphere", "main -> feed while", "main -> atmosphere while"),
        ("connect near.line to main", "as near, line to feed", "as near, line to main"),
        (
            'remove "No lifting on poor air"',
            'interlock "No lifting on poor air"\n'
            "    lever moves to lift only while main >= 4 bar\n",
            "",
        ),
        (
            "set post.bleed: choke 2 mm",
            "atmosphere while knob is out\n",
            "atmosphere while knob is out, choke 2 mm\n",
        ),
    ],
)
def test_a_step_changes_what_it_says_and_nothing_else(step: str, was: str, now: str) -> None:
    """The text is as it was but for that one place."""
    assert SHED.count(was) == 1
    assert after(step) == SHED.replace(was, now)


def test_one_fit_of_two_gets_a_part_of_its_own() -> None:
    """The other fit keeps the part as it was, and a second step does not copy it again."""
    text = after("set far.bleed: choke 2 mm", "fix far.knob at in")
    assert text.count("part post_far\n") == 1
    assert "fit post as near, line to feed" in text
    assert "fit post_far as far, line to feed" in text
    assert text.count("choke 2 mm") == 1
    assert text.count("sealed in") == 1


def test_statements_are_added_and_replaced_with_their_comments() -> None:
    """What a step brings stands in the text as it was written, at the left margin."""
    text = after(
        "add signal poor: main < 3 bar",
        "add\n    pipe spare: 2 litre, starts 0 bar\n    # from the store\n    flow to_spare: feed"
        " -> spare\n        choke 2 mm",
        "replace lift with flow lift: spare -> feed",
    )
    assert "\nsignal poor: main < 3 bar\n" in text
    assert "\n# from the store\nflow to_spare: feed -> spare\n    choke 2 mm\n" in text
    assert "flow lift: spare -> feed\n" in text
    assert "from the wall" not in text


def test_an_included_file_is_not_touched(tmp_path: Path) -> None:
    """The message shows the step and the place in the included text."""
    (tmp_path / "post.circuit").write_text("pipe spare: 2 litre, starts 0 bar\n", "utf-8")
    path = tmp_path / "yard.circuit"
    path.write_text('circuit yard\ninclude "post.circuit"\nsupply a: 1 bar\n', "utf-8")
    change = parse_change('change "A" to "yard.circuit"\nstep 1: set spare: 3 litre', "a.change")
    with pytest.raises(Rejected) as caught:
        applied(original(load(path), str(tmp_path)), [change], {})
    first, here = caught.value.problems
    assert first.code == "step_included"
    assert here.span is not None
    assert (here.span.path, here.span.line) == (str(tmp_path / "post.circuit"), 1)


@pytest.mark.parametrize("text", CHANGES)
def test_the_examples_of_the_reference_apply(text: str) -> None:
    """Each change on the page is one to a circuit on the page."""
    change = parse_change(text, "example.change")
    name = change.circuit.text.removesuffix(".circuit")
    circuit = Original(CIRCUITS[name], change.circuit.text, None)
    assert changed(circuit, applied(circuit, [change], {}), {}).circuit.name == name


def test_the_reference_shows_every_kind_of_step_it_tells_of() -> None:
    """There is an example, and the table has a row for each kind."""
    assert CHANGES
    for verb in ("fix", "set", "connect", "add", "replace", "remove", "withdraw"):
        assert f"| `{verb}" in PAGE
    assert not any(is_change(text) for text in CIRCUITS.values())


STATED = re.compile(r"^property (\w+)", re.MULTILINE)
WHOLE = ("tram_door",)  # of which no property is left out first


def asking_less(text: str, keep: set[str]) -> str:
    """Without the properties after the first two, but for those; withdrawing more is slow."""
    names = STATED.findall(text)
    for name in names[2:]:
        if name not in keep:
            text, count = re.subn(rf"^property {name} .*\n(?:[ \t].*\n)+", "", text, flags=re.M)
            assert count == 1
    return text


@pytest.mark.slow
@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_the_derived_change_leads_from_one_circuit_to_the_other(path: Path) -> None:
    """Worked to broken: after its steps no statement differs any more."""
    worked = next(one for one in WORKED if path.name.startswith(one.stem))
    new = path.read_text("utf-8")
    old = worked.read_text("utf-8")
    if worked.stem not in WHOLE:
        old = asking_less(old, keep=set(re.findall(STATED, new)))
    text = derived(old, worked.name, new, path.name)
    assert text is not None
    first = Original(old, worked.name, str(worked.parent))
    done = applied(first, [parse_change(text, "derived")], {})
    assert derived(done[-1].text, "a", new, "b") is None
    back = derived(new, path.name, done[-1].text, worked.name)
    assert back is None


@pytest.mark.parametrize(
    "steps",
    [
        ("set feed: 4 litre",),
        ("fix lever at hold",),
        ("connect lift from feed to main",),
        ("set post.bleed: choke 2 mm",),
        ("set far.bleed: choke 2 mm",),
        ("add signal poor: main < 3 bar", "remove lift"),
        ('withdraw never_full because "x"',),
        ("connect near.line to main",),
        ('remove "No lifting on poor air"',),
    ],
)
def test_a_change_is_found_again_and_undone(steps: tuple[str, ...]) -> None:
    """Derived forwards it gives the same circuit, derived backwards the old one."""
    text = after(*steps)
    forth = derived(SHED, "shed.circuit", text, "new.circuit")
    back = derived(text, "shed.circuit", SHED, "old.circuit")
    assert forth is not None
    assert back is not None
    done = applied(YARD, [parse_change(forth, "forth")], {})
    assert derived(done[-1].text, "a", text, "b") is None
    changed_yard = Original(text, "shed.circuit", None)
    undone = applied(changed_yard, [parse_change(back, "back")], {})
    assert derived(undone[-1].text, "a", SHED, "b") is None


def test_layout_comments_and_order_are_no_change() -> None:
    """Statements moved about, reflowed or commented say the same."""
    rows = SHED.split("\n")
    moved = "\n".join([*rows[:2], *rows[3:4], "# nothing", *rows[2:3], *rows[4:]])
    assert derived(SHED, "a", moved.replace(", starts 0 bar", ",\n    starts 0 bar"), "b") is None


def test_a_property_is_never_changed_in_place() -> None:
    """A circuit in which it reads otherwise has withdrawn it and added another."""
    text = derived(SHED, "shed.circuit", SHED.replace("7 bar while", "6 bar while"), "b.circuit")
    assert text is not None
    assert "step 1: withdraw never_full because" in text
    assert "step 2: add\n    property never_full" in text
