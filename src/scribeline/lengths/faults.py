"""The one error this room raises."""


class LengthError(ValueError):
    """Something was typed that is not a length; the message is one sentence for a person."""


def quoted(text: str) -> str:
    """Quote what was typed for a message: one line, printable, shortened.

    Args:
        text: What the person typed, whatever it is.
    """
    printable = "".join(c if c.isprintable() else " " for c in text)
    line = " ".join(printable.split())
    return f'"{line[:37]}..."' if len(line) > 40 else f'"{line}"'
