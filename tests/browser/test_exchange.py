"""Lists brought in and everything taken along, in a real browser."""

import re
import zipfile

import pytest
from playwright.sync_api import expect

from enclosures.models import Area
from tests.browser.helpers import sign_in
from tests.factories import AreaFactory, RefugeFactory, UserFactory

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def at_desk(desk, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    RefugeFactory()
    sign_in(desk, UserFactory(manager=True))
    return desk


def choose(page, text):
    page.get_by_label("CSV or XLSX file").set_input_files(
        {"name": "areas.csv", "mimeType": "text/csv", "buffer": text.encode()}
    )
    page.get_by_role("button", name="Look at the file").click()


def test_a_list_is_corrected_looked_at_and_brought_in(at_desk):
    AreaFactory(code="A1", name="Yard")
    at_desk.goto("/files/")
    at_desk.get_by_role("link", name=re.compile("Areas")).click()
    choose(at_desk, "code,name,biosecurity_rank\nA1,Long yard,0\nA2,Barn,high\n")
    wrong = at_desk.get_by_role("row").filter(has_text="biosecurity_rank")
    expect(wrong).to_contain_text("3")
    assert Area.objects.get().name == "Yard"
    at_desk.get_by_role("link", name="Choose the file again").click()
    choose(at_desk, "code,name,biosecurity_rank\nA1,Long yard,0\nA2,Barn,5\n")
    expect(at_desk.get_by_text("Yard → Long yard")).to_be_visible()
    assert Area.objects.count() == 1
    at_desk.get_by_role("button", name="Bring all of it in").click()
    expect(at_desk.get_by_text("Areas: 1 new, 1 changed.")).to_be_visible()
    assert set(Area.objects.values_list("name", flat=True)) == {"Long yard", "Barn"}


def test_everything_is_taken_along(at_desk, tmp_path):
    at_desk.goto("/files/")
    for link, ending in [("CSV files (ZIP)", "zip"), ("One workbook (XLSX)", "xlsx")]:
        with at_desk.expect_download() as waiting:
            at_desk.get_by_role("link", name=link).click()
        path = tmp_path / f"all.{ending}"
        waiting.value.save_as(path)
        assert zipfile.ZipFile(path).testzip() is None


def test_a_phone_needs_no_sideways_scrolling(phone, settings, tmp_path):
    settings.DATA_DIR = tmp_path
    RefugeFactory()
    sign_in(phone, UserFactory(manager=True))
    for path in ["/files/", "/files/feedings/", "/files/enclosures/"]:
        phone.goto(path)
        assert phone.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), path
