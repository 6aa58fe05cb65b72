"""Work that something speaks against: no single button, on no page and over no other way in."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.checks import Error
from django.urls import reverse
from django.utils import timezone

from husbandry.models import Feeding
from refuge.rounds.checks import missing_recorders
from refuge.rounds.due_lists import tasks_for_scope
from refuge.rounds.models import Completion, Task
from refuge.rounds.planner import plan_site
from refuge.rules.registry import RuleBook
from tests import factories as make
from tests.rounds.conftest import client_of

WHY = "No food until a test is good: Nitrite was 1.5 mg/L N"


@pytest.fixture
def meal(walk):
    """The meal of the pond, whose water was read bad an hour ago."""
    read(walk, nitrite_n_mg_l=1.5, hours_ago=1)
    return walk.task("husbandry.feeding")


def read(walk, *, nitrite_n_mg_l: float, hours_ago: float) -> None:
    at = timezone.now() - timedelta(hours=hours_ago)
    make.WaterTestFactory(circuit=walk.pond.circuit, at=at, nitrite_n_mg_l=nitrite_n_mg_l)
    plan_site()


def row_on(page: str, task: Task) -> str:
    return page.partition(f'id="task-{task.pk}"')[2].partition("</article>")[0]


def recording_a_test(walk) -> str:
    return reverse("record_new", args=["water_test", walk.pond.circuit_id])


class TestRow:
    @pytest.fixture(params=["walk", "water", "enclosure", "label"])
    def page(self, request, walk, meal):
        path = {
            "walk": "/",
            "water": walk.pond.circuit.get_absolute_url(),
            "enclosure": walk.pond.get_absolute_url(),
            "label": f"{reverse('here')}?path={walk.pond.get_absolute_url()}",
        }[request.param]
        return client_of(walk.volunteer).get(path).content.decode()

    def test_says_why_and_leads_to_a_test_in_place_of_the_button(self, walk, meal, page):
        row = row_on(page, meal)
        assert WHY in row
        assert 'name="tap"' not in row and "Fed as planned" not in row
        assert f'href="{recording_a_test(walk)}?next=%2F%23stop-enclosures-{walk.pond.pk}"' in row
        assert f'href="/tasks/{meal.pk}/"' in row

    def test_other_work_there_keeps_its_button(self, walk, meal):
        count = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        row = row_on(client_of(walk.volunteer).get("/").content.decode(), count)
        assert 'name="tap"' in row and "Record a water test" not in row

    def test_the_button_is_back_after_a_good_test(self, walk, meal):
        read(walk, nitrite_n_mg_l=0.1, hours_ago=0)
        row = row_on(client_of(walk.volunteer).get("/").content.decode(), walk.task("husbandry.feeding"))
        assert "Fed as planned" in row and "Record a water test" not in row


class TestForm:
    def test_starts_with_not_doing_it_and_why(self, walk, meal):
        html = client_of(walk.volunteer).get(f"/tasks/{meal.pk}/").content.decode()
        chosen = html.partition('value="could_not"')[2].partition(">")[0]
        assert "checked" in chosen
        assert WHY in html.partition('name="reason"')[2].partition("</textarea>")[0]

    def test_saved_as_it_stands_no_meal_is_recorded(self, walk, meal):
        walk.finish(walk.volunteer, meal, outcome="could_not", reason=WHY)
        assert Completion.objects.get().reason == WHY
        assert not Feeding.objects.exists()

    def test_whoever_fed_all_the_same_can_say_so(self, walk, meal):
        food = walk.plan.food_id
        answer = walk.finish(walk.volunteer, meal, outcome="done", food=food, offered_kg="0.1 kg")
        assert answer.status_code == 200
        assert Feeding.objects.get().offered_kg == pytest.approx(0.1)


class TestTap:
    @pytest.mark.parametrize("phone", [True, False])
    def test_of_a_page_from_before_the_test_is_refused_with_the_form(self, walk, meal, phone):
        answer = walk.finish(walk.volunteer, meal, tap="1", phone=phone)
        html = answer.content.decode()
        assert answer.status_code == 422
        assert WHY in html.partition('role="alert"')[2].partition("</div>")[0]
        assert "or why it was not" in html
        assert not Feeding.objects.exists() and not Completion.objects.exists()

    def test_sent_again_answers_as_it_did_before_the_test(self, walk):
        meal, uuid = walk.task("husbandry.feeding"), str(uuid4())
        walk.finish(walk.volunteer, meal, tap="1", uuid=uuid)
        read(walk, nitrite_n_mg_l=1.5, hours_ago=0)
        again = walk.finish(walk.volunteer, meal, tap="1", uuid=uuid)
        assert again.status_code == 200
        assert Feeding.objects.count() == Completion.objects.count() == 1


@pytest.mark.parametrize("meals", [1, 6])
def test_lists_cost_the_same_for_any_number_of_forbidden_meals(walk, meals, django_assert_num_queries):
    for _ in range(meals - 1):
        make.FeedingPlanFactory(enclosure=walk.pond)
    read(walk, nitrite_n_mg_l=1.5, hours_ago=1)
    with django_assert_num_queries(2):
        rows = tasks_for_scope(walk.staff, walk.pond.circuit_id).now
        assert len([row.instead for row in rows if row.instead]) == meals


def test_a_rule_that_leads_to_a_recorder_nobody_has_is_named():
    book = RuleBook()
    book.register("x.meal", kind="plan", title="Feed", recorder="feeding", instead=("nothing", "Test"))(
        lambda *_: []
    )
    [error] = missing_recorders(book, {"feeding"})
    assert isinstance(error, Error) and "'nothing'" in error.msg


@pytest.mark.django_db(transaction=True)
class TestTheSamePage:
    """What a test speaks against at another stop of the water is redrawn with the answer: the plan follows a commit."""

    def test_a_bad_test_takes_the_button_from_the_meal_beside_it_and_its_undo_brings_it_back(self, walk):
        meal = walk.task("husbandry.feeding", scope=walk.pond.circuit_id)
        test = walk.task("enclosures.water_test", scope=walk.pond.circuit_id)
        before = client_of(walk.volunteer).get("/").content.decode()
        assert "Fed as planned" in row_on(before, meal)
        answer = walk.finish(walk.volunteer, test, basis="n", nitrite_n_mg_l="1.5").content.decode()
        assert f'id="stop-enclosures-{walk.pond.pk}"' in answer
        assert "Fed as planned" not in row_on(answer, meal) and "No food until" in row_on(answer, meal)
        undo = reverse("completion_undo", args=[Completion.objects.get(task=test).uuid])
        answer = walk.send(walk.volunteer, undo).content.decode()
        assert "Fed as planned" in row_on(answer, meal)


@pytest.mark.django_db(transaction=True)
def test_a_page_opened_right_after_harm_shows_the_work_that_it_asks_for(walk):
    """The plan is made as the record is committed, before its answer is sent: no worker comes between."""
    url = reverse("record_new", args=["filter_harm", walk.barrel.pk])
    typed = {"kind": "no_flow", "hours": "20"}
    answer = walk.send(walk.volunteer, url, phone=False, **typed)
    assert answer.status_code == 302, answer.content.decode()
    page = client_of(walk.staff).get(answer["Location"]).content.decode()
    assert "Call it disturbed" in page
    assert Task.objects.filter(rule="filtration.harm", subject_id=walk.barrel.pk, status="open").exists()
    water = client_of(walk.volunteer).get(walk.pond.circuit.get_absolute_url()).content.decode()
    test = Task.objects.get(rule="enclosures.water_test", scope=walk.pond.circuit_id, status="open")
    assert test.due_on <= timezone.localdate() and f'id="task-{test.pk}"' in water


@pytest.mark.django_db(transaction=True)
class TestBeyond:
    """Atop the walk stand the waters beyond a limit, each with the page that says what to do."""

    def test_a_bad_reading_stands_there_at_once_and_goes_with_it(self, walk):
        link = f'href="{reverse("water_help", args=[walk.pond.circuit_id])}"'
        browser = client_of(walk.volunteer)
        assert 'class="beyond"' not in browser.get("/").content.decode()
        test = walk.task("enclosures.water_test", scope=walk.pond.circuit_id)
        answer = walk.finish(walk.volunteer, test, basis="n", nitrite_n_mg_l="1.5").content.decode()
        for page in (answer, browser.get("/").content.decode()):
            strip = page.partition('class="beyond"')[2].partition("</ul>")[0]
            assert (
                link in strip
                and "Nitrite was 1.5 mg/L N" in strip
                and ";" not in strip.partition("<small>")[2]
            )
        assert 'class="beyond"' not in browser.get("/?ahead=7").content.decode()
        assert 'class="beyond"' not in browser.get("/?area=Q").content.decode()
        undo = reverse("completion_undo", args=[Completion.objects.get(task=test).uuid])
        assert 'class="beyond"' not in walk.send(walk.volunteer, undo).content.decode()
        assert 'class="beyond"' not in browser.get("/").content.decode()

    def test_plain_work_of_today_is_a_low_row_and_what_is_late_or_spoken_against_is_not(self, walk):
        count = walk.task("husbandry.all_seen", subject_id=walk.pond.pk)
        Task.objects.filter(pk=count.pk).update(due_on=timezone.localdate())
        page = client_of(walk.volunteer).get("/").content.decode()
        assert f'id="task-{count.pk}" data-brief' in page
        read(walk, nitrite_n_mg_l=1.5, hours_ago=1)  # and planned anew
        Task.objects.filter(pk=count.pk).update(due_on=timezone.localdate() - timedelta(days=1))
        page = client_of(walk.volunteer).get("/").content.decode()
        meal = walk.task("husbandry.feeding", scope=walk.pond.circuit_id)
        assert f'id="task-{count.pk}" data-over' in page
        assert f'id="task-{meal.pk}"' in page and f'id="task-{meal.pk}" data-brief' not in page
