"""One number written into a job: what was typed becomes a new revision, or a sentence beside the field."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from fastapi.responses import RedirectResponse, Response

from scribeline.job import (
    Document,
    Fault,
    JobError,
    feature_id,
    remove_value,
    rename_pocket,
    set_value,
    with_string_ends,
)
from scribeline.store import Conflict, Revision
from scribeline.web.field import Field
from scribeline.web.fields import at_key, in_words, shown, siblings, spoken, stated, value_of
from scribeline.web.frame import Opened, Page, led, render
from scribeline.web.schema import BARE
from scribeline.web.shop import who

_POCKET_NAME = re.compile(r"pockets\[(\d+)\]\.name")

CONFLICT = Page("conflict", "Two edits at once", 0, listed=False)


@dataclass(frozen=True, slots=True)
class Refused:
    """What was typed and why it was not kept."""

    typed: str
    words: str


def edited(text: str, field: Field, typed: str) -> str:
    """The job's text with one field as typed; an emptied field that may be left out is taken out.

    A pocket under another name takes along whatever names it.

    Raises:
        JobError: what was typed cannot be put there.
    """
    if not typed.strip():
        if field.needed:
            raise JobError([Fault(field.key, "type a number; it cannot be left out")])
        return _left_out(text, field.key)
    value = value_of(field, typed)
    if field.kind == "bits" and isinstance(value, list):
        value = _with_what_was_measured(text, field, value)
    pocket = _POCKET_NAME.fullmatch(field.key)
    if pocket is not None and isinstance(value, str):
        return rename_pocket(text, int(pocket[1]), value)
    changed = set_value(*_opened(text, field.key), value)[0]
    return with_string_ends(changed) if (field.key, value) == ("bridge.loading", "through-body") else changed


def _opened(text: str, key: str) -> tuple[str, str]:
    """The text and the key to write, where the table of a key is stated by a single value as well."""
    table, _, name = key.rpartition(".")
    alone = at_key(stated(text), table) if table else None
    if not isinstance(alone, str | int | float):
        return text, key
    if name in BARE:
        return text, table
    bare = next(iter(BARE & {each.name.rpartition(".")[2] for each in siblings(table)}))
    return set_value(text, table, {bare: alone})[0], key


def _left_out(text: str, key: str) -> str:
    """The text without a key, and without a table that held nothing else."""
    table = key.rpartition(".")[0]
    if isinstance(at_key(stated(text), table) if table else {}, Mapping):
        text = remove_value(text, key)[0]
        if not table or table.endswith("]") or at_key(stated(text), table):
            return text
    return remove_value(text, table)[0]


def _with_what_was_measured(text: str, field: Field, sizes: list[Any]) -> list[Any]:
    """Bits by their sizes, each with the point and reach that the job states for it already."""
    known = at_key(stated(text), field.key)
    by_size = {shown([each]): each for each in known} if isinstance(known, list) else {}
    return [by_size.get(shown([size]), size) for size in sizes]


def faults_in(job: Opened, text: str) -> tuple[Fault, ...]:
    """Everything that keeps a text from being read as this job."""
    try:
        job.shop.planner.now(text, job.folder, job.record, of=job.id)
    except JobError as error:
        return error.faults
    return ()


def said(document: Document | None, field: Field, faults: tuple[Fault, ...], typed: str = "") -> str:
    """What to say beside a field: its own faults first, and those the edit brought elsewhere.

    A table's own ± is put behind a number before it is read; what is told back is what was typed.
    """
    own = [fault.sentence for fault in faults if fault.path == field.key]
    others = [
        fault.sentence
        if fault.path in field.key or fault.path.startswith(field.key) or not fault.path
        else f"{fault.path}: {fault.sentence}"
        for fault in faults
        if fault.path != field.key
    ]
    words = spoken(document, "; ".join(own or others), field.key)
    return re.sub(rf'"{re.escape(typed.strip())} \+/- [^"]*"', lambda _: f'"{typed.strip()}"', words)


def keep(job: Opened, base: Revision, text: str, request: Request, why: str) -> Revision:
    """Save an edit made from `base`; what was saved meanwhile is joined with it where that touches other values.

    Raises:
        Conflict: somebody else changed the same meanwhile, or both together make no job: a person must look.
    """
    device = _device(request)
    store, made = job.shop.store, job.shop.made_by
    based_on = base.number
    try:
        kept = store.save(job.id, text, based_on=based_on, by=who(request), why=why)
    except Conflict as conflict:
        later = range(base.number + 1, conflict.theirs.number + 1)
        mine = bool(device) and all(made.get((job.id, number)) == device for number in later)
        if conflict.merged is None or (not mine and faults_in(job, conflict.merged)):
            raise
        kept = store.save(job.id, conflict.merged, based_on=conflict.theirs.number, by=who(request), why=why)
    if device:
        made[job.id, kept.number] = device
    return kept


def typed_into(job: Opened, based_on: int, of: str, request: Request) -> Revision:
    """The revision to take up, move or take out one of a list in: with what this screen typed into it meanwhile.

    A field sends what was typed when it is left, which may arrive between a page and the button pressed on it. Where the list
    itself has changed since, or another screen has, it is the page's own revision.
    """
    store, device = job.shop.store, _device(request)
    base, now = store.revision(job.id, based_on), job.revision
    later = range(base.number + 1, now.number + 1)
    if not device or any(job.shop.made_by.get((job.id, number)) != device for number in later):
        return base
    was, is_now = (list(at_key(stated(text), of) or ()) for text in (base.text, now.text))
    same_list = (
        len(was) == len(is_now) and sum(one != other for one, other in zip(was, is_now, strict=True)) <= 1
    )
    return now if same_list else base


def _device(request: Request) -> str:
    """Which browser an edit came from: two quick edits of one screen are one person's."""
    return request.cookies.get("screen", "")


def conflicted(request: Request, job: Opened, conflict: Conflict, back: str) -> Response:
    """The later edit is shown what the other one did; nothing is overwritten.

    It gets a page of its own, kept in the data folder until it is settled: loaded anew it says the same.
    """
    try:
        key = job.shop.put_aside(job.id, {"base": conflict.base.number, "mine": conflict.mine, "back": back})
    except OSError:  # the disk is full: the page is all there is
        return conflict_page(request, job, conflict, back)
    return RedirectResponse(f"/jobs/{job.id}/conflict/{key}", status_code=303)


def conflict_page(request: Request, job: Opened, conflict: Conflict, back: str, *, key: str = "") -> Response:
    """Both edits side by side, to choose.

    Args:
        request: of the page.
        job: the job.
        conflict: both edits.
        back: the page the later one came from.
        key: under which it is kept; "" where it is not.
    """
    mine = {each.key: each for each in conflict.my_changes}
    theirs = {each.key: each for each in conflict.their_changes}
    rows = [(key, theirs.get(key), mine.get(key)) for key in dict.fromkeys([*theirs, *mine])]
    response = render(
        request,
        "history/conflict.html",
        CONFLICT,
        job,
        status=200 if key else 409,
        conflict=conflict,
        rows=rows,
        back=back,
        kept=key,
        words=lambda key: in_words(job.document, key),
    )
    if key:
        response.headers["HX-Push-Url"] = f"/jobs/{job.id}/conflict/{key}"
    return response


def set_field(
    request: Request, job: Opened, base: Revision, field: Field, *, typed: str, back: str
) -> Response | Refused:
    """Keep what was typed into one field, or say why not."""
    if (cut := _cut_already(job, field)) is not None:
        words = f"the {cut} is cut already, and its record goes by its name: it keeps it unless its tick is taken back"
        return Refused(typed, words)
    words = "; ".join(typed.split("\n")[:4]) if field.depth else typed
    why = f"{field.label}: {' '.join(words.split())[:80] or 'left out'}"
    try:
        return kept_if_sound(request, job, base, edited(base.text, field, typed), why=why, back=back)
    except JobError as error:
        return Refused(typed, said(job.document, field, error.faults, typed))


def kept_if_sound(
    request: Request, job: Opened, base: Revision, text: str, *, why: str, back: str
) -> Response:
    """Keep a changed text and go back to the page, where the job can be read with it.

    Raises:
        JobError: it cannot, and it could before, or is wrong in another way.
    """
    faults = faults_in(job, text)
    if faults:
        before = set(faults_in(job, base.text))
        if not before or not set(faults) < before:
            raise JobError(faults)
    try:
        keep(job, base, text, request, why)
    except Conflict as conflict:
        return conflicted(request, job, conflict, back)
    return led(request, job.id, back)


def _cut_already(job: Opened, field: Field) -> str | None:
    """The name of a pocket that would be named otherwise although it is cut."""
    pocket = _POCKET_NAME.fullmatch(field.key)
    if pocket is None or job.plan is None:
        return None
    pockets = job.plan.job.document.pockets
    number = int(pocket[1])
    name = pockets[number - 1].name if number <= len(pockets) else ""
    return name if feature_id(name) in job.plan.made else None


def made_of(job: Opened, path: str, number: int) -> str:
    """What is cut already of a list's table, or of those behind it, whose records go by their order; "" for nothing."""
    if job.plan is None:
        return ""
    made = {*job.plan.made}
    if path == "pockets":
        name = job.plan.job.document.pockets[number - 1].name
        return name if feature_id(name) in made else ""
    family = {"tunnels": "tunnel", "strap_buttons": "strap-button"}.get(path, path.removesuffix("s"))
    families = {"strings": ("string-hole", "ferrule-hole")}.get(path, (family,))
    return next((each for each in sorted(made) if each.rpartition("-")[0] in families), "")
