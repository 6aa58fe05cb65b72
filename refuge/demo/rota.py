"""Who does what, and at which time of the working day."""

import random
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from refuge.demo.accounts import PEOPLE, Account
from refuge.demo.daybook import Daybook
from refuge.demo.happenings import Stamp

# Minutes after midnight at which each area is reached on the morning round: clean first, quarantine last.
ROUND = {"NUR": 485, "HALL": 530, "POND": 615, "SICK": 675, "QUAR": 790}
FIRST_THING, AFTERNOON, QUARANTINE_AFTERNOON = 430, 870, 945
RANK = {"volunteer": 0, "staff": 1, "manager": 2}


class Rota:
    """Makes stamps: a person on duty, a moment in the refuge's zone, an entry some minutes later."""

    def __init__(self, daybook: Daybook, zone: ZoneInfo, seed: int) -> None:
        self._zone = zone
        self._rng = random.Random(f"{seed}:rota")
        self._tenure = {
            person.username: (
                daybook.day(person.since) if person.since is not None else date.min,
                daybook.day(person.until) if person.until is not None else date.max,
            )
            for person in PEOPLE
        }
        self._cache: dict[tuple[date, str], list[Account]] = {}

    def on_duty(self, day: date, role: str) -> list[Account]:
        """People of at least this role who work that day; the manager only where nobody else does."""
        if (day, role) not in self._cache:
            here = [each for each in PEOPLE if self._works(each, day) and RANK[each.role] >= RANK[role]]
            hands = [each for each in here if each.role != "manager"]
            self._cache[day, role] = hands or here or [PEOPLE[0]]
        return self._cache[day, role]

    def before_the_round(self, day: date) -> Stamp:
        """By staff, first thing in the morning."""
        return self._stamp(day, FIRST_THING + self._rng.uniform(0, 25), "staff", "")

    def visit(self, day: date, area: str, minute: float, role: str = "volunteer", note: str = "") -> Stamp:
        """On the morning round, `minute` minutes after the area is reached."""
        return self._stamp(day, ROUND[area] + minute + self._rng.uniform(0, 6), role, note)

    def afternoon(self, day: date, area: str, minute: float, role: str = "staff", note: str = "") -> Stamp:
        """Slow work, after the round."""
        start = QUARANTINE_AFTERNOON if area == "QUAR" else AFTERNOON
        return self._stamp(day, start + minute + self._rng.uniform(0, 15), role, note)

    def found_at(self, day: date, hour: float, *, began_hours_before: float, note: str) -> Stamp:
        """Something that a volunteer found at an hour of the day, and that had begun so many hours before."""
        found = (datetime.combine(day, time.min) + timedelta(hours=hour)).replace(tzinfo=self._zone)
        person = self.on_duty(day, "volunteer")[0]
        began = (found - timedelta(hours=began_hours_before)).astimezone(UTC)
        return Stamp(began, found.astimezone(UTC), person.username, note)

    def _works(self, person: Account, day: date) -> bool:
        since, until = self._tenure[person.username]
        return since <= day <= until and day.weekday() in person.weekdays

    def _stamp(self, day: date, minute: float, role: str, note: str) -> Stamp:
        seconds = int(min(minute, 1290) * 60)
        local = datetime.combine(day, time.min) + timedelta(seconds=seconds)
        at = local.replace(tzinfo=self._zone).astimezone(UTC)
        # Behind the ponds there is no signal: now and then an entry reaches the server much later.
        delay = self._rng.uniform(60, 150) if self._rng.random() < 0.04 else self._rng.uniform(1, 9)
        person = self._rng.choice(self.on_duty(day, role))
        return Stamp(at, at + timedelta(seconds=int(delay * 60)), person.username, note)
