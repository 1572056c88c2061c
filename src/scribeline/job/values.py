"""Values a job file can hold: lengths in any shop form, dimensions of parts, gauges, angles.

The document is read once, at the door. Every length arrives as text or a bare number, takes the job's unit
when it carries none, and leaves as plain millimetres. The job's unit travels in pydantic's validation context.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import degrees, isfinite, sqrt
from typing import Any, TypeVar, get_args

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from scribeline import lengths
from scribeline.lengths import JobUnit, Length, LengthError, either_way, read_angle, read_gauge, read_length
from scribeline.tables.paper import read_paper
from scribeline.tables.timber import NEWTON_PER_POUND_FORCE, Timber, timber

MM_PER_INCH = float(lengths.MM_PER_INCH)

TYPICAL_PLUS_MINUS = 0.3
"""± given to a part's dimension nobody measured, mm (from memory: lists and packets are seldom better)."""


RULE_READS = 0.5
"""± to which a steel rule is read by eye, mm: half of its millimetre to either side (common practice)."""

FEELER_READS = 0.1
"""± that any gauge made for small things holds, mm (common practice)."""


def widest_measured(mm: float) -> float:
    """The widest ± of a length that still counts as measured, mm.

    What a rule gives, or a hundredth of a longer length, as a tape laid by hand does; of a short one no more than a
    third, since beyond that the largest it may be is twice the smallest, and its size is not known.
    """
    return max(FEELER_READS, min(max(RULE_READS, abs(mm) / 100), abs(mm) / 3))


def refuse(sentence: str) -> PydanticCustomError:
    """A fault whose message is this sentence, whatever braces the builder typed into it."""
    return PydanticCustomError("bench", "{sentence}", {"sentence": sentence})


@dataclass(frozen=True, slots=True)
class Reading:
    """What the validators need to know about the document being read.

    Attributes:
        unit: of its bare numbers.
        timbers: of the builder's own, by name.
    """

    unit: JobUnit
    timbers: Mapping[str, Timber] = field(default_factory=dict)


def standard_deviation(plus_minus: float) -> float:
    """Standard deviation of a ± of half-width a that says no more: a/√3 (JCGM 100:2008, 4.3.7)."""
    return plus_minus / sqrt(3)


@dataclass(frozen=True, slots=True)
class Dimension:
    """One dimension of a part, with how well it is known.

    Attributes:
        mm: the value, mm.
        plus_minus: half-width of the band it was measured or is believed to lie in, mm.
        measured: True when the builder measured it, False when it is typical or its ± is too wide to be a measurement.
    """

    mm: float
    plus_minus: float
    measured: bool

    @property
    def sd(self) -> float:
        """Standard deviation that its ± stands for, mm."""
        return standard_deviation(self.plus_minus)

    @property
    def standing(self) -> str:
        """How well it is known, in bench words."""
        if self.measured:
            return f"measured ±{self.plus_minus:g}"
        return "its ± is too wide for a measurement" if self.too_wide else "not yet measured"

    @property
    def too_wide(self) -> bool:
        """Whether a ± was written that no measurement has."""
        return self.plus_minus > max(widest_measured(self.mm), TYPICAL_PLUS_MINUS)


T = TypeVar("T")


def _shown(value: object) -> str:
    names: dict[type, str] = {bool: "true or false", list: "a list", dict: "a table", type(None): "nothing"}
    return names.get(type(value)) or lengths.quoted(str(value))


def _read(value: object, reader: Callable[[str | int | float], T], wanted: str) -> T:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise refuse(f"wanted {wanted}, got {_shown(value)}")
    try:
        return reader(value)
    except LengthError as fault:
        raise refuse(str(fault)) from fault


def _plausible(mm: float, low: float, high: float, thing: str) -> None:
    """Query a length outside the range it can sensibly have; never mend it."""
    if low <= mm <= high:
        return
    hint = ""
    if low <= mm * MM_PER_INCH <= high:
        hint = f' Did you mean inches? Write "{mm:g} in".'
    elif low <= mm / MM_PER_INCH <= high:
        hint = f' Did you mean millimetres? Write "{mm / MM_PER_INCH:g} mm".'
    raise refuse(
        f"{thing} reads as {either_way(mm)}; it should lie between {either_way(low, high, places=None)}.{hint}"
    )


@dataclass(frozen=True, slots=True)
class Mm:
    """Annotation of a length: how it is read and the range in which it is plausible.

    On a `float` field the value becomes millimetres; on a `Dimension` field it keeps whether and how well it
    was measured.

    Attributes:
        low: smallest plausible value, mm.
        high: largest plausible value, mm.
        thing: what the number is, for sentences.
    """

    low: float
    high: float
    thing: str

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator for the annotated type."""
        of_part = source is Dimension or Dimension in get_args(source)
        validate = self._dimension if of_part else self.read
        return core_schema.with_info_plain_validator_function(validate)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the length to editors; its range stands under a key of our own, for a bare number may be inches."""
        return {
            "anyOf": [{"type": "number"}, {"type": "string"}],
            "description": f"{self.thing}: a number in the job's unit, or text such as '12 19/32 in' or "
            "'44.4 mm +/- 0.1' (measured, with its ±)",
            "x-millimetres": [self.low, self.high],
        }

    def _read(self, value: object, info: ValidationInfo) -> Length:
        unit = info.context.unit if isinstance(info.context, Reading) else "mm"
        length = _read(
            value, lambda text: read_length(text, unit=unit), "a length such as 44.4, '15/64 in' or '44.4 mm'"
        )
        _plausible(length.mm, self.low, self.high, self.thing)
        return length

    def read(self, value: object, info: ValidationInfo) -> float:
        """A length in mm, in the job's unit where it carries none; refused outside the range."""
        return self._read(value, info).mm

    def _dimension(self, value: object, info: ValidationInfo) -> Dimension:
        typical = isinstance(value, str) and value.strip().lower().endswith("typical")
        text = value.strip()[: -len("typical")].strip(" ,") if typical and isinstance(value, str) else value
        length = self._read(text, info)
        if length.plus_minus_mm is None:
            return Dimension(length.mm, TYPICAL_PLUS_MINUS, measured=False)
        too_wide = length.plus_minus_mm > widest_measured(length.mm) + 1e-9
        return Dimension(length.mm, length.plus_minus_mm, measured=not (typical or too_wide))


def as_stated(value: object, metadata: Sequence[object]) -> str | int | float | bool | None:
    """A field's default as a job file would state it: an angle in degrees, a length with its unit; None for none.

    Args:
        value: the default as it is held.
        metadata: of the field.
    """
    if isinstance(value, Dimension):
        return f"{value.mm:g} mm"
    if isinstance(value, float) and any(isinstance(note, Degrees) for note in metadata):
        return round(degrees(value), 6)
    if isinstance(value, float) and any(isinstance(note, Mm) for note in metadata):
        return f"{value:g} mm"
    return value if isinstance(value, str | int | float | bool) else None


@dataclass(frozen=True, slots=True)
class PaperName:
    """Annotation of the paper prints are made on, held by its name in the paper table or as "roll 610 mm"."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator."""
        return core_schema.with_info_plain_validator_function(self._paper)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the paper to editors."""
        return {"type": "string"}

    @staticmethod
    def _paper(value: object, info: ValidationInfo) -> str:
        unit = info.context.unit if isinstance(info.context, Reading) else "mm"
        if not isinstance(value, str):
            raise refuse(f'wanted a paper such as "A4", "Letter" or "610 mm", got {_shown(value)}')
        try:
            paper = read_paper(value, unit=unit)
        except ValueError as fault:
            raise refuse(str(fault)) from fault
        return paper if isinstance(paper, str) else paper.name


@dataclass(frozen=True, slots=True)
class TimberName:
    """Annotation of a timber: named in the job, held with all that is known of it."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator."""
        return core_schema.with_info_plain_validator_function(self._timber)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the timber to editors."""
        return {"type": "string", "description": "a timber of the tables, or one of [[timbers]]"}

    @staticmethod
    def _timber(value: object, info: ValidationInfo) -> Timber:
        if isinstance(value, Timber):
            return value
        if not isinstance(value, str):
            raise refuse(f'wanted the name of a timber such as "red alder", got {_shown(value)}')
        own = info.context.timbers if isinstance(info.context, Reading) else {}
        if value in own:
            return own[value]
        try:
            return timber(value)
        except ValueError as fault:
            raise refuse(f"{fault}; a timber that no table has is stated under [[timbers]]") from fault


_FORCES = {"n": 1.0, "kn": 1000.0, "lbf": NEWTON_PER_POUND_FORCE}


@dataclass(frozen=True, slots=True)
class Hardness:
    """Annotation of a timber's side hardness: newtons, or text such as "1330 N", "4 kN" or "300 lbf"."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator."""
        return core_schema.no_info_plain_validator_function(self._newtons)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the hardness to editors."""
        return {"anyOf": [{"type": "number"}, {"type": "string"}]}

    @staticmethod
    def _newtons(value: object) -> float:
        wanted = 'the side hardness in newtons, such as 2600, "2600 N" or "590 lbf"'
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise refuse(f"wanted {wanted}, got {_shown(value)}")
        found = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(N|kN|lbf)?\s*", str(value), re.IGNORECASE)
        if found is None:
            raise refuse(f"wanted {wanted}, got {_shown(value)}")
        newtons = float(found[1].replace(",", ".")) * _FORCES[(found[2] or "N").lower()]
        if not 100 <= newtons <= 25_000:
            raise refuse(
                f"a side hardness of {newtons:.0f} N cannot be: woods lie between 100 and 25000 N; {wanted}"
            )
        return newtons


@dataclass(frozen=True, slots=True)
class InFile:
    """A coordinate of a drawing file, as it is stated.

    Attributes:
        number: in the file's own units, or in mm.
        is_mm: whether it was typed as a length, with its unit.
    """

    number: float
    is_mm: bool = False

    def in_units(self, mm_per_unit: float) -> float:
        """The coordinate in the file's own units."""
        return self.number / mm_per_unit if self.is_mm else self.number


@dataclass(frozen=True, slots=True)
class FileCoordinate:
    """Annotation of a coordinate in a drawing file: a bare number is in the file's units, a length in its own."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator."""
        return core_schema.no_info_plain_validator_function(self._coordinate)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the coordinate to editors."""
        return {"anyOf": [{"type": "number"}, {"type": "string"}]}

    @staticmethod
    def _coordinate(value: object) -> InFile:
        wanted = "a number in the file's units, or a length such as '7 7/8 in' or '200 mm'"
        mm = _read(value, read_length, wanted).mm
        bare = not isinstance(value, str) or value.strip().lstrip("+-").replace(".", "", 1).isdigit()
        if isinstance(value, float) and not isfinite(value):
            raise refuse(f"wanted {wanted}, got {value}")
        return InFile(mm, is_mm=not bare)


@dataclass(frozen=True, slots=True)
class StringGauge:
    """Annotation of a string's diameter: read as players say it ('.010', 10, '0.26 mm'), held in mm."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator."""
        return core_schema.no_info_plain_validator_function(self._gauge)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the gauge to editors."""
        return {"anyOf": [{"type": "number"}, {"type": "string"}], "description": "'.010', 10 or '0.26 mm'"}

    @staticmethod
    def _gauge(value: object) -> float:
        mm = _read(value, read_gauge, "a string gauge such as '.010', 10 or '0.26 mm'").mm
        _plausible(mm, 0.15, 4.0, "the string's gauge")
        return mm


@dataclass(frozen=True, slots=True)
class Degrees:
    """Annotation of an angle: typed in degrees, held in radians."""

    low_deg: float
    high_deg: float
    thing: str

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Build the validator."""
        return core_schema.no_info_plain_validator_function(self._angle)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the angle to editors."""
        return {
            "anyOf": [{"type": "number"}, {"type": "string"}],
            "description": f"{self.thing}, degrees",
            "x-degrees": [self.low_deg, self.high_deg],
        }

    def _angle(self, value: object) -> float:
        angle_rad = _read(value, read_angle, "an angle in degrees such as 26.5")
        shown = degrees(angle_rad)
        if not self.low_deg <= shown <= self.high_deg:
            raise refuse(
                f"{self.thing} is {shown:g}°; it should lie between {self.low_deg:g} and {self.high_deg:g}°"
            )
        return angle_rad
