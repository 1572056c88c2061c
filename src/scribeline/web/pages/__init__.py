"""The pages: one module a family, each with its `PAGE` and its `router`. A new module here is a new page."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules
from types import ModuleType


def every_page() -> tuple[ModuleType, ...]:
    """The page modules in the order of their places in the row."""
    found = [import_module(f"{__name__}.{each.name}") for each in iter_modules(__path__)]
    pages = [module for module in found if hasattr(module, "PAGE")]
    return tuple(sorted(pages, key=lambda module: (module.PAGE.order, module.PAGE.title)))
