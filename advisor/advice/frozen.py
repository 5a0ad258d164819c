"""The frozen base of everything that is handed out."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict


class Frozen(BaseModel):
    """A value that does not change once made; the docstring under a field is its description."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)
