"""The pages of the files: choose, look, agree; and who may."""

import io
import os
import time

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook

from enclosures.models import Area
from refuge.exchange import waiting
from refuge.exchange.registry import importable
from refuge.exchange.resource import FileResource
from tests import factories as make

pytestmark = pytest.mark.django_db

AREAS = b"code,name,biosecurity_rank\nA1,Yard,0\nA2,Barn,1\n"


def send(client, content=AREAS, key="areas", name="areas.csv"):
    return client.post(reverse("file_kind", args=[key]), {"file": SimpleUploadedFile(name, content)})


def token_in(answer):
    return answer.context["token"]


def confirm(client, token, key="areas"):
    return client.post(reverse("file_confirm", args=[key]), {"token": token}, follow=True)


class TestChoose:
    @pytest.mark.parametrize("role", ["volunteer", "staff"])
    @pytest.mark.parametrize(
        "path", ["/files/", "/files/areas/", "/files/everything.zip", "/files/everything.xlsx"]
    )
    def test_only_managers(self, manager, role, path):
        client = Client()
        client.force_login(make.UserFactory(role=role))
        assert client.get(path).status_code == 403
        assert Client().get(path).status_code == 302

    def test_every_kind_has_its_page_and_its_empty_files(self, desk_of):
        assert desk_of.get("/files/").status_code == 200
        for kind in importable():
            page = desk_of.get(reverse("file_kind", args=[kind.key])).content.decode()
            names = list(kind.import_columns())
            assert all(f"<code>{name}</code>" in page for name in names)
            line = desk_of.get(reverse("template_csv", args=[kind.key])).content.decode("utf-8-sig")
            assert line.strip().split(",") == names
            book = load_workbook(io.BytesIO(b"".join(desk_of.get(reverse("template_xlsx", args=[kind.key])))))
            assert [cell.value for cell in book[kind.key][1]] == names
            meanings = {row[0].value: row[2].value for row in book["columns"].iter_rows(min_row=2)}
            assert set(meanings) == set(names) and all(meanings.values())

    def test_units_are_with_the_columns(self, desk_of):
        page = desk_of.get("/files/enclosures/").content.decode()
        assert "Water depth [m]" in page and "Measured volume [m³]" in page

    @pytest.mark.parametrize("key", ["nothing", "tasks", "history"])
    def test_what_cannot_be_read_in_has_no_page(self, desk_of, key):
        assert desk_of.get(f"/files/{key}/").status_code == 404

    @pytest.mark.parametrize(
        ("content", "words"),
        [
            (b"", "empty"),
            (b"\x89PNG\0", "neither CSV nor XLSX"),
            (b"colour\nred\n", "names none of the columns"),
        ],
    )
    def test_a_file_that_cannot_be_read_is_told_beside_the_field(self, desk_of, content, words):
        answer = send(desk_of, content)
        assert answer.status_code == 422 and words in answer.content.decode()

    def test_no_file(self, desk_of):
        answer = desk_of.post("/files/areas/", {})
        assert answer.status_code == 422 and "Choose a file first" in answer.content.decode()

    def test_a_file_that_is_too_large(self, desk_of, monkeypatch):
        monkeypatch.setattr("refuge.exchange.forms.LARGEST_FILE", 10)
        answer = send(desk_of)
        assert answer.status_code == 422 and "is the most" in answer.content.decode()


class TestLookAndAgree:
    def test_first_shown_then_kept(self, desk_of):
        answer = send(desk_of)
        assert answer.status_code == 200 and not Area.objects.exists()
        page = answer.content.decode()
        assert "<b>2</b> new" in page and "A2, Barn" in page
        done = confirm(desk_of, token_in(answer))
        assert "Areas: 2 new, 0 changed." in done.content.decode()
        assert Area.objects.count() == 2
        assert list(waiting.folder().iterdir()) == []

    def test_a_second_press_brings_nothing_in_twice(self, desk_of):
        token = token_in(send(desk_of))
        confirm(desk_of, token)
        again = confirm(desk_of, token)
        assert "was read in already" in again.content.decode()
        assert Area.objects.count() == 2

    def test_mistakes_are_listed_and_nothing_can_be_agreed_to(self, desk_of):
        answer = send(desk_of, b"code,name,biosecurity_rank\nA1,Yard,high\n,Barn,1\n")
        page = answer.content.decode()
        assert answer.status_code == 422 and "Nothing was kept" in page and "2 of 2 rows" in page
        assert token_in(answer) == ""

    def test_nothing_to_do(self, desk_of):
        confirm(desk_of, token_in(send(desk_of)))
        answer = send(desk_of)
        assert "everything is here as in the file" in answer.content.decode() and token_in(answer) == ""

    def test_what_changed_meanwhile_is_shown_again(self, desk_of):
        token = token_in(send(desk_of))
        make.AreaFactory(code="A1", name="Other")
        answer = confirm(desk_of, token)
        assert "has changed since you looked" in answer.content.decode()
        assert Area.objects.get().name == "Other"
        confirm(desk_of, token_in(answer))
        assert {area.name for area in Area.objects.all()} == {"Yard", "Barn"}

    def test_a_token_of_somebody_else_another_kind_or_nobody(self, desk_of):
        token = token_in(send(desk_of))
        other = Client()
        other.force_login(make.UserFactory(manager=True))
        for client, given, key in [
            (other, token, "areas"),
            (desk_of, token, "species"),
            (desk_of, "x" + token, "areas"),
            (desk_of, "", "areas"),
        ]:
            assert "Choose it again" in confirm(client, given, key).content.decode()
        assert not Area.objects.exists()

    def test_a_file_waits_for_an_hour(self, desk_of):
        token = token_in(send(desk_of))
        (path,) = waiting.folder().iterdir()
        assert path.stat().st_mode & 0o777 == 0o600
        old = time.time() - waiting.WAITS_S - 1
        os.utime(path, (old, old))
        send(desk_of, b"code,name\nB1,Other\n")
        assert path not in list(waiting.folder().iterdir())
        assert "Choose it again" in confirm(desk_of, token).content.decode()

    def test_a_fault_in_the_middle_leaves_nothing(self, desk_of, monkeypatch):
        token = token_in(send(desk_of))
        whole = FileResource.after_import

        def break_once_written(self, *args, **kwargs):
            whole(self, *args, **kwargs)
            if not kwargs.get("dry_run"):
                raise RuntimeError("the disk is full")

        monkeypatch.setattr(FileResource, "after_import", break_once_written)
        with pytest.raises(RuntimeError, match="disk is full"):
            confirm(desk_of, token)
        assert not Area.objects.exists()

    def test_a_long_list_is_shown_in_part(self, desk_of):
        lines = "".join(f"A{n},Area {n}\n" for n in range(250))
        page = send(desk_of, f"code,name\n{lines}".encode()).content.decode()
        assert "And 50 more rows" in page

    def test_what_a_file_says_is_shown_as_text(self, desk_of):
        page = send(desk_of, b"code,name,<b>x\nA1,<script>alert(1)</script>,y\n").content.decode()
        assert "<script>alert" not in page and "&lt;b&gt;x" in page
