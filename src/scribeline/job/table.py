"""What every table of the job file is built on."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Table(BaseModel):
    """One table of the job file: frozen, and strict about its keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
