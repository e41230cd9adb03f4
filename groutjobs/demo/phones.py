"""One phone of the demonstration: it has joined, has sent two entries of the running pour, and still holds a third."""

import datetime as dt

from groutjobs.accounts.device_actions import enrol_device, issue_shift_key, make_device_code
from groutjobs.demo.plant import Works
from groutjobs.faults.phone import Made, Phone
from groutjobs.pours.models import EntryKind, Pour
from groutjobs.sync.models import DeviceContact
from groutjobs.sync.ops import read_op
from groutjobs.sync.receiving import receive

MINUTE = dt.timedelta(minutes=1)


def send_from_a_phone(works: Works, pour: Pour, at: dt.datetime) -> None:
    """Entries as a phone sends them, by the same door; the last one was made where there is no signal."""
    _, code = make_device_code(site_id=works.site.pk, name="Demo phone 2", by=works.people["administrator"])
    device, token = enrol_device(typed=code)
    lead = works.people["lead"]
    key = issue_shift_key(device=device, person=lead)
    phone = Phone(str(device.pk), token, lead.pk, str(key.pk), key.key)
    texts = ("Tarp on the east side closed, wind has turned", "Hose moved to the second fill hole")
    sent: list[Made] = [
        phone.op(pour.pk, EntryKind.NOTE, {"text": text}, at=at - minutes * MINUTE)
        for text, minutes in zip(texts, (42, 31), strict=True)
    ]
    for made in sent:
        receive(op=read_op(made.text), device=device)
    DeviceContact.objects.create(device=device, at=at - 28 * MINUTE, seq_told=phone.seq + 1, pending={str(pour.pk): 1})
