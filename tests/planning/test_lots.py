"""Lots in the store: adding and counting again."""

import pytest
from django.urls import reverse

from groutjobs.accounts.models import Role
from groutjobs.audit.models import Event
from groutjobs.audit.queries import changes_in
from groutjobs.planning.models import GroutLot
from tests.factories import make_grout_system, make_lot, make_person
from tests.planning.sheets import engineer_of, signed_in, typed

pytestmark = pytest.mark.django_db
LOT = typed(store_c="20 degC") | {"lot_no": "L-1", "kits": "24", "expires_on": "2028-01-01", "place": "bay 2"}


def test_an_administrator_adds_a_lot() -> None:
    system = make_grout_system()
    client = signed_in(make_person(site=system.site, roles=(Role.ADMINISTRATOR,)))
    answer = client.post(reverse("planning:lot_add", args=[system.pk]), LOT)
    assert answer.status_code == 302
    lot = GroutLot.objects.get(grout_system=system)
    assert (lot.lot_no, lot.kits, lot.store_c) == ("L-1", 24, 20.0)


def test_a_lot_is_counted_again_and_the_record_has_both_numbers() -> None:
    lot = make_lot(grout_system=make_grout_system(), lot_no="L-1")
    client = signed_in(engineer_of(lot.grout_system.site))
    assert client.get(reverse("planning:lot_edit", args=[lot.pk])).status_code == 200
    assert client.post(reverse("planning:lot_edit", args=[lot.pk]), LOT | {"kits": "9"}).status_code == 302
    assert ("kits", "24", "9") in changes_in(Event.objects.get(kind="lot.changed"))


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"lot_no": ""}, "Lot number is empty"),
        ({"kits": "2.5"}, "is not a whole number"),
        ({"kits": "-1"}, "is below"),
        ({"kits": "nan"}, "is not a number"),
        ({"expires_on": "1899-01-01"}, "between 1900 and 2200"),
        (typed(store_c="200 degC"), "is above"),
        ({"place": "x" * 10_000_000}, "longer than 80 characters"),
    ],
)
def test_a_wrong_lot_comes_back_with_a_sentence(wrong: dict[str, str], words: str) -> None:
    system = make_grout_system()
    client = signed_in(engineer_of(system.site))
    answer = client.post(reverse("planning:lot_add", args=[system.pk]), LOT | wrong)
    assert answer.status_code == 200
    assert words in answer.content.decode()
    assert not GroutLot.objects.exists()


def test_a_lot_number_stands_once() -> None:
    lot = make_lot(grout_system=make_grout_system(), lot_no="L-1")
    client = signed_in(engineer_of(lot.grout_system.site))
    answer = client.post(reverse("planning:lot_add", args=[lot.grout_system_id]), LOT)
    assert "is already there" in answer.content.decode()


def test_a_colleague_is_refused_a_stranger_finds_nothing_and_delete_is_no_way() -> None:
    lot = make_lot(grout_system=make_grout_system())
    address = reverse("planning:lot_edit", args=[lot.pk])
    colleague = make_person(site=lot.grout_system.site, roles=(Role.CREW,))
    stranger = make_person(roles=(Role.ENGINEER,))
    assert signed_in(colleague).post(address, LOT).status_code == 403
    assert signed_in(stranger).post(address, LOT).status_code == 404
    assert signed_in(stranger).delete(address).status_code == 405
