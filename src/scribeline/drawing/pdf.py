"""Writes PDF by the typesetter: sheets as pages at their exact size, or a form of `typeset/` filled with data and pictures.

It sets in a thread of its own and lets others work meanwhile, so that the next sheets are drawn while the last are set.
"""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from scribeline.drawing import svg
from scribeline.drawing.face import FOLDER, breakable, legible
from scribeline.drawing.sheet import Sheet

if TYPE_CHECKING:
    from typst import Compiler, Fonts

FORMS = Path(__file__).parent / "typeset"

Made = TypeVar("Made")


def write(sheets: Sequence[Sheet], *, title: str, author: str = "Scribeline") -> bytes:
    """The sheets as a PDF file, a page each; see `typeset`.

    Raises:
        ValueError: No sheets.
    """
    return begin(sheets, title=title, author=author).result()


def begin(sheets: Sequence[Sheet], *, title: str, author: str = "Scribeline") -> Future[bytes]:
    """The same, now being set."""
    if not sheets:
        raise ValueError("A PDF needs at least one sheet.")
    pictures = {str(n): sheet for n, sheet in enumerate(sheets)}
    return typeset("pages", {"pages": list(pictures)}, pictures, title=title, author=author)


def typeset(
    form: str,
    data: Mapping[str, Any],
    pictures: Mapping[str, Sheet],
    *,
    title: str,
    author: str = "Scribeline",
) -> Future[bytes]:
    """A form filled as a PDF file with the face embedded; the same input always gives the same bytes.

    It asks to be printed at full size. A character that no embedded face has is printed as "?".

    Args:
        form: name of a file of `typeset/`, without its ending.
        data: what it says: text, numbers, and lists and mappings of them.
        pictures: what it shows, by name, at the size of the sheet.
        title: of the document.
        author: of the document.
    """
    sizes = {name: (sheet.width, sheet.height) for name, sheet in pictures.items()}
    drawn = {f"picture {name}": legible(svg.write(sheet).decode()) for name, sheet in pictures.items()}
    compiler = _compiler(form, {"title": title, "author": author, **_settable(data)}, sizes, drawn)

    def made() -> bytes:
        # The time stamp is fixed, or a second run would give other bytes; the document itself carries no date.
        written = compiler.compile(format="pdf", timestamp=0, pdf_tags=False)
        assert isinstance(written, bytes)
        return _unscaled(written)

    return _beside(made)


def told_by(
    form: str, data: Mapping[str, Any], sizes: Mapping[str, tuple[float, float]], what: str
) -> Future[Any]:
    """What a form finds out before its pictures are drawn, as plain data.

    Args:
        form: as for `typeset`.
        data: as for `typeset`.
        sizes: width and height of each picture, mm.
        what: the label of the form's `metadata`.
    """
    compiler = _compiler(form, {"title": "", "author": "", **_settable(data)}, sizes, {})
    return _beside(lambda: json.loads(compiler.query(f"<{what}>", field="value", one=True)))


def _beside(make: Callable[[], Made]) -> Future[Made]:
    """Begin what the typesetter does; a thread that nobody waits for any more ends with the process."""
    made: Future[Made] = Future()

    def run() -> None:
        try:
            made.set_result(make())
        except BaseException as fault:  # noqa: BLE001 - whoever asks for the result meets it
            made.set_exception(fault)

    threading.Thread(target=run, daemon=True).start()
    return made


def _compiler(
    form: str, data: Mapping[str, Any], sizes: Mapping[str, tuple[float, float]], drawn: Mapping[str, str]
) -> Compiler:
    import typst

    inputs = {"data": json.dumps({**data, "pictures": sizes}, ensure_ascii=False), **drawn}
    return typst.Compiler(FORMS / f"{form}.typ", root=FORMS, font_paths=_fonts(), sys_inputs=inputs)


@cache
def _fonts() -> Fonts:
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[str(FOLDER)])


def _settable(value: Any) -> Any:
    """The same with text that the face can print and a line can hold."""
    if isinstance(value, str):
        return breakable(legible(value))
    if isinstance(value, Mapping):
        return {key: _settable(each) for key, each in value.items()}
    return [_settable(each) for each in value] if isinstance(value, list | tuple) else value


_TRAILER = re.compile(rb"trailer\s*<<(?P<entries>.*)>>\s*startxref\s+(?P<table>\d+)\s+%%EOF\s*\Z", re.DOTALL)


def _unscaled(written: bytes) -> bytes:
    """The PDF with the wish that a print dialogue opens at full size (ISO 32000-1, table 150, PrintScaling).

    The typesetter cannot be asked for it. An incremental update (7.5.6) appends the document's catalog anew with a
    table of references that has this one object.
    """
    trailer = _TRAILER.search(written)
    assert trailer is not None, "the typesetter writes its table of references in another way than it did"
    root = re.search(rb"/Root (\d+) 0 R", trailer["entries"])
    assert root is not None
    head = b"\n%b 0 obj\n" % root[1]
    begins = written.rindex(head) + 1
    catalog = written[begins : written.index(b"endobj", begins)]
    if b"/ViewerPreferences<<" in catalog:
        catalog = catalog.replace(b"/ViewerPreferences<<", b"/ViewerPreferences<</PrintScaling/None")
    else:
        catalog = catalog.replace(b"/Type/Catalog", b"/Type/Catalog/ViewerPreferences<</PrintScaling/None>>")
    assert b"/PrintScaling/None" in catalog
    body = b"\n%bendobj\n" % catalog
    where, table = len(written) + 1, len(written) + len(body)
    return b"%b%bxref\n%b 1\n%010d 00000 n\r\ntrailer\n<<%b/Prev %b>>\nstartxref\n%d\n%%%%EOF\n" % (
        written,
        body,
        root[1],
        where,
        trailer["entries"],
        trailer["table"],
        table,
    )
