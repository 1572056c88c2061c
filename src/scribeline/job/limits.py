"""A builder's own limits: the job's [limits] table, whose keys are those of the table of limits."""

from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import (
    BaseModel,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationInfo,
    create_model,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from scribeline.job.values import Mm, refuse
from scribeline.lengths import in_unit
from scribeline.tables import LimitRow, limit_rows


@dataclass(frozen=True, slots=True)
class OwnLimit:
    """What a builder set in place of a usual limit.

    Attributes:
        stop: level past which the work must not go on; None where there is none.
        caution: level past which it is told.
    """

    stop: float | None
    caution: float


@dataclass(frozen=True, slots=True)
class OwnLevels:
    """Annotation of one limit: a level to be told from, or a table with stop and caution."""

    row: LimitRow

    @property
    def thing(self) -> str:
        """What it is, for sentences."""
        return self.row.what

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator."""
        return core_schema.with_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the limit to editors."""
        level = {"anyOf": [{"type": "number"}, {"type": "string"}]}
        keys = ("caution",) if self.row.stop is None else ("stop", "caution")
        table = {"type": "object", "properties": dict.fromkeys(keys, level), "additionalProperties": False}
        return {
            "anyOf": [*level["anyOf"], table],
            "description": f"{self.row.what}; usually {in_unit(self.row.levels(), 'mm')}",
        }

    def _read(self, value: object, info: ValidationInfo) -> OwnLimit:
        row = self.row
        stated = value if isinstance(value, dict) else {"caution": value}
        allowed = {"caution"} if row.stop is None else {"stop", "caution"}
        if not stated or set(stated) - allowed:
            raise refuse(
                f"wanted a level, or a table with {' and '.join(sorted(allowed, reverse=True))} such as {self._example()}"
            )
        levels = {key: self._level(each, info) for key, each in stated.items()}
        if row.stop is None:
            return OwnLimit(None, levels["caution"])
        better = min if row.worse == "below" else max
        stop = levels.get("stop", better(row.stop, levels.get("caution", row.stop)))
        caution = levels.get("caution", row.caution)
        if better(stop, caution) != stop:
            if "caution" in levels:
                raise refuse(
                    f"stop ({stop:g}) and caution ({caution:g}) are the wrong way round: caution comes first, "
                    f"and stop further {row.worse} it"
                )
            caution = stop
        return OwnLimit(stop, caution)

    def _level(self, value: object, info: ValidationInfo) -> float:
        row = self.row
        if row.unit == "mm":
            return Mm(row.least, row.most, row.what).read(value, info)
        if isinstance(value, bool) or not isinstance(value, int | float) or not -inf < value < inf:
            raise refuse(f'wanted a number from {row.least:g} to {row.most:g} for {row.what}, got "{value}"')
        if not row.least <= value <= row.most:
            raise refuse(f"{row.what} is {value:g}; it should lie between {row.least:g} and {row.most:g}")
        return float(value)

    def _example(self) -> str:
        row = self.row
        if row.stop is None:
            return f"{{ caution = {row.caution:g} }}"
        return f"{{ stop = {row.stop:g}, caution = {row.caution:g} }}"


class _Limits(BaseModel):
    """Your own limits in place of the usual ones, at your own risk; every one, with its reason, in docs/limits.md.

    A bare value is the level from which a finding is told (caution); the stop level then stays where it is, or comes
    along where the new level is laxer still. `bore_web = { stop = 0.5, caution = 1.0 }` sets both.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)

    def of(self, key: str) -> OwnLimit | None:
        """The limit of a key, if it was set."""
        own: OwnLimit | None = getattr(self, key) if key in type(self).model_fields else None
        return own

    def own(self) -> dict[str, OwnLimit]:
        """The limits that were set, by key."""
        every = {key: getattr(self, key) for key in type(self).model_fields}
        return {key: each for key, each in every.items() if each is not None}


if TYPE_CHECKING:
    Limits = _Limits
else:
    Limits = create_model(
        "Limits",
        __base__=_Limits,
        __doc__=_Limits.__doc__,
        **{
            row.key: (
                Annotated[OwnLimit | None, OwnLevels(row)],
                None,
            )
            for row in limit_rows().values()
        },
    )
"""The [limits] table: one optional key for every row of the table of limits."""
