"""Answers sent compressed, to browsers that take them so (RFC 9110, 8.4.1.3): pages, scripts, styles, drawings, meshes.

What is compressed as it is, and what must arrive the moment it is said, goes as it is.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from starlette.middleware.gzip import GZipMiddleware

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

LEAST = 1000
"""Bytes from which compressing pays."""

LEVEL = 6
"""Of zlib's nine: the next three take twice the time for a hundredth of the size."""

_AS_IT_IS = re.compile(r"/news$|.*\.(pdf|zip|3mf|png)$")
"""The stream of events, which nothing may hold back, and files that hold compressed content."""


class Packed:
    """Compresses what an app answers."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.packing = GZipMiddleware(app, minimum_size=LEAST, compresslevel=LEVEL)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request. A part of a file is counted in its own bytes, so it is sent as it is."""
        as_it_is = (
            scope["type"] != "http"
            or _AS_IT_IS.match(scope["path"]) is not None
            or any(name.lower() == b"range" for name, _ in scope["headers"])
        )
        await (self.app if as_it_is else self.packing)(scope, receive, send)
