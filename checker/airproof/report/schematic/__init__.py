"""The circuit drawn: symbols, lines and a table of what moves what, as one SVG picture."""

from airproof.report.schematic.drawing import Plan, draw, plan
from airproof.report.schematic.film import Film, Moment, Shelf, Studio
from airproof.report.schematic.marking import Mark, plan_marked

__all__ = ["Film", "Mark", "Moment", "Plan", "Shelf", "Studio", "draw", "plan", "plan_marked"]
