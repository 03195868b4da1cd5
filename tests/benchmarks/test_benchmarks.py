"""The benchmark's own parts agree with what was worked out by hand; nothing here is timed."""

from __future__ import annotations

from pathlib import Path

import pytest

from benchmarks import figures
from benchmarks.cases import GROUPS, Case, cases, loaded
from benchmarks.contenders import AIRPROOF, VARIANTS, Answer, Asked, Contender, contenders
from benchmarks.families import SIZES, Bands, Member, Shape, members
from benchmarks.horn import Clauses, Variant
from benchmarks.measuring import How, Measured, Run, measure
from benchmarks.page import READING, page
from benchmarks.results import Results
from benchmarks.schedule import Kept, limit_of, measured

PATIENT, BRIEF = 120.0, 0.2  # [s] for an engine that answers, and for one that may not
PLAIN = 0.05  # [s] for those that often do not; they take up to twenty times that
TABLE = [case for case in cases(("table",)) if not case.circuit.startswith("02")][::4]
SMALL = [
    case
    for case in cases(("independent", "chained"))
    if case.units == 1 or (case.units == 2 and case.bands == "none")
][::2]
ENGINES = contenders()
SLOW = (  # of which no variant of the fixedpoint engine says anything within two seconds
    "independent_none_1 late_lift",
    "independent_bands_1 late_lift",
    "chained_bands_1 ceiling",
)


def by_hand(case: Case) -> Answer:
    return "reached" if case.reached else "never"


def asked(case: Case, seconds: float) -> Asked:
    circuit = loaded(case.text)
    return Asked(circuit, circuit.properties[case.prop], seconds)


def brief(contender: Contender, case: Case) -> str:
    """Its answer if it has one soon."""
    plain = contender.name in ("induction", "unrolling")
    return contender.run(asked(case, PLAIN if plain else BRIEF))


@pytest.mark.parametrize("shape", ["independent", "chained"])
@pytest.mark.parametrize("bands", ["none", "bands"])
def test_families_load(shape: Shape, bands: Bands) -> None:
    """Every member is a circuit with the properties it says, and grows by whole units."""
    family = members(shape, bands)
    circuits = [loaded(member.text) for member in family]
    assert [member.units for member in family] == list(SIZES)
    for member, circuit in zip(family, circuits, strict=True):
        assert list(circuit.properties) == list(member.expected)
    sizes = [len(c.devices) + len(c.volumes) for c in circuits]
    unit = sizes[1] - sizes[0]
    assert unit >= 4
    assert sizes == [sizes[0] + unit * (n - 1) for n in SIZES]


def test_what_is_slow_is_there() -> None:
    """Nothing is spared by a name that no case has."""
    assert {*SLOW} <= {case.name for case in SMALL}


def test_bands_are_what_differs() -> None:
    """One half of the families states sizes and tolerances, the other none."""
    for shape in ("independent", "chained"):
        with_bands, without = (loaded(Member(shape, b, 2).text) for b in ("bands", "none"))
        assert all(volume.size is not None for volume in with_bands.volumes.values())
        assert all(volume.size is None for volume in without.volumes.values())
        assert with_bands.devices.keys() == without.devices.keys()


@pytest.mark.parametrize("case", SMALL, ids=lambda case: case.name)
def test_no_engine_is_wrong_on_small_members(case: Case) -> None:
    """Each engine says what is so by hand, or nothing; airproof says it."""
    assert ENGINES[AIRPROOF].run(asked(case, PATIENT)) == by_hand(case)
    spared = {AIRPROOF} | {v.name for v in VARIANTS if case.name in SLOW}
    for contender in ENGINES.values():
        if contender.name not in spared and contender.fits(loaded(case.text)):
            assert brief(contender, case) in (by_hand(case), "unknown"), contender.name


@pytest.mark.parametrize("engine", [name for name in ENGINES if name != AIRPROOF])
def test_no_engine_is_wrong_on_the_table(engine: str) -> None:
    """Each says of tiny circuits what the table says, or nothing, and it does say it of some."""
    fitting = [case for case in TABLE[::4] if ENGINES[engine].fits(loaded(case.text))]
    answers = {case.name: brief(ENGINES[engine], case) for case in fitting}
    wrong = {c.name for c in fitting if answers[c.name] not in (by_hand(c), "unknown")}
    assert not wrong
    assert not {"reached", "never"}.isdisjoint(answers.values())


def test_clauses_say_what_the_table_says() -> None:
    """The fixedpoint engine, asked about at least forty circuits, gives the table's verdicts."""
    assert len({case.circuit for case in TABLE}) >= 40
    for case in TABLE:
        clauses = Clauses(asked(case, PATIENT).system, VARIANTS[0])
        assert clauses.ask(PATIENT) == ("sat" if case.reached else "unsat"), case.name


@pytest.mark.parametrize("variant", VARIANTS[1:], ids=lambda variant: variant.name)
def test_other_variants_say_the_same(variant: Variant) -> None:
    """Neither other settings nor a cut system change a verdict."""
    for case in TABLE[::5]:
        assert ENGINES[variant.name].run(asked(case, PATIENT)) == by_hand(case), case.name


def test_the_part_about_one_post_does_not_grow() -> None:
    """What an engine on a cut system is spared are the posts that have no part in it."""
    found = []
    for units in (4, 8):
        circuit = loaded(Member("independent", "none", units).text)
        system = Asked(circuit, circuit.properties["handled"], PATIENT).cut
        found.append({v.key for v in system.variables})
    assert found[0] == found[1]


def test_the_expectations_hold_for_both_answers() -> None:
    """Every group has properties of both kinds."""
    for group in GROUPS:
        assert {case.reached for case in cases((group,), quick=True)} == {True, False}


# ---- measuring and telling


def result(case: Case, engine: str, answer: Answer, wall: float) -> Measured:
    how: How = "out of time" if answer == "unknown" else "answered"
    run = Run(answer, wall, wall, {"solver": wall / 4, "rest": wall * 3 / 4})
    return Measured(case.group, case.name, engine, how, run)


def test_a_process_answers_and_one_that_does_not_is_ended() -> None:
    """An answer comes back with its times and parts; a run without end counts as the limit."""
    case = next(c for c in SMALL if c.reached)
    answered = measure(case, ENGINES[AIRPROOF], PATIENT, long=0.0)
    assert answered.run.answer == "reached"
    assert {"solver", "encoding", "building terms"} <= answered.run.parts.keys()
    assert all(seconds > 0 for seconds in answered.run.parts.values())
    endless = measure(case, Contender("endless", _endless), 0.2)
    assert (endless.how, endless.run.wall) == ("out of time", 0.2)
    failing = measure(case, Contender("failing", _failing), 0.2)
    assert failing.how == "failed"
    assert "on purpose" in failing.run.failure


def _endless(asked: Asked) -> Answer:
    while True:
        pass


def _failing(asked: Asked) -> Answer:
    raise RuntimeError("on purpose")


def test_a_disagreement_is_seen() -> None:
    """An engine that contradicts another, or what was worked out by hand, is named."""
    case = next(c for c in SMALL if not c.reached)
    right, wrong = result(case, AIRPROOF, "never", 1), result(case, "other", "reached", 1)
    assert figures.disagreements([right], [case]) == []
    (line,) = figures.disagreements([right, wrong], [case])
    assert case.name in line
    assert "other" in line
    assert figures.disagreements([result(case, AIRPROOF, "reached", 1)], [case])


def test_a_breach_of_a_part_contradicts_nothing() -> None:
    """What is cut off may be why the whole has none; a proof of the part is one of the whole."""
    case = next(c for c in SMALL if not c.reached)
    other = next(c for c in SMALL if c.reached)
    (part, *_) = (variant.name for variant in VARIANTS if variant.cut)
    assert figures.disagreements([result(case, part, "reached", 1)], [case]) == []
    assert figures.disagreements([result(other, part, "never", 1)], [other])


def test_figures_against_the_fixedpoint_engine() -> None:
    """Solved alone, too slow and the mean are what they are by hand."""
    first, second = SMALL[0], SMALL[1]
    name = VARIANTS[0].name
    found = [
        result(first, AIRPROOF, by_hand(first), 1), result(first, name, by_hand(first), 4),
        result(second, AIRPROOF, "unknown", 8), result(second, name, by_hand(second), 2),
    ]  # fmt: skip
    everything, never_more, faster = figures.against_fixedpoint(found, name)
    assert not everything.met
    assert second.name in everything.measured
    assert not never_more.met
    assert never_more.measured.startswith("1 of 2")
    assert faster.measured.startswith("1.00 times")


@pytest.mark.parametrize(("power", "met"), [(0, True), (1, False), (3, False)])
def test_growth_of_independent_units(power: int, met: bool) -> None:
    """Only a line that stays where it is counts as none."""
    assert growth_of("independent", power).met is met


@pytest.mark.parametrize(("power", "met"), [(0, True), (2, True), (3, False)])
def test_growth_of_chained_units(power: int, met: bool) -> None:
    """A square is still allowed, a cube is not."""
    assert growth_of("chained", power).met is met


def growth_of(shape: Shape, power: int) -> figures.Check:
    line = [c for c in cases((shape,)) if c.bands == "none"]
    prop = next(c.prop for c in line if not c.reached)
    line = [c for c in line if c.prop == prop]
    times = [0.02 * (c.units or 0) ** power for c in line]
    found = [result(c, AIRPROOF, by_hand(c), t) for c, t in zip(line, times, strict=True)]
    (check,) = figures.growth_checks(figures.growths(found, line))
    return check


def test_what_was_kept_is_not_measured_again(tmp_path: Path) -> None:
    """A second run takes the first one's results from the file."""
    case, file = SMALL[0], tmp_path / "kept"
    engine = Contender("failing", _failing)
    first = list(measured([case], [engine], 1.0, Kept(file), lambda r: None))
    other = Contender("failing", _endless)
    again = list(measured([case], [other], 1.0, Kept(file), lambda r: None))
    assert first == again
    assert limit_of(case, engine, 1.0) == 1.0


def test_the_page_keeps_what_a_person_wrote() -> None:
    """A new run replaces the tables and leaves the last section alone."""
    case = SMALL[0]
    results = Results([case], [result(case, AIRPROOF, by_hand(case), 2)], 60)
    text = page(results, f"old tables\n{READING}\n\nread by a person\n")
    assert "old tables" not in text
    assert text.endswith("read by a person\n")
    assert "To be written." in page(results, "")
