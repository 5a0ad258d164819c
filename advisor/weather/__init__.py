"""Hourly weather in UTC with its provenance, and the services it comes from."""
