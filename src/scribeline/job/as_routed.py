"""What was measured of the wood itself, put in the place of what the job states: the depth of a neck pocket that is routed."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

from scribeline.job.found import Found, in_the_record, numbers_of
from scribeline.job.reading import Job, feature_id
from scribeline.job.record import Record
from scribeline.job.values import Dimension
from scribeline.lengths import said

NECK_POCKET = "neck pocket"


def pocket_as_read(record: Record) -> Found | None:
    """The neck pocket, where its depth was read; None where it was not."""
    found = record.found.get(feature_id(NECK_POCKET))
    return found if found is not None and found.cut.depth is not None and found.is_deep_as_read else None


def entries(found: Found) -> str:
    """Where the readings of a depth stand, in words."""
    numbers = numbers_of(found.telling("deeper"))
    told = [in_the_record(numbers)] if numbers else []
    if len(numbers) < len(found.telling("deeper")):
        told.append("its step's gate")
    return " and ".join(told)


def as_routed(job: Job, record: Record) -> Job:
    """The job with its neck pocket as deep as it was measured, and as well as that is known.

    Heights, saddles, screws and what is said of a shim go by it; the pocket itself is cut, and stays.
    """
    found = pocket_as_read(record)
    if found is None or found.cut.depth is None:
        return job
    deeper, sd = found.of("deeper")
    depth = Dimension(found.cut.depth + deeper, sd * sqrt(3), measured=True)
    neck = job.document.neck.model_copy(update={"pocket_depth": depth})
    source = f"as routed and measured ({entries(found)}); {said(found.cut.depth)} was planned"
    return replace(
        job,
        document=job.document.model_copy(update={"neck": neck}),
        as_read={**job.as_read, "neck.pocket_depth": source},
    )
