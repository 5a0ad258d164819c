"""What the owner declares and what happened, as validated frozen values."""
