"""Pages beside the checks: steps, why, the power path, the verdict, help. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.finish_text import finish_line, left_by
from diagnose.model import Model
from diagnose.panel.records import Panel
from diagnose.proving import proofs_of
from diagnose.safety import Competence, PanelState
from diagnose.screen.typing_help import WORDS
from diagnose.session import AskCheck, ConfirmStep, Question, Session, Verdict, belief, shares
from diagnose.texts import load_texts, proof_text, step_text
from diagnose.wording import (
    Page,
    capital,
    check_title,
    clean_all,
    conflict_lines,
    moved_lines,
    named,
    opening_cautions,
    outcomes_of,
    percent,
    range_text,
    should_be,
    verdict_cautions,
)
from diagnose.wording.turns import turn_lines

SUSPECT = 0.02  # a wire with less belief than this is left out of the path
MOST_CAUSES = 6
MOST_OUTCOMES = 4

HELP = (
    *(f"{word}: {meaning}" for word, meaning in WORDS.items() if word != "danger"),
    "danger, or the key ! alone: smoke, heat, a burning smell, scorching, water in the box, a shock or tingle, a hot "
    "plug, no earth or ground, a device that won't reset or trips again, or it was not dead",
    "A reading is a number, with or without its unit: 118, 118 V, 4.7k, 1.2 Mohm, OL.",
)
WORDS_LINE = "At any time: why, path, skip, back, answers, stop. help lists all words. Something wrong: !"
ONLY_LIVE = (
    "A check on live parts now tells what no single other check does. To leave it to an electrician is as good",
    "a choice: type refer.",
)


def page_of(title: str, lines: Iterator[str] | list[str] | tuple[str, ...], prompt: str = "") -> Page:
    """A page with its lines cleaned."""
    return Page(title, tuple(clean_all(lines)), prompt)


def step_page(session: Session, question: ConfirmStep) -> Page:
    """A step that changes the panel's state, one action a line."""
    text = step_text(session.model.panel, question.step, question.state.meter_failed)
    lines = [*(ONLY_LIVE if question.only_live else ()), *(f"- {line}" for line in text.lines)]
    lines += [f"- {line}" for line in moved_lines(session, question)]
    lines += [f"Caution: {text}" for text in opening_cautions(session.model.panel, question)]
    return page_of(f"Step - {text.title}", lines)


def opening_page(model: Model) -> Page:
    """What is said before the first question: cautions, and the words to use."""
    about = f", {model.panel.label(model.subject)}" if model.subject else ""
    lines = [*caution_lines(model, ""), WORDS_LINE]
    return page_of(f"{model.panel.title}: {model.complaint.title}{about}", lines)


def help_page() -> Page:
    """The words that can be typed."""
    return page_of("Words", HELP)


def danger_page() -> Page:
    """What to do when something is badly wrong."""
    stop = load_texts().stop
    return page_of(stop.title.upper(), [f"- {line}" for line in stop.lines])


# Why ------------------------------------------------------------------------------------------------------


def why_page(session: Session, question: Question) -> Page:
    """What a check tells apart: the likeliest causes, and what each outcome would leave."""
    if isinstance(question, ConfirmStep):
        return page_of("Why", ["The next check needs the panel in this state. Safety comes before speed."])
    if not isinstance(question, AskCheck):
        return page_of("Why", ["There is no check to explain."])
    model, now = session.model, belief(session)
    told = shares(model, now)
    lines = ["Likeliest so far:"]
    lines += [f"  {percent(share.probability)}  {share.title}" for share in told[:MOST_CAUSES]]
    if len(told) > MOST_CAUSES:
        lines.append(f"  and {len(told) - MOST_CAUSES} more")
    lines.append("What each outcome would leave, the share of it first:")
    for outcome in outcomes_of(model, question, now)[:MOST_OUTCOMES]:
        sound = " (sound)" if outcome.sound else ""
        lines.append(f"  {percent(outcome.share)}  {outcome.text}{sound}: {named(model, outcome.causes, 2)}")
    return page_of("Why this check", lines)


# The verdict ----------------------------------------------------------------------------------------------


def verdict_page(session: Session, verdict: Verdict, log: str) -> Page:
    """How the session ended: what it is, what says so, what to do, what to measure before use."""
    model = session.model
    if verdict.kind == "referred":
        return page_of("Referred", [*left_lines(session.state), *_handed_over(session, verdict), f"Log: {log}"])
    if verdict.kind == "stopped":
        return page_of("Stopped", [*left_lines(session.state), *_so_far(session, verdict), f"Log: {log}"])
    title, first = _conclusion(verdict)
    lines = [*left_lines(session.state), first, *cause_lines(verdict), *conflict_lines(model, verdict)]
    if verdict.kind == "unknown" and not model.complaint.comes_and_goes:
        lines.append("If it comes and goes, say so at the start, such as 'no heat at times': that has other checks.")
    lines += turn_lines(session, verdict)
    if verdict.danger and not verdict.remedy:
        lines += open_lines(session, verdict)
    if verdict.remedy:
        lead = capital(model.panel.label(verdict.part))
        lines.append(
            f"What to do ({lead}): {verdict.remedy}" if verdict.kind == "group" else f"What to do: {verdict.remedy}"
        )
        lines.append("Before any work on it: supply off, and proved dead.")
    if verdict.remedy:
        lines.append("Measure before it is used again:")
        lines += [
            f"- {name}: {text}"
            for name, text in (proof_text(model.panel, verdict.part, p) for p in proofs_of(session, verdict))
        ]
        if session.stopped:
            lines.append("None of it is proved yet, so it is not closed: who puts it right measures it.")
    lines += further_lines(model.panel, verdict)
    lines += electrician_lines(verdict, session.competence)
    lines += finish_lines(model, verdict)
    lines += evidence_lines(model, verdict)
    lines += caution_lines(model, verdict.part)
    return page_of(title, [*lines, f"Log: {log}"])


def further_lines(panel: Panel, verdict: Verdict) -> list[str]:
    """What is seen to after the remedy: a second cause with its remedy, and what may have gone with the first."""
    lines = []
    for each in verdict.further:
        label = capital(panel.label(each.part))
        if each.sure:
            lines.append(f"Then {panel.label(each.part)}, {each.why}: {each.remedy}")
        else:
            lines.append(f"Before it is used again check {panel.label(each.part)} too. {each.why}")
        told = (proof_text(panel, each.part, name) for name in each.proof)
        lines += [f"- {label}, {title.lower()}: {text}" for title, text in told]
    return lines


def _conclusion(verdict: Verdict) -> tuple[str, str]:
    match verdict.kind:
        case "found":
            return "Found", "What the answers point to:"
        case "group":
            return (
                "Narrowed down",
                "One of these. No check that is open to you tells them apart, so this does not pick one:",
            )
        case "unknown":
            return (
                "Not found",
                "Nothing known here explains the answers, no one fault and no two: no cause is named. The nearest, "
                "and what speaks against it, for who looks next:",
            )
    return "Nothing wrong found", "The answers are those of a sound panel."


def finish_lines(model: Model, verdict: Verdict) -> list[str]:
    """Of a complaint about an element: what this brew can still be finished with, whichever of the causes it is."""
    chosen = left_by(model, verdict)
    return [] if chosen is None else [finish_line(model.predictor.netlist, chosen)]


def left_lines(state: PanelState) -> list[str]:
    """What has to be done first where a session ends with the box open."""
    back = ["Put the wires that changed places back first: supply off, box open, proved dead."] if state.rewired else []
    if state.open and state.energised:
        return ["FIRST: take the supply off. The box is open and LIVE.", *back]
    return [*back, *(["The box is open: close it before the supply goes on again."] if state.open else [])]


def _so_far(session: Session, verdict: Verdict) -> list[str]:
    if verdict.danger:
        return ["The supply stays off until an electrician has looked at it.", *open_lines(session, verdict)]
    return ["Likeliest so far, not proved:", *cause_lines(verdict, 3)]


def open_lines(session: Session, verdict: Verdict) -> list[str]:
    """After a danger no proof check is asked here, so it is said that the panel is not closed, and what is to come."""
    texts = load_texts().proofs
    named = ", ".join(texts[name].title for name in proofs_of(session, verdict))
    return [f"It is not closed. To be measured before it is used again, by who puts it right: {named}."]


def _handed_over(session: Session, verdict: Verdict) -> list[str]:
    return [
        "Leave the panel off and show a licensed electrician this and the log.",
        "Likeliest so far, not proved:",
        *cause_lines(verdict),
        *evidence_lines(session.model, verdict),
        *caution_lines(session.model, ""),
    ]


def cause_lines(verdict: Verdict, most: int = 6) -> list[str]:
    """The causes with their shares."""
    lines = [f"  {percent(share.probability)}  {share.title}" for share in verdict.causes[:most]]
    more = len(verdict.causes) - most
    return [*lines, f"  and {more} more"] if more > 0 else lines


def electrician_lines(verdict: Verdict, competence: Competence) -> list[str]:
    """Where somebody else has to do it."""
    if verdict.kind == "unknown":
        return ["Leave the panel off and show this and the log to a licensed electrician."]
    if verdict.electrician:
        return ["This is work for a licensed electrician."]
    if verdict.remedy and competence == "outside":
        return ["You said that you leave the box shut: have it done by someone who may open it."]
    return []


def evidence_lines(model: Model, verdict: Verdict) -> list[str]:
    """The answers for and against the leading cause, what was found and what it would show.

    An answer that a sound panel would give as well only ruled others out, so those are counted.
    """
    lines, alike = [], 0
    for told in verdict.evidence:
        if told.agrees and told.sound:
            alike += 1
            continue
        check = model.checks_by_id[told.check_id]
        cause = told.expected_outcome or range_text(check.quantity, told.expected_low, told.expected_high)
        side = "for" if told.agrees else "AGAINST"
        found = f"{check_title(model.panel, check)}: {told.text}"
        lines.append(f"- {side}: {found} (with this cause: {cause}; sound: {should_be(check, told)})")
    if alike:
        lines.append(f"- {alike} more {_fit(alike)} this cause and a sound panel alike, and ruled others out.")
    return ["Evidence:", *lines] if lines else []


def _fit(count: int) -> str:
    return "answer fits" if count == 1 else "answers fit"


def caution_lines(model: Model, part: str) -> list[str]:
    """The cautions, each on its line."""
    return [f"Caution: {text}" for text in verdict_cautions(model, part)]
