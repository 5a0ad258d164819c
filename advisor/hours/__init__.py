"""When water may run and who can act."""
