"""The circuit drawn: symbols, lines and a table of what moves what, as one SVG picture."""

from airproof.report.schematic.drawing import Plan, draw, plan

__all__ = ["Plan", "draw", "plan"]
