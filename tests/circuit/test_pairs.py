"""Two faults at once in one circuit."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.causes import Cause, causes_of, go_together, pair_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.circuit.rows import Row
from diagnose.circuit.settle import Settled, settle
from diagnose.expect import Predictor
from diagnose.opening import open_panel
from diagnose.setups import named_setups


@pytest.fixture(scope="module")
def netlist() -> Netlist:
    return build(open_panel("shed_single_kettle"))


def cause(netlist: Netlist, key: str) -> Cause:
    return next(each for each in causes_of(netlist.panel) if each.key == key)


def solved(netlist: Netlist, setup: str, *keys: str) -> Settled:
    return settle(netlist, named_setups(netlist, "element")[setup], [_row(netlist, key) for key in keys])


def _row(netlist: Netlist, key: str) -> Row:
    one, _, two = key.partition("+")
    first = cause(netlist, one)
    if not two:
        return Row(first, first.level)
    second = cause(netlist, two)
    return Row(pair_of(first, second), first.level, second.level)


def test_both_faults_are_in_the_circuit(netlist: Netlist) -> None:
    """A shorted relay heats at rest; with a weak element behind it, as much as that gives when it is called for."""
    keys = ("relay:shorted@0.02", "element:weak@2.5", "relay:shorted@0.02+element:weak@2.5")
    relay, weak, both = solved(netlist, "resting", *keys).heat_watts("element")
    assert weak < 5 and relay > 2500
    called = solved(netlist, "running", "element:weak@2.5").heat_watts("element")[0]
    # A shorted relay has no on-state drop of 1.2 V: that is the hundredth between them.
    assert both == pytest.approx(called, rel=0.015)


def test_one_fault_can_hide_another(netlist: Netlist) -> None:
    """Behind a blown control fuse nobody sees that the relay is shorted."""
    keys = ("control_fuse:blown", "control_fuse:blown+relay:shorted@0.02")
    alone, both = solved(netlist, "resting", *keys).heat_watts("element")
    assert alone < 5 and both < 5


def test_the_order_of_a_pair_changes_nothing(netlist: Netlist) -> None:
    keys = ("relay:shorted@0.02+element:leak_at_end@50000", "element:leak_at_end@50000+relay:shorted@0.02")
    settled = solved(netlist, "resting", *keys)
    np.testing.assert_allclose(settled.alternating.voltages[0], settled.alternating.voltages[1], rtol=1e-9, atol=1e-9)


def test_a_pair_spans_the_levels_of_both(netlist: Netlist) -> None:
    weak, joint = cause(netlist, "element:weak@2.5"), cause(netlist, "cord:blade_burnt@5")
    pair = pair_of(weak, joint)
    assert len(pair.solved_at) == 5
    assert pair.solved_at[2] == (weak.level, joint.level)
    predictor = Predictor(netlist, [weak, joint, pair])
    assert predictor.owner.tolist() == [0, 1, 1, 1, 2, 2, 2, 3, 3, 3, 3, 3]


def test_what_contradicts_itself_is_no_pair(netlist: Netlist) -> None:
    """One branch is open or shorted, not both; two different branches of one part may both be at fault."""
    panel = netlist.panel
    open_, weak = cause(netlist, "element:open"), cause(netlist, "element:weak@2.5")
    assert not go_together(panel, open_, weak)
    assert not go_together(panel, weak, weak)
    assert go_together(panel, open_, cause(netlist, "element:leak_at_end@50000"))
    assert go_together(panel, open_, cause(netlist, "relay:open"))
    with pytest.raises(ValueError, match="single causes"):
        pair_of(pair_of(open_, cause(netlist, "relay:open")), weak)
