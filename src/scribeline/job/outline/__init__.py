"""Body outlines: built-in shapes of our own, or an edge read from a DXF or SVG file."""

from scribeline.job.outline.import_file import Along, SeenFrom, read_outline_file
from scribeline.job.outline.ring import Outline, OutlineError
from scribeline.job.outline.shapes import Measures, built_in, shape_measures, shape_names

__all__ = [
    "Along",
    "Measures",
    "Outline",
    "OutlineError",
    "SeenFrom",
    "built_in",
    "read_outline_file",
    "shape_measures",
    "shape_names",
]
