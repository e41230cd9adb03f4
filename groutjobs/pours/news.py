"""News of the pour log for stages to the right. Receivers work in the transaction of the entry; a fault stops it."""

from django.dispatch import Signal

log_grew = Signal()
"""Sent with `pour`, `by` and `entry`, which is None where a photograph was added."""
