"""Two people, one row: a form that was opened before somebody else saved is sent back once, with what was typed."""

import hashlib
from collections.abc import Iterable
from typing import Any

from django import forms
from django.db.models import Model

from groutjobs.accounts.models import User
from groutjobs.audit.actions import snapshot
from groutjobs.audit.chain import canonical
from groutjobs.audit.models import AuditedRow
from groutjobs.audit.queries import events_about
from groutjobs.fields import SheetForm

SEEN = "seen"


def state_of(row: Model | None, *rows: Iterable[Model]) -> str:
    """One short text for what stands in the row and its own rows; another text as soon as anything differs."""
    stands = [snapshot(one) for one in ([row] if row is not None else [])]
    for own in rows:
        stands += [snapshot(one) for one in own]
    return hashlib.sha256(canonical(stands).encode()).hexdigest()[:32]


class SeenForm(SheetForm):
    """A form of a stored row that knows which state of it was shown. Call `watch` last in `__init__`."""

    stands = ""
    watched: AuditedRow | None = None

    def watch(self, row: AuditedRow | None, *rows: Iterable[Model]) -> None:
        self.stands, self.watched = state_of(row, *rows), row
        self.fields[SEEN] = forms.CharField(widget=forms.HiddenInput(), required=False, max_length=32)
        self.initial[SEEN] = self.stands

    def full_clean(self) -> None:
        """After all other checks: refuse once where the row is another than the one that was shown."""
        super().full_clean()
        if not self.is_bound:
            return
        shown = self.cleaned_data.pop(SEEN, "")
        if not self.stands or shown in ("", self.stands):
            return
        self.add_error(None, self._told())
        self.data: Any = self.data.copy()
        self.data[self.add_prefix(SEEN)] = self.stands

    def _told(self) -> str:
        last = events_about([self.watched]).last() if self.watched else None
        who = User.objects.filter(pk=last.actor_id or 0).values_list("name", flat=True).first() if last else None
        return (
            f"{who or 'Somebody'} saved this while you had it open. Look at what stands there now in another tab; "
            "save again to put yours in its place."
        )
