"""The day's round as a page: who sees what, in which order, at what cost."""

import gzip
import re
from datetime import timedelta
from pathlib import Path
from urllib.parse import quote

import django_htmx
import pytest
from django.utils import timezone

from refuge.rounds import round_parts
from refuge.rounds.models import Completion, Task
from refuge.rounds.planner import plan_site
from refuge.rounds.round_parts import Filters, round_part
from refuge.rounds.walk import walk_key
from tests import factories as make
from tests.rounds.conftest import client_of

pytestmark = pytest.mark.django_db

STATIC = Path(__file__).resolve().parents[2] / "refuge" / "static" / "clearmere"
HTMX = Path(django_htmx.__file__).parent / "static" / "django_htmx" / "htmx-2.min.js"


def page(person, query=""):
    answer = client_of(person).get(f"/{query}")
    assert answer.status_code == 200
    return answer.content.decode()


def stops_of(html):
    return re.findall(r'<section class="stop" id="([^"]+)"', html)


def titles_of(html):
    return re.findall(r'<span class="task-title">([^<]+)</span>', html)


def task_at(stop_code, rank=0, *, due=0, position=0, rule=None, **values):
    today = timezone.localdate()
    return Task.objects.create(
        rule=rule or "enclosures.water_test",
        subject_kind="circuit",
        subject_id=Task.objects.count() + 10_000,
        subject_label=f"Water {stop_code}",
        subject_path=f"/waters/{stop_code}/",
        area_code=f"A{rank}",
        area_name=f"Area {rank}",
        area_rank=rank,
        stop_code=stop_code,
        stop_name=f"Stop {stop_code}",
        stop_position=position,
        stop_path=f"/enclosures/{stop_code}/",
        due_on=today + timedelta(days=due),
        reasons=[{"text": f"Due {due}", "on": today.isoformat(), "kind": "elapsed"}],
        **{"title": "Water test", **values},
    )


class TestWhoSeesWhat:
    def test_everybody_signs_in_first(self, client, walk):
        answer = client.get("/")
        assert answer.status_code == 302
        assert answer.url.startswith("/sign-in/")

    def test_a_volunteer_sees_only_what_volunteers_may_do(self, walk):
        html = page(walk.volunteer)
        assert "All animals seen" in html
        assert "Test the residual-current" not in html
        assert "Test the residual-current" in page(walk.staff)

    @pytest.mark.parametrize(
        ("person", "seen"),
        [
            ("volunteer", {"volunteer"}),
            ("staff", {"volunteer", "staff"}),
            ("manager", {"volunteer", "staff", "manager"}),
        ],
    )
    def test_the_query_itself_filters_by_role(self, walk, person, seen):
        for role in ("volunteer", "staff", "manager"):
            task_at(role[:5], role=role, title=f"Work for {role}")
        html = page(getattr(walk, person))
        for role in ("volunteer", "staff", "manager"):
            assert (f"Work for {role}" in html) == (role in seen)

    def test_mine_shows_what_was_assigned_to_me(self, walk):
        task_at("M1", title="Mine indeed", assigned_to=walk.staff)
        titles = titles_of(page(walk.staff, "?mine=1"))
        assert titles == ["Mine indeed"]

    def test_an_area_can_be_chosen_and_stays_in_the_address(self, walk):
        html = page(walk.manager, "?area=Q")
        assert stops_of(html) == [f"stop-enclosures-{walk.tank.pk}"]
        assert "/?area=Q&amp;ahead=7" in html

    def test_nonsense_in_the_address_shows_the_whole_walk(self, walk):
        html = page(walk.manager, "?ahead=400&after=%5B1%5D&rank=x&area=" + "x" * 40)
        assert len(stops_of(html)) == 3
        assert stops_of(html) == stops_of(page(walk.manager))

    @pytest.mark.parametrize("text", ["\\u0000", "\\ud800"])
    def test_a_place_that_no_database_could_hold_starts_at_the_beginning(self, walk, text):
        after = quote(f'[0,0,"",0,"{text}",""]')
        assert stops_of(page(walk.manager, f"?after={after}")) == stops_of(page(walk.manager))

    def test_looking_ahead_shows_the_days_after_today(self, walk):
        task_at("A1", due=0, title="For today")
        task_at("A2", due=1, title="For tomorrow")
        task_at("A3", due=7, title="In a week")
        task_at("A4", due=8, title="Later still")
        tomorrow, week = page(walk.manager, "?ahead=1"), page(walk.manager, "?ahead=7")
        assert "For tomorrow" in tomorrow
        assert "In a week" not in tomorrow
        assert {"For tomorrow", "In a week"} <= set(titles_of(week))
        assert not {"For today", "Later still"} & set(titles_of(week))


class TestOrder:
    def test_quarantine_comes_last_behind_a_hygiene_step(self, walk):
        html = page(walk.manager)
        assert stops_of(html)[-1] == f"stop-enclosures-{walk.tank.pk}"
        step, last = html.index('class="crossing"'), html.index(f'id="stop-enclosures-{walk.tank.pk}"')
        assert html.index(f'id="stop-enclosures-{walk.pond.pk}"') < step < last
        assert "Before Quarantine room: wash your hands" in html
        assert html.count('class="crossing"') == 1

    def test_the_walk_goes_by_rank_then_place_then_code(self, refuge_only):
        for code, rank, position in [("C", 5, 0), ("B", 0, 2), ("A", 0, 2), ("D", 0, 1)]:
            task_at(code, rank, position=position)
        assert [anchor[-1] for anchor in stops_of(page(refuge_only))] == ["D", "A", "B", "C"]

    def test_inside_a_stop_overdue_before_unknown_before_today(self, refuge_only):
        task_at("A", due=0, title="today")
        task_at("A", due=0, title="unknown", is_unknown=True)
        task_at("A", due=-2, title="two over")
        task_at("A", due=-9, title="nine over")
        html = page(refuge_only)
        assert titles_of(html) == ["nine over", "two over", "unknown", "today"]
        assert "not known" in html

    def test_work_that_is_nowhere_on_the_walk_comes_at_the_very_end(self, refuge_only):
        task_at("A", 9)
        task_at("", 999)
        nowhere = {"stop_path": "", "stop_name": "", "area_code": "", "area_name": "Not on the walk yet"}
        Task.objects.filter(stop_code="").update(**nowhere)
        html = page(refuge_only)
        assert stops_of(html) == ["stop-enclosures-A", "stop-none"]
        assert "Not on the walk yet" in html
        assert "Before Not on the walk" not in html


@pytest.fixture
def refuge_only(db):
    make.RefugeFactory()
    return make.UserFactory(manager=True)


def test_a_refuge_where_nothing_was_planned_yet_leads_its_manager_to_set_it_up(refuge_only):
    manager, volunteer = make.UserFactory(manager=True), make.UserFactory()
    assert 'href="/site/">Set up the site' in page(manager)
    assert "Nothing is due today" in page(volunteer)
    task_at("T1", due=20)
    assert "Nothing is due today" in page(manager)


class TestInParts:
    def test_no_stop_is_lost_or_shown_twice_however_the_walk_is_cut(self, refuge_only, monkeypatch):
        monkeypatch.setattr(round_parts, "STOPS_A_PART", 4)
        for number in range(23):
            task_at(f"S{number % 7}x{number}", rank=number % 3, position=number % 5)
        seen, after = [], ""
        while True:
            part = round_part(refuge_only, Filters(), timezone.localdate(), after=after)
            assert len(part.stops) <= 4
            seen += [view.stop for view in part.stops]
            after = part.goes_on_after
            if not after:
                break
        assert len(seen) == len({stop.path for stop in seen}) == 23
        assert seen == sorted(seen, key=walk_key)

    def test_a_stop_that_was_finished_meanwhile_hides_none_behind_it(self, refuge_only, monkeypatch):
        monkeypatch.setattr(round_parts, "STOPS_A_PART", 2)
        tasks = [task_at(f"S{number}") for number in range(5)]
        first = round_part(refuge_only, Filters(), timezone.localdate())
        Task.objects.filter(pk__in=[tasks[0].pk, tasks[1].pk]).update(status="done", closed_at=timezone.now())
        second = round_part(refuge_only, Filters(), timezone.localdate(), after=first.goes_on_after)
        assert [view.stop.code for view in second.stops] == ["S2", "S3"]

    def test_show_more_brings_the_next_stops_as_a_part(self, refuge_only, monkeypatch):
        monkeypatch.setattr(round_parts, "STOPS_A_PART", 2)
        for number in range(3):
            task_at(f"S{number}", rank=number)
        html = page(refuge_only)
        (url,) = re.findall(r'hx-get="(/\?after=[^"]+)"', html)
        more = client_of(refuge_only).get(url.replace("&amp;", "&"), headers={"hx-request": "true"})
        part = more.content.decode()
        assert stops_of(part) == ["stop-enclosures-S2"]
        assert "Before Area 2" in part
        assert "Before Area 1" not in part
        assert "<html" not in part


class TestCost:
    @pytest.mark.parametrize("times", [1, 8])
    def test_the_same_number_of_queries_for_any_site(self, times, django_assert_num_queries):
        make.RefugeFactory()
        person = make.UserFactory(manager=True)
        for _ in range(times):
            tank = make.EnclosureFactory()
            animal = make.AnimalFactory(placed_in=tank, mass_kg=5)
            make.FilterUnitFactory(circuit=tank.circuit, area=tank.area)
            make.QuarantineFactory(animal=animal)
        plan_site()
        done = task_at("Z", status="done", closed_at=timezone.now())
        Completion.objects.create(task=done, outcome="done", by=person, summary="Done")
        client = client_of(person)
        client.get("/")
        with django_assert_num_queries(11):
            client.get("/")

    def test_thirty_full_stops_fit_the_budget_of_a_poor_connection(self, refuge_only):
        """60 kB at the first visit with style, script and icons, 15 kB at a return."""
        for number in range(40):
            for each in range(5):
                reason = (
                    f"Last test {number} Nov 2026; every {each + 3} days with the filter at {number * 7} %"
                )
                task = task_at(f"S{number:02}", rank=number % 4, position=number, due=-each)
                Task.objects.filter(pk=task.pk).update(
                    reasons=[{"text": reason, "on": "2026-11-25", "kind": "elapsed"}],
                    rule="husbandry.all_seen" if each == 0 else "enclosures.water_test",
                )
        answer = client_of(refuge_only).get("/", headers={"accept-encoding": "gzip"})
        assert answer.headers["Content-Encoding"] == "gzip"
        html = gzip.decompress(answer.content).decode()
        assert len(stops_of(html)) == round_parts.STOPS_A_PART
        assert len(titles_of(html)) == 150
        around = sum(len(gzip.compress(each.read_bytes())) for each in [*STATIC.iterdir(), HTMX])
        assert len(answer.content) < 15_000
        assert len(answer.content) + around < 60_000
