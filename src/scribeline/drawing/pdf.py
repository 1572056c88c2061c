"""Writes sheets as one PDF, a page each at its exact size, through our own SVG."""

import re
from collections.abc import Sequence

from scribeline.drawing import svg
from scribeline.drawing.face import FOLDER, legible
from scribeline.drawing.sheet import Sheet

_PAGES = """
#set document(title: sys.inputs.title, author: sys.inputs.author, date: none)
#set page(margin: 0pt)
#for n in range(int(sys.inputs.pages)) {
  let (width, height) = (sys.inputs.at("width" + str(n)), sys.inputs.at("height" + str(n)))
  let size = (width: float(width) * 1mm, height: float(height) * 1mm)
  page(..size, image(bytes(sys.inputs.at("page" + str(n))), format: "svg", ..size))
}
"""


def write(sheets: Sequence[Sheet], *, title: str, author: str = "Scribeline") -> bytes:
    """The sheets as a PDF file with the face embedded; the same sheets always give the same bytes.

    It asks to be printed at full size.

    A character that no embedded face has is printed as "?".

    Raises:
        ValueError: No sheets.
    """
    import typst

    if not sheets:
        raise ValueError("A PDF needs at least one sheet.")
    inputs = {"title": title, "author": author, "pages": str(len(sheets))}
    for n, sheet in enumerate(sheets):
        inputs[f"page{n}"] = legible(svg.write(sheet).decode())
        inputs[f"width{n}"], inputs[f"height{n}"] = repr(float(sheet.width)), repr(float(sheet.height))
    fonts = typst.Fonts(include_system_fonts=False, font_paths=[str(FOLDER)])
    compiler = typst.Compiler(_PAGES.encode(), font_paths=fonts, sys_inputs=inputs)
    # The time stamp is fixed, or a second run would give other bytes; the document itself carries no date.
    written = compiler.compile(format="pdf", timestamp=0, pdf_tags=False)
    assert isinstance(written, bytes)
    return _unscaled(written)


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
