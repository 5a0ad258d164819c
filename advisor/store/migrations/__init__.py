"""The steps that bring an older records file to the present schema."""
