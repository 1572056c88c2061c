"""Body outlines: built-in shapes of our own, an edge read from a DXF or SVG file, or a fair curve through a few handles."""

from scribeline.job.outline.handles import Drawn, Handle, Tightest, through_handles
from scribeline.job.outline.import_file import Along, SeenFrom, read_outline_file
from scribeline.job.outline.ring import BODY, HEAD, Outline, OutlineError, OutlineOf
from scribeline.job.outline.shapes import Measures, Named, built_in, named_places, shape_measures, shape_names

__all__ = [
    "BODY",
    "HEAD",
    "Along",
    "Drawn",
    "Handle",
    "Measures",
    "Named",
    "Outline",
    "OutlineError",
    "OutlineOf",
    "SeenFrom",
    "Tightest",
    "built_in",
    "named_places",
    "read_outline_file",
    "shape_measures",
    "shape_names",
    "through_handles",
]
