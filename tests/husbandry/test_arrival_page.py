"""The page of a new arrival: who may, what it shows, what it refuses, and that it saves once."""

import re
import uuid
from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from husbandry.arrivals.forms import ArrivalForm
from husbandry.arrivals.places import Choice
from husbandry.models import Animal, FeedingPlan, Measurement, Quarantine
from husbandry.photos import clean_photo
from refuge.pages.panels import Panel
from refuge.rounds.models import Task
from refuge.rounds.planner import moment_for
from tests import factories as make

pytestmark = pytest.mark.django_db

NEW = "/arrivals/new/"


@pytest.fixture
def tank():
    make.RefugeFactory()
    enclosure = make.EnclosureFactory(purpose="quarantine", circuit__is_quarantine=True, length_m=3.0)
    make.FilterUnitFactory(circuit=enclosure.circuit)
    make.WaterTestFactory(circuit=enclosure.circuit)
    return enclosure


@pytest.fixture
def browser(client):
    client.force_login(make.UserFactory(manager=True))
    return client


@pytest.fixture
def typed(tank):
    return {
        "uuid": str(uuid.uuid4()),
        "code": "T900",
        "name": "Fossil",
        "species": make.SpeciesFactory(adult_mass_kg=60, temperature_low_c=18, temperature_high_c=28).pk,
        "sex": "male",
        "mass_kg": "55",
        "carapace_m": "60",
        "marks": "Notch on the fourth marginal",
        "origin": "Handed in",
        "condition": "Thin",
        "quarantine_days": "365",
        "food": make.FoodFactory().pk,
        "every_days": "7",
        "ration_kg": "",
        "enclosure": tank.pk,
    }


def neighbour(tank, days: int = 200):
    """An animal in quarantine in the tank's water."""
    other = make.EnclosureFactory(circuit=tank.circuit, purpose="quarantine")
    animal = make.AnimalFactory(placed_in=other, mass_kg=20, code="T031")
    make.QuarantineFactory(animal=animal, started_on=timezone.now().date() - timedelta(days=days))
    return animal


def text(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode())).replace("&nbsp;", " ")


class TestWhoMay:
    @pytest.mark.parametrize("path", [NEW, "/arrivals/outlook/"])
    @pytest.mark.parametrize("role", ["volunteer", "staff"])
    def test_managers_only(self, client, tank, path, role):
        client.force_login(make.UserFactory(role=role))
        assert client.get(path).status_code == 403

    def test_strangers_are_led_to_sign_in(self, client, tank):
        assert client.get(NEW).url.startswith("/sign-in/")


class TestOutlook:
    def test_shows_dates_places_load_and_schedule_and_writes_nothing(self, browser, typed):
        answer = browser.get("/arrivals/outlook/", typed)
        shown = text(answer)
        assert answer.status_code == 200
        assert "Planned end" in shown and "Examination before release" in shown
        assert "with reservations" in shown  # its filter had nothing to live on, says the forecast
        assert "The water in the two weeks after" in shown and "was fed little lately" in shown
        assert "with the newcomer" in shown
        assert "Quarantine check" in shown and "Quarantine ends: review" in shown
        assert "1.38 kg" in shown  # the proposed ration: 2.5 % of 55 kg
        assert not Animal.objects.exists()
        assert not Task.objects.exists()

    def test_without_food_the_load_is_said_to_be_unknown_beside_that_of_today(self, browser, typed):
        shown = text(browser.get("/arrivals/outlook/", typed | {"food": ""}))
        assert "The load it brings is not known: choose its food" in shown
        assert "With the newcomer: not known until its food and ration are" in shown
        assert "As it is today:" in shown

    def test_what_is_safe_to_begin_with_is_taken_over_with_one_tap(self, browser, typed):
        page = browser.get("/arrivals/outlook/", typed).content.decode()
        [offered] = re.findall(r'"begin_kg": "([\d.]+)"', page)
        assert 0 < float(offered) < 1.375
        after = browser.get("/arrivals/outlook/", typed | {"begin_kg": offered})
        assert f'name="ration_kg" value="{float(offered):g}"' in after.content.decode()
        assert 'id="arrival-meal" hx-swap-oob="true"' in after.content.decode()
        assert f"The ration is set to {float(offered) * 1000:.0f} g a meal" in text(after)
        assert "begin_kg" not in re.sub(r'hx-params="[^"]*"', "", after.content.decode())

    @pytest.mark.parametrize("kg", ["nan", "much", "-1", ""])
    def test_a_tap_that_says_no_amount_sets_none(self, browser, typed, kg):
        answer = browser.get("/arrivals/outlook/", typed | {"begin_kg": kg})
        assert answer.status_code == 200
        assert "The ration is set to" not in text(answer)

    @pytest.mark.parametrize(
        ("safe", "planned", "begin"),
        [(0.2203, 1.375, 0.22), (0.0999, 1.0, 0.099), (12.39, 20, 12), (1.4, 1.375, None), (0.0, 1, None)],
    )
    def test_it_is_offered_in_two_digits_and_never_more_than_is_safe(self, safe, planned, begin):
        panel = Panel("", {"safe_kg": safe, "meal_kg": planned})
        assert Choice([], [], None, [], panel).begin_kg == begin

    def test_half_typed_is_ranked_with_what_is_not_known(self, browser, tank):
        shown = text(browser.get("/arrivals/outlook/", {"mass_kg": "fifty", "quarantine_days": "365"}))
        assert "not enough known" in shown
        assert "no amount that can be read" in shown

    def test_places_are_judged_in_words_and_points_are_told_where_the_order_is_explained(
        self, browser, tank, typed
    ):
        page = browser.get("/arrivals/outlook/", typed).content.decode()
        places, explained = page.split("How is this computed?")
        assert "with reservations" in places and "last resort" not in places
        assert not re.search(r"\d+ points?\b", places)
        assert re.search(rf"Here: {re.escape(str(tank))} \d+\.", explained)
        assert "“Suits it” is less than 15 points, “last resort” 60 and more" in explained

    def test_restart_is_shown_as_a_cost(self, browser, tank, typed):
        neighbour(tank)
        shown = text(browser.get("/arrivals/outlook/", typed))
        assert "T031 is on day 201 of 365" in shown.replace("  ", " ")
        assert "200 days lost" in shown

    @pytest.mark.parametrize("size", [1, 8])
    def test_costs_the_same_for_any_site(self, browser, typed, size, django_assert_max_num_queries):
        for _ in range(size):
            place = make.EnclosureFactory()
            make.FilterUnitFactory(circuit=place.circuit)
            animal = make.AnimalFactory(placed_in=place, mass_kg=3)
            make.QuarantineFactory(animal=animal)
            make.FeedingPlanFactory(animal=animal)
        with django_assert_max_num_queries(84) as seen:
            browser.get("/arrivals/outlook/", typed)
        TestOutlook.queries = getattr(TestOutlook, "queries", None) or len(seen)
        assert len(seen) == TestOutlook.queries


class TestTakeIn:
    def test_everything_is_saved_and_the_plan_is_the_one_that_was_shown(
        self, browser, tank, typed, django_capture_on_commit_callbacks
    ):
        neighbour(tank)
        form = ArrivalForm(typed | {"restart_agreed": ""})
        assert form.is_valid(), form.errors
        from husbandry.arrivals.places import choice_for

        choice = choice_for(form.newcomer(), tank.pk, moment_for(), "metric")
        with django_capture_on_commit_callbacks(execute=True):
            answer = browser.post(NEW, typed | {"restart_agreed": choice.chosen.agreement})
        animal = Animal.objects.get(code="T900")
        assert answer.status_code == 302 and answer.url == f"/animals/{animal.pk}/"
        assert (animal.name, animal.sex, animal.condition) == ("Fossil", "male", "Thin")
        assert Measurement.objects.get(animal=animal).mass_kg == 55
        assert FeedingPlan.objects.get(animal=animal).ration_kg == pytest.approx(1.375)
        assert Quarantine.objects.get(animal=animal).days == 365
        foreseen = {(each.title, each.after) for each in choice.shifts if each.after}
        planned = set(Task.objects.filter(status="open").values_list("title", "due_on"))
        assert foreseen <= planned

    def test_restart_needs_an_explicit_yes(self, browser, tank, typed):
        neighbour(tank)
        answer = browser.post(NEW, typed)
        assert answer.status_code == 422
        assert "this starts a quarantine anew" in text(answer)
        assert "Notch on the fourth marginal" in answer.content.decode()
        assert not Animal.objects.filter(code="T900").exists()

    def test_a_yes_to_other_restarts_does_not_count(self, browser, tank, typed):
        first = neighbour(tank)
        agreed = re.search(
            r'name="restart_agreed"[^>]*value="([^"]+)"',
            browser.get("/arrivals/outlook/", typed).content.decode(),
        )[1]
        late = make.AnimalFactory(placed_in=first.placements.get().enclosure, code="T032")
        make.QuarantineFactory(animal=late)
        assert browser.post(NEW, typed | {"restart_agreed": agreed}).status_code == 422
        assert not Animal.objects.filter(code="T900").exists()

    def test_sent_twice_is_one_animal(self, browser, typed):
        first, second = browser.post(NEW, typed), browser.post(NEW, typed)
        assert first.url == second.url
        assert Animal.objects.filter(code="T900").count() == 1

    def test_a_code_of_another_animal_is_refused_beside_the_field(self, browser, typed):
        make.AnimalFactory(code="T900")
        answer = browser.post(NEW, typed)
        assert answer.status_code == 422
        assert "belongs to another animal" in text(answer)

    def test_htmx_gets_the_form_alone_and_is_led_on_after_saving(self, browser, typed):
        wrong = browser.post(NEW, typed | {"mass_kg": ""}, headers={"HX-Request": "true"})
        assert wrong.status_code == 422
        assert wrong.content.decode().lstrip().startswith('<form id="arrival"')
        saved = browser.post(NEW, typed, headers={"HX-Request": "true"})
        assert saved.headers["HX-Redirect"] == f"/animals/{Animal.objects.get(code='T900').pk}/"

    def test_without_quarantine_there_is_none(self, browser, typed):
        browser.post(NEW, typed | {"no_quarantine": "on", "quarantine_days": ""})
        assert Animal.objects.filter(code="T900").exists()
        assert not Quarantine.objects.exists()

    def test_us_units_are_understood(self, browser, typed):
        browser.post(NEW, typed | {"mass_kg": "121 lb", "carapace_m": "24 in"})
        weighed = Measurement.objects.get()
        assert (weighed.mass_kg, weighed.carapace_m) == pytest.approx((54.885, 0.6096), abs=1e-3)

    def test_what_happens_next_is_said(self, browser, typed, django_capture_on_commit_callbacks):
        browser.post(NEW, typed)
        from django.contrib.messages import get_messages

        [message] = get_messages(browser.get(NEW).wsgi_request)
        assert "examination on arrival by" in str(message)


class TestRefused:
    @pytest.mark.parametrize(
        ("name", "value", "why"),
        [
            ("mass_kg", "nan", "no amount that can be read"),
            ("mass_kg", "inf", "no amount that can be read"),
            ("mass_kg", "9" * 400, "not a number that can be used"),
            ("mass_kg", "-3", "must be above"),
            ("mass_kg", "0", "must be above"),
            ("mass_kg", "5000 kg", "more than can be right"),
            ("mass_kg", "300 kg", "too heavy for this species"),
            ("mass_kg", "20 cm", "does not measure this"),
            ("carapace_m", "9 m", "more than can be right"),
            ("quarantine_days", "20", "At least 30 days are the published floor"),
            ("quarantine_days", "", "Say how many days"),
            ("quarantine_days", "0", "you wrote 0"),
            ("enclosure", "", "Choose where it goes"),
        ],
    )
    def test_in_words_beside_the_field_and_nothing_typed_is_lost(self, browser, typed, name, value, why):
        answer = browser.post(NEW, typed | {name: value})
        assert answer.status_code == 422
        assert why in text(answer)
        page = answer.content.decode()
        assert "Handed in" in page and "Notch on the fourth marginal" in page and "Fossil" in page
        assert not Animal.objects.filter(code="T900").exists()

    def test_short_quarantine_on_the_veterinarians_word(self, browser, typed):
        browser.post(NEW, typed | {"quarantine_days": "20", "vet_override": "on"})
        assert Quarantine.objects.get().days == 20

    def test_an_enclosure_out_of_use_takes_nobody(self, browser, typed, tank):
        tank.in_use = False
        tank.save()
        assert browser.post(NEW, typed).status_code == 422
        assert "Not in use" in text(browser.get(NEW))


def picture(kind: str = "JPEG", size=(3000, 200), **save) -> bytes:
    kept = BytesIO()
    Image.new("RGB", size, "green").save(kept, kind, **save)
    return kept.getvalue()


class TestPhoto:
    def test_is_kept_upright_and_small_without_what_the_camera_wrote(self):
        exif = Image.Exif()
        exif[0x0112] = 6  # taken with the phone on its side
        exif[0x010F] = "Some maker"
        exif.get_ifd(0x8825)[1] = "N"  # where it was taken
        kept = clean_photo(SimpleUploadedFile("a.jpg", picture(exif=exif.tobytes())))
        image = Image.open(kept)
        assert not image.getexif()
        assert max(image.size) <= 1600
        assert image.height > image.width
        assert b"Some maker" not in kept.open().read()

    @pytest.mark.parametrize(
        ("content", "why"),
        [
            (b"<svg onload='alert(1)'/>", "no picture"),
            (picture("GIF", (5, 5)), "no picture"),
            (picture()[:-600], "damaged"),
        ],
    )
    def test_what_is_no_picture_is_refused(self, browser, typed, content, why):
        photo = SimpleUploadedFile("a.jpg", content, content_type="image/jpeg")
        answer = browser.post(NEW, typed | {"photo": photo})
        assert answer.status_code == 422
        assert why in text(answer)

    def test_is_kept_with_the_animal(self, browser, typed, settings, tmp_path):
        settings.MEDIA_ROOT = tmp_path
        browser.post(NEW, typed | {"photo": SimpleUploadedFile("a.png", picture("PNG", (20, 10)))})
        animal = Animal.objects.get(code="T900")
        assert animal.photo.name.startswith("animals/") and animal.photo.name.endswith(".jpg")


def test_the_page_itself_proposes_a_code_and_the_sites_length(browser, tank):
    make.AnimalFactory(code="T-061")
    page = browser.get(reverse("arrival_new")).content.decode()
    assert 'value="T-062"' in page
    assert 'value="365"' in page
