"""The version of this program, as it names itself to others."""

VERSION = "0.1.0"
