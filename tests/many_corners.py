"""A job whose body is drawn by hand in very many short pieces, none of them straight on."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import shapely
from ezdxf.filemanagement import new

from scribeline.job import parse_job
from scribeline.layout import Ring
from scribeline.plan import plan


def many_cornered(folder: Path, text: str, corners: int) -> Path:
    """The job's own outline in a file of so many corners, waving by 0.05 mm; and the job that names it."""
    ring = waved(plan(*parse_job(text)).layout.outline, corners)
    drawing = new()
    drawing.units = 4
    drawing.modelspace().add_lwpolyline(shapely.get_coordinates(ring.exterior)[:-1].tolist(), close=True)
    drawing.saveas(folder / "many.dxf")
    table = '[body.outline]\nfile = "many.dxf"\norigin = [0, 0]\n'
    path = folder / "many.toml"
    path.write_text(re.sub(r"\[body\.outline\]\n(?:[^\[\n].*\n)*", table, text), encoding="utf-8")
    return path


def waved(outline: Ring, corners: int) -> shapely.Polygon:
    edge = shapely.LinearRing(outline)
    along = np.arange(corners) / corners
    places = shapely.get_coordinates(shapely.line_interpolate_point(edge, along, normalized=True))
    way = np.roll(places, -1, axis=0) - np.roll(places, 1, axis=0)
    outwards = np.column_stack([way[:, 1], -way[:, 0]]) / np.hypot(*way.T)[:, np.newaxis]
    return shapely.Polygon(places + 0.05 * np.sin(2 * np.pi * 700 * along)[:, np.newaxis] * outwards)
