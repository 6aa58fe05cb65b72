"""What the pages say of a forecast, of what to do, and of how good forecasts were."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from enclosures.models import WaterChange
from filtration.forecast import Observation
from filtration.forecasting import services, wishes
from filtration.forecasting.limits import BOUNDS
from filtration.forecasting.lines import day_words, disagreement_words, headline, meal_lines, risk_lines
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.scores import CONFIDENCE, ENOUGH, NORMAL, ScoreRow, as_read, scores, true_share
from filtration.forecasting.shown import DayRow
from filtration.views.forecasts import brought_words
from tests.factories import FilterUnitFactory, UserFactory, WaterTestFactory
from tests.filtration.a_water import NOW, a_water, days_ago, moment

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def reader(client):
    client.force_login(UserFactory())
    return client


def body(client, url: str, **options) -> str:
    answer = client.get(url, **options)
    assert answer.status_code == 200
    return answer.content.decode()


def cost(client, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


class TestWaterPage:
    def test_says_until_when_it_is_sure_and_draws_it(self, reader):
        circuit = a_water()
        services.forecast_waters([circuit.pk])
        page = body(reader, circuit.get_absolute_url())
        assert "The next two weeks" in page
        assert "Sure enough until" in page or "Nothing in doubt until" in page
        drawing = page[
            page.index('<svg class="ahead"') : page.index("</svg>", page.index('<svg class="ahead"'))
        ]
        assert len(drawing) < 8000
        assert drawing.count('class="a-meal"') == 3
        assert drawing.count('class="a-meal-ahead"') == 7
        assert "The same as a table" in page

    def test_before_there_is_one_it_says_so(self, reader):
        assert "no forecast yet" in body(reader, a_water().get_absolute_url())

    def test_what_is_lacking_is_said(self, reader):
        circuit = a_water(tests=0)
        services.forecast_waters([circuit.pk])
        assert "It takes a water test" in body(reader, circuit.get_absolute_url())

    def test_a_record_since_is_said_and_the_part_asks_again(self, reader):
        circuit = a_water()
        services.forecast_waters([circuit.pk])
        wishes.want_forecasts([circuit.pk])
        page = body(reader, circuit.get_absolute_url())
        assert "being made anew" in page
        assert 'hx-trigger="load delay:5s"' in page

    def test_costs_the_same_for_any_number_of_tests_and_filters(self, reader):
        circuit = a_water(meals=2, tests=2)
        services.forecast_waters([circuit.pk])
        few = cost(reader, circuit.get_absolute_url())
        for n in range(5):
            WaterTestFactory(circuit=circuit, at=days_ago(1 + n, 15))
            FilterUnitFactory(circuit=circuit)
        services.forecast_waters([circuit.pk])
        assert cost(reader, circuit.get_absolute_url()) == few

    def test_another_quantity_comes_as_a_part(self, reader):
        circuit = a_water()
        services.forecast_waters([circuit.pk])
        part = body(
            reader,
            reverse("water_forecast", args=[circuit.pk]) + "?show=nitrate",
            headers={"HX-Request": "true"},
        )
        assert part.startswith("<section") or "<section" in part[:400]
        assert "<html" not in part
        assert "<b>Nitrate</b>" in part

    def test_the_chance_of_each_limit_is_shown_for_each_day(self, reader):
        circuit = a_water()
        services.forecast_waters([circuit.pk])
        page = body(reader, circuit.get_absolute_url())
        table = page[page.index('<table class="odds"') :].split("</table>")[0]
        assert table.count("<tbody>") == len(BOUNDS)
        assert table.count("data-odds") == len(BOUNDS) * 14
        row = WaterForecast.objects.get(circuit=circuit)
        assert f">{round(100 * row.outlook['chances'][0][0])}</td>" in table

    @pytest.mark.parametrize("name", ["ph", "tan", "suspended"])
    def test_what_is_read_is_drawn_with_its_tests(self, reader, name):
        circuit = a_water()
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=3), ph=7.4, tan_mg_l=0.3, clarity=2)
        services.forecast_waters([circuit.pk])
        page = body(reader, reverse("water_forecast", args=[circuit.pk]) + f"?show={name}")
        drawing = page[page.index('<svg class="ahead"') :].split("</svg>")[0]
        assert 'class="a-test"' in drawing or 'class="a-bad"' in drawing

    def test_the_whole_page_says_how_it_is_computed(self, reader):
        circuit = a_water()
        services.forecast_waters([circuit.pk])
        page = body(reader, reverse("water_forecast", args=[circuit.pk]))
        assert "How is this computed?" in page
        assert "Bayes" in page
        assert "forecast-figure" in page

    def test_a_disagreement_is_said_plainly(self, reader):
        circuit = a_water()
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), tan_mg_l=8.0, ph=8.0)
        services.forecast_waters([circuit.pk])
        page = body(reader, circuit.get_absolute_url())
        assert "Reading and forecast disagree on total ammonia" in page
        assert "Retest, or the filter has changed." in page
        assert reverse("water_help", args=[circuit.pk]) in page


class TestWords:
    def test_days_are_said_as_people_say_them(self):
        today = NOW.date()
        said = [day_words(today + timedelta(days=n), today) for n in (0, 1, 2, 9)]
        assert said == ["today", "tomorrow", "on Friday", "on 19 Mar"]

    def test_the_worst_chances_come_first_and_small_ones_are_left_out(self):
        row = WaterForecast(
            day=NOW.date(),
            outlook={
                "limits": [["unionized", 0.05, False], ["alkalinity", 80, True], ["nitrite", 1.0, False]],
                "chances": [[0.02, 0.12], [0.6, 0.99], [0.01, 0.01]],
            },
        )
        lines = risk_lines(row, NOW.date())
        assert [(line.state, line.words) for line in lines] == [
            (
                "act",
                "Alkalinity falls below 80 mg/L CaCO₃ today: chance 60\u00a0%, more than 98\u00a0% tomorrow.",
            ),
            ("watch", "Un-ionized ammonia passes 0.05 mg/L N tomorrow: chance 12\u00a0%."),
        ]

    def test_a_colour_at_the_end_of_the_card_has_no_upper_end(self):
        each = {"quantity": "tan", "low": 6, "high": None, "expected": [0.1, 0.4], "at": NOW.isoformat()}
        assert "read as over 6 on 10 Mar 2027, expected 0.1 to 0.4 mg/L N." in disagreement_words(
            each, NOW.tzinfo
        )
        fine = disagreement_words(each | {"low": 3.1, "high": 3.11}, NOW.tzinfo)
        assert "read as 3.1 on 10 Mar" in fine
        card = disagreement_words(each | {"low": 1.5, "high": 3.0}, NOW.tzinfo)
        assert "read as 1.5 to 3 on 10 Mar" in card

    def test_clarity_is_said_in_the_words_it_is_entered_in(self):
        each = {"quantity": "suspended", "low": 15, "high": 40, "expected": [1, 6], "at": NOW.isoformat()}
        said = disagreement_words(each, NOW.tzinfo)
        assert "disagree on clarity: read as turbid on 10 Mar 2027, expected clear to hazy." in said

    @pytest.mark.parametrize(
        ("doubt", "days", "words"),
        [
            ("longest", 14, "Nothing in doubt until 24 Mar."),
            ("may_pass", 2, "Sure enough until Friday; then nitrite may be beyond its limit."),
            ("will_pass", 0, "A test is wanted: nitrite is likely to be beyond its limit."),
            ("too_vague", 0, "A test is wanted: nitrite is not known well enough."),
        ],
    )
    def test_the_headline_says_until_when_and_what_is_in_doubt(self, doubt, days, words):
        today = NOW.date()
        until = today + timedelta(days=days)
        row = WaterForecast(day=today, sure_until=until, doubt=doubt, quantity="nitrite", chance=0.3)
        assert headline(row, today).words == words


class TestDisagreement:
    """A test that contradicts the forecast takes the green from what is said of the same quantity."""

    def row(self, quantity: str, **outlook) -> WaterForecast:
        read = {"quantity": quantity, "low": 15, "high": 40, "expected": [0.1, 4], "at": NOW.isoformat()}
        return WaterForecast(
            day=NOW.date(),
            sure_until=NOW.date() + timedelta(days=5),
            doubt="longest",
            outlook={"disagreements": [read], **outlook},
        )

    def test_clear_water_is_not_certain_where_it_was_read_as_turbid(self):
        meal = {"at": NOW.isoformat(), "kg": 0.2, "hours": [0, 0, 0, 1.0], "is_given": False}
        said = {
            name: meal_lines(self.row(name, clearing=[meal]), NOW.date(), NOW.tzinfo)[0]
            for name in ("suspended", "nitrite")
        }
        assert (said["nitrite"].state, said["suspended"].state) == ("good", "watch")
        assert said["suspended"].words == (
            "The water stays clear after the meal of {food:0.2} today; the reading disagrees."
        )

    @pytest.mark.parametrize(
        ("read", "risk", "state"),
        [
            ("nitrite", "nitrite", "watch"),
            ("tan", "unionized", "watch"),
            ("ph", "unionized", "watch"),
            ("nitrate", "nitrite", "good"),
        ],
    )
    def test_a_small_chance_is_not_good_where_the_reading_disagrees(self, read, risk, state):
        row = self.row(read, limits=[[risk, 1.0, False]], chances=[[0.06, 0.07]])
        line = risk_lines(row, NOW.date())[0]
        assert line.state == state
        assert ("the reading disagrees" in line.words) == (state == "watch")

    def test_nor_is_everything_well_or_nothing_in_doubt(self):
        row = self.row("nitrite", limits=[["nitrite", 1.0, False]], chances=[[0.0, 0.0]])
        lines = [headline(row, NOW.date()), *risk_lines(row, NOW.date())]
        assert [line.state for line in lines] == ["watch", "watch"]
        assert all(line.words.endswith("; but a reading disagrees.") for line in lines)

    def test_nor_may_more_be_fed_than_was_planned(self):
        ration = {"factor": 2.0, "meal_kg": 0.2, "is_most": False, "used_up": []}
        row = self.row("nitrite", ration=ration)
        line = meal_lines(row, NOW.date(), NOW.tzinfo)[-1]
        assert line.state == "watch"
        assert "{food:0.4}" not in line.words


class TestHelp:
    def test_leads_through_what_to_do_with_amounts_in_the_readers_units(self, client):
        client.force_login(UserFactory(unit_system="us"))
        circuit = a_water()
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), nitrite_n_mg_l=1.2)
        page = body(client, reverse("water_help", args=[circuit.pk]))
        assert "Change 88\u00a0gal now (33\u00a0% of the water)" in page  # a third of 1,000 L
        assert "<b>Do not feed until a test is good again; take out what was left.</b>" in page
        assert "veterinarian" in page

    def test_shows_the_water_with_and_without_the_steps(self, reader):
        circuit = a_water()
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), tan_mg_l=4.0, ph=8.2)
        services.forecast_waters([circuit.pk])
        page = body(reader, reverse("water_help", args=[circuit.pk]))
        assert page.count('class="a-helped-middle"') == 2  # the picture and its key
        assert page.count('class="a-middle"') == 2
        assert page.count('<th scope="row">') == 14  # the same as a table
        # The part that comes by itself says as much as the page.
        part = body(reader, reverse("water_help", args=[circuit.pk]), headers={"HX-Request": "true"})
        assert "With these steps and no food" in part and "With these steps and no food" in page

    def test_where_the_steps_change_nothing_that_is_forecast_there_is_one_column(self, reader):
        circuit = a_water(tests=3)
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), ph=9.4)
        services.forecast_waters([circuit.pk])
        page = body(reader, reverse("water_help", args=[circuit.pk]))
        table = page[page.index("pH as a table") :].split("</table>")[0]
        assert "pH: end of each day" in table
        assert "Most likely" in table
        assert "With the steps" not in table
        assert 'class="a-helped-middle"' not in page
        assert "<b>pH 9.4 </b>" in page

    def test_says_why_chloramine_may_leave_more_ammonia_in_the_end(self):
        day = DayRow(NOW.date(), middle=0.004, low=0.0, high=0.01, chance=0)
        more, less = replace(day, middle=0.006), replace(day, middle=0.002)
        assert "0.40 mg/L of ammonia nitrogen behind" in brought_words((day, more), 0.395)
        assert brought_words((day, less), 0.395) == ""
        assert brought_words((day, more), 0.0) == ""

    def test_a_well_water_needs_none(self, reader):
        assert "no reading beyond its limit" in body(reader, reverse("water_help", args=[a_water().pk]))

    def test_a_water_that_nobody_tested_is_not_called_well(self, reader):
        circuit = a_water(tests=0)
        page = body(reader, reverse("water_help", args=[circuit.pk]))
        assert "no reading beyond its limit" not in page
        assert "ammonia, with pH and temperature, nor nitrite" in page
        assert reverse("record_new", args=["water_test", circuit.pk]) in page


class TestScores:
    def judged_water(self, tests: int = 4, **reading):
        circuit = a_water(tests=3)
        services.forecast_waters([circuit.pk], moment=moment(NOW - timedelta(days=3)))
        for n in range(tests):
            at = NOW - timedelta(hours=6 * (n + 1))
            WaterTestFactory(circuit=circuit, at=at, **reading)
        return circuit

    def test_each_test_is_held_against_a_forecast_made_before_it(self):
        circuit = self.judged_water(tests=4, ph=None)
        board = scores(NOW)
        # The test of two days ago and the four since, ammonia and nitrite each, and what else that one read.
        counts = {row.label: row.count for row in board.quantities}
        assert counts["Total ammonia"] == counts["Nitrite"] == 5
        assert {row.label: row.count for row in board.waters[0].parts} == counts
        assert board.waters[0].url == f"/waters/{circuit.pk}/forecast/"

    def test_readings_within_the_bands_count_and_others_do_not(self):
        self.judged_water(tests=4, tan_mg_l=8.0, nitrite_n_mg_l=None)
        ammonia = next(row for row in scores(NOW).quantities if row.label == "Total ammonia")
        assert ammonia.within_90 <= 20  # four of five lie far outside

    def test_a_forecast_that_knew_the_test_does_not_count(self):
        circuit = a_water(tests=1)
        services.forecast_waters([circuit.pk], moment=moment(NOW - timedelta(hours=1)))
        assert scores(NOW).total is None

    def test_what_a_kit_is_off_widens_the_band_like_a_normal_spread(self):
        # pH: spread 0.05 of the water, 0.1 of a reading, 0.12 of the meter between calibrations.
        levels = np.array([7.6 + 0.05 * z for z in NORMAL])
        seen = Observation("ph", 7.55, 7.65, error=0.1)
        spread = (0.05**2 + 0.1**2 + 0.12**2) ** 0.5
        assert as_read(seen, levels) == pytest.approx([7.6 + spread * z for z in NORMAL])

    def test_what_so_few_readings_leave_possible_is_the_exact_binomial_interval(self):
        """None of 30 within: at most 1 - (alpha / 2)^(1 / 30), as the binomial chance of none gives by hand."""
        most = 1 - ((1 - CONFIDENCE) / 2) ** (1 / 30)
        assert true_share(0, 30) == (0, round(100 * most))
        assert true_share(100, 30) == (round(100 * (1 - most)), 100)

    @pytest.mark.parametrize(
        ("count", "within_50", "within_90", "words"),
        [
            (ENOUGH - 1, 50, 90, "too few to tell"),
            (ENOUGH, 50, 90, "as sure as it should be"),
            # Four in five of 20 may be chance; of 200 it is not. Four of ten within the pale band are enough to tell.
            (20, 50, 80, "as sure as it should be"),
            (200, 50, 80, "too sure of itself"),
            (10, 50, 40, "too sure of itself"),
            # The dark band counts as well, on both sides.
            (200, 30, 90, "too sure of itself"),
            (200, 70, 90, "more cautious than need be"),
            (20, 60, 95, "as sure as it should be"),
            (400, 50, 97, "more cautious than need be"),
        ],
    )
    def test_the_verdict_goes_by_how_many_readings_there_are(self, count, within_50, within_90, words):
        assert ScoreRow("Nitrite", count, within_50, within_90).verdict[1] == words

    def test_older_forecasts_are_judged_too_by_how_far_ahead_they_looked(self, client):
        circuit = a_water(tests=0)
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(days=20))
        for days in (13, 7.5, 6.5, 5, 1):
            services.forecast_waters([circuit.pk], moment=moment(NOW - timedelta(days=days)))
        WaterTestFactory(circuit=circuit, at=NOW, tan_mg_l=0.1, nitrite_n_mg_l=0.1, ph=7.4)
        leads = {row.label: row for row in scores(NOW).leads}
        # None was kept of two to four days before.
        assert list(leads) == ["The newest forecast", "About 7 days ahead", "About 14 days ahead"]
        assert {row.count for row in leads.values()} == {3}
        assert leads["The newest forecast"].lead == (24, 24, 24)
        assert leads["About 7 days ahead"].lead[0] in {6.5 * 24, 7.5 * 24}
        assert leads["About 14 days ahead"].lead == (13 * 24,) * 3
        client.force_login(UserFactory(manager=True))
        page = body(client, reverse("forecast_scores"))
        assert "About 14 days ahead" in page
        assert "made 24 hours before" in page

    def test_a_reading_after_a_change_does_not_count_against_a_forecast_from_before_it(self):
        circuit = self.judged_water(tests=4)
        before = scores(NOW)
        # Between the second and the third of the four tests, counted from now.
        at = NOW - timedelta(hours=15)
        WaterChange.objects.create(
            circuit=circuit, at=at, volume_m3=0.3, source=circuit.water_source, kind=WaterChange.Kind.CHANGE
        )
        after = scores(NOW)
        assert before.leads[0].left_out == 0
        assert after.leads[0].left_out > 0
        assert after.total.count + after.leads[0].left_out == before.total.count

    def test_only_managers_read_the_scores(self, client, reader):
        self.judged_water()
        assert reader.get(reverse("forecast_scores")).status_code == 403
        client.force_login(UserFactory(manager=True))
        page = body(client, reverse("forecast_scores"))
        assert f"Over all: {scores(NOW).total.verdict[1]}." in page
        assert "By what was read" in page

    def test_they_cost_the_same_for_any_number_of_waters(self, client):
        client.force_login(UserFactory(manager=True))
        self.judged_water()
        few = cost(client, reverse("forecast_scores"))
        for _ in range(3):
            self.judged_water()
        assert cost(client, reverse("forecast_scores")) == few
