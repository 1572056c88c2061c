"""Where a tablet gives the code shown on the app's own screen and is let in."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from scribeline.store import StoreError
from scribeline.web.door import Door
from scribeline.web.frame import Page, render
from scribeline.web.guard import door, is_secure
from scribeline.web.names import device_name
from scribeline.web.pages.over import may_go_over, remember

PAGE = Page("pair", "Pair this device", 99, in_job=False, listed=False)
router = APIRouter()

_WORDS = {
    "wrong": "this code does not count; type the one that stands on the Shop page now",
    "wait": "too many wrong codes came from this device; wait ten minutes",
}


@router.get("/pair")
def ask(request: Request, code: Annotated[str, "from the picture code"] = "") -> Response:
    """Ask for the code and a name for this device."""
    _door(request)
    return _page(request, code=code[:20])


@router.post("/pair")
def knock(
    request: Request,
    code: Annotated[str, Form(max_length=40)] = "",
    name: Annotated[str, Form(max_length=200)] = "",
) -> Response:
    """Try the code; whoever gave the right one is let in under the name given."""
    door = _door(request)
    try:
        called = device_name(name)
    except StoreError as fault:
        return _page(request, code=code[:20], name=name[:40], wrong=str(fault), status=422)
    answer = door.knock(code, request.client.host if request.client else "")
    if answer != "let in":
        status = 429 if answer == "wait" else 403
        return _page(request, code="", name=called, wrong=_WORDS[answer], status=status)
    secure = is_secure(request)
    response = RedirectResponse("/pair/certificate" if may_go_over(request) else "/", status_code=303)
    remember(response, door.session(called, over_https=secure), secure=secure)
    return response


def _door(request: Request) -> Door:
    found = door(request)
    if found is None:
        raise HTTPException(404)
    return found


def _page(request: Request, *, code: str, name: str = "", wrong: str = "", status: int = 200) -> Response:
    way = may_go_over(request)
    return render(request, "pair/pair.html", PAGE, status=status, code=code, name=name, wrong=wrong, way=way)
