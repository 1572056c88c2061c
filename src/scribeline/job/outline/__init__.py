"""Body outlines: built-in shapes of our own, or an edge read from a DXF or SVG file."""

from scribeline.job.outline.import_file import Along, SeenFrom, read_outline_file
from scribeline.job.outline.ring import Outline, OutlineError

__all__ = ["Along", "Outline", "OutlineError", "SeenFrom", "read_outline_file"]
