"""The planner's pages: for managers, a constant number of queries, useful without a script, honest when typed wrongly."""

import re
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from enclosures.models import Circuit
from filtration.models import FilterUnit
from filtration.plans.entry import typed
from filtration.plans.models import FilterDesign
from filtration.plans.reading import bed_layers, verdict_of
from filtration.plans.selectors import asked_of, beginning, plan_from
from tests.factories import (
    AreaFactory,
    CircuitFactory,
    EnclosureFactory,
    FilterDesignFactory,
    FilterUnitFactory,
    RefugeFactory,
    UserFactory,
)

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
NEW = "/filters/plan/"


def form(**changes) -> dict[str, str]:
    plan, layers = plan_from(beginning())
    data = typed(plan, layers, "metric").dict()
    return data | {"name": "Barrel", "do": "save"} | {k.replace("__", "-"): v for k, v in changes.items()}


def text_of(answer) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def queries(client, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


class TestWhoMay:
    ADDRESSES = ("design_new", "design_list", "design_propose", "design_compare")

    @pytest.mark.parametrize("name", ADDRESSES)
    def test_planning_is_for_managers(self, client, name):
        RefugeFactory()
        client.force_login(UserFactory(staff=True))
        assert client.get(reverse(name)).status_code == 403

    @pytest.mark.parametrize("name", ["design_edit", "design_build", "design_remove"])
    def test_so_is_a_plan(self, client, name):
        RefugeFactory()
        client.force_login(UserFactory(staff=True))
        url = reverse(name, args=[FilterDesignFactory().pk])
        assert client.post(url).status_code == 403

    @pytest.mark.parametrize("name", ["design_parts", "design_steps"])
    def test_staff_build_and_may_read_parts_and_steps(self, client, name):
        RefugeFactory()
        url = reverse(name, args=[FilterDesignFactory().pk])
        client.force_login(UserFactory(staff=True))
        assert client.get(url).status_code == 200
        client.force_login(UserFactory())
        assert client.get(url).status_code == 403


class TestPlanning:
    def test_a_new_plan_shows_its_figures_at_once(self, client, manager):
        shown = text_of(client.get(NEW))
        for words in (
            "Can be built",
            "L/h",
            "What speaks against it",
            "Where the pump’s head goes",
            "How is this",
        ):
            assert words in shown

    def test_it_is_shown_in_the_units_of_whoever_plans(self, client, manager):
        manager.unit_system = "us"
        manager.save()
        answer = client.get(NEW)
        assert "gal/h" in text_of(answer)
        assert 'value="22.4"' in answer.content.decode()  # 0.57 m in inches

    def test_typing_is_answered_with_figures_and_with_mistakes_at_their_fields(self, client, manager):
        answer = client.post(NEW, form(do="work_out", inlet_bore_m="1.5"), headers=HTMX)
        html = answer.content.decode()
        assert answer.status_code == 200
        assert "<form" not in html
        assert 'data-finding="fast_inlet"' in html
        assert 'id="plan-glance"' in html
        wrong = client.post(NEW, form(do="work_out", inlet_bore_m="1.5 kg"), headers=HTMX).content.decode()
        slot = wrong[wrong.index('id="id_inlet_bore_m_error"') :][:400]
        assert "does not measure this" in slot
        assert 'href="#id_inlet_bore_m"' in wrong
        assert not FilterDesign.objects.exists()

    def test_a_pump_too_weak_shows_no_flow_and_promises_nothing(self, client, manager):
        data = form(do="work_out", pump_shutoff_head_m="20 cm", tan_g_day="2")
        shown = text_of(client.post(NEW, data, headers=HTMX))
        assert "No water flows, so it carries nothing" in shown
        assert "of what the filter can carry" not in shown.partition("In figures")[0]

    def test_without_a_script_a_button_works_it_out_and_loses_nothing(self, client, manager):
        answer = client.post(NEW, form(do="work_out", note="Beside the door", inlet_bore_m="1.5"))
        html = answer.content.decode()
        assert "Beside the door" in html
        assert 'value="1.5"' in html
        assert 'data-finding="fast_inlet"' in html

    @pytest.mark.parametrize(
        ("do", "part", "holds"),
        [
            ("add_layer", "part-stones", "layer-2-depth_m"),
            ("remove_layer:1", "part-stones", "layer-0-depth_m"),
            ("container", "part-container", "Crate of about 630 L"),
            ("pump", "part-pump", "Pump of about 35"),
            ("inlet", "part-inlet", 'value="68"'),
        ],
    )
    def test_a_part_is_filled_in_and_the_figures_follow(self, client, manager, do, part, holds):
        data = form(do=do, start_container="2", start_pump="1", guard="siphon_break")
        answer = client.post(NEW, data, headers=HTMX)
        assert f'id="{part}"' in answer.content.decode()
        assert holds in answer.content.decode()
        assert "plan-changed" in answer["HX-Trigger-After-Settle"]
        assert holds in client.post(NEW, data).content.decode()

    def test_a_container_answers_with_the_part_its_lip_stands_in(self, client, manager):
        answer = client.post(NEW, form(do="container", start_container="0"), headers=HTMX).content.decode()
        assert re.search(r'id="part-return" hx-swap-oob="true"', answer)
        assert re.search(r'name="overflow_height_m"[^>]*value="57.2"', answer)
        assert (
            'id="part-return"'
            not in client.post(NEW, form(do="pump", start_pump="1"), headers=HTMX).content.decode()
        )

    def test_a_water_fills_in_its_size_and_its_load(self, client, manager):
        tank = EnclosureFactory(length_m=2.0, width_m=1.1, water_depth_m=0.5)
        answer = client.post(NEW, form(do="water", circuit=tank.circuit_id), headers=HTMX)
        html = answer.content.decode()
        assert re.search(
            r'name="tank_volume_m3"[^>]*value="1100"|value="1100"[^>]*name="tank_volume_m3"', html
        )
        begun = client.get(f"{NEW}?water={tank.circuit_id}").content.decode()
        assert f'value="{tank.circuit_id}" selected' in begun

    @pytest.mark.parametrize(
        "query", ["?water=x", "?water=999999", "?from=no", "?proposal=7", "?newcomer=nan"]
    )
    def test_an_address_that_makes_no_sense_begins_plainly(self, client, manager, query):
        assert client.get(NEW + query).status_code == 200

    def test_it_is_saved_once_for_each_entry(self, client, manager):
        data = form(uuid="7b7d1f8e-3f0a-4b58-9f0a-0d6f3c1f8a11")
        first, again = client.post(NEW, data), client.post(NEW, data)
        plan = FilterDesign.objects.get()
        assert first["Location"] == again["Location"] == plan.get_absolute_url()
        assert [x.medium for x in plan.layers.all()] == ["river_rock", "lava_rock"]

    def test_a_mistake_is_not_saved(self, client, manager):
        answer = client.post(NEW, form(name="", overflow_height_m="3 m"))
        assert answer.status_code == 422
        assert "lower than the container" in text_of(answer)
        assert not FilterDesign.objects.exists()

    def test_a_saved_plan_is_opened_changed_and_copied(self, client, manager):
        plan = FilterDesignFactory(name="First")
        assert 'value="First"' in client.get(plan.get_absolute_url()).content.decode()
        assert client.post(plan.get_absolute_url(), form(name="Second")).status_code == 302
        assert FilterDesign.objects.get().name == "Second"
        assert "Second, changed" in client.get(f"{NEW}?from={plan.pk}").content.decode()

    def test_a_plan_is_thrown_away(self, client, manager):
        url = reverse("design_remove", args=[FilterDesignFactory().pk])
        assert client.post(url).status_code == client.post(url).status_code == 302
        assert not FilterDesign.objects.exists()


class TestBuilding:
    def values(self, **changes):
        circuit = EnclosureFactory().circuit
        return {
            "uuid": "0d6f3c1f-8a11-4b58-9f0a-7b7d1f8e3f0a", "code": "F55", "name": "Barrel",
            "circuit": circuit.pk, "area": AreaFactory().pk,
        } | changes  # fmt: skip

    def test_built_it_leads_to_the_filter_and_a_second_click_too(self, client, manager):
        url = reverse("design_build", args=[FilterDesignFactory().pk])
        values = self.values()
        first, again = client.post(url, values), client.post(url, values)
        unit = FilterUnit.objects.get()
        assert first["Location"] == again["Location"] == unit.get_absolute_url()
        page = text_of(client.get(unit.get_absolute_url()))
        assert "Being built" in page
        assert "By which plan?" in page
        assert "Begun by the plan" in page

    def test_a_code_that_is_taken_is_said_beside_it(self, client, manager):
        FilterUnitFactory(code="F55")
        answer = client.post(reverse("design_build", args=[FilterDesignFactory().pk]), self.values())
        assert answer.status_code == 422
        assert "Choose another code" in text_of(answer)

    def test_a_plan_that_stops_is_not_offered(self, client, manager):
        url = reverse("design_build", args=[FilterDesignFactory(floor_above_water_m=-1).pk])
        assert "mended first" in text_of(client.get(url))
        assert client.post(url, self.values()).status_code == 422
        assert not FilterUnit.objects.exists()

    def test_once_built_the_planner_saves_only_as_a_new_plan(self, client, manager):
        plan = FilterDesignFactory(name="Built")
        client.post(reverse("design_build", args=[plan.pk]), self.values())
        page = client.get(plan.get_absolute_url()).content.decode()
        assert 'value="save_new"' in page
        assert 'value="save"' not in page
        refused = client.post(plan.get_absolute_url(), form(name="Other"))
        assert "stays as it is" in text_of(refused)
        client.post(plan.get_absolute_url(), form(name="Other", do="save_new"))
        assert set(FilterDesign.objects.values_list("name", flat=True)) == {"Built", "Other"}

    def test_it_is_begun_where_its_water_is(self, client, manager):
        tank = EnclosureFactory()
        plan = FilterDesignFactory(circuit=tank.circuit)
        page = client.get(reverse("design_build", args=[plan.pk])).content.decode()
        assert f'value="{tank.area_id}" selected' in page

    def test_the_next_code_follows_the_highest(self, client, manager):
        FilterUnitFactory(code="F07")
        FilterUnitFactory(code="Filter")
        page = client.get(reverse("design_build", args=[FilterDesignFactory().pk])).content.decode()
        assert 'value="F08"' in page


class TestComparing:
    def test_what_is_worse_in_one_stands_on_both_sides(self, client, manager):
        # A load of 90 % is a warning, one of 150 % a stop.
        carried = verdict_of(
            plan := FilterDesignFactory(name="Full"), bed_layers(plan)
        ).numbers.carries_tan_g_day
        FilterDesign.objects.filter(pk=plan.pk).update(tan_g_day=carried * 0.9)
        over = FilterDesignFactory(name="Over", tan_g_day=carried * 1.5)
        page = client.get(reverse("design_compare"), {"plan": [plan.pk, over.pk]}).content.decode()
        full, beyond = page.split("Only in Full")[1].split("Only in Over")
        assert re.search(r'data-state="watch" data-finding="load"', full)
        assert re.search(r'data-state="act" data-finding="load"', beyond)

    def test_no_id_stands_twice_on_the_page(self, client, manager):
        pair = [FilterDesignFactory().pk for _ in range(2)]
        for page in (
            client.get(reverse("design_compare"), {"plan": pair}),
            client.get(reverse("design_propose"), {"water": EnclosureFactory(length_m=2.0).circuit_id}),
        ):
            ids = re.findall(r'\bid="([^"]+)"', page.content.decode())
            assert len(ids) > 6 and len(ids) == len(set(ids))

    def test_the_same_figures_stand_in_rows_and_differences_are_words(self, client, manager):
        wide, narrow = (
            FilterDesignFactory(name="Wide"),
            FilterDesignFactory(name="Narrow", inlet_bore_m=0.019),
        )
        answer = client.get(reverse("design_compare"), {"plan": [wide.pk, narrow.pk]})
        page = text_of(answer)
        assert re.search(r"Flow 2 \d{3} L/h 1 \d{3} L/h \d\d % less", page), page[:3000]
        assert "Weight when filled" in page
        assert "same" in page
        assert "Only in Narrow" in page

    @pytest.mark.parametrize("chosen", [[], ["x", "y"], [1]])
    def test_it_takes_two(self, client, manager, chosen):
        answer = client.get(reverse("design_compare"), {"plan": chosen}, follow=True)
        assert "Tick two plans" in text_of(answer)


class TestBesideAFilterThatRuns:
    @pytest.fixture
    def water(self):
        """A water of 1.1 m3 whose filter carries a part of what 300 kg of newcomers put in."""
        tank = EnclosureFactory(length_m=2.0, width_m=1.1, water_depth_m=0.5)
        FilterUnitFactory(circuit=tank.circuit, code="F04", layers=[("lava_rock", 0.1)])
        FilterUnitFactory(circuit=tank.circuit, code="F05", state="building")
        return tank.circuit_id

    def test_the_rest_is_filled_in_and_said(self, client, manager, water):
        asked = asked_of(Circuit.objects.get(pk=water))
        [runs] = asked.running
        assert (runs.code, runs.flow_m3_h) == ("F04", 2.0) and runs.carries_tan_g_day > 1
        assert runs.carries_tan_g_day == pytest.approx(asked.facts.mature_capacity_tan_g_day)
        page = text_of(client.get(NEW, {"water": water, "newcomer": "300"}))
        assert f"other filters carry {runs.carries_tan_g_day:.1f} g of it" in page

    def test_proposals_carry_the_rest_or_all_of_it(self, client, manager, water):
        asked = {"water": water, "newcomer": "300 kg"}
        rest = text_of(client.get(reverse("design_propose"), asked)).replace("\u00a0", " ")
        assert "Of that F04 carries" in rest and "what follows carries the rest" in rest
        whole = client.get(reverse("design_propose"), asked | {"alone": "on"})
        assert "What follows carries all of it" in text_of(whole)
        link = unescape(re.search(r'href="(/filters/plan/\?[^"]+)"', whole.content.decode())[1])
        assert "alone=on" in link
        assert re.search(r'name="is_alone"[^>]*checked', client.get(link).content.decode())


class TestWhatIsAssumed:
    def test_a_pond_begins_outdoors_and_the_page_says_what_is_taken_for_granted(self, client, manager):
        pond = EnclosureFactory(length_m=2.0, width_m=1.1, water_depth_m=0.5, is_outdoor=True)
        page = text_of(client.get(NEW, {"water": pond.circuit_id}))
        assert "What is taken for granted?" in page
        assert "Water is lost into a dry wind of 2.0 m/s" in page.replace("\u00a0", " ").replace(
            "2 m/s", "2.0 m/s"
        )
        room = EnclosureFactory(length_m=2.0, width_m=1.1, water_depth_m=0.5)
        assert "Water is lost into still air" in text_of(client.get(NEW, {"water": room.circuit_id}))

    def test_of_several_tanks_what_evaporates_is_filled_in_beside_what_falls(self, client, manager):
        first = EnclosureFactory(length_m=2.0, width_m=1.0, water_depth_m=0.5)
        EnclosureFactory(length_m=1.0, width_m=1.0, water_depth_m=0.5, circuit=first.circuit)
        answer = client.post(NEW, form(do="water", circuit=first.circuit_id), headers=HTMX).content.decode()
        assert re.search(r'name="tank_open_surface_m2"[^>]*value="3"', answer)


class TestProposing:
    def test_cards_say_why_and_one_tap_opens_them_in_the_planner(self, client, manager):
        tank = EnclosureFactory(length_m=2.0, width_m=1.1, water_depth_m=0.5)
        answer = client.get(reverse("design_propose"), {"water": tank.circuit_id, "newcomer": "55"})
        html = answer.content.decode()
        assert "are wanted" in text_of(answer)
        link = unescape(re.search(r'href="(/filters/plan/\?[^"]+)"', html)[1])
        opened = client.get(link)
        assert opened.status_code == 200
        assert "Can be built" in text_of(opened)
        assert 'value="55"' in opened.content.decode()

    def test_a_filter_that_must_stand_higher_is_proposed_so(self, client, manager):
        tank = EnclosureFactory(length_m=2.0, width_m=1.1, water_depth_m=0.5)
        asked = {"water": tank.circuit_id, "newcomer": "", "floor": "1 ft"}
        html = client.get(reverse("design_propose"), asked).content.decode()
        link = unescape(re.search(r'href="(/filters/plan/\?[^"]+)"', html)[1])
        assert 'value="30.5"' in client.get(link).content.decode()  # a foot in centimetres

    def test_a_mass_that_is_none_says_so_and_still_proposes(self, client, manager):
        tank = EnclosureFactory()
        answer = client.get(reverse("design_propose"), {"water": tank.circuit_id, "newcomer": "heavy"})
        assert "no amount" in text_of(answer)

    def test_a_water_without_size_is_told_what_is_missing(self, client, manager):
        answer = client.get(reverse("design_propose"), {"water": CircuitFactory().pk})
        assert "size is not entered" in text_of(answer)


def test_parts_and_steps_are_there_to_be_ticked_with_their_cautions(client, manager):
    plan = FilterDesignFactory()
    parts = client.get(reverse("design_parts", args=[plan.pk]))
    assert "Drum" in text_of(parts)
    assert parts.content.decode().count("plan-box") > 10
    steps = text_of(client.get(reverse("design_steps", args=[plan.pk])))
    for words in (
        "Leak test",
        "gasket",
        "licensed electricians",
        "residual-current (ground-fault)",
        "Rock dust",
    ):
        assert words in steps


@pytest.mark.parametrize("name", ["design_list", "design_new", "design_propose"])
def test_a_page_costs_the_same_for_any_number_of_plans_and_waters(client, manager, name):
    EnclosureFactory()
    FilterDesignFactory()
    few = queries(client, reverse(name))
    for _ in range(4):
        FilterDesignFactory(circuit=EnclosureFactory().circuit)
    assert queries(client, reverse(name)) == few


def test_an_answer_to_typing_asks_the_database_little(client, manager):
    data = form(do="work_out", circuit=EnclosureFactory().circuit_id)
    client.post(NEW, data, headers=HTMX)
    with CaptureQueriesContext(connection) as seen:
        client.post(NEW, data, headers=HTMX)
    assert len(seen) <= 6, [each["sql"] for each in seen]


def test_a_plan_costs_the_same_for_any_number_of_its_layers(client, manager):
    few = queries(client, FilterDesignFactory(layers=[("lava_rock", 0.3)]).get_absolute_url())
    more = FilterDesignFactory(layers=[("river_rock", 0.1), ("lava_rock", 0.1), ("pumice", 0.1)])
    assert queries(client, more.get_absolute_url()) == few


def test_comparing_costs_the_same_beside_any_number_of_plans(client, manager):
    pair = [FilterDesignFactory().pk for _ in range(2)]
    url = reverse("design_compare") + "?" + "&".join(f"plan={pk}" for pk in pair)
    few = queries(client, url)
    for _ in range(3):
        FilterDesignFactory()
    assert queries(client, url) == few


def test_a_plan_without_a_price_costs_what_the_site_pays(client):
    """60 W for a month of 730.5 h are 43.8 kWh; at 0.50 they cost 21.9."""
    RefugeFactory(price_per_kwh=0.5)
    client.force_login(UserFactory(manager=True))
    plan = FilterDesignFactory()
    page = client.get(plan.get_absolute_url()).content.decode()
    assert "21.9" in page
    plan.price_per_kwh = 0.1
    plan.save()
    assert "21.9" not in client.get(plan.get_absolute_url()).content.decode()
