"""The demonstration: an invented works, made by the same actions that people call, never by writing tables."""
