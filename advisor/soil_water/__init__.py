"""The state of each zone and what it asks."""
