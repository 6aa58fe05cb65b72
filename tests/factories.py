"""The dullest valid objects; a test names only what matters to it.

Codes are long (T90007), so that none meets one that a test has written out (T7), whatever ran before.
"""

from datetime import UTC, date, datetime, time, timedelta

import factory
from django.utils import timezone
from factory.django import DjangoModelFactory


class RefugeFactory(DjangoModelFactory):
    class Meta:
        model = "people.Refuge"
        django_get_or_create = ("id",)

    id = 1
    name = "Stillmere Refuge"
    time_zone = "UTC"
    morning_at = time(7, 0)


class UserFactory(DjangoModelFactory):
    class Meta:
        model = "people.User"
        skip_postgeneration_save = True

    class Params:
        manager = factory.Trait(role="manager")
        staff = factory.Trait(role="staff")

    username = factory.Sequence("person{}".format)
    name = factory.Sequence("Person {}".format)
    email = factory.Sequence("person{}@example.org".format)
    role = "volunteer"
    password = factory.django.Password("a long enough password")


class AreaFactory(DjangoModelFactory):
    class Meta:
        model = "enclosures.Area"

    code = factory.Sequence("A9{:04}".format)
    name = factory.Sequence("Area {}".format)
    biosecurity_rank = 0


class WaterSourceFactory(DjangoModelFactory):
    class Meta:
        model = "enclosures.WaterSource"

    class Params:
        chloramine = factory.Trait(disinfectant="chloramine", total_chlorine_mg_l=2.0)

    name = factory.Sequence("Well {}".format)
    disinfectant = "none"
    alkalinity_mg_l = 120.0


class CircuitFactory(DjangoModelFactory):
    class Meta:
        model = "enclosures.Circuit"
        skip_postgeneration_save = True

    code = factory.Sequence("W9{:04}".format)
    name = factory.Sequence("Water {}".format)
    water_source = factory.SubFactory(WaterSourceFactory)
    usual_temperature_c = 24.0


class EnclosureFactory(DjangoModelFactory):
    """A rectangular tank of 1,000 L."""

    class Meta:
        model = "enclosures.Enclosure"

    code = factory.Sequence("E9{:04}".format)
    name = factory.Sequence("Tank {}".format)
    area = factory.SubFactory(AreaFactory)
    circuit = factory.SubFactory(CircuitFactory)
    length_m = 2.0
    width_m = 1.0
    water_depth_m = 0.5


class WaterTestFactory(DjangoModelFactory):
    class Meta:
        model = "enclosures.WaterTest"

    circuit = factory.SubFactory(CircuitFactory)
    at = factory.LazyFunction(timezone.now)
    temperature_c = 24.0
    ph = 7.2
    tan_mg_l = 0.0
    nitrite_n_mg_l = 0.0


class SpeciesFactory(DjangoModelFactory):
    class Meta:
        model = "husbandry.Species"

    name = factory.Sequence("Turtle {}".format)
    adult_mass_kg = 50.0


class FoodFactory(DjangoModelFactory):
    class Meta:
        model = "husbandry.Food"

    name = factory.Sequence("Fish {}".format)
    water_fraction = 0.8036
    protein_fraction = 0.164
    source = "test"


class AnimalFactory(DjangoModelFactory):
    """An animal that is here; `placed_in` an enclosure for as long as it has been here."""

    class Meta:
        model = "husbandry.Animal"
        skip_postgeneration_save = True

    code = factory.Sequence("T9{:04}".format)
    species = factory.SubFactory(SpeciesFactory)
    arrived_on = factory.LazyFunction(lambda: timezone.now().date() - timedelta(days=400))

    @factory.post_generation
    def placed_in(self, create, enclosure, **kwargs):
        if create and enclosure is not None:
            PlacementFactory(animal=self, enclosure=enclosure)

    @factory.post_generation
    def mass_kg(self, create, mass, **kwargs):
        if create and mass is not None:
            MeasurementFactory(animal=self, mass_kg=mass)


class PlacementFactory(DjangoModelFactory):
    class Meta:
        model = "husbandry.Placement"

    animal = factory.SubFactory(AnimalFactory)
    enclosure = factory.SubFactory(EnclosureFactory)
    circuit = factory.SelfAttribute("enclosure.circuit")
    starts_at = factory.LazyAttribute(lambda o: midnight(o.animal.arrived_on))


class MeasurementFactory(DjangoModelFactory):
    class Meta:
        model = "husbandry.Measurement"

    animal = factory.SubFactory(AnimalFactory)
    mass_kg = 55.0


class QuarantineFactory(DjangoModelFactory):
    class Meta:
        model = "husbandry.Quarantine"

    animal = factory.SubFactory(AnimalFactory)
    started_on = factory.LazyFunction(lambda: timezone.now().date() - timedelta(days=200))
    clock_from = factory.SelfAttribute("started_on")
    days = 365
    ends_on = factory.LazyAttribute(lambda o: o.clock_from + timedelta(days=o.days))


class FeedingPlanFactory(DjangoModelFactory):
    class Meta:
        model = "husbandry.FeedingPlan"

    food = factory.SubFactory(FoodFactory)
    ration_kg = 1.36
    every_days = 7
    starts_on = factory.LazyFunction(lambda: timezone.now().date() - timedelta(days=100))


class FeedingFactory(DjangoModelFactory):
    class Meta:
        model = "husbandry.Feeding"

    enclosure = factory.SubFactory(EnclosureFactory)
    circuit = factory.SelfAttribute("enclosure.circuit")
    food = factory.SubFactory(FoodFactory)
    offered_kg = 1.36
    tan_g = factory.LazyAttribute(lambda o: o.offered_kg * o.food.protein_fraction * 92)
    solids_g = factory.LazyAttribute(lambda o: o.offered_kg * (1 - o.food.water_fraction) * 250)


class FilterUnitFactory(DjangoModelFactory):
    """A mature barrel filter: 200 L drum, void 0.2 m, river rock and lava rock."""

    class Meta:
        model = "filtration.FilterUnit"
        skip_postgeneration_save = True

    code = factory.Sequence("F9{:04}".format)
    name = factory.Sequence("Barrel {}".format)
    circuit = factory.SubFactory(CircuitFactory)
    area = factory.SubFactory(AreaFactory)
    length_m = 0.57
    height_m = 0.88
    void_height_m = 0.2
    state = "mature"
    state_since = factory.LazyFunction(lambda: timezone.now().date() - timedelta(days=300))
    commissioning_flow_m3_h = 2.0

    @factory.post_generation
    def layers(self, create, layers, **kwargs):
        if create:
            wanted = [("river_rock", 0.25), ("lava_rock", 0.35)] if layers is None else layers
            for position, (medium, depth) in enumerate(wanted, start=1):
                self.layers.create(position=position, medium=medium, depth_m=depth)

    @factory.post_generation
    def pumped(self, create, value, **kwargs):
        if create and value is not False:
            PumpFactory(filter=self)


class PumpFactory(DjangoModelFactory):
    class Meta:
        model = "filtration.Pump"

    filter = factory.SubFactory(FilterUnitFactory)
    name = "Pump"
    rated_flow_m3_h = 3.0


class FilterDesignFactory(DjangoModelFactory):
    """A drum beside a tank of 1.1 m3 that works: what the planner begins with."""

    class Meta:
        model = "filtration.FilterDesign"
        skip_postgeneration_save = True

    name = factory.Sequence("Plan {}".format)
    container_name = "Drum"
    length_m = 0.57
    height_m = 0.81
    void_height_m = 0.2
    grate_open_share = 0.4
    pump_name = "Pump"
    pump_shutoff_head_m = 2.5
    pump_max_flow_m3_h = 4.0
    pump_power_w = 60.0
    inlet_bore_m = 0.0266
    inlet_length_m = 3.0
    inlet_elbow_90 = 3
    guard = "check_valve"
    return_bore_m = 0.0525
    return_length_m = 1.0
    return_elbow_90 = 1
    overflow_height_m = 0.69
    floor_above_water_m = -0.4
    tank_volume_m3 = 1.1
    tank_surface_m2 = 2.0
    tank_over_intake_m = 0.3
    tank_freeboard_m = 0.12
    temperature_c = 24.0
    tan_g_day = 3.0

    @factory.post_generation
    def layers(self, create, layers, **kwargs):
        if create:
            wanted = [("river_rock", 0.2), ("lava_rock", 0.25)] if layers is None else layers
            for position, (medium, depth) in enumerate(wanted, start=1):
                self.layers.create(position=position, medium=medium, depth_m=depth)


def midnight(day: date) -> datetime:
    return datetime.combine(day, time(0, 0), tzinfo=UTC)
