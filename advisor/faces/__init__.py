"""What people and machines see: they show the Advice and compute nothing."""
