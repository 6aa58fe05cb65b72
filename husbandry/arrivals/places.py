"""Every enclosure as a place for a newcomer, ranked; and what choosing one would change."""

import math
from collections import defaultdict
from dataclasses import dataclass

from django.db.models import OuterRef, Subquery

from enclosures.models import Enclosure
from husbandry.arrivals.ahead import foresight, weighed
from husbandry.arrivals.effects import with_arrival
from husbandry.arrivals.findings import judge
from husbandry.arrivals.newcomer import Candidate, Case, Newcomer, Place, rank
from husbandry.models import Animal, Measurement, Placement
from refuge.pages.panels import Panel
from refuge.rounds.loaders import Moment, load_facts
from refuge.rounds.planner import preview
from refuge.rules.facts import AnimalFacts, Facts, FilterFacts
from refuge.rules.shifts import Shift, shifts


@dataclass(frozen=True)
class Choice:
    """The ranked places, those that cannot take anybody, and the one that was chosen with what it changes.

    ahead: how the water of the chosen place would do, as a part of the page.
    """

    able: list[Candidate]
    unable: list[Candidate]
    chosen: Candidate | None
    shifts: list[Shift]
    ahead: Panel | None = None

    @property
    def begin_kg(self) -> float | None:
        """What is safe to begin with, where that is food at all and less than the meal that is planned: two digits, never more."""
        shown = self.ahead.context if self.ahead else {}
        safe, planned = shown.get("safe_kg"), shown.get("meal_kg")
        if not safe or not planned or not 0 < safe < planned:
            return None
        step = 10.0 ** (math.floor(math.log10(safe)) - 1)
        return float(f"{math.floor(safe / step + 1e-9) * step:.2g}")


def choice_for(newcomer: Newcomer, enclosure_id: int | None, moment: Moment, system: str) -> Choice:
    """Rank every enclosure for a newcomer: a fixed number of queries, and as many again once one is chosen.

    The waters of the best places, and of the chosen one, are forecast with the newcomer in them.
    """
    facts = load_facts(None, moment)
    ranked = rank(
        judge(Case(newcomer, place, moment.limits(place.circuit.id), moment.today, system))
        for place in places(facts)
    )
    ahead = foresight(newcomer, ranked, enclosure_id, facts, moment)
    if ahead is not None:
        ranked = weighed(ranked, ahead, moment.limits, enclosure_id)
    chosen = next(
        (each for each in ranked if each.place.enclosure_id == enclosure_id and not each.is_blocked), None
    )
    return Choice(
        able=[each for each in ranked if not each.is_blocked],
        unable=[each for each in ranked if each.is_blocked],
        chosen=chosen,
        shifts=shifts_for(newcomer, chosen.place, moment) if chosen else [],
        ahead=ahead.panel(chosen.place, system) if ahead and chosen else None,
    )


def shifts_for(newcomer: Newcomer, place: Place, moment: Moment) -> list[Shift]:
    """How the tasks of a place's circuit would change with the newcomer in it. Writes nothing."""

    def change(facts: Facts) -> Facts:
        return with_arrival(facts, newcomer, place.enclosure_id, moment.today)

    return shifts(*preview(change, [place.circuit.id], moment=moment), moment.today)


def places(facts: Facts) -> list[Place]:
    """Every enclosure, those not in use too, in walking order: 2 queries."""
    animals, filters = _by_circuit(facts)
    lengths = _carapaces()
    return [
        _place(each, facts, animals[each.circuit_id], filters[each.circuit_id], lengths)
        for each in Enclosure.objects.select_related("area")
        if each.circuit_id in facts.circuit
    ]


def _by_circuit(facts: Facts) -> tuple[dict[int, list[AnimalFacts]], dict[int, list[FilterFacts]]]:
    animals: dict[int, list[AnimalFacts]] = defaultdict(list)
    filters: dict[int, list[FilterFacts]] = defaultdict(list)
    for animal in facts.animal.values():
        animals[animal.circuit_id].append(animal)
    for unit in facts.filter.values():
        filters[unit.circuit_id].append(unit)
    return animals, filters


def _carapaces() -> dict[int, float]:
    """The newest straight carapace length [m] of each animal that is here and was ever measured."""
    measured = Measurement.objects.filter(animal=OuterRef("animal_id"), carapace_m__isnull=False).order_by(
        "-at"
    )
    rows = Placement.objects.filter(ends_at__isnull=True, animal__status=Animal.Status.HERE)
    rows = rows.annotate(length=Subquery(measured.values("carapace_m")[:1])).filter(length__isnull=False)
    return dict(rows.order_by().values_list("animal_id", "length"))


def _place(
    enclosure: Enclosure,
    facts: Facts,
    sharing: list[AnimalFacts],
    filters: list[FilterFacts],
    lengths: dict[int, float],
) -> Place:
    living = tuple(each for each in sharing if each.enclosure_id == enclosure.pk)
    return Place(
        enclosure_id=enclosure.pk,
        label=str(enclosure),
        area=enclosure.area.name,
        path=enclosure.get_absolute_url(),
        purpose=enclosure.purpose,
        in_use=enclosure.in_use,
        surface_m2=enclosure.water_surface_m2,
        depth_m=enclosure.water_depth_m,
        volume_m3=enclosure.water_volume_m3,
        circuit=facts.circuit[enclosure.circuit_id],
        living_in=living,
        carapaces_m=tuple(lengths.get(each.id) for each in living),
        sharing=tuple(sharing),
        filters=tuple(filters),
    )


def next_code() -> str:
    """The code after the highest of the kind that was given last: T-061 is followed by T-062. 1 query."""
    codes = list(Animal.objects.order_by("-arrived_on", "-pk").values_list("code", flat=True))
    return following(codes)


def following(codes: list[str]) -> str:
    """The next code for codes given so far, newest first; empty when none of them ends in a number."""
    split = [(code.rstrip("0123456789"), code) for code in codes]
    numbered = [(prefix, code[len(prefix) :]) for prefix, code in split if code != prefix]
    if not numbered:
        return ""
    prefix = numbered[0][0]
    digits = [number for own, number in numbered if own == prefix]
    return f"{prefix}{int(max(digits, key=int)) + 1:0{max(map(len, digits))}d}"
