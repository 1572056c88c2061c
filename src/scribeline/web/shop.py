"""What every page works with: the shop's store, the plans worked out so far, the data folder."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from socket import gethostname
from threading import Lock
from typing import TYPE_CHECKING, Any

from fastapi import Request
from fastapi.responses import Response

from scribeline.files import clear, unfinished
from scribeline.job import ENDING, learnt_in
from scribeline.web.glances import Glances
from scribeline.web.live import Live
from scribeline.web.planning import Kept, Planner
from scribeline.web.work import Workshop

if TYPE_CHECKING:
    from scribeline.store import Store
    from scribeline.strings import Calibration
    from scribeline.web.certificate import Certificate

SHOPS_PC = f"the shop's PC {gethostname().partition('.')[0][:24]}".rstrip()
"""Who is named in the history where nobody was paired: whoever sits at the PC the app runs on. A tablet reads it too."""

ASIDE_KEPT = 40
"""Edits that met another one and are not settled: the newest so many are kept."""

CURES_KEPT = 400
"""Checks whose ways out are remembered with what each would do."""

PICTURES_KEPT = 600
"""Screens of steps whose pictures are remembered: a job has about seventy."""

_LEARNT = f"records{ENDING}"
"""In the data folder: what the records taught when they were last looked at."""

SHOP_TESTS = "shop.toml"
"""What a job calls the shop's tests."""

SHOWN_KEPT = 400
"""Steps whose numbers are remembered as they were shown; others are worked out again from their revision."""


@dataclass(frozen=True)
class Shop:
    """One running app.

    Attributes:
        store: jobs with every revision, parts book, drill box, ticks and readings.
        folder: the data folder.
        share: whether other devices of the shop's network may pair.
        port: where the app answers.
        secure_port: the same over https; 0 where it does not.
        certificate: what it answers with there.
        planner: plans by text, kept so that a page asks for them as often as it likes.
        made_by: which screen saved which revision since the app started, by job and number.
        workshop: long work, done in the background.
        live: who listens for changes.
        glances: what each job is like, for the lists of jobs.
        shown: the numbers of steps as their screens showed them, by job, step and mark.
        pictures: those of the steps' screens.
        cures: the ways out of checks with what each would do, by the job and the check.
    """

    store: Store
    folder: Path
    share: bool = False
    port: int = 0
    planner: Planner = field(default_factory=Planner)
    made_by: dict[tuple[int, int], str] = field(default_factory=dict)
    workshop: Workshop = field(init=False)
    live: Live = field(default_factory=Live, repr=False)
    glances: Glances = field(init=False, repr=False)
    shown: Kept = field(default_factory=lambda: Kept(SHOWN_KEPT), repr=False)
    pictures: Kept = field(default_factory=lambda: Kept(PICTURES_KEPT), repr=False)
    secure_port: int = 0
    certificate: Certificate | None = field(default=None, repr=False)
    cures: Kept = field(default_factory=lambda: Kept(CURES_KEPT), repr=False)
    _files: Lock = field(default_factory=Lock, repr=False)

    def __post_init__(self) -> None:
        """The workshop keeps what it makes among the shop's data; who listens hears of what the store keeps."""
        object.__setattr__(self, "workshop", Workshop(self.folder / "made"))
        object.__setattr__(self, "glances", Glances(self))
        self.store.told.append(self.live.tell)

    def clear(self) -> None:
        """Remove what earlier runs left: half-made results and backups, and copies of files that the jobs hold."""
        clear(self.folder)
        self.workshop.clear()
        shutil.rmtree(self.folder / "beside", ignore_errors=True)

    def put_aside(self, job_id: int, edit: Mapping[str, Any]) -> str:
        """Keep an edit that met another one until a person settles it; its name.

        Raises:
            OSError: it cannot be written.
        """
        content = json.dumps({"job": job_id, **edit}).encode()
        key = hashlib.sha256(content).hexdigest()[:16]
        room = self.folder / "aside"
        room.mkdir(exist_ok=True)
        part = room / f"{key}.part"
        part.write_bytes(content)
        part.replace(room / f"{key}.json")
        for old in sorted(room.glob("*.json"), key=lambda each: each.stat().st_mtime)[:-ASIDE_KEPT]:
            old.unlink(missing_ok=True)
        return key

    def aside(self, job_id: int, key: str) -> dict[str, Any] | None:
        """An edit that was put aside; None where there is none of that name any more."""
        if re.fullmatch(r"[0-9a-f]{16}", key) is None:
            return None
        try:
            found = json.loads((self.folder / "aside" / f"{key}.json").read_bytes())
        except (OSError, ValueError):
            return None
        return found if isinstance(found, dict) and found.get("job") == job_id else None

    def settled(self, job_id: int, key: str) -> None:
        """Let go an edit that was put aside."""
        if self.aside(job_id, key) is not None:
            (self.folder / "aside" / f"{key}.json").unlink(missing_ok=True)

    def record(self, job_id: int) -> str:
        """What a job's plan must know of the bench: steps done with their cuts, what their gates read, overrides.

        A reading at a step that is not done yet changes no plan and is left out.
        """
        from scribeline.store import record_of

        ticks = self.store.ticks(job_id)
        done = {tick.card_id for tick in ticks}
        newest = {each.gate_id: each for each in self.store.readings(job_id) if each.gate_id in done}
        return record_of(
            ticks, newest.values(), self.store.overrides(job_id), self.store.measurements(job_id)
        )

    def learnt(self) -> Calibration | None:
        """What the shop's records teach, kept in the data folder until they change; None without records.

        Raises:
            JobError: the records cannot be read.
        """
        text = self.store.calibrations()
        return learnt_in(text, self.folder / _LEARNT) if text else None

    def beside(self, job_id: int) -> Path:
        """A folder with the files a job may name (outline drawings, the shop's records and tests), written out as they are now.

        The folder's name hangs on what is in it, so what was worked out from it may be kept.
        """
        kept = {each.name: each for each in self.store.attachments(job_id)}
        records, tests = self.store.calibrations(), self.store.shop_tests()
        mark = hashlib.sha256(
            repr([(name, each.size, each.at) for name, each in sorted(kept.items())]).encode()
            + records.encode()
            + b"\0"
            + tests.encode()
        ).hexdigest()[:16]
        place = self.folder / "beside" / f"{job_id}-{mark}"
        with self._files:
            if not place.exists():
                unfinished = place.with_suffix(".part")
                unfinished.mkdir(parents=True, exist_ok=True)
                for name in kept:
                    (unfinished / name).write_bytes(self.store.attachment(job_id, name))
                if records:
                    (unfinished / "records.toml").write_text(records, encoding="utf-8")
                    if (self.folder / _LEARNT).exists():  # it says itself of which records
                        shutil.copyfile(self.folder / _LEARNT, unfinished / f"records.toml{ENDING}")
                if tests:
                    (unfinished / SHOP_TESTS).write_text(tests, encoding="utf-8")
                unfinished.rename(place)
        return place


def backup_of(shop: Shop) -> Response:
    """Everything the shop has as one checked file to take away, named by the day."""
    with unfinished(shop.folder) as folder:
        path = folder / "shop.db"
        shop.store.backup(path)
        content = path.read_bytes()
    name = f"scribeline-{datetime.now(UTC):%Y-%m-%d}.backup"
    return Response(
        content,
        media_type="application/octet-stream",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def shop_of(request: Request) -> Shop:
    """The app's shop."""
    shop: Shop = request.app.state.shop
    return shop


def who(request: Request) -> str:
    """Who is at the other end, in the words of the history."""
    return str(getattr(request.state, "who", "") or SHOPS_PC)
