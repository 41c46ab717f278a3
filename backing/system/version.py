"""The program's version, where the package's tools and every room can read it."""

VERSION = "0.1.0"
