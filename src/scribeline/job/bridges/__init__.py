"""Bridges as a job states them: one module a kind, told apart by `kind`."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from scribeline.job.bridges.plate import BridgeScrew, PlateBridge, plate_screw
from scribeline.job.bridges.stated import Bridge, Loading

USUAL = "plate"
"""The kind of a bridge whose table names none."""

KINDS: dict[str, type[Bridge]] = {
    module.name: import_module(f"{__name__}.{module.name}").KIND
    for module in iter_modules(__path__)
    if module.name not in {"stated", "sprung"}
}
"""Every kind by what the job calls it, which is its module's name."""


class OneKind:
    """Annotation of a bridge: it is of the kind that its table names, or of the usual one."""

    kinds = KINDS

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator: that of the kind named."""
        choices = {name: handler.generate_schema(kind) for name, kind in KINDS.items()}
        return core_schema.tagged_union_schema(choices, _named)


def _named(table: Any) -> Any:
    return table.get("kind", USUAL) if isinstance(table, dict) else getattr(table, "kind", USUAL)


AnyBridge = Annotated[Bridge, OneKind()]

__all__ = ["KINDS", "AnyBridge", "Bridge", "BridgeScrew", "Loading", "PlateBridge", "plate_screw"]
