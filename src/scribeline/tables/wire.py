"""American wire gauge, for hook-up and ground wire."""

import math
import re

from scribeline.tables.published import unknown

_THICKEST, _THINNEST = -3, 56


def awg_diameter_mm(gauge: int | str) -> float:
    """Diameter of a bare round wire of an American wire gauge.

    d = 0.005 in * 92 ** ((36 - gauge) / 39) (ASTM B258), which makes gauge 36 exactly 0.005 in and gauge
    0000 exactly 0.46 in. The standard's printed table rounds to 0.0001 in.

    Args:
        gauge: `24`, `"24"`, `"AWG 24"`; 00, 000 and 0000 as `"00"`, `"2/0"` or -1, -2, -3.

    Raises:
        UnknownName: Not a gauge from 0000 to 56.
    """
    number = _gauge_number(gauge)
    if number is None or not _THICKEST <= number <= _THINNEST:
        raise unknown(
            "an American wire gauge", str(gauge), (), "gauges run from 0000 (4/0) to 56, as in 24 or AWG 24"
        )
    # 0.127 mm is 0.005 in exactly.
    return 0.127 * math.pow(92, (36 - number) / 39)


def _gauge_number(gauge: int | str) -> int | None:
    if isinstance(gauge, bool):
        return None
    if isinstance(gauge, int):
        return gauge
    text = re.sub(r"^awg\s*|\s*awg$", "", str(gauge).strip().lower())
    if match := re.fullmatch(r"([1-4])/0", text):
        return 1 - int(match[1])
    if re.fullmatch(r"0{1,4}", text):
        return 1 - len(text)
    return int(text) if re.fullmatch(r"-?[0-9]{1,2}", text) else None
