"""The cautions that apply to a check, a step, a verdict or a table: any front end shows, sends or prints them."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.checks import Check
from diagnose.knowledge.records import Complaint, Exposure
from diagnose.model import Model
from diagnose.panel.records import Panel, part_of
from diagnose.proving import ProofStep
from diagnose.safety import StepName
from diagnose.session import ConfirmStep, Session
from diagnose.texts import Proof, load_texts
from diagnose.wording.regional import region_of, regional

LAW = "law"  # the region's own line
HOT_ROLES = ("heater", "pump", "probe")
SOCKET_ROLES = ("socket", "connector")
# Shown on the screen with every check that it applies to; the others once in a session.
EVERY_TIME = frozenset({"live", "trip_once"})


def caution_names(
    panel: Panel, exposures: Iterable[Exposure], parts: Iterable[str] = (), *, supply_on: bool = False,
    trips: bool = False, heats: bool = False, complaint: Complaint | None = None,
) -> tuple[str, ...]:  # fmt: skip
    """The names of the cautions that apply, the weightiest first, each once.

    `exposures` are those of the checks, `parts` what is handled or probed; `trips` where a protective device is set,
    `heats` where something heats while it is done.
    """
    exposed, handled = set(exposures), [part for part in parts if part]
    kinds = [panel.kind_of(part) for part in handled]
    names = ["always"]
    names += ["live"] if "live" in exposed else []
    names += ["dead"] if "isolated" in exposed else []
    names += [LAW] if exposed - {"outside"} or region_of(panel).reserved else []
    names += ["trip_once"] if trips else []
    if heats or any(kind.role in HOT_ROLES for kind in kinds):
        names.append("hot_liquid")
    if supply_on and any(kind.role in SOCKET_ROLES for kind in kinds):
        names.append("live_socket")
    for kind in kinds:
        names += [name for name in kind.cautions if name != "live_socket" or supply_on]
    names += complaint.cautions if complaint is not None else ()
    known = load_texts().cautions
    return tuple(name for name in dict.fromkeys(names) if name == LAW or name in known)


def caution_words(panel: Panel, names: Iterable[str]) -> list[str]:
    """Cautions by their names, in the words of the panel's region."""
    texts = load_texts().cautions
    return [region_of(panel).law if name == LAW else regional(panel, texts[name]) for name in names]


def names_for_check(panel: Panel, check: Check, complaint: Complaint | None = None) -> tuple[str, ...]:
    """The names of the cautions for one check, with those of the complaint if it is given."""
    ends = [part_of(end) for end in (check.tail, check.head)]
    on = check.setup.supply_on
    heats = on and bool(panel.of_role("heater")) and any(command == "call" for _, command in check.setup.commands)
    trips = check.sign == "trip"
    return caution_names(
        panel, [check.exposure], [check.part, *ends], supply_on=on, trips=trips, heats=heats, complaint=complaint
    )


def check_cautions(panel: Panel, check: Check, complaint: Complaint | None = None) -> list[str]:
    """Every caution that applies to one check: for what is read or sent by itself."""
    return caution_words(panel, names_for_check(panel, check, complaint))


def new_cautions(session: Session, check: Check) -> list[str]:
    """The cautions for a check that were not on the screen before.

    The opening has said those of the panel and the complaint, and the step that opened the box those of an open one.
    """
    model = session.model
    said = {"always", "dead", LAW, *model.complaint.cautions}
    for given in session.answers:
        said |= set(names_for_check(model.panel, model.checks_by_id[given.check_id]))
    names = names_for_check(model.panel, check)
    return caution_words(model.panel, [name for name in names if name not in said or name in EVERY_TIME])


def step_cautions(panel: Panel, step: StepName, check: Check, complaint: Complaint | None = None) -> list[str]:
    """Every caution that applies to a step: its own, and those of the check that it leads to."""
    exposures: list[Exposure] = [check.exposure]
    if step not in ("switch_off", "isolate", "close_box", "energise") and check.exposure == "outside":
        exposures.append("isolated")  # the box is open in between
    own = caution_names(panel, exposures, complaint=complaint)
    return caution_words(panel, dict.fromkeys((*own, *names_for_check(panel, check, complaint))))


def opening_cautions(panel: Panel, question: ConfirmStep | ProofStep) -> list[str]:
    """The cautions shown with a step that opens the box, or energises an open one; none with the others."""
    if "open" not in question.step:
        return []
    exposure: Exposure = "live" if question.step.startswith("energise") else "isolated"
    return caution_words(panel, [name for name in caution_names(panel, [exposure]) if name != "always"])


def verdict_cautions(model: Model, part: str) -> list[str]:
    """The cautions for what a session ends with: the work on a part, which is done isolated."""
    kind = [part] if part else []
    return caution_words(
        model.panel, caution_names(model.panel, ["isolated"] if part else [], kind, complaint=model.complaint)
    )


def proof_names(panel: Panel, part: str, proof: Proof) -> tuple[str, ...]:
    """The names of the cautions for a proof check after work on a part."""
    trips = proof.name == "gfci_test"
    heats = proof.supply_on and not trips and bool(panel.of_role("heater"))
    handled = [part] if heats or proof.exposure != "outside" else []
    return caution_names(panel, [proof.exposure], handled, supply_on=proof.supply_on, trips=trips, heats=heats)


def proof_cautions(panel: Panel, part: str, proof: Proof, complaint: Complaint | None = None) -> list[str]:
    """Every caution that applies to a proof check, or to a step towards it, with those of the complaint."""
    own = proof_names(panel, part, proof)
    return caution_words(panel, dict.fromkeys((*own, *(complaint.cautions if complaint else ()))))


def new_proof_cautions(panel: Panel, part: str, proof: Proof) -> list[str]:
    """Those that neither the verdict nor the step that opened the box has said."""
    said = {"always", LAW, "dead"}
    return caution_words(panel, [name for name in proof_names(panel, part, proof) if name not in said])


def review_cautions(panel: Panel) -> list[str]:
    """The cautions for a page that leads to work on a panel with the supply off."""
    return table_cautions(panel, ["isolated"], (), supply_on=False)


def general_cautions(*names: str) -> list[str]:
    """Cautions by their names where no panel is known, in the words of the knowledge base."""
    return [load_texts().cautions[name] for name in names]


def table_cautions(panel: Panel, exposures: Iterable[Exposure], parts: Iterable[str], *, supply_on: bool) -> list[str]:
    """The cautions for a printed table or sheet, by all the checks on it."""
    wanted = list(dict.fromkeys(parts))
    heats = supply_on and bool(panel.of_role("heater"))
    return caution_words(panel, caution_names(panel, exposures, wanted, supply_on=supply_on, heats=heats))
