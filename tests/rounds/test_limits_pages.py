"""The pages about limits: what they show, that a preview writes nothing, and that setting one moves the plan."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from refuge.rounds.limit_pages import changed_overrides, moves, tasks_by_limit
from refuge.rounds.models import Limit, Task
from refuge.rounds.planner import moment_for, plan_site
from refuge.rules.limits import limits
from tests import factories as make

pytestmark = pytest.mark.django_db

KEY = "water.interval_light_days"
PAGE = f"/limits/{KEY}/"


@pytest.fixture
def water():
    make.RefugeFactory()
    enclosure = make.EnclosureFactory()
    make.AnimalFactory(placed_in=enclosure, mass_kg=2)
    make.FilterUnitFactory(circuit=enclosure.circuit)
    make.WaterTestFactory(circuit=enclosure.circuit, nitrate_n_mg_l=1, alkalinity_mg_l=200)
    plan_site()
    return enclosure.circuit


@pytest.fixture
def browser(client):
    client.force_login(make.UserFactory(manager=True, name="Maya Fenn"))
    return client


@pytest.fixture
def typed():
    day = timezone.now().date().isoformat()
    return {"place": "site:0", "value": "5", "from_on": day, "reason": "Warm spell"}


def text(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def water_test_task() -> Task:
    return Task.objects.get(rule="enclosures.water_test", status="open")


class TestWhoMay:
    @pytest.mark.parametrize("path", ["/limits/", PAGE])
    def test_staff_read_and_volunteers_do_not(self, client, water, path):
        client.force_login(make.UserFactory(staff=True))
        assert client.get(path).status_code == 200
        client.force_login(make.UserFactory())
        assert client.get(path).status_code == 403

    def test_staff_set_nothing(self, client, water, typed):
        client.force_login(make.UserFactory(staff=True))
        assert "Set another value" not in text(client.get(PAGE))
        assert client.post(PAGE, typed).status_code == 403
        assert client.get(f"{PAGE}preview/", typed).status_code == 403
        assert not Limit.objects.exists()

    def test_an_unknown_limit_is_not_found(self, browser, water):
        assert browser.get("/limits/water.colour/").status_code == 404


class TestList:
    def test_every_limit_with_its_value_and_where_it_comes_from(self, browser, water):
        page = browser.get("/limits/").content.decode()
        for spec in limits:
            assert f"/limits/{spec.key}/" in page
        assert "NIOSH lifting equation" in page
        assert "Common practice, no source" in page

    def test_what_was_set_says_who_and_why(self, browser, water, typed):
        browser.post(PAGE, typed)
        page = text(browser.get("/limits/"))
        assert "set here" in page
        assert "by Maya Fenn: Warm spell" in page


class TestPreview:
    def test_shows_which_due_dates_move_and_writes_nothing(self, browser, water, typed):
        before = water_test_task().due_on
        page = text(browser.get(f"{PAGE}preview/", typed))
        assert "1 due date would move" in page
        assert f"{before.day} {before:%b %Y}" in page
        assert not Limit.objects.exists()
        assert water_test_task().due_on == before

    def test_half_typed_shows_nothing_yet(self, browser, water):
        assert "Enter a value" in text(browser.get(f"{PAGE}preview/", {"place": "site:0", "value": ""}))

    def test_out_of_range_says_the_range(self, browser, water):
        shown = text(browser.get(f"{PAGE}preview/", {"place": "site:0", "value": "500"}))
        assert "from 1 to 90 days" in shown

    def test_another_waters_value_moves_nothing_here(self, water):
        other = make.EnclosureFactory().circuit
        moment = moment_for()
        here = moves(moment, KEY, ("circuit", water.pk), 5.0, None)
        there = moves(moment, KEY, ("circuit", other.pk), 5.0, None)
        assert [move.title for move in here] == ["Water test"]
        assert there == []

    def test_a_limit_the_facts_are_computed_by_is_seen_too(self, water):
        """The window of the bioload is used while facts are loaded, before any rule runs."""
        enclosure = water.enclosures.get()
        make.FeedingFactory(enclosure=enclosure, tan_g=200.0, at=timezone.now() - timedelta(days=20))
        plan_site()
        moved = moves(moment_for(), "husbandry.load_window_days", ("site", 0), 30.0, None)
        assert "Water test" in {move.title for move in moved}

    def test_back_to_the_wider_value(self):
        site, own = ("k", "site", 0), ("k", "circuit", 3)
        assert changed_overrides({site: 1.0, own: 2.0}, "k", ("circuit", 3), None) == {site: 1.0}


class TestSet:
    def test_the_plan_follows_and_the_task_says_by_which_value(
        self, browser, water, typed, django_capture_on_commit_callbacks
    ):
        before = water_test_task().due_on
        with django_capture_on_commit_callbacks(execute=True):
            assert browser.post(PAGE, typed).status_code == 302
        task = water_test_task()
        assert task.due_on == before - timedelta(days=9)
        assert {"key": KEY, "value": 5.0, "unit": "days", "origin": "site"} in task.limits
        assert "every 5 days" in task.reasons[0]["text"]
        page = text(browser.get(PAGE))
        assert "Warm spell" in page and "Maya Fenn" in page
        assert "every 5 days" in page  # the work that goes by it

    def test_for_one_water(self, browser, water, typed):
        browser.post(PAGE, typed | {"place": f"circuit:{water.pk}"})
        limit = Limit.objects.get()
        assert (limit.scope_kind, limit.scope_id, limit.value) == ("circuit", water.pk, 5.0)
        assert str(water) in text(browser.get(PAGE))

    def test_back_adds_a_row_and_rewrites_none(self, browser, water, typed):
        browser.post(PAGE, typed)
        browser.post(PAGE, typed | {"value": "", "back": "on", "reason": "Over"})
        assert list(Limit.objects.order_by("pk").values_list("value", flat=True)) == [5.0, None]
        page = text(browser.get(PAGE))
        assert "Back to the wider value" in page and "Warm spell" in page

    @pytest.mark.parametrize(
        ("name", "value", "why"),
        [
            ("value", "500", "from 1 to 90 days"),
            ("value", "0", "from 1 to 90 days"),
            ("value", "nan", "no number"),
            ("value", "inf", "no number"),
            ("value", "a week", "no number"),
            ("value", "", "Enter the new value"),
            ("reason", "", "Say why"),
            ("place", "circuit:99999", "is none of the answers offered"),
            ("from_on", "2001-01-01", "This day has passed"),
        ],
    )
    def test_refused_beside_the_field_and_nothing_typed_is_lost(
        self, browser, water, typed, name, value, why
    ):
        answer = browser.post(PAGE, typed | {name: value})
        assert answer.status_code == 422
        assert why in text(answer)
        kept = "5" if name != "value" else value
        assert f'value="{kept}"' in answer.content.decode() or not kept
        assert not Limit.objects.exists()


class TestCost:
    @pytest.mark.parametrize("path", ["/limits/", PAGE])
    def test_the_same_for_any_site_and_any_history(self, browser, water, path):
        def queries() -> int:
            with CaptureQueriesContext(connection) as caught:
                assert browser.get(path).status_code == 200
            return len(caught)

        make_limits(1, water)
        few = queries()
        for _ in range(6):
            place = make.EnclosureFactory()
            make.FilterUnitFactory(circuit=place.circuit)
            make.AnimalFactory(placed_in=place, mass_kg=2)
        plan_site()
        make_limits(9, water)
        assert queries() == few

    def test_work_that_goes_by_it_is_found_by_the_whole_key(self, water):
        tasks, count = tasks_by_limit(KEY)
        assert count == len(tasks) == 1
        assert tasks_by_limit("water.interval_light") == ([], 0)


def make_limits(number: int, water) -> None:
    manager = make.UserFactory(manager=True)
    for n in range(number):
        Limit.objects.create(
            key=KEY,
            scope_kind="circuit",
            scope_id=water.pk,
            value=5 + n,
            reason="Trial",
            from_on=timezone.now().date(),
            by=manager,
        )


@pytest.mark.django_db
class TestShares:
    """A share is kept as 0 to 1, and everywhere said and typed as percent."""

    SHARE = "/limits/water.unsure_chance/"

    def test_is_said_as_percent_on_every_page(self, browser, water):
        assert "10\u00a0%" in browser.get("/limits/").content.decode()
        page = browser.get(self.SHARE).content.decode()
        assert "From 1 to 50\u00a0%" in page and "0.1<" not in page

    def test_is_typed_as_percent_and_kept_as_a_share(self, browser, water, typed):
        assert browser.post(self.SHARE, typed | {"value": "25"}).status_code == 302
        assert Limit.objects.get().value == 0.25
        assert "25\u00a0%" in browser.get(self.SHARE).content.decode()

    def test_what_is_beyond_its_range_is_refused_in_percent(self, browser, water, typed):
        answer = browser.post(self.SHARE, typed | {"value": "0.1"})
        assert answer.status_code == 422
        assert "0.1 cannot be used" in text(answer) and "from 1 to 50" in text(answer)


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("husbandry.look_days", 1, "1 day"),
        ("husbandry.look_days", 2, "2 days"),
        ("filtration.drain_share", 0.3, "30\u00a0% of the void"),
        ("water.alkalinity_mg_l", 80, "80 mg/L CaCO₃"),
        ("water.light_load_share", 0.285, "28.5\u00a0% of capacity"),
    ],
)
def test_a_value_is_said_with_its_unit(key, value, said):
    assert limits[key].said(value) == said
