"""The circuit drawn: symbols, lines and a table of what moves what, as one SVG picture."""

from airproof.report.schematic.drawing import Plan, draw, plan
from airproof.report.schematic.film import Film, Studio

__all__ = ["Film", "Plan", "Studio", "draw", "plan"]
