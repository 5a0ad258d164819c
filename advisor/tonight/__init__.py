"""Tonight's advice, from the state of the lawn to the report."""
