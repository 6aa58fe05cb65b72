"""Which part of its water each filter cleaned, and what that leaves in it."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from filtration.services import filter_set_state, maintenance_record
from filtration.shares import Runner, Spell, reached, running_spells, spells_of
from refuge.rounds.loaders import Moment, load_facts
from refuge.rules.facts import Fed
from tests.factories import (
    CircuitFactory,
    EnclosureFactory,
    FeedingFactory,
    FilterUnitFactory,
    RefugeFactory,
)

DAY = date(2026, 6, 15)
OLD = Runner(1, 20.0, "mature", DAY - timedelta(days=400))
NEW = Runner(2, 20.0, "cycling", DAY, ((DAY, "cycling"),))


class TestSpells:
    def test_alone_it_has_all_of_the_water_since_it_is_known_to_run(self):
        assert spells_of([OLD]) == {1: [Spell(OLD.since, None, 1.0)]}

    def test_a_second_one_takes_its_share_from_its_first_day_on(self):
        spells = spells_of([OLD, NEW])
        assert spells[1] == [Spell(OLD.since, DAY, 1.0), Spell(DAY, None, 0.5)]
        assert spells[2] == [Spell(DAY, None, 0.5)]

    def test_one_that_rests_for_a_while_gives_its_share_to_the_other(self):
        rest, back = DAY - timedelta(days=30), DAY - timedelta(days=20)
        changes = ((OLD.since, "cycling"), (rest, "resting"), (back, "cycling"))
        other = Runner(3, 60.0, "cycling", back, changes)
        spells = spells_of([OLD, other])
        assert [spell.share for spell in spells[1]] == [0.25, 1.0, 0.25]
        assert [spell.share for spell in spells[3]] == [0.75, 0.75]
        assert spells[3][0].to_on == rest

    @pytest.mark.parametrize("state", ["building", "leak_tested"])
    def test_one_that_never_ran_has_none(self, state):
        assert running_spells(replace(NEW, state=state, changes=())) == []

    def test_a_recorded_step_from_a_running_state_says_that_it_ran_before(self):
        assert running_spells(Runner(1, 1.0, "disturbed", DAY, ((DAY, "disturbed"),))) == [(None, None)]
        assert running_spells(Runner(1, 1.0, "resting", DAY, ((DAY, "resting"),))) == [(None, DAY)]

    def test_work_that_only_a_running_filter_can_have_says_so_too(self):
        drained = OLD.since - timedelta(days=100)
        assert running_spells(replace(OLD, worked_on=drained)) == [(drained, None)]

    def test_shares_of_all_sum_to_one_whenever_one_runs(self):
        units = [OLD, NEW, Runner(3, 7.0, "mature", DAY - timedelta(days=90))]
        spells = spells_of(units)
        for day in (DAY - timedelta(days=200), DAY - timedelta(days=50), DAY):
            held = [
                spell.share
                for own in spells.values()
                for spell in own
                if spell.from_on <= day and (spell.to_on is None or day < spell.to_on)
            ]
            assert sum(held) == pytest.approx(1)


class TestReached:
    MONTH = Fed(date(2026, 5, 1), date(2026, 5, 31), 30, 600, 3000)

    def test_a_month_is_cut_where_a_share_changes(self):
        turn = date(2026, 5, 16)
        came = reached([self.MONTH], [Spell(None, turn, 1.0), Spell(turn, None, 0.4)], None)
        assert [(span.solids_g, share) for span, share in came] == [(1500, 1.0), (1500, 0.4)]
        assert came[1][0].from_on == turn

    def test_nothing_came_before_it_ran_or_before_the_drain(self):
        assert reached([self.MONTH], [Spell(date(2026, 6, 1), None, 1.0)], None) == []
        came = reached([self.MONTH], [Spell(None, None, 1.0)], date(2026, 5, 28))
        assert sum(span.solids_g * share for span, share in came) == pytest.approx(300)


@pytest.mark.django_db
def test_a_filter_added_to_an_old_water_begins_empty_and_leaves_the_other_as_it_was():
    RefugeFactory()
    now = datetime.now(UTC)
    tank = EnclosureFactory(circuit=CircuitFactory())
    since = (now - timedelta(days=400)).date()
    old = FilterUnitFactory(circuit=tank.circuit, state_since=since)
    new = FilterUnitFactory(circuit=tank.circuit, state="leak_tested", state_since=now.date())
    maintenance_record(
        unit=new, kind="leak_test", by=None, at=now, uuid="7b0c6f8e-7f5f-4b7a-9df7-0a9a5f1d2c10", passed=True
    )
    for days in range(1, 300, 3):
        FeedingFactory(enclosure=tank, at=now - timedelta(days=days))
    moment = Moment(now=now, today=now.date(), zone=UTC)
    before = load_facts(frozenset([tank.circuit_id]), moment).filter[old.pk]
    filter_set_state(unit=new, state="cycling", by=None, at=now, uuid="7b0c6f8e-7f5f-4b7a-9df7-0a9a5f1d2c11")
    after = load_facts(frozenset([tank.circuit_id]), replace(moment, now=datetime.now(UTC))).filter
    assert after[new.pk].sediment_l == after[new.pk].carried_g == 0
    assert after[old.pk].sediment_l == pytest.approx(before.sediment_l)
    assert after[old.pk].carried_g == pytest.approx(before.carried_g)
    assert after[old.pk].solids_g_day == pytest.approx(after[new.pk].solids_g_day)
