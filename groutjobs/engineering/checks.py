"""One way to refuse a number."""

import math

import numpy as np
import numpy.typing as npt

from groutjobs.errors import OutOfRange

Floats = npt.NDArray[np.float64]


def require_between(
    quantity: str,
    value: float,
    low: float | None,
    high: float | None,
    *,
    unit: str = "",
    source: str,
) -> None:
    """Raise OutOfRange unless the value is a number from low to high, both included.

    Parameters
    ----------
    quantity : Its name, for the error.
    value : The number. [as unit], low to high
    low : Lower limit. [as unit], None for none
    high : Upper limit. [as unit], None for none
    unit : What is printed behind the numbers of the error.
    source : Key of the source that sets the limit.

    Raises
    ------
    OutOfRange : the number is outside, NaN or infinite, or a limit is NaN.

    Source
    ------
    [GROUTJOBS] a number is refused, never bent into its range.
    """
    too_low = low is not None and not value >= low
    too_high = high is not None and not value <= high
    if too_low or too_high or not math.isfinite(value):
        raise OutOfRange(quantity, value, low=low, high=high, unit=unit, source=source)


def require_above(quantity: str, value: float, low: float, *, unit: str = "", source: str) -> None:
    """Raise OutOfRange unless the value is a number above low; low itself is refused.

    Parameters
    ----------
    quantity : Its name, for the error.
    value : The number. [as unit], above low
    low : Lower limit. [as unit]
    unit : What is printed behind the numbers of the error.
    source : Key of the source that sets the limit.

    Raises
    ------
    OutOfRange : the number is not above, NaN or infinite, or the limit is NaN.

    Source
    ------
    [GROUTJOBS] a number is refused, never bent into its range.
    """
    if not (math.isfinite(value) and value > low):
        raise OutOfRange(quantity, value, low=math.nextafter(low, math.inf), unit=unit, source=source)


def require_all_between(
    quantity: str,
    values: Floats,
    low: float | None,
    high: float | None,
    *,
    unit: str = "",
    source: str,
) -> None:
    """Raise OutOfRange for the first value of an array that is not a number from low to high.

    Parameters
    ----------
    quantity : Its name, for the error.
    values : The numbers. [as unit], any shape, low to high
    low : Lower limit. [as unit], None for none
    high : Upper limit. [as unit], None for none
    unit : What is printed behind the numbers of the error.
    source : Key of the source that sets the limit.

    Raises
    ------
    OutOfRange : a number is outside, NaN or infinite, or a limit is NaN.

    Source
    ------
    [GROUTJOBS] a number is refused, never bent into its range.
    """
    bad = ~np.isfinite(values)
    if low is not None:
        bad |= ~(values >= low)
    if high is not None:
        bad |= ~(values <= high)
    if bad.any():
        require_between(quantity, float(values[bad].flat[0]), low, high, unit=unit, source=source)
