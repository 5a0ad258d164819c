"""From requests to runs inside the owner's rules."""
