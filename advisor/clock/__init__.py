"""Sheets for a clock that is set by hand, from the usual year."""
