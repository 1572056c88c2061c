"""Names of devices: of a sensible length, made of what can be seen, and none that passes for the shop's own machine's."""

from __future__ import annotations

import re
import socket
import unicodedata
from itertools import groupby

from scribeline.store import StoreError
from scribeline.store.checks import line

LONGEST = 40
"""Characters: what the history has room for."""

MOST_MARKS = 2
"""Accents over one letter; more of them run into the lines above and below."""

KEPT_FOR_THE_SHOP = (
    "this machine",
    "this computer",
    "this pc",
    "shop machine",
    "shop computer",
    "shop pc",
    "shop's machine",
    "shop's computer",
    "shop's pc",
)
"""Not to be in any device's name, spaces or none."""

KEPT_WHOLE = ("the shop", "shop", "owner", "the owner", "the job file", "scribeline", "localhost")
"""Not to be a device's whole name; nor is the machine's name in the network."""

_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Kinds of characters that have no shape of their own (Unicode Standard, table 4-4, General Category): control, format
(which turn the writing round, or join), half characters, private and unassigned ones, ends of lines."""

_EMPTY = frozenset("\u115f\u1160\u3164\uffa0\u2800")
"""Letters and signs that are drawn as nothing: the fillers of Hangul, the empty Braille pattern."""

_LOOKS_LIKE = str.maketrans(
    "авекмнорстухіѕјһӏԁԛԝгпѵαβεηικμνορτυχωϲ01345678|!$@",
    "abekmhopctyxisjhidqwrnvabenikmvoptuxwcoieasgtbiisa",
) | {ord("l"): "i", ord("ı"): "i"}
"""Small letters of other alphabets, digits and signs that stand for a Latin letter in a name made to deceive; l for i."""

_UNLIKE_LATIN = frozenset({"CJK", "HIRAGANA", "KATAKANA", "KATAKANA-HIRAGANA", "HANGUL", "BOPOMOFO"})
"""Writing that stands beside Latin letters every day and is not taken for them."""

_LATIN = re.compile(r"LATIN (?:(?:CAPITAL|SMALL) LETTER|LETTER SMALL CAPITAL) ([A-Z])\b")


def device_name(said: str) -> str:
    """A device's name as the history writes it.

    Raises:
        StoreError: it is empty, too long, cannot be seen, mixes alphabets, or passes for the shop's own machine.
    """
    what = "the device's name"
    kept = line(re.sub(" +", " ", unicodedata.normalize("NFC", said)), what, most=LONGEST)
    if any(unicodedata.category(each) in _UNSEEN or each in _EMPTY for each in kept) or _heaped(kept):
        message = f"{what} holds characters that cannot be seen; type it in plain letters"
        raise StoreError(message)
    if len({_alphabet(each) for each in kept if each.isalpha()} - _UNLIKE_LATIN) > 1:
        message = f"{what} mixes letters of two alphabets that look alike; type it in one"
        raise StoreError(message)
    seen = skeleton(kept)
    if not seen:
        message = f"{what} has neither a letter nor a digit; say it in a word or two"
        raise StoreError(message)
    whole = {skeleton(each) for each in (*KEPT_WHOLE, socket.gethostname())}
    if seen in whole or any(skeleton(each) in seen for each in KEPT_FOR_THE_SHOP):
        message = "in the history this would read like the shop's own PC; give the device a name of its own"
        raise StoreError(message)
    return kept


def skeleton(name: str) -> str:
    """What a name looks like at a glance: without accents, case, spaces and signs, look-alikes made one."""
    plain = unicodedata.normalize("NFKD", name).casefold()
    seen = "".join(_latin(each) for each in plain if not unicodedata.combining(each)).translate(_LOOKS_LIKE)
    return "".join(each for each in seen if each.isalnum()).replace("rn", "m").replace("vv", "w")


def _latin(letter: str) -> str:
    """The plain letter under strokes and hooks."""
    found = _LATIN.match(unicodedata.name(letter, ""))
    return found[1].lower() if found else letter


def _alphabet(letter: str) -> str:
    """The first word of the letter's name in the Unicode Standard."""
    return unicodedata.name(unicodedata.normalize("NFKC", letter)[0], "?").split(" ")[0]


def _heaped(name: str) -> bool:
    """Whether more accents stand on one letter than writing needs."""
    marks = groupby(unicodedata.normalize("NFD", name), key=lambda each: unicodedata.combining(each) > 0)
    return any(is_mark and len(list(run)) > MOST_MARKS for is_mark, run in marks)
