"""The steps: one hole a screen, read with a drill running; gates that take a reading; what is done stays done."""

from __future__ import annotations

import json
import re
from collections.abc import Hashable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from hashlib import sha256
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends, Form, HTTPException, Query, Request
from fastapi.responses import FileResponse, JSONResponse, RedirectResponse, Response
from pydantic import Field

from scribeline.features import Bore, Feature, in_words
from scribeline.findings import Finding, may_happen
from scribeline.job import Cut, CutReading, JobError
from scribeline.layout import Typed as TypedReading
from scribeline.layout import entered
from scribeline.lengths import JobUnit, LengthError, in_unit, own_unit, read_length
from scribeline.operations import made_by_now
from scribeline.steps import Answer, Card, Gone, Standing, accepted, answered, as_measured, next_open
from scribeline.store import GateReading, OverrideKept, SentAlready, StoreError, Tick
from scribeline.web import drilled
from scribeline.web.drilled import Line, Printed, Shown, Trail, read_trail, written
from scribeline.web.edits import edited, kept_if_sound, said
from scribeline.web.fields import asked
from scribeline.web.frame import HERE, Opened, Page, key_of, open_job, render, templates
from scribeline.web.numbers import name_of
from scribeline.web.press import (
    MARK_WORDS,
    SAME_READING_MM,
    THICKNESS,
    Figure,
    Screen,
    drilled_numbers,
    mark_state,
    pictures_of,
    set_figures,
    set_ups_of,
    thickness_offered,
    where_figures,
)
from scribeline.web.shop import who
from scribeline.web.standing import go_on_against, keep_depth, lapsed, last_read, mark_of, where_it_stands

if TYPE_CHECKING:
    from scribeline.plan import Plan

PAGE = Page("steps", "Steps", 40)
router = APIRouter()

_NAME = re.compile(r"[\w.-]+")
"""Id of a step, in an address."""

# One screen


def _screen(
    job: Opened, plan: Plan, found: tuple[Standing, ...], index: int, *, hole: int, live: Live
) -> Screen:
    standing = found[index]
    card = standing.card
    count = max(1, len(card.places))
    hole = 1 if standing.stopped_by else min(max(hole, 1), count)
    place = card.places[hole - 1] if card.places else None
    if hole > 1:
        back = _address(job, card, hole - 1, live.trail)
    elif index:
        before = found[index - 1].card
        back = _address(job, before, len(before.places))
    else:
        back = ""
    shown = card
    if place is not None:
        own = tuple(cut for cut in card.cuts if cut.feature == place.feature)
        shown = replace(card, places=(place,), cuts=own)
    key = _picture_key(job, plan, shown)
    pictures = job.shop.pictures.once(key, lambda: pictures_of(plan, shown))
    return Screen(
        standing,
        place,
        hole,
        count,
        back,
        _address(job, card, hole + 1, live.onwards) if hole < count else "",
        where_figures(card, place, job.units),
        set_figures(plan, card, job.units),
        pictures,
        () if standing.state == "done" else drilled_numbers(plan, card),
    )


def _picture_key(job: Opened, plan: Plan, card: Card) -> Hashable:
    """What a screen's pictures hang on: what is planned, and what of it is in the wood when the step's turn comes.

    A step called done as it was planned changes neither, and its pictures need not be drawn again.
    """

    def checked() -> str:
        return sha256(
            repr((plan.layout, tuple(plan.every_cut), plan.operations, plan.cards)).encode()
        ).hexdigest()

    planned = job.shop.pictures.once(("planned", job.whole), checked)
    by_then = tuple(
        (each.id, len(each.steps) if isinstance(each, Bore) else 1) for each in plan.progress.before(card)
    )
    places = tuple(each.feature for each in card.places)
    return job.text, job.folder, planned, by_then, card.id, places


def _address(job: Opened, card: Card, hole: int = 0, trail: Trail = (), *, just: str = "") -> str:
    """A screen of a step, with what was on the screens of its holes that the builder went on from.

    Without a hole it is the screen of the first that is not made. With the step that was called done just before, it offers
    to take that back.
    """
    words = [f"hole={hole}"] if hole > 0 else []
    words += [f"on={written(trail)}"] if any(trail) else []
    words += [f"just={just}"] if _NAME.fullmatch(just) else []
    return f"/jobs/{job.id}/steps/{card.id}" + (f"?{'&'.join(words)}" if words else "")


# What was on the screen when it was drilled


@dataclass(frozen=True, slots=True)
class Live:
    """What a screen says of changes, and carries on of what was on it.

    Attributes:
        shown: the step as it is now.
        trail: what was on the screens that the builder went on from.
        onwards: the trail when the builder goes on from this one.
        done: the same when the step is called done here: holes never looked at count as looked at now.
        again: address by which this screen asks whether it is still as it was.
        news: what is otherwise since; None where nothing is.
    """

    shown: Shown
    trail: Trail
    onwards: Trail
    done: Trail
    again: str
    news: drilled.News | None

    @property
    def older(self) -> bool:
        """Whether some hole may have been drilled by other numbers than today's."""
        return any(each != self.shown.mark for each in self.done)


def _printed(units: JobUnit) -> Printed:
    """How the numbers of a step are printed in a job's own unit."""

    def lines(found: tuple[Figure, ...]) -> tuple[Line, ...]:
        return tuple(Line(each.label, f"{each.number} {each.unit}".strip()) for each in found)

    def gate(card: Card) -> tuple[Line, ...]:
        if card.gate.value is None:
            return ()
        wanted = (("at least", card.gate.low), ("at most", card.gate.high))
        return tuple(Line(f"gate, {what}", plain_example(mm, units)) for what, mm in wanted if mm is not None)

    return Printed(
        lambda plan, card: lines(set_figures(plan, card, units)),
        lambda card, place: lines(where_figures(card, place, units)),
        gate,
    )


def _shown(job: Opened, plan: Plan, card: Card) -> Shown:
    return drilled.shown_of(job, plan, card, job.revision.number, _printed(job.units))


def _live(job: Opened, plan: Plan, card: Card, hole: int, *, on: str, just: str = "") -> Live:
    shown = _shown(job, plan, card)
    count = len(shown.holes)
    hole = min(max(hole, 1), count)
    trail = read_trail(on, count)
    onwards = drilled.left(trail, hole, shown.mark)
    return Live(
        shown,
        trail,
        onwards,
        tuple(each or shown.mark for each in onwards),
        _address(job, card, hole, onwards, just=just),
        drilled.news(job, shown, trail, hole, _printed(job.units)),
    )


# Where the work stands


def found_at(job: Opened, plan: Plan) -> tuple[Standing, ...]:
    """Every step as it stands in the store."""
    return where_it_stands(job.shop.store, job.id, plan)


def _step(job: Opened, card_id: str) -> tuple[Plan, tuple[Standing, ...], int]:
    """The plan, where its steps stand, and the place of one among them.

    Raises:
        HTTPException: there is no such step, or the job cannot be read.
    """
    if job.plan is None:
        raise HTTPException(422, "The job cannot be read. Correct it under Parts first.")
    found = found_at(job, job.plan)
    for index, standing in enumerate(found):
        if standing.card.id == card_id:
            return job.plan, found, index
    raise HTTPException(404)


# Pages

Trailed = Annotated[str, Query(max_length=4000)]
"""What was on the screens of a step's holes, as an address carries it (`drilled`)."""

Named = Annotated[str, Query(max_length=200)]
"""The step that was called done a moment ago, as an address carries it."""


@router.get("/jobs/{job_id}/steps")
def all_steps(request: Request, job_id: int, just: Named = "") -> Response:
    """The order of work: what is done, what can be begun, what waits for what."""
    job = open_job(request, job_id)
    if job.plan is None:
        return render(request, "parts/index.html", PAGE, job, rows=[])
    found = found_at(job, job.plan)
    number = {each.card.id: each.card.no for each in found}
    return render(
        request,
        "steps/list.html",
        PAGE,
        job,
        found=found,
        setups=set_ups_of(found),
        mark_state=mark_state,
        mark_words=MARK_WORDS,
        just=_just_done(request, job, found, just),
        next=next_open(found),
        waits={each.card.id: sorted({number[need.first] for need in each.waits_for}) for each in found},
        moved=_stays(job.plan),
    )


@router.get("/holds.js")
def holds() -> Response:
    """The script that holds steps on a device: a browser lets it serve the pages beside it and under it alone."""
    return FileResponse(HERE / "static" / "holds.js", media_type="text/javascript")


@router.get("/jobs/{job_id}/next")
def next_step(request: Request, job_id: int) -> Response:
    """Straight to the step the work goes on with: one tap from anywhere."""
    job = open_job(request, job_id)
    step = None if job.plan is None else next_open(found_at(job, job.plan))
    return RedirectResponse(
        f"/jobs/{job_id}/steps" if step is None else _address(job, step.card), status_code=303
    )


MOST_HELD = 400
"""Screens that a page is given to hold: the steps that are not done come first."""


@router.get("/jobs/{job_id}/steps/all")
def every_step(request: Request, job_id: int) -> Response:
    """Every screen of every step, for a page to hold: it is walked on from there while the app does not answer."""
    job = open_job(request, job_id)
    if job.plan is None:
        raise HTTPException(422, "The job cannot be read. Correct it under Parts first.")
    plan = job.plan
    held = job.shop.pictures.once(("held", job.id, job.mark), lambda: _held(job, plan))
    return JSONResponse(held, headers={"Cache-Control": "no-store"})


def _held(job: Opened, plan: Plan) -> dict[str, Any]:
    """The screens, those of steps that are not done first, and each step's first that is not made."""
    found, bench = found_at(job, plan), _bench(job)
    screens: dict[str, str] = {}
    first: dict[str, int] = {}
    for index in sorted(range(len(found)), key=lambda index: found[index].state == "done"):
        card = found[index].card
        first[card.id] = _first_hole(plan, card)
        for hole in range(1, max(1, len(card.places)) + 1):
            if job.shop.live.is_closed:  # nobody waits for it any more
                raise HTTPException(503, "The app stops.")
            if len(screens) < MOST_HELD:
                screens[f"{card.id} {hole}"] = _bare(job, plan, found, index, hole=hole, bench=bench)
    return {"job": job.id, "mark": job.mark, "first": first, "screens": screens}


def _first_hole(plan: Plan, card: Card) -> int:
    """The screen of the first hole of a step that is not made."""
    made = _made(plan, card)
    return next((n for n, each in enumerate(card.places, start=1) if each.feature not in made), 1)


@router.get("/jobs/{job_id}/steps/{card_id}")
def one_step(
    request: Request, job_id: int, card_id: str, *, hole: int = 0, on: Trailed = "", just: Named = ""
) -> Response:
    """One step, one hole a screen; where none is named, the first that is not made."""
    job = open_job(request, job_id)
    plan, found, index = _step(job, card_id)
    card = found[index].card
    if hole < 1:
        hole = _first_hole(plan, card)
    return _show(request, job, plan, found, index, hole=hole, on=on, just=just)


def _just_done(request: Request, job: Opened, found: tuple[Standing, ...], card_id: str) -> Standing | None:
    """The step that this device called done a moment ago, to be taken back where that was a mistake."""
    mine = (
        {each.card_id for each in job.shop.store.ticks(job.id) if each.by == who(request)} if card_id else ()
    )
    return next((each for each in found if each.card.id == card_id and card_id in mine), None)


def _show(
    request: Request,
    job: Opened,
    plan: Plan,
    found: tuple[Standing, ...],
    index: int,
    *,
    hole: int = 1,
    on: str = "",
    just: str = "",
    status: int = 200,
    **told: Any,
) -> Response:
    live = _live(job, plan, found[index].card, hole, on=on, just=just)
    whole = _screen_told(job, plan, found, index, hole=hole, live=live, bench=_bench(job))
    if told.get("stale"):
        whole["on_done"] = written((live.shown.mark,) * len(live.trail))
    return render(
        request,
        "steps/step.html",
        PAGE,
        job,
        status=status,
        here="Live" not in request.headers or live.news is not None,
        just=_just_done(request, job, found, just),
        perhaps=found[index].state == "waits" and any(_on_a_screen(job, found[index].card, on)),
        **whole,
        **told,
    )


Bench = tuple[Sequence[Tick], Sequence[GateReading]]
"""The steps called done and the readings of a job."""


def _bench(job: Opened) -> Bench:
    return job.shop.store.ticks(job.id), job.shop.store.readings(job.id)


def _bare(
    job: Opened, plan: Plan, found: tuple[Standing, ...], index: int, *, hole: int, bench: Bench
) -> str:
    """One screen without the frame around it, for a page that has the frame."""
    live = _live(job, plan, found[index].card, hole, on="")
    told = _screen_told(job, plan, found, index, hole=hole, live=live, bench=bench)
    return templates().get_template("steps/step.html").render(told, job=job, bare=True)


def _screen_told(
    job: Opened,
    plan: Plan,
    found: tuple[Standing, ...],
    index: int,
    *,
    hole: int,
    live: Live,
    bench: Bench,
) -> dict[str, Any]:
    """What the template of a step is told."""
    card = found[index].card
    ticks, readings = bench
    after = found[index + 1].card if index + 1 < len(found) else None
    return {
        "screen": _screen(job, plan, found, index, hole=hole, live=live),
        "live": live,
        "setups": set_ups_of(found),
        "mark_state": mark_state,
        "mark_words": MARK_WORDS,
        "thickness": thickness_offered(job.document, found[index]),
        "on": written(live.trail),
        "on_done": written(live.done),
        "read": sum(each.gate_id == card.id for each in readings),
        "was": {each.label: each.was for each in live.news.differs} if live.news else {},
        "count": len(found),
        "numbers": {each.card.id: each.card for each in found},
        "tick": next((t for t in ticks if t.card_id == card.id), None),
        "after": _address(job, after) if after else "",
        "moved": _stays(plan, card),
        "stops": _stops(job, found[index]),
        "gone": _gone(job, card),
        "gate": _gate_told(card),
    }


def _gate_told(card: Card) -> str:
    """What a gate wants, for a page that must judge a reading while the app does not answer."""
    gate = card.gate
    asks = [[ask.low, ask.high] for ask in gate.asks]
    return json.dumps(
        {"yes": gate.value is None, "low": gate.low, "high": gate.high, "asks": asks, "counts": gate.counts}
    )


def _stays(plan: Plan, card: Card | None = None) -> list[tuple[str, str]]:
    """What the job would now have otherwise than it was cut: the cut, and was/now in words."""
    by_id: dict[str, Feature] = {each.id: each for each in plan.every_cut}
    return [
        (
            name_of(by_id[each.feature]) if each.feature in by_id else each.feature,
            in_unit(in_words(each), plan.unit),
        )
        for each in plan.moved
        if card is None or each.feature in card.features
    ]


Typed = Annotated[str, Field(max_length=60)]
"""One reading as it is typed."""

Key = Annotated[str, Form(max_length=60)]
"""What a device calls an act by, so that it is kept once however often it is sent."""

BY_SCRIPT = "Sends"
"""Header of what a page sends by itself: it is told where to go on instead of being led there."""


def _to(request: Request, address: str) -> Response:
    """On to an address, once what was sent is kept."""
    if BY_SCRIPT in request.headers:
        return JSONResponse({"to": address})
    return RedirectResponse(address, status_code=303)


@router.post("/jobs/{job_id}/steps/{card_id}/gate")
def answer_gate(
    request: Request,
    job_id: int,
    card_id: str,
    *,
    value: Annotated[list[Typed] | None, Form(max_length=100)] = None,
    yes: Annotated[str, Form(max_length=3)] = "",
    with_what: Annotated[str, Form(max_length=80)] = "",
    risk: Annotated[str, Form(max_length=100)] = "",
    hole: Annotated[int, Form()] = 1,
    on: Annotated[str, Form(max_length=4000)] = "",
    revision: Annotated[int, Form(ge=0)] = 0,
    known: Annotated[int | None, Form(ge=0)] = None,
    key: Key = "",
) -> Response:
    """Keep a reading or several, an answer, or the reason to go on against the gate.

    A screen that had no answer sends the same again, under the same key or with the number of readings it knew: it is kept once.
    """
    job = open_job(request, job_id)
    plan, found, index = _step(job, card_id)
    gate = found[index].card.gate
    trail = read_trail(on, max(1, len(found[index].card.places)))
    onwards = _to(request, _address(job, found[index].card, hole, trail) + "#gate")
    if job.shop.store.was_sent(job.id, key):
        answer = last_read(job.shop.store, job.id, card_id)
        if answer is not None:
            keep_depth(job.shop.store, job.id, found[index].card, answer, by=who(request))
        return onwards
    try:
        answer = _answer(job, found[index], value or (), yes, risk)
    except ValueError as fault:
        return _show(
            request,
            job,
            plan,
            found,
            index,
            hole=hole,
            on=on,
            status=422,
            wrong=str(fault),
            typed=value,
            risked=risk,
        )
    shown_by = revision if 0 < revision < job.revision.number else job.revision.number
    if (
        answer.risk and shown_by < job.revision.number
    ):  # what was accepted is so for the limits that were on the screen
        was = drilled.recalled(job, card_id, str(shown_by), _printed(job.units))
        gate = was.limits if was is not None and was.limits is not None else gate
    with suppress(SentAlready):  # by another window of the same device, a moment ago
        job.shop.store.read(
            job.id,
            card_id,
            answer.value,
            yes=answer.yes,
            by=who(request),
            with_what=with_what.strip(),
            revision=shown_by,
            known=known,
            risk=answer.risk,
            limits=(gate.low, gate.high),
            values=answer.values,
            key=key,
        )
    keep_depth(job.shop.store, job.id, found[index].card, answer, by=who(request))
    return onwards


def _answer(job: Opened, standing: Standing, typed: Sequence[str], yes: str, risk: str) -> Answer:
    """What a form's fields say; a risk is taken with what was read last.

    Raises:
        ValueError: they say nothing that can be kept, in words for beside the field.
    """
    gate = standing.card.gate
    if risk.strip():
        return accepted(gate, standing.answer, risk)
    if gate.value is None:
        if yes not in {"yes", "no"}:
            message = "say yes or no"
            raise ValueError(message)
        return Answer(yes=yes == "yes")
    if not any(each.strip() for each in typed):
        message = "type what you read, such as " + plain_example(gate.value, job.units)
        raise ValueError(message)
    return answered(gate, [read_length(each, unit=job.units).mm if each.strip() else None for each in typed])


def plain_example(mm: float, units: JobUnit) -> str:
    """A reading as a person of this job would type it."""
    return own_unit(mm, units)


async def _answers(request: Request) -> dict[str, str]:
    """What a person said each hole was drilled by, by the cut's id."""
    form = await request.form()
    return {key[len("hole ") :]: str(value) for key, value in form.items() if key.startswith("hole ")}


@router.post("/jobs/{job_id}/steps/{card_id}/done")
def tick(
    request: Request,
    job_id: int,
    card_id: str,
    *,
    revision: Annotated[int, Form()],
    on: Annotated[str, Form(max_length=4000)] = "",
    rest: Annotated[drilled.Rest, Form(alias="all")] = "",
    key: Key = "",
    answers: Annotated[dict[str, str], Depends(_answers)],
) -> Response:
    """Call a step done: what it cut is kept as it was cut, and never moves again.

    Each hole is kept with the numbers that were on its screen. Where the job has others by now, a person is asked.
    """
    job = open_job(request, job_id)
    found = () if job.plan is None else found_at(job, job.plan)
    index = next((n for n, each in enumerate(found) if each.card.id == card_id), None)
    now = None
    if job.plan is not None and index is not None:
        if found[index].state == "done" or job.shop.store.was_sent(job.id, key):
            return _to(request, _onwards(job, found, index))
        now = _shown(job, job.plan, found[index].card)
    trail = _stamped(on, now, revision)
    made = () if job.plan is None or index is None else _made(job.plan, found[index].card)
    done = drilled.done(
        job, card_id, now, trail, printed=_printed(job.units), answers=answers, rest=rest, made=made
    )
    waits = index is not None and found[index].state == "waits"
    if done.asked and not waits:
        return _to(request, _which(job, card_id, trail))
    if now is None and not done.cuts:
        if answers:  # it was never drilled, and there is nothing to keep
            return _to(request, f"/jobs/{job.id}/steps")
        raise HTTPException(404)
    if job.plan is not None and index is not None and now is not None:
        standing = found[index]
        if waits or not (standing.gate_is_open or done.passed(now, standing.answer)):
            last, kept = len(now.holes), written(done.trail)
            return _show(request, job, job.plan, found, index, hole=last, on=kept, status=422, shut=True)
    if done.stale and job.plan is not None and index is not None:
        return _show(request, job, job.plan, found, index, on=written(trail), status=409, stale=revision)
    newest = job.revision.number
    cuts = [
        Cut.model_validate({**cut, "revision": None if cut["revision"] == newest else cut["revision"]})
        for cut in done.cuts
    ]
    if index is not None:
        cuts = [*as_measured(cuts, found[index].card.gate, found[index].answer)]
    with suppress(SentAlready):
        job.shop.store.tick(
            job.id, card_id, by=who(request), revision=newest, features=[cut.plain for cut in cuts], key=key
        )
    return _to(request, _onwards(job, found, -1 if index is None else index))


def _made(plan: Plan, card: Card) -> tuple[str, ...]:
    """What a step cuts that the record has already."""
    return made_by_now(card, plan.record)


def _stamped(on: str, now: Shown | None, revision: int) -> Trail:
    """What was on the screen of each hole; of one that says nothing, the numbers of the page's own revision."""
    trail = read_trail(on, len(now.holes) if now is not None else drilled.length(on))
    own = now.mark if now is not None and now.revision == revision else str(max(revision, 0))
    return tuple(each or own for each in trail)


def _which(job: Opened, card_id: str, trail: Trail) -> str:
    return f"/jobs/{job.id}/steps/{card_id}/which?on={written(trail)}"


@router.get("/jobs/{job_id}/steps/{card_id}/which")
def which(request: Request, job_id: int, card_id: str, on: Trailed = "") -> Response:
    """Ask what each hole was drilled by whose numbers changed after they were on its screen."""
    job = open_job(request, job_id)
    card = next((each for each in job.plan.cards if each.id == card_id), None) if job.plan else None
    now = _shown(job, job.plan, card) if job.plan is not None and card is not None else None
    trail = _stamped(on, now, 0)
    made = () if job.plan is None or card is None else _made(job.plan, card)
    done = drilled.done(job, card_id, now, trail, printed=_printed(job.units), answers={}, made=made)
    if not done.asked:
        return RedirectResponse(f"/jobs/{job_id}/steps" + (f"/{card_id}" if card else ""), status_code=303)
    was = None if card else drilled.recalled(job, card_id, done.asked[0].was, _printed(job.units))
    return render(
        request,
        "steps/which.html",
        PAGE,
        job,
        title=card.title if card else was.title if was else card_id,
        card_id=card_id,
        gone=card is None,
        asked=done.asked,
        on=written(trail),
        not_drilled=drilled.NOT_DRILLED,
    )


@router.get("/jobs/{job_id}/steps/{card_id}/drilled")
def which_already(request: Request, job_id: int, card_id: str, on: Trailed = "") -> Response:
    """Ask which holes were drilled before something came that keeps their step from being begun."""
    job = open_job(request, job_id)
    _, found, index = _step(job, card_id)
    card = found[index].card
    return render(
        request,
        "steps/already.html",
        PAGE,
        job,
        card=card,
        asked=_on_a_screen(job, card, on),
        on=on,
    )


@router.post("/jobs/{job_id}/steps/{card_id}/drilled")
def keep_already(
    request: Request,
    job_id: int,
    card_id: str,
    *,
    on: Annotated[str, Form(max_length=4000)] = "",
    answers: Annotated[dict[str, str], Depends(_answers)],
) -> Response:
    """Keep the holes that were drilled before; the rest of their step waits as before."""
    job = open_job(request, job_id)
    _, found, index = _step(job, card_id)
    card = found[index].card
    cuts = [
        cut
        for mark, hole in _on_a_screen(job, card, on)
        if answers.get(hole.id) == "yes"
        for cut in drilled.recorded(mark, hole)
    ]
    if cuts:
        job.shop.store.tick(job.id, card_id, by=who(request), revision=job.revision.number, features=cuts)
    left = {*card.features} - {cut["id"] for cut in cuts}
    # Holes that differ from those that are drilled may be a step of their own now.
    job = open_job(request, job_id)
    here = job.plan.cards if job.plan is not None else ()
    step = next((each for each in here if left & {*each.features}), None)
    return RedirectResponse(f"/jobs/{job_id}/steps" if step is None else _address(job, step), status_code=303)


def _on_a_screen(job: Opened, card: Card, on: str) -> tuple[tuple[str, drilled.Hole], ...]:
    assert job.plan is not None
    trail = read_trail(on, max(1, len(card.places)))
    return drilled.on_a_screen(job, card.id, trail, printed=_printed(job.units), made=_made(job.plan, card))


def _onwards(job: Opened, found: tuple[Standing, ...], index: int) -> str:
    """Where the work goes on: the next step in order that is not done, or the list when all is."""
    just = found[index].card.id if index >= 0 else ""
    for each in found[index + 1 :]:
        if each.state != "done":
            return _address(job, each.card, just=just)
    return f"/jobs/{job.id}/steps" + (f"?just={just}" if _NAME.fullmatch(just) else "")


@router.post("/jobs/{job_id}/steps/{card_id}/found")
def found_elsewhere(
    request: Request,
    job_id: int,
    card_id: str,
    *,
    hole: Annotated[int, Form()] = 1,
    along: Annotated[str, Form(max_length=60)] = "",
    across: Annotated[str, Form(max_length=60)] = "",
    side: Annotated[str, Form(max_length=6)] = "treble",
    once: Annotated[str, Form(max_length=60)] = "",
) -> Response:
    """Keep where a hole that is made really is, as two readings of the record: what hangs on it is planned from there."""
    job = open_job(request, job_id)
    plan, found, index = _step(job, card_id)
    card = found[index].card
    if not 1 <= hole <= len(card.places) or side not in {"treble", "bass"}:
        raise HTTPException(422, "There is no such hole on this step.")
    place, store = card.places[hole - 1], job.shop.store
    names = [
        CutReading(place.feature, "along", place.nearest.datum.id),
        CutReading(place.feature, "across", "centreline"),
    ]
    checks = [check for each in names if (check := plan.check(each.name)) is not None]
    if len(checks) != len(names):
        raise HTTPException(422, "Where this one lies cannot be kept.")
    towards = plan.layout.treble * (1 if side == "treble" else -1) * checks[1].sign
    typed, now = TypedReading("", who(request), sure=True), datetime.now(UTC)
    try:
        read = [read_length(each, unit=job.units) for each in (along, across)]
        entries = [
            entered(
                check,
                typed,
                sign * length.mm,
                length.plus_minus_mm or None,
                at=now,
                revision=job.revision.number,
            )
            for check, sign, length in zip(checks, (1.0, towards), read, strict=True)
        ]
        for entry in entries:
            with suppress(SentAlready):
                store.measure(job.id, entry, key=key_of(once, entry.what, along, across))
    except (LengthError, JobError, StoreError) as fault:
        return _show(
            request, job, plan, found, index, hole=hole, status=422, not_found=str(fault), at=(along, across)
        )
    return RedirectResponse(_address(job, card, hole), status_code=303)


@router.post("/jobs/{job_id}/steps/{card_id}/not-done")
def untick(
    request: Request,
    job_id: int,
    card_id: str,
    *,
    sure: Annotated[str, Form(max_length=3)] = "",
    key: Key = "",
) -> Response:
    """Take a tick back, which only a person who is sure may do: the holes are free to move again."""
    job = open_job(request, job_id)
    plan, found, index = _step(job, card_id)
    if sure != "yes":
        return _show(request, job, plan, found, index, status=422, unsure=True)
    with suppress(SentAlready):
        job.shop.store.untick(job.id, card_id, by=who(request), key=key)
    return _to(request, _address(job, found[index].card))


@router.post("/jobs/{job_id}/steps/{card_id}/thickness")
def use_reading(
    request: Request,
    job_id: int,
    card_id: str,
    *,
    read: Annotated[float, Form()],
    revision: Annotated[int, Form(ge=1)],
) -> Response:
    """Write what the blank was found to be into the job as its thickness: every depth follows it."""
    job = open_job(request, job_id)
    plan, found, index = _step(job, card_id)
    offered = thickness_offered(job.document, found[index])
    if offered is None or abs(offered.mm - read) > SAME_READING_MM:
        return _show(request, job, plan, found, index, status=409, other_reading=True)
    field = asked(job.document, THICKNESS)
    base = job.shop.store.revision(job.id, min(revision, job.revision.number))
    try:
        return kept_if_sound(
            request,
            job,
            base,
            edited(base.text, field, offered.typed),
            why=offered.why,
            back=f"/jobs/{job.id}/steps/{card_id}#gate",
        )
    except JobError as fault:
        words = said(job.document, field, fault.faults, offered.typed)
        return _show(request, job, plan, found, index, status=422, not_used=words)


# Going on against a stop


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop that keeps a step from being begun, as a screen shows it.

    Attributes:
        finding: the stop.
        mark: its own, by which the screen answers.
        risk: what may happen to one who goes on.
        lapsed: the last override for it that does not hold for what it says now.
    """

    finding: Finding
    mark: str
    risk: str
    lapsed: OverrideKept | None


def _stops(job: Opened, standing: Standing) -> list[Stop]:
    if not standing.stopped_by:
        return []
    given = job.shop.store.overrides(job.id)
    return [
        Stop(each, mark_of(each), may_happen(each.code), lapsed(each, given)) for each in standing.stopped_by
    ]


def _gone(job: Opened, card: Card) -> list[tuple[Gone, int]]:
    """The stops that a step is gone on against, each with its override's number in the store."""
    if not card.gone:
        return []
    number = {(each.code, each.at, each.reason): each.id for each in job.shop.store.overrides(job.id)}
    named = ((each, number.get((each.code, each.at, each.reason))) for each in card.gone)
    return [(each, kept) for each, kept in named if kept is not None]


@router.post("/jobs/{job_id}/steps/{card_id}/against")
def against(
    request: Request,
    job_id: int,
    card_id: str,
    *,
    stop: Annotated[str, Form(max_length=16)],
    reason: Annotated[str, Form(max_length=1000)] = "",
    sure: Annotated[str, Form(max_length=3)] = "",
) -> Response:
    """Go on against a stop, deliberately and with a reason: it is kept, and the cards then say so."""
    job = open_job(request, job_id)
    plan, found, index = _step(job, card_id)
    standing = found[index]
    chosen = next((each for each in standing.stopped_by if mark_of(each) == stop), None)
    if chosen is None:
        return _show(request, job, plan, found, index, status=409, other_stop=reason)
    wrong = "" if sure == "yes" else "tick the box first: read what may happen, and decide"
    if not wrong:
        try:
            go_on_against(
                job.shop.store,
                job.id,
                chosen,
                reason=reason,
                by=who(request),
                revision=job.revision.number,
            )
        except StoreError as fault:
            wrong = str(fault)
    if wrong:
        return _show(
            request, job, plan, found, index, status=422, against=stop, not_against=wrong, reason=reason
        )
    return RedirectResponse(_address(job, standing.card), status_code=303)


@router.post("/jobs/{job_id}/steps/{card_id}/against/{number}/back")
def not_against(request: Request, job_id: int, card_id: str, number: int) -> Response:
    """Take an override back: the stop keeps its steps from being begun again."""
    job = open_job(request, job_id)
    _, found, index = _step(job, card_id)
    job.shop.store.take_override_back(job.id, number, by=who(request))
    return RedirectResponse(_address(job, found[index].card), status_code=303)
