"""Sentences for what is wrong with a text as it is written: letters, words, layout."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

TEXT: Mapping[str, str] = MappingProxyType({})
