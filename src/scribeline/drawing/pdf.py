"""Writes PDF by the typesetter: sheets as pages at their exact size, or a form of `typeset/` filled with data and pictures.

It sets in a thread of its own and lets others work meanwhile, so that the next sheets are drawn while the last are set.
"""

from __future__ import annotations

import json
import re
import struct
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from scribeline.drawing import svg
from scribeline.drawing.face import FOLDER, breakable, legible
from scribeline.drawing.sheet import Sheet
from scribeline.lengths import MM_PER_INCH

if TYPE_CHECKING:
    from typst import Compiler, Fonts

FORMS = Path(__file__).parent / "typeset"

SMALL_PPI, LARGE_PPI = 32.0, 110.0
"""Dots per inch of pictures of a page: A4 lying is 374 dots wide, which a list shows sharp; the least lettering, of 2.5 mm, is
11 dots high, which is read with ease."""


@dataclass(frozen=True, slots=True)
class PagePicture:
    """What a page of a PDF looks like.

    Attributes:
        title: what is on it; "" where the form does not say.
        width: of the paper, mm; good to 0.2 mm.
        height: of the paper, mm; likewise.
        small: a PNG for a list.
        large: a PNG to be read.
    """

    title: str
    width: float
    height: float
    small: bytes
    large: bytes


class Setting(Future[bytes]):
    """A PDF being set. Once it is, pictures of its pages come from the same typesetting and take little time."""

    def __init__(self, compiler: Compiler) -> None:
        super().__init__()
        self._compiler = compiler

    def pages(self) -> tuple[PagePicture, ...]:
        """The pages as pictures, when the PDF is set."""
        self.result()
        small, large = (
            _each(self._compiler.compile(format="png", ppi=ppi)) for ppi in (SMALL_PPI, LARGE_PPI)
        )
        titles: dict[int, list[str]] = {}
        for page, title in json.loads(self._compiler.query("<shown>", field="value")):
            if title not in titles.setdefault(page, []):
                titles[page].append(title)
        return tuple(
            PagePicture(" · ".join(titles.get(n, ())), *_size_mm(much), few, much)
            for n, (few, much) in enumerate(zip(small, large, strict=True), start=1)
        )


def write(sheets: Sequence[Sheet], *, title: str, author: str = "Scribeline") -> bytes:
    """The sheets as a PDF file, a page each; see `typeset`.

    Raises:
        ValueError: No sheets.
    """
    return begin(sheets, title=title, author=author).result()


def begin(sheets: Sequence[Sheet], *, title: str, author: str = "Scribeline") -> Setting:
    """The same, now being set."""
    if not sheets:
        raise ValueError("A PDF needs at least one sheet.")
    pictures = {str(n): sheet for n, sheet in enumerate(sheets)}
    pages = [{"name": name, "title": sheet.name} for name, sheet in pictures.items()]
    return typeset("pages", {"pages": pages}, pictures, title=title, author=author)


def typeset(
    form: str,
    data: Mapping[str, Any],
    pictures: Mapping[str, Sheet],
    *,
    title: str,
    author: str = "Scribeline",
) -> Setting:
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

    return _beside(made, Setting(compiler))


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
    told: Future[Any] = Future()
    return _beside(lambda: json.loads(compiler.query(f"<{what}>", field="value", one=True)), told)


Promise = TypeVar("Promise", bound=Future[Any])


def _beside(make: Callable[[], Any], made: Promise) -> Promise:
    """Begin what the typesetter does; a thread that nobody waits for any more ends with the process."""

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


def _each(made: bytes | list[bytes] | None) -> list[bytes]:
    """The pages; the typesetter gives one alone as it is."""
    assert made is not None
    return [made] if isinstance(made, bytes) else made


def _size_mm(large: bytes) -> tuple[float, float]:
    """Of the page, good to a dot, from the first chunk of its PNG (W3C PNG, 11.2.1)."""
    across, up = struct.unpack(">II", large[16:24])
    return across / LARGE_PPI * float(MM_PER_INCH), up / LARGE_PPI * float(MM_PER_INCH)


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
