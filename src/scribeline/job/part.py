"""Bought parts: what a caliper measures on them, with gaps filled from the parts book; wood screws."""

from collections.abc import Sequence
from typing import Annotated, Any, ClassVar, Self

from pydantic import Field, GetJsonSchemaHandler, model_validator
from pydantic.json_schema import JsonSchemaValue, SkipJsonSchema
from pydantic_core import CoreSchema

from scribeline import tables
from scribeline.job.parts_book import book_entry, shelf_names
from scribeline.job.table import Table
from scribeline.job.values import Dimension, Mm, refuse
from scribeline.lengths import quoted


class Part(Table):
    """A bought part: dimensions a caliper can measure, gaps filled from the parts book.

    A dimension with ± was measured; one without is typical until somebody measures it.
    """

    shelf: ClassVar[str]

    part: str | None = Field(
        default=None,
        description="entry of the parts book that fills what is not stated",
        title="from the parts book",
    )
    measured: Annotated[float | None, Mm(0.001, 2, "the ± of the measurements")] = Field(
        default=None, description="± to which every dimension stated with it was measured"
    )
    filled_from_book: SkipJsonSchema[tuple[str, ...]] = Field(default=(), exclude=True, repr=False)

    @model_validator(mode="before")
    @classmethod
    def _fill(cls, data: Any) -> Any:
        if not isinstance(data, dict):
            return data
        if "filled_from_book" in data:
            raise refuse("'filled_from_book' is not a key of this table; remove it")
        stated = dict(data)
        if "measured" in stated:
            for key, value in data.items():
                if cls._is_dimension(key) and _is_unmarked(value):
                    stated[key] = f"{value} +/- {stated['measured']}"
        if "part" not in stated:
            return stated
        entry = book_entry(cls.shelf, stated["part"])
        if entry is None:
            known = ", ".join(f'"{name}"' for name in shelf_names(cls.shelf))
            raise refuse(
                f"the parts book has no {cls.shelf} called {quoted(str(stated['part']))}; it has {known}"
            )
        filled = {key: value for key, value in entry.items() if key not in stated}
        return {**filled, **stated, "filled_from_book": tuple(filled)}

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Tell editors that a part from the parts book needs nothing else stated."""
        described = super().__get_pydantic_json_schema__(schema, handler)
        needed = described.pop("required", [])
        described["anyOf"] = [{"required": ["part"]}, {"required": needed}, *cls._otherwise(needed)]
        return described

    @classmethod
    def _otherwise(cls, needed: Sequence[str]) -> list[dict[str, list[str]]]:
        """What else may be stated in place of what is needed."""
        return []

    @classmethod
    def _is_dimension(cls, key: str) -> bool:
        field = cls.model_fields.get(key)
        return field is not None and field.annotation in {Dimension, Dimension | None}

    def typical_dimensions(self) -> dict[str, Dimension]:
        """Dimensions nobody has measured yet, by key."""
        values = {key: getattr(self, key) for key in type(self).model_fields}
        return {
            key: value for key, value in values.items() if isinstance(value, Dimension) and not value.measured
        }

    @classmethod
    def called(cls, key: str) -> str:
        """What a dimension is called at the bench, such as "plate's width"."""
        notes = cls.model_fields[key].metadata
        thing = next((note.thing for note in notes if isinstance(note, Mm)), key.replace("_", " "))
        return thing.removeprefix("the ")


def _is_unmarked(value: object) -> bool:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return False
    return not any(mark in str(value) for mark in ("+/-", "±", "+-", "typical"))


class WoodScrew(Part):
    """A wood screw: thread and root measured, or typical for its gauge."""

    shelf = "wood screw"

    gauge: int | None = Field(
        default=None,
        ge=0,
        le=24,
        description="wood-screw gauge; gives typical thread and root",
        json_schema_extra={"anyOf": [{"type": "integer", "minimum": 0, "maximum": 24}, {"type": "string"}]},
        title="number of the screw's gauge",
    )
    thread: Annotated[Dimension, Mm(1.5, 8, "the screw's thread diameter")]
    root: Annotated[Dimension, Mm(1, 7, "the screw's root diameter")]
    length: Annotated[Dimension, Mm(6, 80, "the screw's length")]
    lengths_owned: tuple[Annotated[float, Mm(3, 80, "a screw's length")], ...] = Field(
        default=(),
        description="other lengths of this screw in the drawer",
        title="other lengths in the drawer",
    )

    @classmethod
    def _otherwise(cls, needed: Sequence[str]) -> list[dict[str, list[str]]]:
        return [{"required": ["gauge", *(key for key in needed if key not in {"thread", "root"})]}]

    @model_validator(mode="before")
    @classmethod
    def _from_gauge(cls, data: Any) -> Any:
        if not isinstance(data, dict) or "gauge" not in data:
            return data
        gauge = data["gauge"]
        if isinstance(gauge, str) and gauge.strip().lstrip("#").isdecimal():
            data = {**data, "gauge": int(gauge.strip().lstrip("#"))}
        elif isinstance(gauge, bool) or not isinstance(gauge, int):
            raise refuse(f'wanted gauge as a whole number such as 8, got "{gauge}"')
        try:
            screw = tables.wood_screw(data["gauge"])
        except ValueError as fault:
            raise refuse(str(fault)) from fault
        typical = {"thread": f"{screw.diameter:.3f} mm typical", "root": f"{screw.root:.3f} mm typical"}
        return {**typical, **data}

    @model_validator(mode="after")
    def _root_inside_thread(self) -> Self:
        if self.root.mm >= self.thread.mm:
            raise refuse(
                f"root ({self.root.mm:g} mm) must be smaller than thread ({self.thread.mm:g} mm): measure the root "
                "in the valley between two turns, the thread over the crests"
            )
        return self
