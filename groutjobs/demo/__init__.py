"""The demonstration: an invented works, made by the same actions that people call, never by writing tables."""

PASSWORD = "tide and grout demo"  # noqa: S105 (printed beside the address; the demonstration holds nothing real)


def address_of(key: str) -> str:
    """The address that a person of the demonstration signs in with."""
    return f"{key}@gannetreach.example"
