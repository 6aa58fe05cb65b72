"""What is foreseen of a place counts in the ranking: by a foreseer made by hand, and by the real one."""

from datetime import date

import pytest

from husbandry.arrivals import ahead
from husbandry.arrivals.ahead import Prospect, weighed
from husbandry.arrivals.newcomer import Candidate, Finding, Place
from husbandry.arrivals.places import choice_for
from refuge.rounds.planner import moment_for
from refuge.rules.facts import NO_STOP, CircuitFacts
from refuge.rules.limits import LimitsFor
from tests import factories as make
from tests.husbandry.test_arrivals import NEWCOMER

ON = date(2026, 6, 16)


def candidate(pk, penalty):
    water = CircuitFacts(pk, f"W{pk}", "", NO_STOP, 1.2, True, 24.0)
    place = Place(pk, f"Q{pk}", "Area", "", "quarantine", True, 2.0, 0.5, 1.2, water)
    return Candidate(place, (Finding("against", "something", penalty),), (), 0.1, 0.2)


class Foreseer:
    """Chances by enclosure; remembers who was asked about."""

    def __init__(self, **chances):
        self.chances, self.asked = {int(k[1:]): v for k, v in chances.items()}, []

    def prospect(self, place):
        self.asked.append(place.enclosure_id)
        chance = self.chances.get(place.enclosure_id, 0.0)
        return None if chance is None else Prospect("nitrite", "passes", "1 mg/L N", chance, ON)


def ranked(foreseer, penalties, chosen=None, overrides=()):
    candidates = [candidate(pk, penalty) for pk, penalty in enumerate(penalties, start=1)]
    found = weighed(candidates, foreseer, lambda pk: LimitsFor(dict(overrides), circuit_id=pk), chosen)
    return [each.place.enclosure_id for each in found], {each.place.enclosure_id: each for each in found}


class TestWeighed:
    def test_a_high_chance_costs_points_with_its_reason(self):
        order, by = ranked(Foreseer(p1=0.8), [0, 10, 20])
        assert order == [2, 3, 1]
        assert by[1].penalty == pytest.approx(0.8 * 40)
        assert "nitrite passes 1 mg/L N within two weeks with 80" in by[1].findings[0].words
        assert "16 Jun 2026" in by[1].findings[0].words

    def test_a_low_one_speaks_for_the_place(self):
        _, by = ranked(Foreseer(p1=0.1), [0])
        assert by[1].penalty == 0
        assert by[1].findings[-1].kind == "for"

    def test_from_which_chance_on_is_a_limit(self):
        _, by = ranked(Foreseer(p1=0.1), [0], overrides=[(("husbandry.arrival_chance", "site", 0), 0.05)])
        assert by[1].penalty == pytest.approx(4)

    def test_who_moves_up_is_looked_at_too(self):
        foreseer = Foreseer(p1=1.0)
        order, _ = ranked(foreseer, [0, 10, 20, 30, 40, 50])
        assert foreseer.asked == [1, 2, 3, 4]
        assert order[:3] == [2, 3, 4]

    def test_never_more_than_a_few_but_always_the_chosen_one(self):
        foreseer = Foreseer(**{f"p{pk}": 1.0 for pk in range(1, 20)})
        ranked(foreseer, range(20), chosen=17)
        assert foreseer.asked[0] == 17
        assert len(foreseer.asked) == ahead.MOST

    def test_a_water_that_cannot_be_forecast_keeps_its_points(self):
        _, by = ranked(Foreseer(p1=None), [7])
        assert by[1].penalty == 7
        assert len(by[1].findings) == 1


@pytest.mark.django_db
class TestWithTheRealForecast:
    @pytest.fixture
    def tank(self):
        make.RefugeFactory()
        tank = make.EnclosureFactory(purpose="quarantine", circuit__is_quarantine=True, length_m=3.0)
        make.FilterUnitFactory(circuit=tank.circuit)
        make.WaterTestFactory(circuit=tank.circuit, nitrate_n_mg_l=10, alkalinity_mg_l=150)
        return tank

    def test_the_chosen_place_is_forecast_with_the_newcomer(self, tank):
        choice = choice_for(NEWCOMER, tank.pk, moment_for(), "metric")
        assert any("Forecast with the newcomer" in each.words for each in choice.chosen.findings)
        context = choice.ahead.context
        assert context["row"]["course"].bound.quantity == "unionized"
        after, before = context["row"]["course"].after, context["row"]["course"].before
        assert after.extreme > before.extreme
        assert context["clear"].share > 0

    def test_without_its_food_nothing_is_foreseen(self, tank):
        from dataclasses import replace

        choice = choice_for(replace(NEWCOMER, diet=None), tank.pk, moment_for(), "metric")
        assert choice.ahead is None
        assert not any("Forecast" in each.words for each in choice.chosen.findings)

    def test_what_a_water_lacks_is_said(self):
        tank = make.EnclosureFactory(purpose="quarantine")
        choice = choice_for(NEWCOMER, tank.pk, moment_for(), "metric")
        assert choice.ahead.context == {"lacks": "a running filter with its media layers"}
