"""A load far beyond a young filter is said in words, with what it will carry, on every page that shows it."""

import re
from datetime import timedelta

import pytest
from django.utils import timezone

from enclosures.rules import water_test
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for, plan_site
from refuge.rules.limits import LimitsFor
from tests import factories as make

pytestmark = pytest.mark.django_db

FAR = re.compile(
    r"[Ss]o far the filter carries (less than )?\d+\xa0% of this load; once it is mature, the load is "
    r"(\d+\xa0% of what it can carry|far beyond what it can carry: [\d.\u202f]+ times)"
)


@pytest.fixture
def water():
    """A heavy animal fed daily on a filter that was set up yesterday."""
    make.RefugeFactory()
    tank = make.EnclosureFactory()
    animal = make.AnimalFactory(placed_in=tank, mass_kg=55)
    make.FeedingPlanFactory(animal=animal, every_days=1)
    yesterday = timezone.now().date() - timedelta(days=1)
    make.FilterUnitFactory(circuit=tank.circuit, state="cycling", state_since=yesterday)
    make.WaterTestFactory(circuit=tank.circuit)
    plan_site()
    return tank.circuit


@pytest.fixture
def browser(client):
    client.force_login(make.UserFactory(manager=True))
    return client


def test_the_reason_of_a_test(water):
    facts = load_facts(frozenset([water.pk]), moment_for()).circuit[water.pk]
    reasons = [each.reason for each in water_test(facts, LimitsFor({}), moment_for().today) if each]
    assert any(FAR.search(reason) for reason in reasons)


@pytest.mark.parametrize("path", ["/overview/", "/waters/", None])
def test_pages(browser, water, path):
    html = browser.get(path or water.get_absolute_url()).content.decode()
    assert FAR.search(html)
    assert not re.search(r"\d{4,} %", html)


def test_the_page_of_an_arrival(browser, water):
    tank = water.enclosures.get()
    typed = {"mass_kg": "40", "species": make.SpeciesFactory().pk, "enclosure": tank.pk}
    html = browser.get("/arrivals/outlook/", typed, headers={"hx-request": "true"}).content.decode()
    assert len(FAR.findall(html)) >= 2  # among the reasons, and over the bar
