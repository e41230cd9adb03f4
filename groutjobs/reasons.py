"""A reason in words: how long it is at least and at most, and the refusal of a shorter one."""

from groutjobs.errors import NotAllowed

REASON_LEAST, REASON_MOST = 10, 300


def is_reason(text: str) -> bool:
    """Whether it says something; a word or two say nothing to an auditor."""
    return len(text.strip()) >= REASON_LEAST


def require_reason(reason: str, why: str = "an auditor reads it", *, first: str = "") -> None:
    """NotAllowed unless it is long enough. `why` says who reads it, `first` what stands before the sentence."""
    if not is_reason(reason):
        raise NotAllowed(f"{first}Give a reason of at least {REASON_LEAST} characters; {why}.")
