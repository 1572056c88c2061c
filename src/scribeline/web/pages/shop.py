"""The shop: bits owned, the parts book, backup and bringing back, letting a tablet in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from math import ceil
from typing import Annotated
from urllib.parse import urlsplit

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from scribeline.lengths import LengthError, read_length, several
from scribeline.store import BitKept
from scribeline.web import guard
from scribeline.web.door import Device, Door
from scribeline.web.frame import Page, render
from scribeline.web.pages.over import printed
from scribeline.web.shop import backup_of, shop_of, who

PAGE = Page("shop", "Shop", 80, in_job=False)
router = APIRouter()

KINDS = (
    ("twist", "Twist bits"),
    ("brad_point", "Brad-point bits"),
    ("flat_bottomed", "Flat-bottomed bits (Forstner)"),
    ("router", "Router bits"),
)


@router.get("/shop")
def shop(request: Request) -> Response:
    """What the shop owns and has measured, and where it is kept."""
    return _page(request)


def _page(
    request: Request,
    *,
    status: int = 200,
    wrong: dict[str, str] | None = None,
    typed: dict[str, str] | None = None,
) -> Response:
    store = shop_of(request).store
    kept = store.bits()
    boxes = [
        (kind, words, (typed or {}).get(kind, ", ".join(bit.size for bit in kept if bit.kind == kind)))
        for kind, words in KINDS
    ]
    return render(
        request,
        "shop/shop.html",
        PAGE,
        status=status,
        boxes=boxes,
        wrong=wrong or {},
        parts=store.parts(),
        pairing=_pairing(request),
        devices=_devices(request),
        secure=guard.is_secure(request),
    )


@dataclass(frozen=True, slots=True)
class Pairing:
    """What lets a tablet in.

    Attributes:
        picture: the address with its code, as a QR picture to be looked at by the tablet's camera.
        address: the same for typing.
        code: to be typed there.
        minutes: that it still counts.
        print: the certificate's fingerprint, in rows; none where it does not speak for that address.
    """

    picture: str
    address: str
    code: str
    minutes: int
    print: list[str]


def _pairing(request: Request) -> Pairing | None:
    """Shown on the machine's own screen alone, and only where the shop's network is let in."""
    door = guard.door(request)
    if door is None or not guard.is_local(request):
        return None
    import segno

    url = door.url()
    picture = segno.make(url, error="m").svg_inline(
        scale=6, border=4, dark="#000", light="#fff", omitsize=True
    )
    certificate = shop_of(request).certificate
    speaks = certificate is not None and certificate.covers(urlsplit(url).hostname or "")
    rows = printed(certificate) if certificate is not None and speaks else []
    return Pairing(picture, url.split("?")[0], door.code(), ceil(door.expires_in() / 60), rows)


def _devices(request: Request) -> list[tuple[Device, datetime, datetime | None]]:
    """Who is let in, when it was paired and when it was last here; shown on the machine's own screen alone."""
    door = guard.door(request)
    if door is None or not guard.is_local(request):
        return []
    return [(each, _at(each.paired), _at(each.seen) if each.seen else None) for each in door.devices()]


def _at(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)


@router.post("/shop/forget")
def forget(request: Request) -> Response:
    """Let no device in any more that was paired before."""
    _own_door(request).forget()
    return RedirectResponse("/shop#devices", status_code=303)


@router.post("/shop/shut-out")
def shut_out(request: Request, device: Annotated[str, Form(max_length=40)] = "") -> Response:
    """Let one device in no more, and end what it has open."""
    _own_door(request).shut_out(device)
    return RedirectResponse("/shop#devices", status_code=303)


def _own_door(request: Request) -> Door:
    """The door, for whoever sits at the machine it belongs to."""
    door = guard.door(request)
    if door is None or not guard.is_local(request):
        raise HTTPException(403, "let devices in and shut them out on the shop's PC")
    return door


@router.post("/shop/bits")
def bits(
    request: Request,
    twist: Annotated[str, Form(max_length=2000)] = "",
    brad_point: Annotated[str, Form(max_length=2000)] = "",
    flat_bottomed: Annotated[str, Form(max_length=2000)] = "",
    router_: Annotated[str, Form(alias="router", max_length=2000)] = "",
) -> Response:
    """Keep the whole drill box; points and reaches that were measured stay with their bits."""
    typed = {"twist": twist, "brad_point": brad_point, "flat_bottomed": flat_bottomed, "router": router_}
    store = shop_of(request).store
    known = {(bit.kind, bit.size): bit for bit in store.bits()}
    wrong: dict[str, str] = {}
    box: list[BitKept] = []
    for kind, _ in KINDS:
        try:
            sizes = several(typed[kind])
        except LengthError as fault:
            wrong[kind] = str(fault)
            continue
        for size in sizes:
            try:
                read_length(size, unit="mm")
            except LengthError as fault:
                wrong[kind] = str(fault)
            box.append(known.get((kind, size)) or BitKept(kind, size))  # type: ignore[arg-type]  # one of KINDS
    if wrong:
        return _page(request, status=422, wrong=wrong, typed=typed)
    store.save_bits(box, by=who(request))
    return RedirectResponse("/shop", status_code=303)


@router.get("/shop/backup")
def backup(request: Request) -> Response:
    """Everything the shop has, as one file."""
    return backup_of(shop_of(request))
