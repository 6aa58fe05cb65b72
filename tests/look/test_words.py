"""What the tags say and draw: due days, states, levels, tables, icons, the current place."""

from datetime import date, timedelta

import pytest
from django.template import Context, Template

from refuge.templatetags import look

TODAY = date(2025, 4, 14)


def drawn(source: str, **context: object) -> str:
    return Template("{% load look %}" + source).render(Context(context))


@pytest.mark.parametrize(
    ("days_late", "said"),
    [
        (None, ("unknown", "not known")),
        (70, ("over", "since 3 Feb 2025")),
        (57, ("over", "since 16 Feb 2025")),
        (56, ("over", "8 weeks over")),
        (14, ("over", "2 weeks over")),
        (13, ("over", "13 days over")),
        (1, ("over", "1 day over")),
        (0, ("now", "today")),
        (-1, ("later", "tomorrow")),
        (-2, ("later", "in 2 days")),
        (-24, ("later", "in 3 weeks")),
        (-365, ("later", "on 14 Apr 2026")),
    ],
)
def test_due_words(days_late: int | None, said: tuple[str, str]) -> None:
    due_on = None if days_late is None else TODAY - timedelta(days=days_late)
    assert look.due_words(days_late, due_on) == said


def test_a_far_day_is_said_in_weeks_when_its_date_is_not_given() -> None:
    assert look.due_words(70) == ("over", "10 weeks over")


@pytest.mark.parametrize("kind", ["over", "now", "later", "unknown"])
def test_every_due_kind_has_a_word_and_a_shape(kind: str) -> None:
    late = {"over": 3, "now": 0, "later": -3, "unknown": None}[kind]
    html = drawn(
        "{% due day today %}", day=None if late is None else TODAY - timedelta(days=late), today=TODAY
    )
    assert f'data-due="{kind}"' in html
    assert "<use href=" in html
    assert look.due_words(late)[1] in html


def test_the_four_states_have_four_shapes() -> None:
    shapes = {drawn("{% state kind 'so' %}", kind=kind).split("#")[1].split('"')[0] for kind in look.STATES}
    assert len(shapes) == 4
    assert shapes <= look.icon_names()


def test_an_unknown_state_is_refused() -> None:
    with pytest.raises(ValueError, match="no state is called 'fine'"):
        drawn("{% state 'fine' 'so' %}")


def test_an_unknown_icon_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="no icon is called 'dropp'"):
        drawn("{% icon 'dropp' %}")


def test_an_icon_is_silent_unless_it_has_a_label() -> None:
    assert 'aria-hidden="true"' in drawn("{% icon 'drop' %}")
    assert 'role="img" aria-label="A &amp; B"' in drawn("{% icon 'drop' 'A & B' %}")


def test_an_icon_named_by_data_falls_back() -> None:
    assert "#hazard" in drawn(
        "{% with name=given|icon_or:'hazard' %}{% icon name %}{% endwith %}", given=None
    )


def test_a_level_within_its_limit() -> None:
    """The drawing ends at 125 % of the limit, so 64 of 100 fills 51.2 and the mark stands at 80."""
    html = drawn("{% bar 64 100 'of the filter' %}")
    assert 'width="51.2"' in html
    assert 'x="80.0"' in html
    assert "over the limit" not in html


def test_a_level_beyond_its_limit_says_so() -> None:
    html = drawn("{% bar 150 100 'of the filter' %}")
    assert "over the limit" in html
    assert 'class="level-over" x="66.7" y="1" width="33.3"' in html


def test_a_level_nobody_knows_is_not_drawn_as_nought() -> None:
    html = drawn("{% bar None 100 'of the filter' %}")
    assert "not known" in html
    assert "0 %" not in html


@pytest.mark.parametrize(("done", "total", "width"), [(0, 0, "0.0"), (14, 37, "37.8"), (37, 37, "100.0")])
def test_progress(done: int, total: int, width: str) -> None:
    html = drawn("{% progress done total %}", done=done, total=total)
    assert f"<b>{done}</b> of {total} done" in html
    assert f'class="level-water" width="{width}"' in html


def test_a_table_labels_its_cells_and_aligns_columns_of_numbers() -> None:
    html = drawn("{% table head rows %}", head=["Day", "pH"], rows=[["14 Apr", None], ["4 Apr", 7.5]])
    assert '<td data-label="Day">14 Apr</td>' in html
    assert '<td data-label="pH" class="num">–</td>' in html
    assert '<th scope="col" class="num">pH</th>' in html


def test_a_table_escapes_what_people_typed() -> None:
    assert "<script>" not in drawn("{% table head rows %}", head=["Note"], rows=[["<script>"]])


def test_a_row_of_the_wrong_length_is_refused() -> None:
    with pytest.raises(ValueError, match="a row has 1 cells under 2 headings"):
        drawn("{% table head rows %}", head=["Day", "pH"], rows=[["14 Apr"]])


def test_the_sparkline_draws_plain_numbers_in_any_language(settings) -> None:
    settings.LANGUAGE_CODE = "de"
    html = drawn("{% sparkline values None 0.5 'TAN' %}", values=[0.1, None, 0.62])
    assert 'role="img" aria-label="TAN, last 2 readings: 0.1 to 0.62, lately 0.62"' in html
    assert "," not in html.split('d="')[1].split('"')[0]


@pytest.mark.parametrize(
    ("path", "url", "current"),
    [
        ("/", "/", "page"),
        ("/waters/", "/", ""),
        ("/waters/", "/waters/", "page"),
        ("/waters/3/", "/waters/", "true"),
        ("/waters/", None, ""),
    ],
)
def test_current_place(path: str, url: str | None, current: str) -> None:
    assert look.current_page(path, url) == current


def test_an_address_that_does_not_exist_is_none() -> None:
    assert look.url_or_none("no_such_page") is None


def test_a_qr_symbol_is_dark_on_light_in_every_theme() -> None:
    html = look.qr("https://refuge.example/e/Q2")
    assert html.startswith("<svg")
    assert "#fff" in html
    assert "#000" in html
