"""The few kinds of error that this program raises on purpose. They carry facts; the message is built once."""

import math


class GroutJobsError(Exception):
    """The root of every error raised here on purpose."""


class OutOfRange(GroutJobsError):
    """A quantity lies outside the limits that its formula or its standard allows.

    A value that is missing or not a number (NaN) is outside every limit.
    """

    def __init__(
        self,
        quantity: str,
        value: float,
        *,
        low: float | None = None,
        high: float | None = None,
        unit: str = "",
        source: str,
    ) -> None:
        self.quantity = quantity
        self.value = value
        self.low = low
        self.high = high
        self.unit = unit
        self.source = source
        super().__init__(quantity, value, low, high, unit, source)

    def __str__(self) -> str:
        shown = f"{self.quantity} {self._with_unit(self.value)}"
        if self.low is not None and self.value < self.low:
            refused = _refused_end(self.low, -math.inf)
            side = f"below {self._with_unit(self.low)}" if refused is None else f"not above {self._with_unit(refused)}"
            return f"{shown} is {side}, the lower limit in [{self.source}]"
        if self.high is not None and self.value > self.high:
            refused = _refused_end(self.high, math.inf)
            side = f"above {self._with_unit(self.high)}" if refused is None else f"not below {self._with_unit(refused)}"
            return f"{shown} is {side}, the upper limit in [{self.source}]"
        return f"{shown} is not a number that can be used, see [{self.source}]"

    def _with_unit(self, number: float) -> str:
        return f"{number:.6g} {self.unit}".rstrip()


def _refused_end(limit: float, beyond: float) -> float | None:
    """The round number beside a limit that is refused itself: such a limit is kept as the next number that is taken."""
    end = math.nextafter(limit, beyond)
    return end if len(repr(end)) < len(repr(float(limit))) else None


class Unusable(GroutJobsError):
    """A set of inputs contradicts itself: crossing outlines, times that run backwards, points on one line."""

    def __init__(self, quantity: str, reason: str, *, source: str) -> None:
        self.quantity = quantity
        self.reason = reason
        self.source = source
        super().__init__(quantity, reason, source)

    def __str__(self) -> str:
        return f"{self.quantity}: {self.reason} [{self.source}]"


class NotConverged(GroutJobsError):
    """A numerical method did not reach its tolerance."""


class NotAllowed(GroutJobsError):
    """The rules of the record forbid this step, for this person or in this state. The text says what to do next."""


class Stale(GroutJobsError):
    """Somebody else changed the row since it was read."""
