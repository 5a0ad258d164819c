"""One command, or one family of commands, a file; heavy imports happen inside the functions."""
