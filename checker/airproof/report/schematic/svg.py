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
    Xml.SubElement(root, "style").text = _style()
    Xml.SubElement(root, "rect", {"class": "paper", "width": width, "height": height})
    root.append(pen.element)
    Xml.indent(root, space=" ")
    return Xml.tostring(root, encoding="unicode") + "\n"


def _style() -> str:
    texts = "".join(
        f".schematic .{kind}{{font:{'bold ' if bold else ''}{number(size)}px {metrics.FAMILY};"
        f"fill:#000;unicode-bidi:plaintext}}"
        for kind, (size, bold) in SIZES.items()
    )
    return (
        ".schematic .paper{fill:#fff}"
        ".schematic .s{fill:none;stroke:#000;stroke-width:1.1}"
        ".schematic .w{fill:none;stroke:#000;stroke-width:2.8}"
        ".schematic .p{fill:#fff;stroke:#000;stroke-width:1.1}"
        ".schematic .f{fill:#000;stroke:none}"
        ".schematic .k{fill:#000;stroke:none}"
        ".schematic .c{fill:none;stroke:#777;stroke-width:0.7}"
        ".schematic .pilot{fill:none;stroke:#000;stroke-width:1;stroke-dasharray:4 2.5}" + texts
    )
