"""What the terminal prints."""
