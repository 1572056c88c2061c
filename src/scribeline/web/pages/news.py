"""The stream by which open pages hear that their job changed."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response, StreamingResponse

from scribeline.web.frame import Page
from scribeline.web.shop import shop_of, who

PAGE = Page("news", "News", 99, in_job=False, listed=False)
router = APIRouter()


@router.get("/news")
async def news(request: Request) -> Response:
    """What changes, as server-sent events (HTML Living Standard, 9.2), as long as somebody listens."""
    address = request.client.host if request.client else ""
    device = f"{address} {who(request)} {request.cookies.get('screen', '')[:40]}"
    return StreamingResponse(
        shop_of(request).live.listen(device),
        media_type="text/event-stream",
        headers={"Cache-Control": "no-store", "X-Accel-Buffering": "no"},
    )
