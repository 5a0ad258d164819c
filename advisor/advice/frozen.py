"""The frozen base of everything that is handed out."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from pydantic import BaseModel, ConfigDict, SerializerFunctionWrapHandler, field_serializer


class Frozen(BaseModel):
    """A value that does not change once made; the docstring under a field is its description.

    Its JSON has every time in UTC, written 2026-06-18T01:15:00Z.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    @field_serializer("*", mode="wrap", when_used="json")
    def _in_utc(self, value: Any, handler: SerializerFunctionWrapHandler) -> Any:
        return handler(value.astimezone(UTC) if isinstance(value, datetime) else value)
