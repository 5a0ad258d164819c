"""advisor: what to water tonight, in which zones, for how many minutes, and why."""

__version__ = "0.1.0"
