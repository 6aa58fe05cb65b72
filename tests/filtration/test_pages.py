"""The filters' pages: open to whoever is signed in, a constant number of queries, changed by managers."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from filtration.charts import filter_figure
from filtration.drawing import cross_section
from refuge.errors import OutOfRange
from tests.factories import CircuitFactory, EnclosureFactory, FilterUnitFactory, RefugeFactory, UserFactory

pytestmark = pytest.mark.django_db


def queries(client, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(
        connection,
    ) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


def test_the_list_costs_the_same_for_any_number_of_filters(client, manager):
    FilterUnitFactory()
    few = queries(client, reverse("filter_list"))
    for _ in range(6):
        FilterUnitFactory()
    assert queries(client, reverse("filter_list")) == few


def test_a_filters_page_costs_the_same_whatever_else_is_on_the_site(client, manager):
    unit = FilterUnitFactory()
    EnclosureFactory(circuit=unit.circuit)
    few = queries(client, unit.get_absolute_url())
    for _ in range(4):
        FilterUnitFactory(circuit=unit.circuit)
    assert queries(client, unit.get_absolute_url()) == few


def test_a_volunteer_reads_but_does_not_change(client):
    RefugeFactory()
    client.force_login(UserFactory())
    unit = FilterUnitFactory()
    assert client.get(unit.get_absolute_url()).status_code == 200
    assert client.get(reverse("filter_edit", args=[unit.pk])).status_code == 403


def test_a_manager_builds_a_filter_with_layers_typed_in_inches(client, manager):
    manager.unit_system = "us"
    manager.save()
    circuit, area = CircuitFactory(), EnclosureFactory().area
    data = {
        "code": "F9", "name": "New barrel", "circuit": circuit.pk, "area": area.pk, "position": 0, "state": "building",
        "shape": "round", "length_m": "22", "height_m": "34 in", "void_height_m": "20 cm",
        "layer-TOTAL_FORMS": 2, "layer-INITIAL_FORMS": 0, "layer-0-medium": "river_rock",
        "layer-0-depth_m": "10", "layer-1-medium": "", "layer-1-depth_m": "",
    }  # fmt: skip
    answer = client.post(reverse("filter_new"), data)
    assert answer.status_code == 302, answer.content.decode()[:3000]
    unit = circuit.filters.get()
    assert unit.length_m == pytest.approx(0.5588)
    assert [layer.depth_m for layer in unit.layers.all()] == [pytest.approx(0.254)]


def test_a_filter_that_began_today_carries_little_on_its_own_page_as_on_its_waters(client, manager):
    unit = FilterUnitFactory(state="cycling", state_since=timezone.localdate())
    EnclosureFactory(circuit=unit.circuit)
    for path in (unit.get_absolute_url(), unit.circuit.get_absolute_url(), reverse("filter_list")):
        page = client.get(path).content.decode()
        assert "under 0.1" in page, path
        assert "carries 0.0" not in page, path


class TestCrossSection:
    def test_parts_are_drawn_to_scale(self):
        drawn = cross_section(
            length_m=0.5, height_m=1.0, void_height_m=0.25, layers=[("a", 0.5)], sediment_depth_m=0.1
        )
        assert drawn.void.height == pytest.approx(drawn.inner_height * 0.25)
        assert drawn.layers[0].height == pytest.approx(drawn.inner_height * 0.5)
        assert drawn.layers[0].y + drawn.layers[0].height == pytest.approx(drawn.void.y)
        assert drawn.sediment.height == pytest.approx(drawn.inner_height * 0.1)
        assert drawn.inner_width / drawn.inner_height == pytest.approx(0.5)

    def test_layers_above_the_rim_are_cut_off_and_said(self):
        drawn = cross_section(length_m=1, height_m=1, void_height_m=0.5, layers=[("a", 0.4), ("b", 0.4)])
        assert drawn.overfull
        assert drawn.layers[1].y == pytest.approx(drawn.y)

    def test_a_size_that_cannot_be_is_refused(self):
        with pytest.raises(OutOfRange):
            cross_section(length_m=0, height_m=1, void_height_m=0.5, layers=[])


def test_a_drain_beyond_the_limit_stands_out_in_the_figure():
    from datetime import date

    day = date(2026, 3, 1)
    figure = filter_figure(
        expected_l=[(day, 12.0)], seen_l=[(day, 30.0)], limit_l=20.0, flow_m3_h=[], least_flow_m3_h=None
    )
    seen = next(trace for trace in figure["data"] if trace["name"] == "Seen")
    assert seen["marker"]["symbol"] == ["diamond"]
    assert seen["y"] == [30.0]
