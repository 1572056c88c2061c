"""Drawings: one sheet model in millimetres and its writers (SVG, DXF, PDF)."""
