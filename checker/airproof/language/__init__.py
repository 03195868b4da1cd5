"""The language of circuits: from text to tree, from tree to data, and back to tidy text."""

from airproof.language.load import Loaded, load, load_text
from airproof.language.parser import parse
from airproof.language.printer import print_document
from airproof.language.tidying import tidy

__all__ = ["Loaded", "load", "load_text", "parse", "print_document", "tidy"]
