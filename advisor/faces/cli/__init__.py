"""The command line.

It reads what was typed, asks a use case, and shows what comes back. It exports nothing: it is where
everything ends.
"""

__all__: list[str] = []
