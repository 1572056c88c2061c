"""A kind of bridge that the package does not have: three modules beside it, and nothing of it changed.

`beside` has to be called before anything of the package is imported: in a process of its own.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder
from pathlib import Path
from types import ModuleType

_HERE = Path(__file__).parent
_PLACES = {f"scribeline.{room}.bridges": _HERE / room for room in ("job", "layout", "web")}


class _Beside(MetaPathFinder):
    """Finds the packages of kinds as they are, with one more folder to look for modules in."""

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if fullname not in _PLACES:
            return None
        found = PathFinder.find_spec(fullname, path, target)
        if found is not None and found.submodule_search_locations is not None:
            found.submodule_search_locations.append(str(_PLACES[fullname]))
        return found


def beside() -> None:
    """Let the package find the kinds of this folder."""
    assert "scribeline.job" not in sys.modules
    sys.meta_path.insert(0, _Beside())
