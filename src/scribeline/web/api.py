"""The JSON side of the app: the same plan.json, jobs and their revisions, what was done and read, files and backup.

Everything is in millimetres. A change says which revision it was made from (`based_on`); if somebody saved meanwhile
nothing is written and the answer is 409 with both changes. Refusals are a sentence in `detail`.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request, Response
from fastapi import Path as InPath
from fastapi.responses import PlainTextResponse
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from scribeline.findings import may_happen, told_alike
from scribeline.job import Measurement, set_value
from scribeline.layout import Doubtful, Typed, entered
from scribeline.lengths import in_unit, quoted
from scribeline.operations import cuts_of
from scribeline.plan import Plan
from scribeline.plan.record import finding_record, record
from scribeline.steps import Answer, Card, Gate, accepted, answered, as_measured, reopens
from scribeline.store import (
    BitKept,
    GateReading,
    JobEntry,
    JobList,
    Measured,
    OverrideKept,
    PartEntry,
    Put,
    Revision,
    StoreError,
    Tick,
)
from scribeline.web.shop import Shop, backup_of, shop_of, who
from scribeline.web.standing import go_on_against, keep_depth, last_read, where_it_stands
from scribeline.web.told import ConflictOut, Told, ToldRoute

REFUSALS: dict[int | str, dict[str, Any]] = {
    400: {"model": Told},
    403: {"model": Told},
    404: {"model": Told},
    413: {"model": Told},
    422: {"model": Told},
    503: {"model": Told},
}

router = APIRouter(prefix="/api", route_class=ToldRoute, responses=REFUSALS)

LARGEST = 2**53
"""Beyond it a number of JSON is no longer exact."""

JobId = Annotated[int, InPath(ge=1, le=LARGEST, description="number of the job in the shop's store")]
Number = Annotated[int, Field(ge=1, le=LARGEST, description="number of a revision")]
CardId = Annotated[str, InPath(min_length=1, max_length=120, description="id of the step card")]
Mm = Annotated[float, Field(ge=-3000, le=3000, allow_inf_nan=False, description="mm")]
Text = Annotated[str, Field(max_length=300_000, description="the job file")]
Why = Annotated[str, Field(max_length=300, description="what for, in a few words")]
CONFLICT: dict[int | str, dict[str, Any]] = {409: {"model": ConflictOut}}


class In(BaseModel):
    """What a request may say; unknown keys are refused."""

    model_config = ConfigDict(extra="forbid")


class PutOut(BaseModel):
    """By whom and when a job was put where it is."""

    by: str
    at: AwareDatetime


class JobOut(BaseModel):
    """One job in the list: `list` says in which one it stands."""

    id: int
    name: str
    revision: int
    at: AwareDatetime
    by: str
    units: str
    handed: str
    list: JobList
    archived: PutOut | None
    deleted: PutOut | None


class RevisionOut(BaseModel):
    """One revision, without its text."""

    job_id: int
    number: int
    at: AwareDatetime
    by: str
    why: str
    kind: Literal["edit", "undo", "redo"]


class RevisionText(RevisionOut):
    """One revision with its text."""

    text: str


class NewJob(In):
    """A new job."""

    text: Text
    why: Why = ""


class ImportedJob(In):
    """A job file with what was recorded for it."""

    text: str = Field(max_length=3_000_000)


class CopiedJob(In):
    """Under which name a job is copied."""

    name: str = Field(min_length=1, max_length=1000)
    once: str = Field(
        default="", max_length=64, description="a key of your own: sent again with it, there is one copy"
    )


class NewRevision(In):
    """The whole job file as it shall be."""

    text: Text
    based_on: Number
    why: Why = ""


class NewValue(In):
    """One value of the job file."""

    key: str = Field(min_length=1, max_length=200, description="such as bridge.spacing or strings[2].gauge")
    value: str | int | float | bool = Field(description="text as in the job file, such as '10.6 +/- 0.05'")
    based_on: Number
    why: Why = ""


class BasedOn(In):
    """Which revision a change begins from."""

    based_on: Number


class TickIn(In):
    """A step done."""

    revision: Number = Field(description="revision of the job the step was done by")


class TickOut(BaseModel):
    """A step done, with the cuts exactly as they were made."""

    card: str
    by: str
    at: AwareDatetime
    revision: int
    cuts: list[dict[str, Any]]


class AskIn(In):
    """One of several readings that a gate asks for."""

    ask: str = Field(min_length=1, max_length=120, description="its id, as the step's gate lists it")
    value_mm: Mm


class AskOut(BaseModel):
    """One of several readings, with the limits of its own that it was accepted for at the builder's risk."""

    ask: str
    value_mm: float
    low: float | None = None
    high: float | None = None


class ReadingIn(In):
    """What was read at a gate: a reading, or each of several, or yes or no."""

    card: str = Field(min_length=1, max_length=120, description="id of the step card whose gate it is")
    value_mm: Mm | None = None
    values: list[AskIn] = Field(
        default=[], max_length=100, description="each reading, where the gate asks for several"
    )
    yes: bool | None = None
    with_what: str = Field(default="", max_length=120, description="what it was measured with")
    risk: str = Field(
        default="",
        max_length=120,
        description="why the work goes on although the gate does not pass; it holds for the limits of that revision alone",
    )
    revision: Number = Field(description="revision of the job the gate belongs to")


class MeasurementIn(In):
    """One reading of one of the plan's numbers."""

    what: str = Field(min_length=1, max_length=120, description="which: the id of a measurable in plan.json")
    value_mm: Mm
    plus_minus: float | None = Field(default=None, gt=0, le=100, description="how far it may be off, mm")
    with_what: str = Field(default="", max_length=120, description="what it was read with")
    note: str = Field(default="", max_length=200)
    anew: bool = Field(
        default=False, description="something was moved: earlier readings of the same count no more"
    )
    sure: bool = Field(default=False, description="keep it however far it is from what is expected")


class MeasurementOut(BaseModel):
    """One measurement of the record, with its number there."""

    no: int
    what: str
    value_mm: float
    plus_minus: float | None
    by: str
    with_what: str
    at: AwareDatetime
    revision: int
    note: str
    anew: bool
    struck: str
    struck_by: str


class StrikeIn(In):
    """Why a measurement counts no more."""

    why: str = Field(min_length=1, max_length=150)


class ReadingOut(BaseModel):
    """What was read, and whether it lets the work go on (null where the plan has no such gate).

    `low` and `high` are the limits for which it was accepted at the builder's own risk.
    """

    card: str
    value_mm: float | None
    yes: bool | None
    by: str
    with_what: str
    revision: int
    at: AwareDatetime
    risk: str = ""
    low: float | None = None
    high: float | None = None
    values: list[AskOut] = []
    passes: bool | None = None


class OverrideIn(In):
    """A stop to go on against, named as `findings` tells it."""

    code: str = Field(min_length=1, max_length=120, description="of the stop")
    features: list[str] = Field(default=[], max_length=500, description="the cuts it is about")
    value: float | None = Field(default=None, allow_inf_nan=False, description="the number it found")
    reason: str = Field(min_length=1, max_length=1000, description="why the work goes on all the same")
    revision: Number = Field(description="revision of the job it was told by")


class OverrideOut(BaseModel):
    """A stop gone on against: what it said, why the work goes on, by whom and when; `counts` until it is taken back."""

    number: int
    code: str
    features: list[str]
    value: float | None
    limit: float | None
    says: str
    reason: str
    risk: str
    by: str
    at: AwareDatetime
    revision: int
    counts: bool


class MeasuredIn(In):
    """One measured dimension."""

    value: Mm
    plus_minus: Annotated[float, Field(gt=0, le=10, allow_inf_nan=False)]
    with_what: str = Field(default="", max_length=120)


class MeasuredOut(MeasuredIn):
    """One measured dimension, by whom and when."""

    by: str
    at: AwareDatetime
    stated: str = Field(description="as a job file takes it")


class PartOut(BaseModel):
    """One part of the shop's parts book."""

    shelf: str
    name: str
    dimensions: dict[str, MeasuredOut]
    details: dict[str, Any]


class PartIn(In):
    """Measurements of one part; those not given stay."""

    dimensions: dict[str, MeasuredIn] = Field(default={}, max_length=60)
    details: dict[str, Any] = Field(default={}, max_length=60)


class BitIn(In):
    """One bit in the drill box."""

    kind: Literal["twist", "brad_point", "flat_bottomed", "router"]
    size: str = Field(min_length=1, max_length=30, description="as the builder says it: 3.5 or 15/64")
    point: Annotated[float, Field(ge=0, le=25, allow_inf_nan=False)] | None = None
    reach: Annotated[float, Field(ge=5, le=600, allow_inf_nan=False)] | None = None


class Texts(In):
    """The records of finished instruments, or the shop's tests, as their file has them."""

    text: str = Field(max_length=3_000_000)


class FileOut(BaseModel):
    """A file the job names."""

    name: str
    size: int
    by: str
    at: AwareDatetime


# Jobs and their revisions


@router.get("/jobs", tags=["jobs"])
def jobs(
    request: Request,
    which: Annotated[
        Literal["open", "archived", "deleted", "every"],
        Query(alias="list", description="those at work, archived, deleted, or every one"),
    ] = "open",
) -> list[JobOut]:
    """The jobs at work, the last touched first; those archived or deleted only if they are asked for."""
    found = shop_of(request).store.jobs(None if which == "every" else which)
    return [_entry(each) for each in found]


@router.post("/jobs", tags=["jobs"], status_code=201)
def create(request: Request, job: NewJob) -> RevisionOut:
    """A new job; a text with faults is kept all the same, one that is no TOML is not."""
    return _revision(shop_of(request).store.create(job.text, by=who(request), why=job.why))


@router.post("/import", tags=["jobs"], status_code=201)
def bring_in(request: Request, job: ImportedJob) -> RevisionOut:
    """A new job from an exported file; what it carries of steps done and readings becomes the job's."""
    return _revision(shop_of(request).store.import_(job.text, who(request)))


@router.get("/jobs/{job_id}", tags=["jobs"])
def newest(request: Request, job_id: JobId) -> RevisionText:
    """The newest revision of a job."""
    return _with_text(shop_of(request).store.revision(job_id))


@router.delete("/jobs/{job_id}", tags=["jobs"])
def delete(request: Request, job_id: JobId) -> JobOut:
    """Delete a job: all about it answers 404 until it is restored. It is kept whole, for good."""
    return _entry(shop_of(request).store.delete(job_id, by=who(request)))


@router.post("/jobs/{job_id}/restore", tags=["jobs"])
def restore(request: Request, job_id: JobId) -> JobOut:
    """Have a deleted job back as it was."""
    return _entry(shop_of(request).store.restore(job_id, by=who(request)))


@router.post("/jobs/{job_id}/archive", tags=["jobs"])
def archive(request: Request, job_id: JobId) -> JobOut:
    """Take a job out of the list of those at work; it can be read and changed as before."""
    return _entry(shop_of(request).store.archive(job_id, by=who(request)))


@router.post("/jobs/{job_id}/unarchive", tags=["jobs"])
def unarchive(request: Request, job_id: JobId) -> JobOut:
    """Put an archived job back among those at work."""
    return _entry(shop_of(request).store.unarchive(job_id, by=who(request)))


@router.post("/jobs/{job_id}/copy", tags=["jobs"], status_code=201)
def copy(request: Request, job_id: JobId, asked: CopiedJob) -> RevisionOut:
    """A new job with the text and the files of another; nothing of what was done or read for that one."""
    store = shop_of(request).store
    return _revision(store.copy(job_id, asked.name, by=who(request), once=asked.once))


@router.get("/jobs/{job_id}/revisions", tags=["jobs"])
def revisions(request: Request, job_id: JobId) -> list[RevisionOut]:
    """Every revision of a job, oldest first."""
    return [_revision(each) for each in shop_of(request).store.history(job_id)]


@router.get("/jobs/{job_id}/revisions/{number}", tags=["jobs"])
def revision(
    request: Request, job_id: JobId, number: Annotated[int, InPath(ge=1, le=LARGEST)]
) -> RevisionText:
    """One revision of a job."""
    return _with_text(shop_of(request).store.revision(job_id, number))


@router.post("/jobs/{job_id}/revisions", tags=["jobs"], status_code=201, responses=CONFLICT)
def save(request: Request, job_id: JobId, edit: NewRevision) -> RevisionOut:
    """Save the whole text. If it is what stands there already, nothing is written and that comes back."""
    store = shop_of(request).store
    return _revision(store.save(job_id, edit.text, based_on=edit.based_on, by=who(request), why=edit.why))


@router.post("/jobs/{job_id}/values", tags=["jobs"], status_code=201, responses=CONFLICT)
def change(request: Request, job_id: JobId, edit: NewValue) -> RevisionOut:
    """Change one value of the job file, its comments and order kept."""
    store = shop_of(request).store
    text, _ = set_value(store.revision(job_id, edit.based_on).text, edit.key, edit.value)
    return _revision(store.save(job_id, text, based_on=edit.based_on, by=who(request), why=edit.why))


@router.post("/jobs/{job_id}/undo", tags=["jobs"], status_code=201, responses=CONFLICT)
def undo(request: Request, job_id: JobId, edit: BasedOn) -> RevisionOut:
    """A new revision with the text from before the last edit that still stands."""
    return _revision(shop_of(request).store.undo(job_id, based_on=edit.based_on, by=who(request)))


@router.post("/jobs/{job_id}/redo", tags=["jobs"], status_code=201, responses=CONFLICT)
def redo(request: Request, job_id: JobId, edit: BasedOn) -> RevisionOut:
    """A new revision with the text that the last undo took away."""
    return _revision(shop_of(request).store.redo(job_id, based_on=edit.based_on, by=who(request)))


@router.get(
    "/jobs/{job_id}/export",
    tags=["jobs"],
    response_model=None,
    responses={200: {"content": {"text/plain": {"schema": {"type": "string"}}}}},
)
def export(
    request: Request,
    job_id: JobId,
    with_record: Annotated[bool, Query(description="with what was done and read for it")] = True,
) -> PlainTextResponse:
    """The job as the file that the commands read."""
    return PlainTextResponse(shop_of(request).store.export(job_id, with_record=with_record))


# The plan


@router.get("/jobs/{job_id}/plan", tags=["plan"])
def plan(request: Request, job_id: JobId) -> dict[str, Any]:
    """plan.json of the newest revision, cuts that are made standing as they were made."""
    return record(_plan(request, job_id))


@router.get("/jobs/{job_id}/findings", tags=["plan"])
def findings(request: Request, job_id: JobId) -> list[dict[str, Any]]:
    """What should be known before cutting, stops first."""
    return [finding_record(finding) for finding in _plan(request, job_id).findings]


@router.get("/jobs/{job_id}/steps", tags=["plan"])
def steps(request: Request, job_id: JobId) -> list[dict[str, Any]]:
    """The steps in their order: how each stands, who did it, what was last read at its gate, the stops that keep it."""
    planned, store = _plan(request, job_id), shop_of(request).store
    done = {tick.card_id: _tick(tick).model_dump(mode="json") for tick in store.ticks(job_id)}
    read = {each.gate_id: _reading(each, planned).model_dump(mode="json") for each in store.readings(job_id)}
    found = {each.card.id: each for each in where_it_stands(store, job_id, planned)}
    return [
        {
            **step,
            "state": found[step["id"]].state,
            "reopened": found[step["id"]].reopened,
            "done": done.get(step["id"]),
            "reading": read.get(step["id"]),
        }
        for step in record(planned, with_quantities=False)["steps"]
    ]


# The bench


@router.get("/jobs/{job_id}/ticks", tags=["bench"])
def ticks(request: Request, job_id: JobId) -> list[TickOut]:
    """The steps that are done, with what they cut."""
    return [_tick(each) for each in shop_of(request).store.ticks(job_id)]


@router.put("/jobs/{job_id}/ticks/{card}", tags=["bench"])
def tick(request: Request, job_id: JobId, card: CardId, done: TickIn) -> TickOut:
    """Mark a step done: what it cut stays where that revision's plan had it, as deep as its gate's reading says.

    Not while a stop keeps it from being begun, by that revision's plan or by the newest: cure it, or go on against it
    deliberately (`overrides`).
    """
    planned = _plan(request, job_id, done.revision)
    for each in (planned, _plan(request, job_id)):
        if stops := each.stopped.get(card, ()):
            told = "; ".join(f"{stop.message} ({stop.code})" for stop in stops)
            raise HTTPException(422, f"DO NOT CUT: {told}")
    store, step = shop_of(request).store, _card(planned, card)
    cuts = as_measured(cuts_of(step, planned.every_cut), step.gate, last_read(store, job_id, card))
    features = [cut.plain for cut in cuts]
    return _tick(store.tick(job_id, card, by=who(request), revision=done.revision, features=features))


@router.delete("/jobs/{job_id}/ticks/{card}", tags=["bench"], status_code=204)
def untick(request: Request, job_id: JobId, card: CardId) -> Response:
    """Take a tick back that was made by mistake."""
    shop_of(request).store.untick(job_id, card, by=who(request))
    return Response(status_code=204)


@router.get("/jobs/{job_id}/readings", tags=["bench"])
def readings(request: Request, job_id: JobId) -> list[ReadingOut]:
    """Everything read at the gates, oldest first; the newest of a gate counts."""
    return [_reading(each, None) for each in shop_of(request).store.readings(job_id)]


@router.post("/jobs/{job_id}/readings", tags=["bench"], status_code=201)
def read(request: Request, job_id: JobId, reading: ReadingIn) -> ReadingOut:
    """Note what was read at a gate; the answer says whether it passes."""
    planned = _plan(request, job_id, reading.revision)
    card, store = _card(planned, reading.card), shop_of(request).store
    gate, answer = card.gate, _answer(card.gate, reading)
    kept = store.read(
        job_id,
        reading.card,
        answer.value,
        yes=answer.yes,
        by=who(request),
        with_what=reading.with_what,
        revision=reading.revision,
        risk=reading.risk,
        limits=(gate.low, gate.high),
        values=answer.values,
    )
    keep_depth(store, job_id, card, Answer.of(kept), by=who(request))
    return _reading(kept, planned)


@router.get("/jobs/{job_id}/measurements", tags=["bench"])
def measurements(request: Request, job_id: JobId) -> list[MeasurementOut]:
    """Everything measured of the plan's numbers, oldest first; what is struck through counts no more."""
    kept = shop_of(request).store.measurements(job_id)
    return [_measurement(no, each) for no, each in enumerate(kept, start=1)]


@router.post("/jobs/{job_id}/measurements", tags=["bench"], status_code=201)
def measure(request: Request, job_id: JobId, given: MeasurementIn) -> MeasurementOut:
    """Note a measurement of one of the plan's numbers; a reading far from what is expected only with `sure`."""
    planned, store = _plan(request, job_id), shop_of(request).store
    check = planned.check(given.what)
    if check is None:
        raise HTTPException(
            422, f"the plan has no number {quoted(given.what)} that can be measured; /plan lists them"
        )
    typed = Typed("", who(request), given.with_what, given.note, anew=given.anew, sure=given.sure)
    number = store.revision(job_id).number
    try:
        entry = entered(check, typed, given.value_mm, given.plus_minus, at=datetime.now(UTC), revision=number)
    except Doubtful as fault:
        raise HTTPException(422, in_unit(str(fault), "mm")) from fault
    kept = store.measure(job_id, entry)
    return _measurement(len(store.measurements(job_id)), kept)


@router.post("/jobs/{job_id}/measurements/{number}/strike", tags=["bench"], status_code=204)
def strike_measurement(
    request: Request, job_id: JobId, number: Annotated[int, InPath(ge=1, le=LARGEST)], why: StrikeIn
) -> Response:
    """Strike a measurement through, with the reason; it stays on the record."""
    shop_of(request).store.strike(job_id, number, why=why.why, by=who(request))
    return Response(status_code=204)


@router.get("/jobs/{job_id}/overrides", tags=["bench"])
def overrides(request: Request, job_id: JobId) -> list[OverrideOut]:
    """Every stop that was gone on against, oldest first; those taken back too."""
    return [_override(each) for each in shop_of(request).store.overrides(job_id, every=True)]


@router.post("/jobs/{job_id}/overrides", tags=["bench"], status_code=201)
def override(request: Request, job_id: JobId, given: OverrideIn) -> OverrideOut:
    """Go on against a stop that stands, with a reason; it holds while the stop says the same and no worse."""
    store = shop_of(request).store
    if given.revision != store.revision(job_id).number:
        raise HTTPException(422, "the job was saved meanwhile; look at its findings once more")
    for stop in _plan(request, job_id).stops:
        same = stop.code == given.code and set(stop.features) == set(given.features)
        if same and told_alike(stop.value, given.value):
            kept = go_on_against(
                store, job_id, stop, reason=given.reason, by=who(request), revision=given.revision
            )
            return _override(kept)
    message = "no DO NOT CUT has that code, those cuts and that number; /findings lists what there is"
    raise HTTPException(422, message)


@router.delete("/jobs/{job_id}/overrides/{number}", tags=["bench"], status_code=204)
def take_override_back(
    request: Request, job_id: JobId, number: Annotated[int, InPath(ge=1, le=LARGEST)]
) -> Response:
    """Take an override back: the stop keeps its steps from being begun again."""
    shop_of(request).store.take_override_back(job_id, number, by=who(request))
    return Response(status_code=204)


# Files, parts, bits, finished instruments, backup


@router.get("/jobs/{job_id}/files", tags=["files"])
def files(request: Request, job_id: JobId) -> list[FileOut]:
    """The files kept with a job, such as the drawing of its outline."""
    kept = shop_of(request).store.attachments(job_id)
    return [FileOut(name=each.name, size=each.size, by=each.by, at=each.at) for each in kept]


@router.put(
    "/jobs/{job_id}/files/{name}",
    tags=["files"],
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
        }
    },
)
async def attach(
    request: Request, job_id: JobId, name: Annotated[str, InPath(min_length=1, max_length=100)]
) -> FileOut:
    """Keep a drawing (SVG or DXF) or a records file (TOML) with a job."""
    from fastapi.concurrency import run_in_threadpool

    from scribeline.web.uploads import checked

    content = await request.body()
    checked(name, content)
    store = shop_of(request).store
    kept = await run_in_threadpool(store.attach, job_id, name, content, by=who(request))
    return FileOut(name=kept.name, size=kept.size, by=kept.by, at=kept.at)


@router.get("/parts", tags=["shop"])
def parts(request: Request, shelf: Annotated[str | None, Query(max_length=60)] = None) -> list[PartOut]:
    """The shop's own parts, each dimension as it was last measured."""
    return [_part(each) for each in shop_of(request).store.parts(shelf)]


@router.put("/parts/{shelf}/{name}", tags=["shop"])
def save_part(
    request: Request,
    shelf: Annotated[str, InPath(min_length=1, max_length=60)],
    name: Annotated[str, InPath(min_length=1, max_length=60)],
    part: PartIn,
) -> PartOut:
    """Note measurements of a part; those not given stay."""
    now, by = datetime.now(UTC), who(request)
    dimensions = {
        key: Measured(each.value, each.plus_minus, by, each.with_what, now)
        for key, each in part.dimensions.items()
    }
    return _part(shop_of(request).store.save_part(shelf, name, dimensions, details=part.details))


@router.get("/bits", tags=["shop"])
def bits(request: Request) -> list[BitIn]:
    """The bits in the drill box."""
    return [_bit(each) for each in shop_of(request).store.bits()]


@router.put("/bits", tags=["shop"])
def save_bits(request: Request, box: Annotated[list[BitIn], Field(max_length=500)]) -> list[BitIn]:
    """Put the whole drill box in place of the former one."""
    kept = [BitKept(each.kind, each.size, each.point, each.reach) for each in box]
    return [_bit(each) for each in shop_of(request).store.save_bits(kept, by=who(request))]


@router.get("/calibrations", tags=["shop"])
def calibrations(request: Request) -> Texts:
    """The records of the shop's finished instruments, as their file has them."""
    return Texts(text=shop_of(request).store.calibrations())


@router.put("/calibrations", tags=["shop"], status_code=204)
def save_calibrations(request: Request, records: Texts) -> Response:
    """Keep the records of finished instruments."""
    shop_of(request).store.save_calibrations(records.text, by=who(request))
    return Response(status_code=204)


@router.get("/shop-tests", tags=["shop"])
def shop_tests(request: Request) -> Texts:
    """The tests of the shop's machines and hands, as their file has them."""
    return Texts(text=shop_of(request).store.shop_tests())


@router.put("/shop-tests", tags=["shop"], status_code=204)
def save_shop_tests(request: Request, tests: Texts) -> Response:
    """Keep the shop's tests: those that were kept before, struck through or not, and any more."""
    shop_of(request).store.save_shop_tests(tests.text, by=who(request))
    return Response(status_code=204)


@router.get(
    "/backup",
    tags=["shop"],
    response_model=None,
    responses={
        200: {"content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}}
    },
)
def backup(request: Request) -> Response:
    """The whole store as one checked file."""
    return backup_of(shop_of(request))


@router.api_route("/{rest:path}", methods=["GET", "POST", "PUT", "DELETE"], include_in_schema=False)
def nothing_here(rest: str) -> None:
    """Say that there is no such address."""
    del rest
    raise HTTPException(404, "there is nothing at this address; /openapi.json lists what there is")


def _plan(request: Request, job_id: int, number: int | None = None) -> Plan:
    """The plan of a revision, with what is done today."""
    shop: Shop = shop_of(request)
    changes = shop.store.changes(job_id)
    text = shop.store.revision(job_id, number).text
    planned = shop.planner.plan(text, shop.beside(job_id), shop.record(job_id))
    if number is None:
        shop.glances.saw(job_id, changes, planned)
    return planned


def _card(planned: Plan, name: str) -> Card:
    found = next((card for card in planned.cards if card.id == name), None)
    if found is None:
        message = f"the plan has no step {name[:60]!a}; its steps are listed under /steps"
        raise StoreError(message)
    return found


def _entry(each: JobEntry) -> JobOut:
    return JobOut(
        id=each.id,
        name=each.name,
        revision=each.revision,
        at=each.at,
        by=each.by,
        units=each.units,
        handed=each.handed,
        list=each.place,
        archived=_put(each.archived),
        deleted=_put(each.deleted),
    )


def _put(each: Put | None) -> PutOut | None:
    return None if each is None else PutOut(by=each.by, at=each.at)


def _revision(each: Revision) -> RevisionOut:
    return RevisionOut(
        job_id=each.job_id, number=each.number, at=each.at, by=each.by, why=each.why, kind=each.kind
    )


def _with_text(each: Revision) -> RevisionText:
    return RevisionText(**_revision(each).model_dump(), text=each.text)


def _tick(each: Tick) -> TickOut:
    cuts = [dict(cut) for cut in each.features]
    return TickOut(card=each.card_id, by=each.by, at=each.at, revision=each.revision, cuts=cuts)


def _answer(gate: Gate, reading: ReadingIn) -> Answer:
    """What was read at a gate.

    Raises:
        HTTPException: of several readings some are missing, or are of no gate's.
    """
    if not reading.values and not (reading.value_mm is not None and gate.asks and gate.counts == "each"):
        return Answer(reading.value_mm, reading.yes)
    read = {each.ask: each.value_mm for each in reading.values}
    asks = [ask.id for ask in gate.asks]
    if sorted(asks) != sorted(each.ask for each in reading.values) or reading.yes is not None:
        raise HTTPException(422, f"this gate asks for one reading of each of: {', '.join(asks) or 'none'}")
    answer = answered(gate, [read[ask] for ask in asks])
    return accepted(gate, answer, reading.risk) if reading.risk else answer


def _measurement(no: int, each: Measurement) -> MeasurementOut:
    return MeasurementOut(
        no=no, **{name: getattr(each, name) for name in MeasurementOut.model_fields if name != "no"}
    )


def _reading(each: GateReading, planned: Plan | None) -> ReadingOut:
    return ReadingOut(
        card=each.gate_id,
        value_mm=each.value_mm,
        yes=each.yes,
        by=each.by,
        with_what=each.with_what,
        revision=each.revision,
        at=each.at,
        risk=each.risk,
        low=each.low,
        high=each.high,
        values=[AskOut(**value.model_dump()) for value in each.values],
        passes=None if planned is None else _passes(each, planned),
    )


def _passes(reading: GateReading, planned: Plan) -> bool | None:
    card = next((card for card in planned.cards if card.id == reading.gate_id), None)
    return None if card is None else not reopens(card, Answer.of(reading))


def _override(each: OverrideKept) -> OverrideOut:
    return OverrideOut(
        number=each.id,
        code=each.code,
        features=list(each.features),
        value=each.value,
        limit=each.limit,
        says=each.says,
        reason=each.reason,
        risk=may_happen(each.code),
        by=each.by,
        at=each.at,
        revision=each.revision,
        counts=each.taken_back_at is None,
    )


def _part(each: PartEntry) -> PartOut:
    dimensions = {
        key: MeasuredOut(
            value=m.value, plus_minus=m.plus_minus, with_what=m.with_what, by=m.by, at=m.at, stated=m.stated
        )
        for key, m in each.dimensions.items()
    }
    return PartOut(shelf=each.shelf, name=each.name, dimensions=dimensions, details=dict(each.details))


def _bit(each: BitKept) -> BitIn:
    return BitIn(kind=each.kind, size=each.size, point=each.point, reach=each.reach)
