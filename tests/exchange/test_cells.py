"""What cells say."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django import forms
from django.core.exceptions import ValidationError

from refuge.exchange.cells import cell_value, day, moment, plain_number, text
from refuge.forms import QuantityField

NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("cell", "utc"),
    [
        ("2026-03-04 07:15", datetime(2026, 3, 4, 12, 15)),
        ("2026-03-04T07:15:30", datetime(2026, 3, 4, 12, 15, 30)),
        ("2026-03-04 07:15+01:00", datetime(2026, 3, 4, 6, 15)),
        ("2026-03-04 07:15:00Z", datetime(2026, 3, 4, 7, 15)),
        ("4.3.2026 07:15", datetime(2026, 3, 4, 12, 15)),
        ("2026-07-04", datetime(2026, 7, 4, 16)),  # noon, in summer time
        (datetime(2026, 3, 4, 7, 15), datetime(2026, 3, 4, 12, 15)),
        (date(2026, 3, 4), datetime(2026, 3, 4, 17)),
        ("2026-11-01 01:30", datetime(2026, 11, 1, 5, 30)),  # twice that night: the first
    ],
)
def test_times_are_on_the_refuge_s_clock_unless_they_say_otherwise(cell, utc):
    assert moment(cell, NEW_YORK).astimezone(UTC) == utc.replace(tzinfo=UTC)


def test_an_hour_that_never_was():
    with pytest.raises(ValidationError, match="clocks went forward"):
        moment("2026-03-08 02:30", NEW_YORK)


@pytest.mark.parametrize(
    "cell", ["soon", "2026-02-30", "2026-13-01", "25:00", "2026-03-04 25:00", "4.3.26", "1e9"]
)
def test_no_times(cell):
    with pytest.raises(ValidationError, match="Write it like"):
        moment(cell, NEW_YORK)


@pytest.mark.parametrize(
    ("cell", "found"),
    [
        ("2026/3/4", (2026, 3, 4)),
        ("13/2/2026", (2026, 2, 13)),
        ("2/13/2026", (2026, 2, 13)),
        ("5/5/2026", (2026, 5, 5)),
    ],
)
def test_dates_that_can_be_read_one_way(cell, found):
    assert day(cell) == date(*found)


def test_a_date_that_can_be_read_two_ways():
    with pytest.raises(ValidationError, match="two ways"):
        day("3/4/2026")


@pytest.mark.parametrize(
    ("written", "read"), [("1,5", "1.5"), (",5", ".5"), ("1.5", "1.5"), ("1200", "1200")]
)
def test_a_decimal_comma(written, read):
    assert plain_number(written) == read


@pytest.mark.parametrize("written", ["1,200", "12,345,678", "-1,234"])
def test_a_comma_that_may_be_either(written):
    with pytest.raises(ValidationError, match="two ways"):
        plain_number(written)


@pytest.mark.parametrize(
    ("cell", "words"), [(12.0, "12"), (900123456789012.0, "900123456789012"), (1.5, "1.5"), (7, "7")]
)
def test_a_code_that_a_spreadsheet_took_for_a_number(cell, words):
    assert text(cell) == words


def cleaned(field, cell):
    return field.clean(cell_value(field, cell))


@pytest.mark.parametrize(
    ("quantity", "cell", "si"),
    [
        ("mass", 55, 55),
        ("mass", "55", 55),
        ("mass", "3 lb", 1.360777),
        ("mass", "350 g", 0.35),
        ("mass", "1,5", 1.5),
        ("length", "0.61", 0.61),  # metres, though a page would read centimetres
        ("length", "8 in", 0.2032),
        ("volume", 0.2, 0.2),
        ("volume", "55 gal", 0.208198),
        ("temperature", "72 F", 22.2222),
        ("mass", 1e-5, 0.00001),
    ],
)
def test_bare_amounts_are_si_and_units_are_converted(quantity, cell, si):
    assert cleaned(QuantityField(quantity), cell) == pytest.approx(si, rel=1e-5)


@pytest.mark.parametrize("cell", ["nan", "inf", "-inf", "1e999", "heavy", "3 in", "1,234", "3 lb 2 oz"])
def test_what_is_no_amount(cell):
    with pytest.raises(ValidationError):
        cleaned(QuantityField("mass"), cell)


@pytest.mark.parametrize(("cell", "value"), [("Round", "round"), ("ROUND", "round"), ("Long one", "oval")])
def test_a_choice_by_its_value_or_its_label(cell, value):
    field = forms.ChoiceField(choices=[("round", "Round"), ("oval", "Long one")])
    assert cell_value(field, cell) == value


def test_no_choice():
    with pytest.raises(ValidationError, match="none of: round, oval"):
        cell_value(forms.ChoiceField(choices=[("round", "Round"), ("oval", "Oval")]), "square")
