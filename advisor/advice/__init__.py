"""From values to advice: pure, no I/O, no clock."""
