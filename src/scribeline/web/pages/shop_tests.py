"""The shop's tests: how each is done, one more by touch, what all of them teach, what to test next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import RedirectResponse, Response

from scribeline.job import Fault, JobError, NewTest, parse_shop_tests, strike_test, with_test
from scribeline.lengths import JobUnit, LengthError, in_a_row, in_unit, job_unit, said
from scribeline.proving import KINDS, READERS, in_words, is_angle, methods_of
from scribeline.steps.cautions import DEFERS, of_shop_test
from scribeline.store import StoreError
from scribeline.tables import usual_accuracies
from scribeline.web.fields import at_key, stated
from scribeline.web.frame import Page, mark_of, render
from scribeline.web.shop import SHOP_TESTS, Shop, shop_of, who
from scribeline.web.trial_pictures import trial_picture

if TYPE_CHECKING:
    from scribeline.job import ShopTests
    from scribeline.proving import Kind, Result, ShopTest

PAGE = Page("tests", "Tests", 75, in_job=False, listed=False)
router = APIRouter()

NEXT_SHOWN = 6
JOBS_SHOWN = 12
"""Jobs that are offered to go by the tests: the last touched."""
LARGEST = 3_000_000
"""Of a file that is brought in, bytes."""


@dataclass(frozen=True, slots=True)
class Row:
    """One test as it stands on the page.

    Attributes:
        test: as it was done.
        title: of its kind.
        method: what was tried, in bench words; "" for none.
        result: what it says.
        standing: why nothing is learnt from it; "" where something is, or nothing could be.
        wild: which readings stand apart, as a sentence.
        deciding: its first number, in figures.
        readings: each in figures, with its name where it has one.
    """

    test: ShopTest
    title: str
    method: str
    result: Result
    standing: str
    wild: str
    deciding: str
    readings: tuple[tuple[str, str], ...]


def _rows(tests: ShopTests) -> tuple[Row, ...]:
    """Every test, the last one first."""
    found = []
    for test in tests.tests:
        kind, result = KINDS[test.kind], tests.result(test)
        first, angles = result.figures[0], is_angle(test.method, usual_accuracies())
        names = [
            kind.places[n % len(kind.places)] if len(kind.places) > 1 else ""
            for n in range(len(test.readings))
        ]
        readings = tuple(
            (name, in_unit(in_words(each, "rad" if angles else "mm"), tests.unit))
            for name, each in zip(names, test.readings, strict=True)
        )
        deciding = f"{first.name}: {in_unit(in_words(first.value, first.unit), tests.unit)}"
        method = usual_accuracies()[test.method].what if kind.methods is None else ""
        found.append(
            Row(
                test,
                kind.title,
                method,
                result,
                tests.standing(test),
                tests.wild_words(test),
                deciding,
                readings,
            )
        )
    return tuple(reversed(found))


def _learnt(tests: ShopTests) -> tuple[tuple[str, str, str, str, int], ...]:
    """What was learnt of each method: what it is, the guess, now, the interval, by how many readings."""
    found = []
    for key, each in tests.learnt.items():
        what = usual_accuracies()[key]
        guess, now, low, high = (
            in_unit(in_words(value, what.unit), tests.unit)
            for value in (each.guess, each.sd, each.low, each.high)
        )
        found.append((what.what, guess, now, f"{low} to {high}", each.readings))
    return tuple(found)


@router.get("/shop/tests")
def tests_page(request: Request) -> Response:
    """What the tests teach, every one of them, and what to test next."""
    return _page(request)


def _page(request: Request, *, status: int = 200, wrong: str = "", no: int = 0, typed: str = "") -> Response:
    shop = shop_of(request)
    text = shop.store.shop_tests()
    faults: tuple[Fault, ...] = ()
    tests = None
    try:
        tests = parse_shop_tests(text or _begun("mm"))
    except JobError as error:
        faults = error.faults
    return render(
        request,
        "shop/tests.html",
        PAGE,
        status=status,
        rows=() if tests is None else _rows(tests),
        units="mm" if tests is None else tests.unit,
        learnt=() if tests is None else _learnt(tests),
        next=() if tests is None else tests.next[:NEXT_SHOWN],
        kinds=KINDS.values(),
        pictures={name: trial_picture(name) for name in KINDS},
        jobs=_jobs(shop) if text else (),
        has_any=bool(text),
        faults=faults,
        mark=mark_of(text),
        wrong=wrong,
        wrong_no=no,
        typed=typed,
    )


def _begun(unit: JobUnit) -> str:
    return f'scribeline_shop = 1\nunits = "{unit}"\n'


def _jobs(shop: Shop) -> tuple[tuple[int, str, int, bool], ...]:
    """Jobs at work: number, name, newest revision, and whether it goes by the shop's tests."""
    return tuple(
        (
            each.id,
            each.name,
            each.revision,
            at_key(stated(shop.store.revision(each.id).text), "bench.shop") is not None,
        )
        for each in shop.store.jobs()[:JOBS_SHOWN]
    )


@router.get("/shop/tests/new/{kind}")
def new(request: Request, kind: str, method: str = "") -> Response:
    """How a kind of test is done, and its readings asked for."""
    return _new(request, _kind(kind), {"method": method[:40]})


def _kind(name: str) -> Kind:
    if name not in KINDS:
        raise HTTPException(404)
    return KINDS[name]


def _new(
    request: Request,
    kind: Kind,
    typed: dict[str, str],
    *,
    status: int = 200,
    faults: tuple[Fault, ...] = (),
) -> Response:
    shop, usual = shop_of(request), usual_accuracies()
    text = shop.store.shop_tests()
    unit = _unit(text)
    method = typed.get("method", "")
    keys = ("readings", "at", "method", "read_with", "besides", "on", "machine", "by", "note")
    kept = _kept(text)
    return render(
        request,
        "shop/test.html",
        PAGE,
        status=status,
        kind=kind,
        how=[in_unit(each, unit) for each in kind.how],
        cautions=[in_unit(each, unit) for each in of_shop_test(kind, method)],
        defers=DEFERS,
        picture=trial_picture(kind.name),
        units=unit,
        usual_at=in_unit(said(kind.at.usual, 0), unit)
        if kind.at is not None and kind.at.usual is not None
        else "",
        begun=bool(text),
        in_degrees=bool(method) and is_angle(method, usual),
        methods=[(key, usual[key].what) for key in methods_of(kind, usual)],
        readers=[(key, usual[key].what) for key in READERS],
        steps=[(key, each.what) for key, each in usual.items() if key not in READERS and each.unit == "mm"],
        usual_reader=usual[kind.reads].what,
        machines=sorted({each.machine for each in kept if each.machine}),
        hands=sorted({each.by for each in kept if each.by}),
        beside={key: " ".join(each.sentence for each in faults if each.path == key) for key in keys},
        others=[each for each in faults if each.path not in keys],
        typed={"on": date.today().isoformat(), **typed},  # noqa: DTZ011 - the shop's own day
    )


def _unit(text: str) -> JobUnit:
    try:
        return parse_shop_tests(text).unit if text else "mm"
    except JobError:
        return "mm"


def _kept(text: str) -> tuple[ShopTest, ...]:
    try:
        return parse_shop_tests(text).tests if text else ()
    except JobError:
        return ()


@router.post("/shop/tests/new/{kind}")
async def add(request: Request, kind: str) -> Response:
    """Keep one more test."""
    form = await request.form()
    typed = {key: str(value)[:2000].strip() for key, value in form.items()}
    return await run_in_threadpool(_add, request, _kind(kind), typed)


def _add(request: Request, kind: Kind, typed: dict[str, str]) -> Response:
    store = shop_of(request).store
    before = store.shop_tests()
    today = date.today()  # noqa: DTZ011 - the shop's own day
    try:
        day = date.fromisoformat(typed["on"]) if typed.get("on") else None
    except ValueError:
        return _new(request, kind, typed, status=422, faults=(Fault("on", "write the day as 2026-03-14"),))
    try:
        readings = _readings(kind, typed)
    except LengthError as fault:
        return _new(request, kind, typed, status=422, faults=(Fault("readings", str(fault)),))
    besides = typed.get("besides", "")
    one = NewTest(
        kind.name,
        readings,
        typed.get("method", ""),
        typed.get("at", ""),
        typed.get("read_with", ""),
        None if not besides else () if besides == "none" else (besides,),
        typed.get("machine", "")[:60],
        typed.get("by", "")[:60],
        day,
        typed.get("note", "")[:200],
    )
    unit = job_unit(typed.get("units"))
    try:
        text = with_test(one, before=before or None, unit=unit, today=today, once=True)
        while text != before:
            try:
                store.save_shop_tests(text, by=who(request))
                break
            except JobError:
                # Another device kept one meanwhile: this one comes after it. Where none did, it is a fault.
                meanwhile = store.shop_tests()
                if meanwhile == before:
                    raise
                before = meanwhile
                text = with_test(one, before=before or None, unit=unit, today=today, once=True)
    except JobError as error:
        return _new(request, kind, typed, status=422, faults=error.faults)
    return RedirectResponse(f"/shop/tests#no-{len(parse_shop_tests(text).tests)}", status_code=303)


def _readings(kind: Kind, typed: dict[str, str]) -> tuple[str, ...]:
    if not kind.fixed:
        return in_a_row(typed.get("readings", ""))
    found = tuple(typed.get(f"r{n}", "") for n in range(len(kind.places)))
    missing = [name for name, each in zip(kind.places, found, strict=True) if not each]
    if missing:
        message = f"type all {len(kind.places)}; {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} empty"
        raise LengthError(message)
    return found


@router.post("/shop/tests/strike")
def strike(
    request: Request,
    *,
    no: Annotated[int, Form()],
    mark: Annotated[str, Form(max_length=40)],
    why: Annotated[str, Form(max_length=150)] = "",
    way: Annotated[str, Form(pattern="strike|count")] = "strike",
) -> Response:
    """Strike a test through, or let it count again; it stays either way."""
    store = shop_of(request).store
    text = store.shop_tests()
    if not text:
        raise HTTPException(404)
    if mark != mark_of(text):
        sentence = "somebody changed the tests meanwhile: look at them once more, then strike"
        return _page(request, status=409, wrong=sentence, no=no, typed=why)
    if way == "strike" and not why.strip():
        return _page(request, status=422, wrong="say why, in a few words: it stays with the test", no=no)
    try:
        store.save_shop_tests(strike_test(text, no, why.strip() if way == "strike" else ""), by=who(request))
    except JobError as error:
        return _page(request, status=422, wrong=str(error), no=no, typed=why)
    return RedirectResponse(f"/shop/tests#no-{no}", status_code=303)


@router.get("/shop/tests/file")
def file(request: Request) -> Response:
    """The tests as the file that the commands read."""
    text = shop_of(request).store.shop_tests()
    if not text:
        raise HTTPException(404)
    headers = {"Content-Disposition": f'attachment; filename="{SHOP_TESTS}"'}
    return Response(text, media_type="application/toml; charset=utf-8", headers=headers)


@router.post("/shop/tests/file")
async def bring_in(request: Request, tests: UploadFile) -> Response:
    """Take a file of tests in place of the present ones, if it has all of them."""
    content = await tests.read(LARGEST + 1)
    return await run_in_threadpool(_bring_in, request, content)


def _bring_in(request: Request, content: bytes) -> Response:
    if len(content) > LARGEST:
        return _page(request, status=422, wrong="this file is far too large to be one of tests")
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n")
        shop_of(request).store.save_shop_tests(text, by=who(request))
    except UnicodeDecodeError:
        return _page(request, status=422, wrong="this file is no text in UTF-8")
    except (JobError, StoreError) as error:
        return _page(request, status=422, wrong=str(error))
    return RedirectResponse("/shop/tests#list", status_code=303)
