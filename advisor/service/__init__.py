"""The advice every evening by itself."""
