"""Engineering of grouting: pure functions of SI numbers. No Django, clock, network or settings."""

ENGINE_VERSION = "2"
"""Stored with every result. Raised when a function of this package can return another number for the same input."""
