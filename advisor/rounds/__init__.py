"""The next round, the hours that suit it, and the tank it is mixed in."""
