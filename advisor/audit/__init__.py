"""What a measurement of a zone tells, and the minutes that follow from it."""
