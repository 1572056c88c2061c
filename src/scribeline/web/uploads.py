"""Files that come from elsewhere, looked at before they are kept."""

from __future__ import annotations

from scribeline.store import StoreError

KINDS = (".svg", ".dxf", ".toml")


def checked(name: str, content: bytes) -> None:
    """Look at a file for a job.

    Args:
        name: its name, which says what it is.
        content: what it holds.

    Raises:
        StoreError: it is none a job takes, or not what its name says.
    """
    if not name.lower().endswith(KINDS):
        message = f"a job takes {', '.join(KINDS[:-1])} and {KINDS[-1]} files; this is none of them"
        raise StoreError(message)
    if not content.strip():
        message = "the file is empty; save it again and send that"
        raise StoreError(message)
    if name.lower().endswith(".svg"):
        _svg(content)
    elif b"\x00" in content:
        message = "the file holds no text; save the drawing as ASCII DXF and send that"
        raise StoreError(message)


def _svg(content: bytes) -> None:
    """Well-formed XML that unfolds into nothing: no entities, nothing fetched from elsewhere."""
    from xml.etree.ElementTree import ParseError

    from defusedxml import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    from scribeline.job.outline.svg import MOST_ELEMENTS, TOO_MANY_ELEMENTS

    if (
        content.count(b"<") > 2 * MOST_ELEMENTS
    ):  # each begins and ends, and takes a hundred times its room in memory
        message = f"the drawing {TOO_MANY_ELEMENTS}"
        raise StoreError(message)
    try:
        root = fromstring(content, forbid_entities=True, forbid_external=True)
    except DefusedXmlException as fault:
        message = "the drawing declares XML entities, which are not read; save it as plain SVG and send that"
        raise StoreError(message) from fault
    except (ParseError, ValueError, LookupError, RecursionError) as fault:
        message = f"the drawing is not readable as SVG ({fault}); save it as plain SVG and send that"
        raise StoreError(message) from fault
    if not str(root.tag).endswith("svg"):
        message = "the file is XML but no SVG drawing"
        raise StoreError(message)
