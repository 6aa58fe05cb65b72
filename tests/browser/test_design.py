"""A manager plans a barrel filter for a large arrival, mends what was wrong, builds it: in real Chromium."""

import re

import pytest
from playwright.sync_api import Page, expect

from filtration.models import FilterUnit
from filtration.plans.models import FilterDesign
from refuge.rounds.models import Task
from tests import factories as make
from tests.browser.helpers import sign_in

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def tank():
    """A quarantine tank of 1,100 L without a filter; nobody lives in it yet."""
    make.RefugeFactory()
    return make.EnclosureFactory(
        code="Q9", name="Setup", purpose="quarantine", length_m=2.0, width_m=1.1, water_depth_m=0.5,
        circuit__code="W9", circuit__name="Quarantine", circuit__is_quarantine=True,
    )  # fmt: skip


def planning(page: Page, tank) -> Page:
    sign_in(page, make.UserFactory(manager=True, name="Maya Fenn"))
    page.goto(tank.circuit.get_absolute_url())
    page.get_by_role("link", name="Plan a filter").click()
    expect(page.locator("#id_tank_volume_m3")).to_have_value("1100")
    page.wait_for_load_state()  # the form stands before the script that answers it
    return page


def finding(page: Page, key: str):
    return page.locator(f'[data-finding="{key}"]')


def test_a_barrel_for_an_arrival_of_55_kg(phone: Page, tank) -> None:
    page = planning(phone, tank)
    page.fill("#id_newcomer_kg", "121 lb")
    expect(page.locator("#plan-glance")).to_contain_text("those to come")

    # A pump that lifts a foot does not reach the overflow.
    page.fill("#id_pump_shutoff_head_m", "9 in")
    expect(finding(page, "pump_cannot_lift")).to_contain_text("No water will flow")
    expect(page.locator("#plan-brief")).to_contain_text("Do not build it so")
    page.fill("#id_pump_shutoff_head_m", "8 ft")
    expect(finding(page, "pump_cannot_lift")).to_have_count(0)

    # A half-inch inlet is too narrow for it, and the page names one that would do.
    page.fill("#id_inlet_bore_m", "0.5 in")
    expect(finding(page, "fast_inlet")).to_contain_text("Would do: An inlet of")
    expect(page.locator("#limits")).to_contain_text("The inlet pipe takes")
    page.fill("#id_inlet_bore_m", "wide")
    expect(page.locator("#id_inlet_bore_m_error")).to_contain_text("no amount that can be read")
    page.fill("#id_inlet_bore_m", "1.38 in")
    expect(page.locator("#id_inlet_bore_m_error")).to_have_text("")
    expect(finding(page, "fast_inlet")).to_have_count(0)
    expect(page.locator("#plan-brief")).to_contain_text("Can be built")

    page.fill("#id_name", "Barrel for Q9")
    page.get_by_role("button", name="Save the plan").click()
    expect(page.locator("main")).to_contain_text("is saved")
    plan = FilterDesign.objects.get()
    assert plan.inlet_bore_m == pytest.approx(1.38 * 0.0254)

    page.get_by_role("link", name="Build it").click()
    expect(page.locator("#id_area")).to_have_value(str(tank.area_id))
    page.get_by_role("button", name="Build it").click()
    expect(page.locator("h1")).to_have_text("Barrel for Q9")
    unit = FilterUnit.objects.get()
    assert unit.build.design == plan
    expect(page.locator("main")).to_contain_text("Being built")
    expect(page.locator("main")).to_contain_text("Leak test")
    assert Task.objects.filter(rule="filtration.leak_test", subject_path=unit.get_absolute_url()).exists()


@pytest.mark.parametrize(
    ("container", "height", "lip"),
    [
        ("Drum of about 115 L", "69.2", "57.2"),
        ("Tote of about 1 000 L", "90", "78"),
        ("Stock tank of about 1 100 L", "61", "49"),
    ],
)
def test_a_chosen_container_brings_its_lip_along(phone: Page, tank, container, height, lip) -> None:
    page = planning(phone, tank)
    assert page.viewport_size["width"] == 390
    page.select_option("#id_start_container", label=container)
    expect(page.locator("#id_height_m")).to_have_value(height)
    expect(page.locator("#id_overflow_height_m")).to_have_value(lip)
    expect(page.locator("#id_container_name")).to_have_value(container)
    expect(page.locator("#plan-result")).not_to_contain_text("Put this right first")
    expect(page.locator("#part-return")).to_have_count(1)


def test_numbers_in_the_drawing_are_large_enough_on_a_phone(phone: Page, tank) -> None:
    """At least 14 px: smaller is not read in sun (common practice, no source)."""
    page = planning(phone, tank)
    measured = (
        "all => all.map(e => parseFloat(getComputedStyle(e).fontSize) * e.ownerSVGElement.getScreenCTM().a)"
    )
    for url in (page.url, f"/filters/plans/proposed/?water={tank.circuit_id}"):
        page.goto(url)
        sizes = page.locator(".section-drawing").first.locator("text, tspan").evaluate_all(measured)
        assert len(sizes) > 4 and min(sizes) >= 14


def test_layers_come_and_go_and_what_was_typed_stays(phone: Page, tank) -> None:
    page = planning(phone, tank)
    page.fill("#id_name", "Three layers")
    glance = page.locator("#plan-glance")
    before = glance.inner_text()
    page.get_by_role("button", name="A layer on top").click()
    page.select_option("#id_layer-2-medium", label="Pumice")
    page.fill("#id_layer-2-depth_m", "4 in")
    expect(glance).to_contain_text("Pumice")
    assert glance.inner_text() != before
    page.get_by_role("button", name="Take layer 2 out").click()
    expect(page.locator("#id_layer-1-medium")).to_have_value("pumice")
    expect(glance).not_to_contain_text("Lava rock")
    expect(page.locator("#id_layer-1-depth_m")).to_have_value("4 in")
    expect(page.locator("#id_name")).to_have_value("Three layers")


def test_a_container_to_begin_with(desk: Page, tank) -> None:
    page = planning(desk, tank)
    page.select_option("#id_start_container", label="Crate of about 630 L")
    expect(page.locator("#id_shape")).to_have_value("rectangle")
    expect(page.locator("#id_container_name")).to_have_value("Crate of about 630 L")
    expect(page.locator("#figures")).to_contain_text("Weight when filled")


def test_what_would_do_is_opened_in_the_planner(phone: Page, tank) -> None:
    page = phone
    sign_in(page, make.UserFactory(manager=True, name="Maya Fenn"))
    page.goto(tank.circuit.get_absolute_url())
    page.get_by_role("link", name="What would do?").click()
    page.fill("#id_newcomer", "55 kg")
    page.get_by_role("button", name="Show what would do").click()
    first = page.locator(".plan-cards > li").first
    expect(first).to_contain_text("are wanted")
    first.get_by_role("link", name="Open it in the planner").click()
    expect(page).to_have_url(re.compile(r"/filters/plan/\?water="))
    expect(page.locator("#plan-brief")).to_contain_text("Can be built")
    expect(page.locator("#id_newcomer_kg")).to_have_value("55")


def test_the_enter_key_works_it_out_and_throws_no_layer_away(desk: Page, tank) -> None:
    page = planning(desk, tank)
    page.fill("#id_inlet_bore_m", "1.5")
    page.press("#id_inlet_bore_m", "Enter")
    expect(finding(page, "fast_inlet")).to_be_visible()
    expect(page.locator(".plan-layers > li")).to_have_count(2)
    expect(page.locator("#id_inlet_bore_m")).to_have_value("1.5")


def test_no_page_of_it_is_wider_than_a_phone_and_buttons_can_be_hit(phone: Page, tank) -> None:
    page = phone
    sign_in(page, make.UserFactory(manager=True, name="Maya Fenn"))
    plan, other = make.FilterDesignFactory(), make.FilterDesignFactory(inlet_bore_m=0.019)
    unit = make.FilterUnitFactory(circuit=tank.circuit, inlet_bore_m=0.03, return_bore_m=0.05)
    unit.pump.shutoff_head_m = 2.6
    unit.pump.save()
    own = plan.get_absolute_url()
    for path in (
        "/filters/plan/", own, f"{own}parts/", f"{own}steps/", f"{own}build/", "/filters/plans/",
        f"/filters/plans/compare/?plan={plan.pk}&plan={other.pk}",
        f"/filters/plans/proposed/?water={tank.circuit_id}", unit.get_absolute_url(),
    ):  # fmt: skip
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, path
        small = page.evaluate(
            "[...document.querySelectorAll('main button:not(.unseen), main a.button, main select, main input:not([type=hidden])')]"
            ".filter(e => e.offsetParent && e.getBoundingClientRect().height < 44 && !e.closest('label'))"
            ".map(e => e.outerHTML.slice(0, 90))"
        )
        assert small == [], path


def test_it_works_without_a_script(chromium, live_server, tank) -> None:
    context = chromium.new_context(
        base_url=live_server.url, java_script_enabled=False, viewport={"width": 390, "height": 844}
    )
    page = context.new_page()
    page.base_url = live_server.url
    sign_in(page, make.UserFactory(manager=True, name="Maya Fenn"))
    page.goto(f"/filters/plan/?water={tank.circuit_id}")
    page.fill("#id_inlet_bore_m", "15 mm")
    page.fill("#id_name", "By hand")
    page.locator(".thumb-bar button[value=work_out]").click()
    expect(finding(page, "fast_inlet")).to_be_visible()
    page.select_option("#id_start_container", label="Crate of about 630 L")
    page.locator("#part-container button[value=container]").click()
    expect(page.locator("#id_shape")).to_have_value("rectangle")
    page.get_by_role("button", name="A layer on top").click()
    expect(page.locator(".plan-layers > li")).to_have_count(3)
    expect(page.locator("#id_inlet_bore_m")).to_have_value("15 mm")
    page.get_by_role("button", name="Save the plan").click()
    expect(page.locator("main")).to_contain_text("The plan “By hand” is saved")
    context.close()
    assert FilterDesign.objects.get().layers.count() == 2  # the untouched one counts for nothing
