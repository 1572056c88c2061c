"""The demo's invented instruments: one to build, one with a mistake in it."""

from __future__ import annotations

from importlib.resources import files


def demo_jobs() -> dict[str, str]:
    """The demo's job files by name."""
    folder = files("scribeline.scenario")
    return {
        name: folder.joinpath(name).read_text(encoding="utf-8")
        for name in ("marram.toml", "marram-too-thin.toml")
    }
