"""From answers to a panel file: supply, bars, a channel for each element, pumps, with comments."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from diagnose.describe.questions import Answers, names_of
from diagnose.describe.systems import PROBES, SYSTEMS, System, breaker_for, residual_for, size_for

HEADER = "# Answers, from which 'diagnose describe' made this file: "
CORD_METRES, ELEMENT_CORD_METRES, INSIDE_METRES = 3, 2, 0.5  # invented, to be corrected by whoever measures


def panel_name(title: str) -> str:
    """A title as the name of a panel."""
    return re.sub(r"[^a-z0-9]+", "_", title.lower()).strip("_")[:40].strip("_") or "my_panel"


def answers_in(text: str) -> dict[str, str]:
    """The answers that a file says it was made from; empty where it says none."""
    for line in text.splitlines():
        if line.startswith(HEADER):
            try:
                found = json.loads(line.removeprefix(HEADER))
            except ValueError:
                return {}
            if isinstance(found, dict):
                return {str(key): str(value) for key, value in found.items()}
    return {}


def compose(answers: Answers, nearest: str) -> str:
    """The panel file that all these answers make."""
    make = _Panel(answers)
    lines = [
        f"# {answers['title']}: described by its owner, from the questions of 'diagnose describe'.",
        f"# Nearest panel that comes along: {nearest}. What was not asked is assumed: check what is marked so.",
        HEADER + json.dumps(dict(answers), ensure_ascii=False),
        f"panel: {panel_name(answers['title'])}",
        f"title: {json.dumps(answers['title'], ensure_ascii=False)}",
        *(["built: new      # wiring mistakes are among the causes"] if answers["built"] == "new" else []),
        f"region: {answers['region']}",
        *make.supply(),
        f"references: {{{make.references()}}}",
        f"wire: {make.thin}, {INSIDE_METRES} m      # assumed: any wire that does not say its own size and length",
        "parts:",
        *(f"  {line}" for line in make.parts()),
        "channels:",
        *make.channels(),
        "wires:",
        *(f"  {line}" if line.startswith("#") else f"  - {line}" for line in make.wires()),
    ]
    return "\n".join(lines) + "\n"


class _Panel:
    """The pieces of one file."""

    def __init__(self, answers: Answers) -> None:
        self.answers = answers
        self.system: System = SYSTEMS[answers["system"]]
        self.feed = float(answers["feed_amperes"])
        self.heavy = size_for(self.system, self.feed)
        self.thin = "14 AWG" if self.system.imperial else "1.5 mm2"
        self.names = names_of(answers["heaters"])
        self.powers = [float(word.split()[0]) for word in answers["powers"].split(",")]
        self.pumps = names_of(answers["pumps"])
        self.legs = answers.get("legs", "one")
        self.volts = 400 if self.legs != "one" else self.system.heater_volts
        self.bars = [f"leg_{n}_bar" for n in (1, 2)] if self.system.between_lines else (
            [f"line_{n}_bar" for n in (1, 2, 3)] if self.system.lines == 3 else ["line_bar"])  # fmt: skip
        self.probe = PROBES[answers["probe"]]
        # A breaker for each element where the feed's own would not protect the wires to it.
        self.own_breakers = self.legs == "one" and (self.system.between_lines or len(self.names) > 1)

    # Supply and bars ----------------------------------------------------------------------------------------

    def supply(self) -> Iterator[str]:
        """The supply: system, protection, the feed's wire, its plug."""
        amperes = f"{self.feed:g}"
        if self.answers["residual"] == "yes":
            devices = [each.format(amperes=amperes, device=residual_for(self.feed)) for each in self.system.residual]
        else:
            devices = [f"feed_breaker: {self.system.breaker}, {amperes} A, {self.system.standard}"]
        yield "supply:"
        yield f"  system: {self.answers['system']}"
        yield "  protection:"
        yield from (f'    - "{device}"' for device in devices)
        yield f"  feed: {self.heavy}, {self.answers['feed_metres']} m      # assumed: its size, by the breaker"
        if self.answers["connection"] == "plug":
            yield f"  cord: {self.system.cord}, {CORD_METRES} m           # assumed: its length"

    def references(self) -> str:
        """Where the other probe goes."""
        legs = [f"leg_{number}: {bar}" for number, bar in enumerate(self.bars, start=1)]
        return ", ".join(["neutral: neutral_bar", "earth: earth_bar", *legs])

    def parts(self) -> Iterator[str]:
        """What is there once."""
        yield f"main_switch: {self.system.main_switch}, {self._switch_amperes()} A"
        yield from (f"{bar}: bar" for bar in (*self.bars, "neutral_bar", "earth_bar"))
        yield "box: enclosure"
        yield "control_fuse: fuse, 1 A         # assumed: one fuse for the controllers"
        if self._coils():
            yield "coil_fuse: fuse, 1 A            # assumed: one fuse for the contactors' coils"
        if self._either_or():
            yield "selector: selector"
        if self.pumps:
            yield f"pump_breaker: breaker_1, 10 A, {self._pump_standard()}"

    def _switch_amperes(self) -> int:
        return next((size for size in (20, 25, 32, 40, 63, 80, 100, 125) if size >= self.feed), 125)

    def _pump_standard(self) -> str:
        return "ul489" if self.system.imperial else "iec60898_b"

    def _either_or(self) -> bool:
        return self.answers.get("selector") == "yes"

    def _coils(self) -> bool:
        return self.answers["control"] != "relay"

    def wires(self) -> Iterator[str]:
        """From the feed to the bars, and what hangs on the bars once."""
        source, ends = (("feed_cord", self.system.plugged) if self.answers["connection"] == "plug"
                        else ("wall_point", self.system.wired))  # fmt: skip
        lines, neutral, earth = ends[: self.system.lines], ends[-2], ends[-1]
        yield "# From the feed through the main switch to the bars."
        for number, (line, bar) in enumerate(zip(lines, self.bars, strict=True), start=1):
            yield f"{source}.{line} - main_switch.line_{number}, {self.heavy}"
            yield f"main_switch.load_{number} - {bar}, {self.heavy}"
        pole = self.system.lines + 1
        if self.system.neutral_switched:
            yield f"{source}.{neutral} - main_switch.line_{pole}, {self.heavy}"
            yield f"main_switch.load_{pole} - neutral_bar, {self.heavy}"
        else:
            yield f"{source}.{neutral} - neutral_bar, {self.heavy}"
        yield f"{source}.{earth} - earth_bar, {self.heavy}"
        yield f"earth_bar - box.stud, {self.heavy}"
        yield f"{self.bars[0]} - control_fuse.line"
        if self._coils():
            yield f"{self.bars[0]} - coil_fuse" + (" - selector.common" if self._either_or() else ".line")
        if self.pumps:
            yield f"{self.bars[-1]} - pump_breaker.line_1"

    # Channels -----------------------------------------------------------------------------------------------

    def channels(self) -> Iterator[str]:
        """A channel for the elements, and one for the pumps."""
        lists = {"name": self.names, "power": [f"{power:g} kW" for power in self.powers]}
        if self.own_breakers:
            sizes = [min(breaker_for(self.system, power, self.volts), int(self.feed)) for power in self.powers]
            lists["amperes"] = [f"{size} A" for size in sizes]
        if self.system.lines == 3 and self.legs == "one":
            lists["bar"] = [self.bars[number % 3] for number in range(len(self.names))]
        if self._either_or():
            lists["side"] = ["left", "right"]
        yield from self._channel(
            lists, list(self._heater_parts()), list(self._heater_wires()), list(self._heater_plugs())
        )
        if self.pumps:
            yield from self._channel({"pump": self.pumps}, list(self._pump_parts()), list(self._pump_wires()),
                                     ["<pump>_pump_cord - <pump>_pump_outlet"])  # fmt: skip

    def _channel(
        self, lists: dict[str, list[str]], parts: list[str], wires: list[str], plugs: list[str]
    ) -> Iterator[str]:
        for number, (name, values) in enumerate(lists.items()):
            yield f"  {'-' if not number else ' '} {name}: [{', '.join(values)}]"
        for key, lines, mark in (("parts", parts, ""), ("wires", wires, "- "), ("plugs", plugs, "- ")):
            yield f"    {key}:"
            yield from (f"      {line}" if line.startswith("#") else f"      {mark}{line}" for line in lines)

    def _heater_parts(self) -> Iterator[str]:
        control, volts = self.answers["control"], self.system.control_volts
        if self.own_breakers:
            kind = "breaker_2" if self.system.between_lines else "breaker_1"
            yield f"<name>_breaker: {kind}, <amperes>, {self.system.standard}"
        controller = "controller_relay" if control == "contactor" else (
            "controller_digital" if self.probe.digital else "controller")  # fmt: skip
        yield f"<name>_controller: {controller}, {volts} V"
        yield "<name>_switch: switch"
        if control != "contactor":
            yield from (f"<name>_relay{end}: relay, {self._relay_amperes()} A" for end in self._relay_ends())
        if self._coils():
            yield f"<name>_contactor: {self._contactor()}, {volts} V, {max(25, round(self.feed))} A"
        if self.answers["lamps"] == "yes":
            yield f"<name>_lamp: lamp, {self._lamp_volts()} V"
            if not self._coils():
                yield "<name>_lamp_fuse: fuse, 1 A    # assumed: for its thin wires"
        element = {"one": "element", "star": "element_star", "delta": "element_delta"}[self.legs]
        if self._plugged():
            four = "_4" if self.legs != "one" else ""
            yield f"<name>_outlet: outlet{four}"
            amperes = max(16, round(self.feed))
            yield f"<name>_cord: cord{four}, {amperes} A, {ELEMENT_CORD_METRES} m    # assumed: its length"
        yield f"<name>_element: {element}, <power>, {self.volts} V"
        yield f"<name>_probe_socket: {self.probe.socket}"
        yield f"<name>_probe: {self.probe.kind}"

    def _relay_amperes(self) -> int:
        return 40 if self.feed <= 40 else 80

    def _relay_ends(self) -> list[str]:
        return [""] if self.legs == "one" else ["_1", "_2"]

    def _contactor(self) -> str:
        if self.legs != "one":
            return "contactor_3"
        return "contactor_1" if self.answers["system"] == "single_phase_120" else "contactor"

    def _plugged(self) -> bool:
        return self.answers.get("plugged", "yes") == "yes"

    def _lamp_volts(self) -> int:
        return self.system.control_volts if self._coils() else self.volts

    def _heater_wires(self) -> Iterator[str]:
        yield "# Power to the element."
        yield from self._power() if self.legs == "one" else self._power_of_three()
        yield "# Control: the controller behind its fuse, the relay, the coil behind the switch."
        yield "control_fuse.load - <name>_controller.line"
        yield "<name>_controller.neutral - neutral_bar"
        yield from self._control()
        yield "# Sensing."
        yield from (f"<name>_probe_socket.{own} - <name>_controller.{its}" for own, its in self.probe.wires)

    def _power(self) -> Iterator[str]:
        size = self.heavy
        bar = "<bar>" if self.system.lines == 3 else self.bars[0]
        hot, cold = bar, self.bars[1] if self.system.between_lines else "neutral_bar"
        if self.own_breakers:
            yield f"{hot} - <name>_breaker.line_1, {size}"
            hot = "<name>_breaker.load_1"
            if self.system.between_lines:
                yield f"{cold} - <name>_breaker.line_2, {size}"
                cold = "<name>_breaker.load_2"
        relay = "" if self.answers["control"] == "contactor" else " - <name>_relay"
        first, second = (f"<name>_{'outlet' if self._plugged() else 'element'}.{end}" for end in "ab")
        if not self._coils():
            yield f"{hot}{relay} - {first}, {size}"
            yield f"{cold} - {second}, {size}"
        else:
            yield f"{hot}{relay} - <name>_contactor.l1, {size}"
            yield f"<name>_contactor.t1 - {first}, {size}"
            if self._contactor() == "contactor_1":
                yield f"{cold} - {second}, {size}"
            else:
                yield f"{cold} - <name>_contactor.l2, {size}"
                yield f"<name>_contactor.t2 - {second}, {size}"
        yield from self._to_element(("a", "b"))

    def _power_of_three(self) -> Iterator[str]:
        for number, (bar, end) in enumerate(zip(self.bars, "abc", strict=True), start=1):
            relay = f" - <name>_relay_{number}" if number < 3 else ""
            if self._coils():
                yield f"{bar}{relay} - <name>_contactor.l{number}, {self.heavy}"
                yield f"<name>_contactor.t{number} - <name>_outlet.{end}, {self.heavy}"
            else:
                yield f"{bar}{relay} - <name>_outlet.{end}, {self.heavy}"
        yield from self._to_element(("a", "b", "c"))

    def _to_element(self, ends: tuple[str, ...]) -> Iterator[str]:
        if not self._plugged():
            yield f"earth_bar - <name>_element.earth, {self.heavy}"
            return
        yield f"earth_bar - <name>_outlet.earth, {self.heavy}"
        yield from (f"<name>_cord.{end} - <name>_element.{end}, {self.heavy}, 0.1 m" for end in (*ends, "earth"))

    def _control(self) -> Iterator[str]:
        side = "selector.<side>" if self._either_or() else "coil_fuse.load"
        match self.answers["control"]:
            case "contactor":
                yield f"{side} - <name>_switch - <name>_controller.common"
                yield "<name>_controller.plus - <name>_contactor.a1"
            case "both":
                yield f"{side} - <name>_switch - <name>_contactor.a1"
        if self._coils():
            yield "<name>_contactor.a2 - neutral_bar"
        alone = self.answers["control"] == "relay"
        for end in self._relay_ends() if self.answers["control"] != "contactor" else []:
            start = "<name>_switch.made" if alone and end == "_2" else "<name>_controller.plus"
            through = " - <name>_switch" if alone and end != "_2" else ""
            yield f"{start}{through} - <name>_relay{end}.plus"
            yield f"<name>_controller.minus - <name>_relay{end}.minus"
        if self.answers["lamps"] == "yes":
            yield from self._lamp()

    def _lamp(self) -> Iterator[str]:
        if self._coils():
            yield "<name>_contactor.a1 - <name>_lamp - <name>_contactor.a2"
            return
        owner = "<name>_outlet" if self._plugged() else "<name>_element"
        yield f"{owner}.a - <name>_lamp_fuse - <name>_lamp - {owner}.b"

    def _heater_plugs(self) -> Iterator[str]:
        if self._plugged():
            yield "<name>_cord - <name>_outlet"
        yield "<name>_probe - <name>_probe_socket"

    def _pump_parts(self) -> Iterator[str]:
        yield "<pump>_pump_switch: switch"
        yield "<pump>_pump_outlet: outlet"
        yield "<pump>_pump_cord: cord, 10 A, 1.5 m"
        yield f"<pump>_pump: pump, {self.system.control_volts} V, 85 W    # assumed: its power"

    def _pump_wires(self) -> Iterator[str]:
        yield "pump_breaker.load_1 - <pump>_pump_switch - <pump>_pump_outlet.a"
        yield "<pump>_pump_outlet.b - neutral_bar"
        yield "earth_bar - <pump>_pump_outlet.earth"
        size = "16 AWG" if self.system.imperial else "1.5 mm2"
        yield from (f"<pump>_pump_cord.{end} - <pump>_pump.{end}, {size}, 0.1 m" for end in ("a", "b", "earth"))
