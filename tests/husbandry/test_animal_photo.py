"""A photo that is added, replaced or taken away where an animal is edited."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from husbandry.models import Animal
from husbandry.services import animal_save
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def animal(settings, tmp_path):
    make.RefugeFactory()
    settings.MEDIA_ROOT = tmp_path
    return make.AnimalFactory(code="T1", name="Moss")


@pytest.fixture
def browser(client, animal):
    client.force_login(make.UserFactory(staff=True, name="Ines Tarouca"))
    return client


def picture(kind: str = "JPEG", size=(3000, 200), **save) -> bytes:
    kept = BytesIO()
    Image.new("RGB", size, "green").save(kept, kind, **save)
    return kept.getvalue()


def taken_with_a_phone() -> bytes:
    exif = Image.Exif()
    exif[0x0112] = 6  # on its side
    exif[0x010F] = "Some maker"
    exif.get_ifd(0x8825)[1] = "N"  # where it was taken
    return picture(exif=exif.tobytes())


def save(browser, animal, content: bytes | None = None, name: str = "a.jpg", **typed):
    values = {"code": animal.code, "name": "Moss", "species": animal.species_id, "sex": "unknown"} | typed
    if content is not None:
        values["photo"] = SimpleUploadedFile(name, content)
    return browser.post(f"/animals/{animal.pk}/edit/", values)


def test_is_kept_upright_and_small_without_what_the_camera_wrote(browser, animal):
    assert 'enctype="multipart/form-data"' in browser.get(f"/animals/{animal.pk}/edit/").content.decode()
    assert save(browser, animal, taken_with_a_phone()).status_code == 302
    animal.refresh_from_db()
    stored = animal.photo.open().read()
    image = Image.open(BytesIO(stored))
    assert not image.getexif() and b"Some maker" not in stored
    assert max(image.size) <= 1600 and image.height > image.width
    assert b"".join(browser.get(f"/animals/{animal.pk}/photo/").streaming_content) == stored
    assert str(animal.history.first().history_user) == "Ines Tarouca"


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"<svg onload='alert(1)'/>", "no picture"),
        (picture("GIF", (5, 5)), "no picture"),
        (picture()[:-600], "damaged"),
        (b"\x00", "no picture"),
    ],
)
def test_what_is_no_picture_is_refused_beside_the_field(browser, animal, content, why):
    answer = save(browser, animal, content, name="Reed.jpg", note="Likes the shade")
    html = answer.content.decode()
    assert answer.status_code == 422
    assert why in html.partition('id="id_photo_error"')[2].partition("</div>")[0]
    assert "Likes the shade" in html
    assert not Animal.objects.get(pk=animal.pk).photo


def test_stays_when_no_other_is_chosen(browser, animal):
    save(browser, animal, picture("PNG", (20, 10)), name="a.png")
    before = Animal.objects.get(pk=animal.pk).photo.name
    assert before.startswith("animals/") and before.endswith(".jpg")
    assert save(browser, animal, note="Eats well").status_code == 302
    assert Animal.objects.get(pk=animal.pk).photo.name == before


def test_is_replaced_or_taken_away(browser, animal):
    page = f"/animals/{animal.pk}/edit/"
    assert "Take the photo away" not in browser.get(page).content.decode()
    save(browser, animal, picture())
    first = Animal.objects.get(pk=animal.pk).photo.name
    assert "Take the photo away" in browser.get(page).content.decode()
    assert save(browser, animal, picture(), photo_goes="on").status_code == 422
    save(browser, animal, picture(size=(30, 30)), name="b.jpg")
    assert Animal.objects.get(pk=animal.pk).photo.name not in ("", first)
    assert save(browser, animal, photo_goes="on").status_code == 302
    assert not Animal.objects.get(pk=animal.pk).photo
    assert browser.get(f"/animals/{animal.pk}/photo/").status_code == 404


def files(settings) -> list[str]:
    return sorted(path.name for path in (settings.MEDIA_ROOT / "animals").iterdir())


@pytest.fixture
def photographed(browser, animal, django_capture_on_commit_callbacks):
    """A way to save the animal as the page does, with what follows its commit; it has the photo a.jpg."""

    def save_and_commit(*args, **typed):
        with django_capture_on_commit_callbacks(execute=True):
            return save(browser, animal, *args, **typed)

    save_and_commit(picture(size=(30, 30)))
    return save_and_commit


class TestFileOfAnEarlierPhoto:
    def test_goes_when_another_takes_its_place(self, photographed, settings):
        assert files(settings) == ["a.jpg"]
        photographed(picture(size=(20, 20)), name="b.jpg")
        assert files(settings) == ["b.jpg"]

    def test_goes_when_the_photo_is_taken_away(self, photographed, settings):
        photographed(photo_goes="on")
        assert files(settings) == []

    def test_stays_when_something_else_changes(self, photographed, settings):
        photographed(note="Eats well")
        assert files(settings) == ["a.jpg"]

    def test_stays_until_the_change_is_kept(self, photographed, browser, animal, settings):
        save(browser, animal, picture(size=(20, 20)), name="b.jpg")  # no commit follows
        assert files(settings) == ["a.jpg", "b.jpg"]

    def test_stays_while_another_animal_has_it(self, photographed, animal, settings):
        other = make.AnimalFactory(photo=Animal.objects.get(pk=animal.pk).photo.name)
        photographed(photo_goes="on")
        assert files(settings) == ["a.jpg"]
        assert other.photo.open().read()

    def test_that_is_gone_already_hinders_nobody(self, photographed, settings):
        (settings.MEDIA_ROOT / "animals" / "a.jpg").unlink()
        assert photographed(picture(size=(20, 20)), name="b.jpg").status_code == 302
        assert files(settings) == ["b.jpg"]

    def test_that_the_disk_does_not_give_up_hinders_nobody(self, photographed, animal, monkeypatch, caplog):
        def refuse(self, name):
            raise PermissionError(name)

        monkeypatch.setattr("django.core.files.storage.FileSystemStorage.delete", refuse)
        assert photographed(photo_goes="on").status_code == 302
        assert not Animal.objects.get(pk=animal.pk).photo
        assert "Error calling animal_save" in caplog.text

    def test_of_two_who_edit_at_once_neither_brings_it_back(self, photographed, animal, settings):
        opened = Animal.objects.get(pk=animal.pk)
        photographed(picture(size=(20, 20)), name="b.jpg")
        opened.note = "Eats well"
        animal_save(animal=opened, by=make.UserFactory(staff=True))
        kept = Animal.objects.get(pk=animal.pk)
        assert (kept.photo.name, kept.note) == ("animals/b.jpg", "Eats well")
        assert files(settings) == ["b.jpg"]

    def test_is_still_named_by_the_history(self, photographed, animal, settings):
        photographed(photo_goes="on")
        assert [each.photo for each in animal.history.all()[:2]] == ["", "animals/a.jpg"]


def test_volunteers_do_not_edit(client, animal):
    client.force_login(make.UserFactory())
    assert save(client, animal, picture()).status_code == 403
