"""One weather service a file: read_x parses, get_x fetches."""
