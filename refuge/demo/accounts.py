"""Who works at the demo refuge. All of them are invented, and all sign in with the same known password."""

from dataclasses import dataclass

PASSWORD = "clearmere-demo"
EVERY_DAY = frozenset(range(7))


@dataclass(frozen=True, slots=True)
class Account:
    """One person: weekdays on duty (Monday 0), and days relative to today of the first and last duty."""

    username: str
    name: str
    role: str
    weekdays: frozenset[int]
    unit_system: str = "metric"
    since: int | None = None
    until: int | None = None


PEOPLE: tuple[Account, ...] = (
    Account("manager", "Maren Oskelby", "manager", frozenset({0, 1, 2, 3, 4})),
    Account("staff", "Tobin Fennimark", "staff", frozenset({0, 1, 2, 3, 6})),
    Account("ines", "Ines Varrowby", "staff", frozenset({0, 2, 4, 5, 6})),
    Account("dale", "Dale Quillhorn", "staff", frozenset({1, 3, 4, 5, 6}), unit_system="us"),
    Account("volunteer", "Ruth Thistlecomb", "volunteer", frozenset({1, 2, 5})),
    Account("jonas", "Jonas Brambleday", "volunteer", frozenset({0, 3, 6})),
    Account("priya", "Priya Larkenhall", "volunteer", frozenset({2, 4, 6})),
    Account("otis", "Otis Wendlebrook", "volunteer", frozenset({0, 1, 5}), since=-150),
    Account("lena", "Lena Morrowick", "volunteer", frozenset({3, 4, 5}), until=-38),
)

# One of each role, as the start command shows them.
SIGN_INS: tuple[str, ...] = ("manager", "staff", "volunteer")
