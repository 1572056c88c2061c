"""Bridges as a job states them: one module a kind, told apart by `kind`."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from scribeline.job.bridges.plate import BridgeScrew, PlateBridge, plate_screw
from scribeline.job.bridges.stated import Bridge, Loading

KINDS: dict[str, type[Bridge]] = {"plate": PlateBridge}
"""Every kind by what the job calls it, the usual one first."""


class OneKind:
    """Annotation of a bridge: it is of the kind that its table names, or of the usual one."""

    kinds = KINDS

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator: that of the kind named."""
        choices = {name: handler.generate_schema(kind) for name, kind in KINDS.items()}
        return core_schema.tagged_union_schema(choices, _named)


def _named(table: Any) -> Any:
    usual = next(iter(KINDS))
    return table.get("kind", usual) if isinstance(table, dict) else getattr(table, "kind", usual)


AnyBridge = Annotated[Bridge, OneKind()]

__all__ = ["KINDS", "AnyBridge", "Bridge", "BridgeScrew", "Loading", "PlateBridge", "plate_screw"]
