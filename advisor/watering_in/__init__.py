"""Applications: what they ask of water and stand to lose."""
