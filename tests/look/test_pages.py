"""The frame of every page: one heading, landmarks, the places a role may go, and pages for when things fail."""

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest
from django.template import engines
from django.template.loader import get_template, render_to_string
from django.test import RequestFactory
from django.urls import path

from refuge.gallery import gallery
from refuge.people.models import Refuge, Role, User

PAGE = "{% extends 'base.html' %}{% block title %}North pond{% endblock %}{% block main %}<p>Body</p>{% endblock %}"
MANAGER_PLACES = {
    "overview": "Overview",
    "arrival_new": "New arrival",
    "limit_list": "Limits",
    "person_list": "People",
}


def _nothing(request: HttpRequest) -> None:
    raise AssertionError("only the address is wanted")


NAMES = ["circuit_list", "animal_list", "notice_list", "sign_out", "sign_in", *MANAGER_PLACES]
urlpatterns = [
    path("", _nothing, name="today"),
    path("components/", gallery, name="gallery"),
    *[path(f"{name}/", _nothing, name=name) for name in NAMES],
]


def asked_by(user: User | AnonymousUser, address: str = "/") -> HttpRequest:
    request = RequestFactory().get(address)
    request.user = user
    request.refuge = Refuge(name="Alder Mill")  # type: ignore[attr-defined]
    return request


def person(role: str = Role.VOLUNTEER, **fields: object) -> User:
    return User(username="ines", name="Ines", role=role, **fields)


def page(user: User | AnonymousUser, address: str = "/", **context: object) -> str:
    template = engines["django"].from_string(PAGE)
    return template.render({"unread_notices": 0, **context}, asked_by(user, address))


@pytest.fixture(autouse=True)
def own_addresses(settings) -> None:
    settings.ROOT_URLCONF = __name__


def test_the_title_is_the_only_heading_of_its_rank() -> None:
    html = page(person())
    assert "<title>North pond · Alder Mill</title>" in html
    assert html.count("<h1") == 1
    assert "<h1>North pond</h1>" in html


def test_landmarks_language_and_the_way_past_them() -> None:
    html = page(person())
    assert '<html lang="en-GB"' in html
    assert html.count("<main") == html.count("<nav") == html.count('<header class="shell"') == 1
    assert html.index('href="#main"') < html.index("<nav")


@pytest.mark.parametrize("theme", ["auto", "light", "dark"])
def test_a_person_may_choose_the_theme(theme: str) -> None:
    assert f'data-theme="{theme}"' in page(person(theme=theme))


@pytest.mark.parametrize(
    ("role", "sees"), [(Role.MANAGER, True), (Role.STAFF, False), (Role.VOLUNTEER, False)]
)
def test_places_of_the_manager(role: str, sees: bool) -> None:
    html = page(person(role))
    assert [f"<span>{word}</span>" in html for word in MANAGER_PLACES.values()] == [sees] * len(
        MANAGER_PLACES
    )


def test_the_current_place_is_said() -> None:
    assert 'href="/circuit_list/" aria-current="page"' in page(person(), "/circuit_list/")
    assert 'href="/circuit_list/" aria-current="true"' in page(person(), "/circuit_list/3/")


def test_unread_notices_are_counted_in_words_too() -> None:
    assert '3<span class="unseen"> unread</span>' in page(person(), unread_notices=3)
    assert "unread" not in page(person())


def test_scripts_are_deferred_and_htmx_runs_no_code_from_markup() -> None:
    html = page(person())
    assert html.count("<script") == html.count(" defer") == 2
    assert '"allowEval":false' in html
    assert '{"code":"422","swap":true}' in html


def test_requests_by_htmx_carry_the_token_against_forgery() -> None:
    assert 'hx-headers=\'{"X-CSRFToken": "' in page(person())


@pytest.mark.parametrize("name", ["403.html", "403_csrf.html", "404.html", "500.html"])
def test_a_failed_page_needs_nothing(name: str) -> None:
    html = get_template(name).render()
    assert html.count("<h1>") == 1
    assert "Back to today" in html


def test_signing_in_keeps_the_way_and_the_name() -> None:
    from refuge.people.forms import SignInForm

    form = SignInForm(asked_by(AnonymousUser()), data=None)
    html = render_to_string(
        "people/sign_in.html", {"form": form, "next": "/e/Q2/"}, asked_by(AnonymousUser(), "/sign_in/")
    )
    assert 'name="next" value="/e/Q2/"' in html
    assert 'autocomplete="current-password"' in html
    assert 'autocapitalize="none"' in html


@pytest.mark.django_db  # the frame counts unread notices
def test_the_gallery_shows_every_component() -> None:
    answer = gallery(asked_by(person()))
    html = answer.content.decode()
    classes = [
        "progress",
        "stop",
        "task",
        "crossing",
        "caution",
        "notice",
        "facts",
        "bar",
        "spark",
        "how",
        "table",
    ]
    classes += [
        "rows",
        "timeline",
        "empty",
        "qr",
        "field",
        "wrong",
        "choices",
        "thumb-bar",
        "pager",
        "show-more",
    ]
    assert [name for name in classes if f'class="{name}' not in html] == []


def test_the_toast_goes_into_its_place_with_its_way_back() -> None:
    html = render_to_string("components/_toast.html", {"text": "Saved <i>", "undo_url": "/undo/7"})
    assert '<div id="toast" hx-swap-oob="innerHTML">' in html
    assert 'hx-post="/undo/7"' in html
    assert "Saved &lt;i&gt;" in html


@pytest.mark.parametrize("state", ["due", "over", "done"])
def test_a_task_row_in_each_state(state: str) -> None:
    from datetime import date

    html = render_to_string(
        "components/_task_row.html",
        {
            "id": "task-1",
            "title": "Test the water",
            "due_on": date(2025, 4, 14),
            "today": date(2025, 4, 17 if state == "over" else 14),
            "done_words": "Done by Ines" if state == "done" else "",
            "tap_url": "/tap",
            "tap_word": "All seen",
            "open_url": "/open",
        },
    )
    assert ("data-over" in html, "data-done" in html) == (state == "over", state == "done")
    assert ("All seen" in html) == (state != "done")
    assert ("3 days over" in html) == (state == "over")
