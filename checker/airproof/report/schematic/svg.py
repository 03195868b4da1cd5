"""The picture as SVG text."""

from __future__ import annotations

from xml.etree import ElementTree as Xml

from airproof.report.schematic import metrics
from airproof.report.schematic.canvas import SIZES, Canvas, Point, clean, number

NAMESPACE = "http://www.w3.org/2000/svg"


def document(pen: Canvas, size: Point, title: str, described: str) -> str:
    """The whole picture, black on white; it says what it is to those who cannot see it."""
    width, height = number(size[0]), number(size[1])
    root = Xml.Element(
        "svg",
        {
            "xmlns": NAMESPACE,
            "class": "schematic",
            "viewBox": f"0 0 {width} {height}",
            "width": width,
            "height": height,
            "role": "img",
        },
    )
    Xml.SubElement(root, "title").text = clean(title)
    Xml.SubElement(root, "desc").text = clean(described)
    Xml.SubElement(root, "style").text = style()
    Xml.SubElement(root, "rect", {"class": "paper", "width": width, "height": height})
    root.append(pen.element)
    Xml.indent(root, space=" ")
    return Xml.tostring(root, encoding="unicode") + "\n"


def style(within: str = ".schematic ") -> str:
    """The rules for what stands within such elements; `` for a page that uses definitions."""
    shapes = {
        "paper": "fill:#fff",
        "s": "fill:none;stroke:#000;stroke-width:1.1",
        "w": "fill:none;stroke:#000;stroke-width:2.8",
        "p": "fill:#fff;stroke:#000;stroke-width:1.1",
        "f": "fill:#000;stroke:none",
        "k": "fill:#000;stroke:none",
        "c": "fill:none;stroke:#777;stroke-width:0.7",
        "mark-changed": "fill:none;stroke:#000;stroke-width:2.2;stroke-dasharray:9 4",
        "mark-new": "fill:none;stroke:#000;stroke-width:3",
        "mark-gone": "fill:none;stroke:#000;stroke-width:2.4;stroke-dasharray:2 4",
        "pilot": "fill:none;stroke:#000;stroke-width:1;stroke-dasharray:4 2.5",
    }
    texts = {
        kind: f"font:{'bold ' if bold else ''}{number(size)}px {metrics.FAMILY};"
        "fill:#000;unicode-bidi:plaintext"
        for kind, (size, bold) in SIZES.items()
    }
    return "".join(f"{within}.{kind}{{{rule}}}" for kind, rule in (shapes | texts).items())
