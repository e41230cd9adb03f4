"""Numbers in sentences."""


def counted(count: int, one: str, many: str = "") -> str:
    """The number with its noun: "1 day", "3 days"; `many` where the plural is not made with an s.

    Examples
    --------
    >>> counted(1, "day"), counted(0, "day"), counted(2, "entry", "entries")
    ('1 day', '0 days', '2 entries')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"
