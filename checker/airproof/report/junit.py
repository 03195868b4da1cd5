"""The result of `prove` as JUnit XML, so that whatever shows test results can show it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from xml.etree import ElementTree as Xml

from airproof.circuit.kinds import Circuit
from airproof.evidence.health import Finding
from airproof.evidence.verdict import Verdict
from airproof.report.findings import found
from airproof.report.results import Results
from airproof.report.story import Story, story
from airproof.report.terminal import outcome
from airproof.report.words import sentence, units

HEALTH = "(health)"  # no property has brackets in its name
_UNSAYABLE = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def to_junit(results: Results) -> str:
    """One suite for the circuit, one case for each property and one for its health.

    Breached is a failure; undecided, and a circuit whose health is wrong, an
    error: neither may count as passed.  What XML cannot say becomes `?`.
    """
    circuit = results.circuit
    cases = [*(_case(circuit, one) for one in results.verdicts), _health(circuit, results.findings)]
    seconds = sum(verdict.seconds for verdict in results.verdicts)
    counts = {
        "tests": f"{len(cases)}",
        "failures": f"{_counted(cases, 'failure')}",
        "errors": f"{_counted(cases, 'error')}",
        "time": f"{seconds:.3f}",
    }
    root = Xml.Element("testsuites", {"name": "airproof", **counts})
    suite = Xml.SubElement(root, "testsuite", {"name": circuit.name, **counts, "skipped": "0"})
    known = Xml.SubElement(suite, "properties")
    for name, value in (("title", circuit.title), ("fingerprint", results.fingerprint)):
        Xml.SubElement(known, "property", {"name": name, "value": _sayable(value)})
    suite.extend(cases)
    Xml.indent(root)
    return f'<?xml version="1.0" encoding="utf-8"?>\n{Xml.tostring(root, encoding="unicode")}\n'


def _counted(cases: Iterable[Xml.Element], tag: str) -> int:
    return sum(case.find(tag) is not None for case in cases)


def _case(circuit: Circuit, verdict: Verdict) -> Xml.Element:
    case = Xml.Element(
        "testcase",
        {"name": verdict.property, "classname": circuit.name, "time": f"{verdict.seconds:.3f}"},
    )
    if verdict.word != "holds":
        tag = "failure" if verdict.word == "breached" else "error"
        said = {"type": verdict.word, "message": _sayable(outcome(verdict))}
        Xml.SubElement(case, tag, said).text = _sayable("\n".join(_about(circuit, verdict)))
    return case


def _health(circuit: Circuit, findings: Iterable[Finding]) -> Xml.Element:
    case = Xml.Element("testcase", {"name": HEALTH, "classname": circuit.name, "time": "0.000"})
    errors = [found(finding) for finding in findings if finding.weight == "error"]
    if errors:
        said = {"type": "health", "message": _sayable(errors[0])}
        Xml.SubElement(case, "error", said).text = _sayable("\n".join(errors))
    return case


def _about(circuit: Circuit, verdict: Verdict) -> Iterator[str]:
    asked = circuit.properties[verdict.property]
    if asked.title:
        yield f'"{asked.title}"'
    yield sentence(asked.sentence, units(circuit))
    if verdict.sequence is not None:
        certain = verdict.word != "undecided"
        yield from _told(story(circuit, verdict.sequence, asked, certain=certain))


def _told(tale: Story) -> Iterator[str]:
    yield tale.start
    for number, item in enumerate(tale.items, start=1):
        yield f"{number}) {item.text}"
        yield from (f"   - {part}" for part in item.parts)
    yield from tale.ending


def _sayable(text: str) -> str:
    return _UNSAYABLE.sub("?", text)
