"""What a brew can still be finished with: only what is safe, and how long it takes."""

from __future__ import annotations

import json
import math

import pytest

from diagnose.causes import causes_of
from diagnose.circuit.netlist import Netlist, build
from diagnose.cli import main
from diagnose.expected_table import read_fault
from diagnose.finish import Finish, Job, finish
from diagnose.finish_text import USUAL_JOB, finish_line, finish_text
from diagnose.knowledge.folder import knowledge_folder
from diagnose.opening import open_model, open_panel
from diagnose.protocol import verdict_message
from diagnose.screen.pages import verdict_page
from diagnose.session import CauseShare, Verdict, start
from diagnose.topology import upstream

TO_BOIL = Job(40.0, 60.0, 100.0)


def netlist_of(panel: str) -> Netlist:
    return build(open_panel(panel))


def with_fault(panel: str, fault: str, job: Job = TO_BOIL) -> Finish:
    netlist = netlist_of(panel)
    return finish(netlist, [read_fault(netlist.panel, fault)], job)


def test_a_leaking_element_is_never_used_and_the_other_one_is() -> None:
    answer = with_fault("cellar_two_kettle", "boil_element:leak_at_end@7000")
    assert [option.heater for option in answer.options] == ["hlt_element"]
    assert answer.options[0].unplug == ("boil_cord",)
    assert "What leaks to earth is not used at all" in answer.stays_off[0].reason


@pytest.mark.parametrize(
    ("panel", "fault", "why"),
    [
        ("shed_single_kettle", "relay:half_wave", "Half waves put direct current on the supply"),
        ("shed_single_kettle", "relay:shorted", "What can't be switched off is not used"),
        ("shed_single_kettle", "contactor:pole_burnt@3", "burns where it is"),
        ("cellar_two_kettle", "service:neutral_lost", "until an electrician"),
        ("cellar_two_kettle", "main_switch:pole_1_burnt@2.5", "burns where it is"),
    ],
)
def test_what_stays_off_says_why(panel: str, fault: str, why: str) -> None:
    answer = with_fault(panel, fault)
    assert not answer.options
    assert all(why in each.reason for each in answer.stays_off)


def test_an_open_earth_leaves_nothing_to_use() -> None:
    netlist = netlist_of("cellar_two_kettle")
    broken = [
        cause for cause in causes_of(netlist.panel)
        if cause.part in netlist.panel.wires_by_name and netlist.panel.wires_by_name[cause.part].a.endswith(".earth")
    ]  # fmt: skip
    assert broken
    assert not finish(netlist, broken[:1], TO_BOIL).options


# One fault in so many: all of a kind repeat for each channel and wire, so a few dozen meet every kind there is.
@pytest.mark.parametrize("every", [pytest.param(13, marks=pytest.mark.long), 61])
def test_no_fault_leaves_an_element_in_use_that_it_is_on_the_way_of(every: int) -> None:
    """Over the causes of a panel: what is offered does not run through the part at fault, unless that is usable."""
    netlist = netlist_of("cellar_two_kettle")
    seen: set[tuple[str, str]] = set()
    for cause in causes_of(netlist.panel)[5::every]:
        if (cause.part, cause.fault) in seen or netlist.panel.kind_of(cause.part).faults[cause.fault].usable:
            continue
        seen.add((cause.part, cause.fault))
        for option in finish(netlist, [cause], TO_BOIL).options:
            assert cause.part not in {option.heater, *upstream(netlist.panel, option.heater)}, cause.key
            assert option.watts.low > 0


def test_the_time_is_energy_over_power() -> None:
    """40 L of about 39.3 kg from 60 to 66 °C takes 39.3 x 4185 x 6 = 0.99 MJ: 3.4 to 4.6 minutes with 3.6 to 4.9 kW."""
    answer = with_fault("cellar_two_kettle", "boil_element:open", Job(40.0, 60.0, 66.0))
    option = answer.options[0]
    joules = 39.33 * 4185 * 6
    assert option.minutes.low == pytest.approx(joules / option.watts.high / 60, rel=0.1)
    assert joules / option.watts.low / 60 < option.minutes.high < 1.5 * joules / option.watts.low / 60


def test_less_volume_more_power_and_a_lid_are_quicker() -> None:
    netlist = netlist_of("balcony_one_pot")

    def minutes(job: Job) -> float:
        return finish(netlist, [], job).options[0].minutes.high

    base = minutes(Job(25.0, 20.0, 90.0, lid=True))
    assert minutes(Job(15.0, 20.0, 90.0, lid=True)) < base
    assert minutes(Job(25.0, 20.0, 90.0, lid=False)) > base
    weak = finish(netlist, [], Job(60.0, 20.0, 100.0, lid=False)).options[0]
    assert weak.boil == "no" or weak.boil == "perhaps"
    assert weak.litres_in_an_hour < 60
    assert math.isinf(weak.minutes.high)


def test_the_words_fit_a_screen_and_name_what_stays_off() -> None:
    netlist = netlist_of("cellar_two_kettle")
    answer = with_fault("cellar_two_kettle", "boil_relay:half_wave")
    lines = finish_text(netlist.panel, answer)
    assert "  first unplug boil cord" in lines
    assert any(line.startswith("- boil element. boil relay: passes only one half") for line in lines)


def test_the_command_prints_it(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = ["finish", "cellar_two_kettle", "--fault", "boil_relay:half_wave", "--litres", "8gal"]
    assert main(arguments) == 0
    assert "holds a boil with the lid off" in capsys.readouterr().out
    assert main(["finish", "shed_single_kettle", "--fault", "relay:half_wave"]) == 1
    assert "Nothing is bridged" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("more", "message"),
    [
        (["--litres", "0"], "is outside a kettle"),
        (["--from", "90 C", "--to", "66 C"], "--to is below --from"),
        (["--from", "-5 C"], "is no brew's"),
        (["--fault", "kettle:sad"], "there is no part 'kettle'"),
    ],
)
def test_options_that_can_t_be_used(more: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["finish", "shed_single_kettle", *more]) == 2
    assert message in " ".join(capsys.readouterr().err.split())


def test_a_session_about_an_element_ends_with_what_still_works() -> None:
    model = open_model("cellar_two_kettle", "element_weak", "boil_element")
    shares = (CauseShare("boil_relay", "half_wave", None, 0.99, "boil relay: passes only one half of each cycle"),)
    verdict = Verdict("found", shares, "boil_relay", "Replace it.", (), False, (), "")
    page = verdict_page(start(model), verdict, "log")
    line = next(line for line in page.lines if line.startswith("This brew: "))
    assert "hlt" in line.lower() or "liquor" in line.lower()
    assert "diagnose finish cellar_two_kettle --fault boil_relay:half_wave" in line
    shed = netlist_of("shed_single_kettle")
    nothing = finish_line(shed, [read_fault(shed.panel, "relay:half_wave")])
    assert nothing.startswith("This brew: no element here is safe to go on with.")


@pytest.mark.parametrize(
    ("panel", "subject", "part", "fault"),
    [
        ("cellar_two_kettle", "boil_element", "boil_relay", "half_wave"),
        ("shed_single_kettle", "element", "relay", "half_wave"),
    ],
)
def test_the_protocol_tells_what_still_works(panel: str, subject: str, part: str, fault: str) -> None:
    """The same answer as on the screen, with its minutes: JSON has no infinity, so null stands for never."""
    jsonschema = pytest.importorskip("jsonschema", reason="jsonschema is in the test extra")
    model = open_model(panel, "element_weak", subject)
    verdict = Verdict("found", (CauseShare(part, fault, None, 0.99, "it"),), part, "Replace it.", (), False, (), "")
    message = verdict_message(start(model), verdict)
    schema = json.loads((knowledge_folder() / "protocol.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator({"$ref": "#/$defs/verdict", "$defs": schema["$defs"]}).validate(message)
    told = message["finish"]
    expected = with_fault(panel, f"{part}:{fault}", USUAL_JOB)
    assert [option["part"] for option in told["options"]] == [option.heater for option in expected.options]
    for option, known in zip(told["options"], expected.options, strict=True):
        assert option["minutes"]["low"] == pytest.approx(known.minutes.low, abs=0.1)
        assert option["watts"]["high"] == pytest.approx(known.watts.high, abs=0.1)
    assert {each["part"] for each in told["stays_off"]} == {each.heater for each in expected.stays_off}
    json.dumps(message, allow_nan=False)
