"""An enclosure with animals in it stays in use: what is out of use is planned for no more."""

import pytest
from django.urls import reverse
from django.utils import timezone

from enclosures.models import Enclosure
from enclosures.services import WaterError, enclosure_save
from husbandry.missing import forgotten
from husbandry.moves import animal_move
from husbandry.services import HusbandryError
from refuge.exchange.importing import import_file
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager():
    make.RefugeFactory()
    return make.UserFactory(manager=True)


@pytest.fixture
def tank(manager):
    return make.EnclosureFactory(code="P1")


def is_in_use(enclosure) -> bool:
    return Enclosure.objects.get(pk=enclosure.pk).in_use


class TestWithAnimals:
    @pytest.fixture(autouse=True)
    def animal(self, tank):
        return make.AnimalFactory(placed_in=tank)

    def test_the_service_refuses(self, tank, manager):
        tank.in_use = False
        with pytest.raises(WaterError, match="Move them elsewhere first"):
            enclosure_save(enclosure=tank, by=manager)

    def test_the_page_says_so_beside_the_field(self, client, tank, manager):
        client.force_login(manager)
        url = reverse("enclosure_edit", args=[tank.pk])
        form = client.get(url).context["form"]
        typed = {name: form[name].value() for name in form.fields if form[name].value() is not None}
        typed = {name: value for name, value in typed.items() if not isinstance(value, bool)}
        answer = client.post(url, typed)
        assert answer.status_code == 422
        assert list(answer.context["form"].errors) == ["in_use"]
        assert is_in_use(tank)

    def test_a_file_names_row_and_column(self, tank, manager):
        outcome = import_file(key="enclosures", content=b"code,in_use\nP1,no", name="list.csv", by=manager)
        assert [(each.row, each.column) for each in outcome.mistakes] == [(2, "in_use")]
        assert is_in_use(tank)

    def test_other_things_may_change(self, tank, manager):
        tank.note = "Leaks"
        enclosure_save(enclosure=tank, by=manager)
        assert Enclosure.objects.get(pk=tank.pk).note == "Leaks"

    def test_one_put_out_of_use_earlier_is_shown_and_may_be_put_right(self, tank, manager):
        Enclosure.objects.update(in_use=False)
        assert load_facts(None, moment_for()).animal == {}
        assert "P1" in next(forgotten()).words
        tank.refresh_from_db()
        tank.name = "North"
        enclosure_save(enclosure=tank, by=manager)
        tank.in_use = True
        enclosure_save(enclosure=tank, by=manager)
        assert list(forgotten()) == []

    def test_once_they_moved_it_may_go_out_of_use(self, tank, animal, manager):
        make_room = make.EnclosureFactory()
        animal_move(animal=animal, enclosure=make_room, by=manager, at=timezone.now())
        tank.in_use = False
        enclosure_save(enclosure=tank, by=manager)
        assert not is_in_use(tank)


class TestOutOfUse:
    @pytest.fixture(autouse=True)
    def closed(self, tank):
        Enclosure.objects.update(in_use=False)

    def test_nobody_moves_in(self, tank, manager):
        animal = make.AnimalFactory(placed_in=make.EnclosureFactory())
        with pytest.raises(HusbandryError, match="Put it in use first"):
            animal_move(animal=animal, enclosure=tank, by=manager, at=timezone.now())

    def test_no_file_places_an_animal_there(self, manager):
        make.SpeciesFactory(name="River turtle")
        lines = "code,species,arrived_on,enclosure\nT9,River turtle,2026-01-05,P1"
        outcome = import_file(key="animals", content=lines.encode(), name="list.csv", by=manager)
        assert [(each.row, each.column) for each in outcome.mistakes] == [(2, "enclosure")]
