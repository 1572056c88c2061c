"""Writes sheets as one PDF, a page each at its exact size, through our own SVG."""

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
    return written
