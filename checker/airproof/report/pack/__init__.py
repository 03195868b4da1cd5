"""The hazard-meeting pack: one HTML file that needs nothing else."""

from airproof.report.pack.comparing import ComparisonPack, render_comparison
from airproof.report.pack.keys import key_of
from airproof.report.pack.page import Pack, render
from airproof.report.pack.records import Present

__all__ = ["ComparisonPack", "Pack", "Present", "key_of", "render", "render_comparison"]
