"""Procedure, technique and part files: TOML text to the nouns of the domain.

Reading and checking only.  No limit stands here; keeping what a Level III
adopted is the record book's business.
"""

from ndi.procedure_files.library import Document, Library, document_from_text, load_library
from ndi.procedure_files.parts import load_part
from ndi.procedure_files.procedures import load_procedure
from ndi.procedure_files.source import LARGEST_FILE
from ndi.procedure_files.techniques import load_technique
from ndi.procedure_files.templates import template
from ndi.procedure_files.words import ALL_RULES

__all__ = [
    "ALL_RULES",
    "LARGEST_FILE",
    "Document",
    "Library",
    "document_from_text",
    "load_library",
    "load_part",
    "load_procedure",
    "load_technique",
    "template",
]
