"""What every part of an answer is."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Answered(BaseModel):
    """A part of an answer: frozen, and NaN or infinity never leave."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
