"""The order of places for a newcomer: what each thing costs, and that worse is never ranked better. No database."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from husbandry.arrivals.effects import CHECK_TITLES, quarantine_steps, with_arrival
from husbandry.arrivals.findings import judge
from husbandry.arrivals.newcomer import Case, Diet, Newcomer, Place, agreement, proposed_ration_kg, rank
from husbandry.arrivals.places import following
from husbandry.models import QuarantineCheck
from husbandry.space import LeastSpace, least_space, space_class
from refuge.errors import OutOfRange
from refuge.rules.engine import Plan
from refuge.rules.facts import (
    NO_STOP,
    AnimalFacts,
    CircuitFacts,
    EnclosureFacts,
    Facts,
    FilterFacts,
    QuarantineFacts,
    TestFacts,
)
from refuge.rules.limits import LimitsFor
from refuge.rules.shifts import shifts
from refuge.units import US

TODAY = date(2026, 6, 15)
GOOD = TestFacts(TODAY, 24.0, 7.2, 0.0, 0.0, 10.0, 150.0, 8.0, 0.0, 0.0)
WATER = CircuitFacts(
    id=1,
    label="W1 Water",
    path="/waters/1/",
    stop=NO_STOP,
    volume_m3=1.0,
    is_quarantine=True,
    temperature_c=24.0,
    tests=(GOOD,),
    filters=1,
    capacity_tan_g_day=10.0,
    mature_capacity_tan_g_day=10.0,
)
PLACE = Place(
    enclosure_id=1,
    label="E1 Tank",
    area="Area",
    path="/enclosures/1/",
    purpose="quarantine",
    in_use=True,
    surface_m2=3.0,
    depth_m=0.6,
    volume_m3=1.0,
    circuit=WATER,
)
DIET = Diet(
    "fish", 1.4, 7, protein_fraction=3 * 7 / (1.4 * 92), water_fraction=0.8
)  # 3 g TAN, 10 g solids a day
NEWCOMER = Newcomer("T9", 55.0, 0.6, None, 60.0, 18.0, 28.0, 365, False, DIET)


def animal(pk: int = 5, enclosure: int = 1, started: int | None = None) -> AnimalFacts:
    quarantine = None
    if started is not None:
        since = TODAY - timedelta(days=started)
        quarantine = QuarantineFacts(pk, since, since, 365, since + timedelta(days=365))
    return AnimalFacts(
        pk,
        f"T{pk}",
        f"/animals/{pk}/",
        NO_STOP,
        1,
        enclosure,
        TODAY - timedelta(days=400),
        quarantine=quarantine,
    )


def found(place: Place = PLACE, newcomer: Newcomer = NEWCOMER, **kw):
    return judge(Case(newcomer, place, LimitsFor({}), TODAY, **kw))


def words(candidate, kind: str) -> str:
    return " | ".join(each.words for each in candidate.findings if each.kind == kind).replace("\xa0", " ")


class TestOnePlace:
    def test_an_empty_quarantine_tank_with_all_known_has_nothing_against_it(self):
        candidate = found()
        assert (candidate.penalty, candidate.verdict) == (0, "good")
        assert {each.kind for each in candidate.findings} == {"for"}

    def test_load_is_said_before_and_after(self):
        candidate = found(replace(PLACE, circuit=replace(WATER, planned_tan_g_day=1.0)))
        assert (candidate.load_before, candidate.load_after) == pytest.approx((0.1, 0.4))
        said = words(candidate, "for")
        assert "now: 10 % of what the filter can carry. With the newcomer: 40 % of what" in said

    def test_newcomer_adds_to_the_plan_and_not_to_what_was_fed(self):
        water = replace(WATER, recent_tan_g_day=5.0, planned_tan_g_day=1.0)
        assert found(replace(PLACE, circuit=water)).load_after == pytest.approx(0.5)

    def test_a_filter_that_cannot_carry_it_makes_the_place_a_last_resort(self):
        candidate = found(replace(PLACE, circuit=replace(WATER, capacity_tan_g_day=2.0)))
        assert candidate.verdict == "act"
        assert "With the newcomer: 150 % of what the filter can carry" in words(candidate, "against")

    def test_while_cycling_both_capacities_are_named(self):
        unit = FilterFacts(1, "F1", "", NO_STOP, 1, "cycling", TODAY, 50, 0.25, 24, True, days_to_mature=20.0)
        water = replace(WATER, capacity_tan_g_day=4.0, is_cycling=True)
        candidate = found(replace(PLACE, circuit=water, filters=(unit,)))
        assert (
            "With the newcomer: 75 % of what the filter carries so far; once it is mature, the load is 30 %"
            in words(candidate, "for")
        )
        assert (
            "F1 is cycling: it carries 4 g ammonia nitrogen a day today, 10 g once mature, expected in about 20 days"
            in words(candidate, "against")
        )

    def test_what_several_filters_carry_is_said_of_all_of_them(self):
        old = FilterFacts(11, "F11", "", NO_STOP, 1, "mature", TODAY, 50, 0.25, 24, True)
        new = replace(old, id=14, label="F14", state="cycling", days_to_mature=20.0)
        unused = replace(old, id=15, label="F15", state="building")
        water = replace(WATER, capacity_tan_g_day=10.2, mature_capacity_tan_g_day=17.0, is_cycling=True)
        for units, names in (((old, new), "F11 and F14"), ((old, new, unused), "F11, F14 and F15")):
            said = words(found(replace(PLACE, circuit=water, filters=units)), "against")
            assert (
                f"F14 is cycling: {names} together carry 10 g ammonia nitrogen a day today, 17 g once all are mature"
                in said
            )

    def test_residents_on_the_water_weigh_heavily_against_a_newcomer_in_quarantine(self):
        candidate = found(replace(PLACE, sharing=(animal(enclosure=2),)))
        assert candidate.verdict == "act"
        assert "1 animal not in quarantine (T5)" in words(candidate, "against")

    def test_restart_names_whose_how_many_days_and_the_new_end(self):
        candidate = found(replace(PLACE, sharing=(animal(started=200),)))
        [cost] = candidate.setbacks
        assert (cost.day, cost.days_lost, cost.ends_on) == (201, 200, date(2027, 6, 15))
        assert "T5 starts anew: 200 days lost, planned end 15 Jun 2027 instead of 27 Nov 2026" in words(
            candidate, "against"
        )

    def test_who_came_today_loses_nothing_but_still_shares(self):
        candidate = found(replace(PLACE, sharing=(animal(started=0),)))
        assert candidate.setbacks == ()
        assert "the end of it stays" in words(candidate, "against")

    def test_without_quarantine_the_quarantined_are_what_speaks_against(self):
        candidate = found(
            replace(PLACE, sharing=(animal(started=20),)), replace(NEWCOMER, quarantine_days=None)
        )
        assert "What they carry reaches the newcomer" in words(candidate, "against")

    def test_space_counts_everybody_in_the_tank(self):
        place = replace(PLACE, surface_m2=2.2, living_in=(animal(),), carapaces_m=(0.5,))
        assert "the benchmark minimum for 2 animals is 2.5 m²" in words(found(place), "against")

    def test_numbers_are_said_in_the_readers_units(self):
        assert "32 ft²" in words(found(system=US), "for")
        assert "75 °F" in words(found(system=US), "for")

    def test_a_bad_reading_counts_even_when_a_later_test_left_it_out(self):
        bare = TestFacts(TODAY, *[None] * 9)
        earlier = replace(GOOD, on=TODAY - timedelta(days=3), nitrite=4.0)
        candidate = found(replace(PLACE, circuit=replace(WATER, tests=(bare, earlier))))
        assert "Nitrite was 4 mg/L N on 12 Jun 2026" in words(candidate, "against")

    @pytest.mark.parametrize(
        ("place", "why"),
        [
            (replace(PLACE, in_use=False), "Not in use"),
            (replace(PLACE, volume_m3=0.0), "No water volume: enter its sizes first"),
        ],
    )
    def test_what_blocks(self, place, why):
        candidate = found(place)
        assert candidate.is_blocked
        assert [each.words for each in candidate.findings] == [why]


class TestNotKnown:
    """What is not known is said, costs points, and is never taken as fine."""

    @pytest.mark.parametrize(
        "newcomer",
        [
            replace(NEWCOMER, carapace_m=None),
            replace(NEWCOMER, diet=None),
            replace(NEWCOMER, low_c=None, high_c=None),
        ],
    )
    def test_of_the_newcomer(self, newcomer):
        candidate = found(newcomer=newcomer)
        assert candidate.verdict == "unknown"
        assert candidate.penalty > found().penalty

    @pytest.mark.parametrize(
        ("newcomer", "asked"),
        [
            (replace(NEWCOMER, diet=None), "choose its food"),
            (replace(NEWCOMER, diet=None, food="fish", mass_kg=None), "enter its weight"),
            (replace(NEWCOMER, diet=None, mass_kg=None), "enter its weight and choose its food"),
            (
                replace(NEWCOMER, diet=None, food="fish"),
                "enter what a meal weighs and how often it gets one",
            ),
        ],
    )
    def test_a_load_that_is_not_known_is_no_load_and_only_what_lacks_is_asked_for(self, newcomer, asked):
        candidate = found(replace(PLACE, circuit=replace(WATER, planned_tan_g_day=1.0)), newcomer)
        assert (candidate.load_before, candidate.load_after) == (pytest.approx(0.1), None)
        assert f"The load it brings is not known: {asked}" in words(candidate, "unknown").split(" | ")
        assert "With the newcomer" not in words(candidate, "for")

    def test_a_filter_that_is_too_small_already_counts_though_the_newcomers_load_is_not_known(self):
        water = replace(WATER, planned_tan_g_day=20.0)
        candidate = found(replace(PLACE, circuit=water), replace(NEWCOMER, diet=None))
        assert candidate.load_after is None
        assert "Filter load now: 200 % of what the filter can carry (20 of 10 g" in words(
            candidate, "against"
        )

    @pytest.mark.parametrize(
        "water",
        [replace(WATER, tests=()), replace(WATER, tests=(replace(GOOD, on=TODAY - timedelta(days=20)),))],
    )
    def test_of_the_water(self, water):
        assert found(replace(PLACE, circuit=water)).verdict == "unknown"

    def test_a_running_filter_without_its_layers_is_not_known_rather_than_absent(self):
        unit = FilterFacts(1, "F1", "", NO_STOP, 1, "mature", TODAY, 50, 0.25, 24, False)
        water = replace(WATER, capacity_tan_g_day=None)
        candidate = found(replace(PLACE, circuit=water, filters=(unit,)))
        assert "enter its media layers" in words(candidate, "unknown")
        assert candidate.load_after is None

    def test_no_filter_is_said(self):
        water = replace(WATER, capacity_tan_g_day=None, filters=0)
        assert "No filter on its water" in words(found(replace(PLACE, circuit=water)), "against")


amounts = st.floats(0.01, 50)


class TestWorseIsNeverRankedBetter:
    @given(less=amounts, more=amounts)
    def test_more_load(self, less, more):
        less, more = sorted((less, more))
        diets = [replace(DIET, ration_kg=DIET.ration_kg * tan / DIET.load.tan_g) for tan in (less, more)]
        first, second = (found(newcomer=replace(NEWCOMER, diet=diet)).penalty for diet in diets)
        assert first <= second

    @given(less=amounts, more=amounts)
    def test_less_capacity(self, less, more):
        less, more = sorted((less, more))
        first, second = (
            found(replace(PLACE, circuit=replace(WATER, capacity_tan_g_day=capacity))).penalty
            for capacity in (more, less)
        )
        assert first <= second

    @given(st.floats(0.01, 2), st.floats(0.01, 2))
    def test_a_longer_shell(self, one, other):
        short, long = sorted((one, other))
        tight = replace(PLACE, surface_m2=0.5, depth_m=0.25)
        first, second = (
            found(tight, replace(NEWCOMER, carapace_m=length)).penalty for length in (short, long)
        )
        assert first <= second + 1e-9

    @given(st.floats(0.05, 20), st.floats(0.05, 20))
    def test_less_water_surface(self, one, other):
        small, large = sorted((one, other))
        first, second = (found(replace(PLACE, surface_m2=surface)).penalty for surface in (large, small))
        assert first <= second + 1e-9

    @given(st.floats(0, 30), st.floats(0, 30))
    def test_further_from_the_temperature_it_needs(self, one, other):
        near, far = sorted((one, other))
        first, second = (
            found(replace(PLACE, circuit=replace(WATER, temperature_c=28 + off))).penalty
            for off in (near, far)
        )
        assert first <= second + 1e-9

    @given(st.integers(1, 364), st.integers(1, 364))
    def test_a_quarantine_that_has_come_further(self, one, other):
        early, late = sorted((one, other))
        first, second = (
            found(replace(PLACE, sharing=(animal(started=days),))).penalty for days in (early, late)
        )
        assert first <= second

    def test_more_company(self):
        penalties = [
            found(replace(PLACE, living_in=tuple(animal(n) for n in range(count)))).penalty
            for count in range(4)
        ]
        assert penalties == sorted(penalties)

    def test_rank_puts_the_least_penalty_first_and_the_blocked_last(self):
        blocked = found(replace(PLACE, in_use=False))
        poor = found(replace(PLACE, purpose="resident"))
        assert rank([blocked, poor, found()]) == [found(), poor, blocked]


class TestWithArrival:
    def facts(self) -> Facts:
        unit = FilterFacts(1, "F1", "", NO_STOP, 1, "mature", TODAY, 50, 0.25, 24, True, media_void_l=50)
        enclosure = EnclosureFacts(1, "E1", "", NO_STOP, 1, False, "quarantine")
        neighbour = animal(enclosure=2, started=100)
        return Facts({1: WATER}, {1: unit}, {1: enclosure}, {}, {5: neighbour})

    def test_everything_that_will_be_written_is_foreseen(self):
        after = with_arrival(self.facts(), NEWCOMER, 1, TODAY)
        assert after.animal[-1].quarantine.ends_on == date(2027, 6, 15)
        assert after.plan[-1].ration_kg == 1.4
        assert (after.enclosure[1].awake, after.enclosure[1].occupied_since) == (1, TODAY)
        assert (after.circuit[1].animals, after.circuit[1].mass_kg) == (1, 55.0)
        assert after.circuit[1].planned_tan_g_day == pytest.approx(3.0)
        assert after.circuit[1].last_joined_on == TODAY
        assert after.filter[1].solids_g_day == pytest.approx(10.0)
        assert after.animal[5].quarantine.ends_on == date(2027, 6, 15)
        assert all(each.kind != "intake_exam" for each in after.animal[5].quarantine.checks)

    def test_the_facts_it_was_copied_from_stay(self):
        facts = self.facts()
        with_arrival(facts.copy(), NEWCOMER, 1, TODAY)
        assert facts == self.facts()

    def test_solids_are_shared_as_they_flow_now(self):
        facts = self.facts()
        facts.filter[2] = replace(facts.filter[1], id=2, solids_g_day=3.0)
        facts.filter[1] = replace(facts.filter[1], solids_g_day=1.0)
        facts.circuit[1] = replace(WATER, solids_g_day=4.0, planned_tan_g_day=1.0)
        after = with_arrival(facts, NEWCOMER, 1, TODAY)
        assert [after.filter[n].solids_g_day for n in (1, 2)] == pytest.approx([3.5, 10.5])

    def test_no_difference_is_no_shift(self):
        assert shifts(Plan(), Plan(), TODAY) == []

    def test_titles_of_checks_are_those_of_the_records(self):
        assert dict(QuarantineCheck.Kind.choices) == CHECK_TITLES


class TestSmallThings:
    def test_steps_begin_with_day_one_and_end_with_the_planned_end(self):
        steps = quarantine_steps(NEWCOMER, TODAY)
        assert (steps[0].title, steps[0].days) == ("Day 1", (TODAY,))
        assert (steps[-1].title, steps[-1].days) == ("Planned end", (date(2027, 6, 15),))
        assert quarantine_steps(replace(NEWCOMER, quarantine_days=None), TODAY) == []

    def test_ration_of_a_55_kg_animal_once_a_week(self):
        """Trade fact (common practice, no source): about 1.36 kg of fish a week; 2.5 % of 55 kg is 1.375."""
        assert proposed_ration_kg(55, 7) == pytest.approx(1.36, rel=0.02)

    @pytest.mark.parametrize(
        ("codes", "expected"),
        [
            (["T-061", "T-060"], "T-062"),
            (["T-099"], "T-100"),
            (["A7", "B12", "A9"], "A10"),
            (["Old Moss"], ""),
            ([], ""),
        ],
    )
    def test_next_code(self, codes, expected):
        assert following(codes) == expected

    def test_agreement_stands_for_exactly_these_restarts(self):
        one = (3, date(2027, 1, 1))
        other = (4, date(2027, 1, 2))
        assert agreement(1, [one, other]) == agreement(1, [other, one])
        assert len({agreement(1, [one]), agreement(2, [one]), agreement(1, [one, other]), ""}) == 4
        assert agreement(1, []) == ""

    @pytest.mark.parametrize("length", [0, -1, float("nan"), float("inf"), 3.5])
    def test_no_shell_is_that_long(self, length):
        with pytest.raises(OutOfRange, match="carapace_m"):
            space_class(length)

    def test_nobody_needs_nothing(self):
        assert least_space([]) == LeastSpace(0.0, 0.0)
