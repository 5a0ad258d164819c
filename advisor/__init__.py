"""advisor: what to water tonight, in which zones, for how many minutes, and why."""

from advisor.version import VERSION as __version__

__all__ = ["__version__"]
