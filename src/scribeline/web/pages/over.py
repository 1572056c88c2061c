"""How a paired device comes to ask over https: the shop's certificate to take, and the way over once it trusts it."""

from __future__ import annotations

import re
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from scribeline.web.certificate import CERTIFICATE_FOLDER, Certificate
from scribeline.web.door import PAIRED_FOR_S
from scribeline.web.frame import Page, inside, render
from scribeline.web.guard import DEVICE, POLICY, SECURE_SESSION, SESSION, door, host, is_local, is_secure
from scribeline.web.shop import shop_of

PAGE = Page("over", "The shop's certificate", 99, in_job=False, listed=False)
router = APIRouter()

FILE = "scribeline-shop.crt"

CERTIFICATE_TYPE = "application/x-x509-ca-cert"
"""By this type tablets take a file for a certificate to trust; common practice, no source."""


@router.get("/pair/certificate")
def explain(request: Request, back: str = "/") -> Response:
    """What a device does not have without the certificate, how it is taken, compared, trusted, and taken off again."""
    certificate, shop = _certificate(request), shop_of(request)
    to, leads = f"https://{_bracketed(host(request))}:{shop.secure_port}", may_go_over(request)
    answer = render(
        request,
        "pair/certificate.html",
        PAGE,
        to=to if leads else "",
        back=_back(back),
        file=f"/pair/{FILE}",
        certificate=certificate,
        print=printed(certificate),
        kept=shop.folder / CERTIFICATE_FOLDER,
        plain="" if is_local(request) else f"http://{_bracketed(host(request))}:{shop.port}/pair",
        local=is_local(request),
        secure=is_secure(request),
    )
    if leads:
        answer.headers["content-security-policy"] = f"{POLICY}; connect-src 'self' {to}"
    return answer


@router.get(f"/pair/{FILE}")
def file(request: Request) -> Response:
    """The root certificate, to be trusted."""
    return Response(
        _certificate(request).root,
        media_type=CERTIFICATE_TYPE,
        headers={"Content-Disposition": f'attachment; filename="{FILE}"'},
    )


@router.get("/pair/trusted")
def trusted(request: Request) -> Response:
    """Something small: a page that came over http gets it over https if the device trusts the certificate."""
    shop = shop_of(request)
    asker = f"http://{_bracketed(host(request))}:{shop.port}"
    return Response(
        status_code=204,
        headers={"Access-Control-Allow-Origin": asker, "Cache-Control": "no-store", "Vary": "Origin"},
    )


@router.post("/pair/ticket")
def ticket_for(request: Request, back: str = "/") -> Response:
    """The address that takes this paired device over to https, for once."""
    tablets, shop = door(request), shop_of(request)
    device = getattr(request.state, DEVICE, "")
    if tablets is None or not device or not may_go_over(request):
        raise HTTPException(409, "this device cannot go over from here")
    made = tablets.pass_for(device, _address(request))
    asked = urlencode({"ticket": made, "back": _back(back)})
    to = f"https://{_bracketed(host(request))}:{shop.secure_port}/pair/over?{asked}"
    return JSONResponse({"to": to}, headers={"Cache-Control": "no-store"})


@router.get("/pair/over")
def arrive(
    request: Request, ticket: Annotated[str, "what lets it over, once"] = "", back: str = "/"
) -> Response:
    """Take a device in that comes over; its address is led away from at once, and serves nobody after it."""
    tablets = door(request)
    if tablets is None:
        raise HTTPException(404)
    session = tablets.gone_over(ticket[:100], _address(request)) if is_secure(request) else None
    if session is None:
        return RedirectResponse(
            "/", status_code=303
        )  # whoever is paired is in; whoever is not is led to the code
    response = RedirectResponse(_back(back), status_code=303, headers={"Cache-Control": "no-store"})
    remember(response, session, secure=True)
    return response


def remember(response: Response, session: str, *, secure: bool) -> None:
    """Have a device bring its session along from now on."""
    response.set_cookie(
        SECURE_SESSION if secure else SESSION,
        session,
        max_age=PAIRED_FOR_S,
        httponly=True,
        samesite="lax",
        path="/",
        secure=secure,
    )


def may_go_over(request: Request) -> bool:
    """Whether another device asks over http, under an address that the certificate speaks for."""
    certificate = shop_of(request).certificate
    if certificate is None or is_local(request) or is_secure(request):
        return False
    return certificate.covers(host(request))


def printed(certificate: Certificate) -> list[str]:
    """The fingerprint in rows that are compared at a glance."""
    pairs = certificate.fingerprint().split()
    return [" ".join(pairs[at : at + 8]) for at in range(0, len(pairs), 8)]


def _certificate(request: Request) -> Certificate:
    found = shop_of(request).certificate
    if found is None:
        raise HTTPException(404)
    return found


def _bracketed(name: str) -> str:
    return f"[{name}]" if ":" in name else name


def _address(request: Request) -> str:
    return request.client.host if request.client else ""


def _back(said: str) -> str:
    """A page of a job to come back to, else the jobs."""
    job = re.match(r"/jobs/(\d{1,9})(?!\d)", said)
    return said if job and inside(int(job[1]), said) and "/.." not in said else "/"
