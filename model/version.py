"""The program's version, stated in every result."""

VERSION = "0.1.0"
