"""Recording, editing and undoing what happened."""
