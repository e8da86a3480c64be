"""Protective devices that trip are not set again to look at something else."""

from __future__ import annotations

import pytest

from diagnose.model import subjects_of
from diagnose.opening import all_complaints, open_model, open_panel

AT_ONCE = [c for c in all_complaints().values() if any("trips at once" in o.outcomes for o in c.observed)]


@pytest.mark.parametrize("complaint", AT_ONCE, ids=lambda c: c.name)
def test_no_check_is_offered_where_the_device_trips_at_once(complaint) -> None:  # type: ignore[no-untyped-def]
    only = {o.setup for o in complaint.observed if set(o.outcomes) == {"trips at once"}}
    assert only or complaint.name in ("gfci_trips_later", "gfci_trips_at_times")
    assert not only & set(complaint.setups)


def test_a_lifted_lead_is_never_an_outside_check() -> None:
    panel = open_panel("shed_single_kettle")
    for name in ("gfci_trips_with_element", "breaker_trips", "element_cold"):
        subject = subjects_of(panel, all_complaints()[name])[0]
        for check in open_model(panel, name, subject).checks:
            assert not (check.setup.lifted and check.exposure == "outside"), check.id
            assert not (check.setup.lifted and check.setup.supply_on), check.id
