"""Fault diagnosis for home-built electric brewing panels."""

__version__ = "0.1.0"
