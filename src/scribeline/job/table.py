"""What every table of the job file has in common, and the places stated in it."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal, NamedTuple

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from scribeline.job.values import Mm, as_stated
from scribeline.lengths import without_marks

Hand = Literal["right", "left"]
Face = Annotated[Literal["top", "back"], Field(title="cut from")]
Datum = Annotated[Literal["nut", "12th fret", "pocket end", "scale line"], Field(title="measured along from")]
X = Annotated[float, Mm(-400, 1500, "a position along the instrument")]
Y = Annotated[float, Mm(-400, 400, "a position across the instrument")]
XY = tuple[X, Y]


def _each_once(corners: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """The corners without those that repeat the one before: many programs close a ring by naming its first again."""
    once = tuple(corner for n, corner in enumerate(corners) if n == 0 or corner != corners[n - 1])
    return once[:-1] if len(once) > 1 and once[-1] == once[0] else once


CornersOnce = AfterValidator(_each_once)
"""Annotation of a closed outline's corners: one named twice in a row counts once."""
BuildersWord = Annotated[str, AfterValidator(without_marks)]
"""What the builder calls a thing, or the name of one that is called so: said as it stands ("6 mm dowel"), in any unit."""


class Way(NamedTuple):
    """One of several ways in which a table may be stated.

    Attributes:
        name: in bench words.
        keys: that state it.
        may: keys that may be stated besides, in this way and not in the others.
        sets: keys with the one value that goes with it.
    """

    name: str
    keys: tuple[str, ...] = ()
    may: tuple[str, ...] = ()
    sets: Mapping[str, Any] = {}


class Table(BaseModel):
    """One table of the job file: frozen, and strict about its keys.

    Where a job leaves a table out, `model_construct` gives its defaults: nothing is read then, so that no validator is built for
    that table alone. The modules of tables hold their annotations as they are and not as text (no `annotations` of `__future__`):
    of text every key is compiled again at every start.
    """

    ways: ClassVar[tuple[tuple[Way, ...], ...]] = ()
    """Groups of ways in which it may be stated, one of each: its validators refuse to mix them."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", allow_inf_nan=False, str_max_length=200, defer_build=True
    )

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Describe the table to editors, each default as a job would state it and not as it is held."""
        described = handler.resolve_ref_schema(handler(schema))
        for key, field in cls.model_fields.items():
            shown = described.get("properties", {}).get(key, {})
            if "default" not in shown:
                continue
            stated = as_stated(field.default, field.metadata)
            if stated is None:
                del shown["default"]
            else:
                shown["default"] = stated
        return described


def fault_in_ring(corners: tuple[XY, ...]) -> str:
    """What keeps a list of corners from being one closed outline; "" when nothing does."""
    import shapely

    if len(corners) < 3:
        return "needs three corners or more"
    ring = shapely.Polygon(corners)
    why = str(shapely.is_valid_reason(ring))  # such as "Self-intersection[620 -70]"
    if not ring.is_valid and "[" in why and len(set(corners)) > 2:
        place = ", ".join(f"{float(part):.2f}" for part in why.partition("[")[2].rstrip("]").split())
        return f"crosses or touches itself at ({place}) mm"
    return "encloses nothing" if ring.area < 1.0 else ""


HAIR = 1.0
"""What the chords of an outline may enclose by crossing, mm²: our own are rounded by short ones, which may touch."""


def crossing(corners: tuple[tuple[float, float], ...]) -> str:
    """What keeps an outline that was cut from being one; "" when nothing does, or nothing of a `HAIR` or more."""
    import shapely

    ring = shapely.Polygon(corners) if len(corners) > 2 else shapely.Polygon()
    if ring.is_valid:
        return "" if ring.area >= 1.0 else "encloses nothing"
    return fault_in_ring(corners) if abs(shapely.make_valid(ring).area - ring.area) >= HAIR else ""
