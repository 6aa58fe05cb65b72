"""The forecast held against the demo's tests, which other sums than the forecast's made."""

from collections import defaultdict

import pytest

from benchmarks.hindcast import hindcast, within
from refuge.demo.loading import demo_load
from tests.demo.conftest import TODAY

pytestmark = pytest.mark.django_db


def test_bands_hold_about_as_many_readings_as_they_say():
    """Few of the demo's waters share one refuge's kits, so that a share is not as sure as its many readings look."""
    demo_load(today=TODAY, seed=3, history_days=150)
    judged = [each for _, each in hindcast(2, TODAY)]
    count, half, most = within(judged)
    assert count > 300
    assert 0.45 <= half <= 0.75
    assert 0.86 <= most <= 0.98
    groups = defaultdict(list)
    for each in judged:
        groups[each.quantity].append(each)
    for quantity in ("tan", "nitrite", "nitrate", "alkalinity", "ph"):
        assert within(groups[quantity])[2] >= 0.82, quantity
