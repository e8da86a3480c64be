"""The logbook in words, and the command that prints it."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from math import isinf

from diagnose.errors import printable
from diagnose.escaping import json_text
from diagnose.files import given_path
from diagnose.log_places import log_folders
from diagnose.log_recovery import damaged_line
from diagnose.meter import reader_of
from diagnose.opening import panel_path
from diagnose.report.history import History, Past, falling, histories, limits_of, logs_in
from diagnose.report.over_time import Over, Reading
from diagnose.report.trend import SURE, Trend
from diagnose.units import show
from diagnose.wording import clean, clean_all, speaker

COLUMNS, BELOW = 78, " " * 12
FARTHEST_DAYS = 3650.0  # beyond ten years a line through a few brews says nothing
_DONE = {"yes": "Mended.", "no": "Not mended.", "": "Whether it was mended was not said."}


def history_lines(of: History) -> Iterator[str]:
    """A panel's logbook, line by line: what falls first, then the sessions, then readings over time."""
    say = speaker(of.panel) if of.panel is not None else str
    for text, indent in _texts(of):
        if indent is None:
            yield text  # a file's name, as it is
        else:
            yield from _wrapped(say(clean_all([text])[0]), indent) or [""]


Text = tuple[str, str | None]  # and how far its further lines are indented; None for what is never changed


def _texts(of: History) -> Iterator[Text]:
    count = len(of.sessions)
    yield f"{of.title}: {count} session{'s' * (count != 1)}", "  "
    for over in falling(of):
        yield from (("", ""), (f"! {falling_words(of, over)}", "  "))
    for past in of.sessions:
        yield "", ""
        yield from _session(past)
    if of.over_time:
        yield from (("", ""), ("The same check over time", ""))
    for over in of.over_time:
        yield from _over(over)


def _wrapped(text: str, indent: str = "") -> list[str]:
    start = text[: len(text) - len(text.lstrip())]
    return textwrap.wrap(text.lstrip(), COLUMNS, initial_indent=start, subsequent_indent=indent, break_on_hyphens=False)


def _day(begun: datetime | None) -> str:
    return f"{begun:%Y-%m-%d}" if begun is not None else "no date"


def _session(past: Past) -> Iterator[Text]:
    about = f", about {past.about}" if past.about else ""
    yield f"{_day(past.begun)}: {past.complaint}{about}", BELOW
    if past.problem:
        yield f"{BELOW}Can't be played again, {past.readings} answers kept: {past.problem}", BELOW
    else:
        yield f"{BELOW}{past.result}", BELOW
    if past.remedy:
        yield f"{BELOW}{past.remedy}", BELOW
        yield f"{BELOW}{_DONE[past.mended]}{_proofs(past)}", BELOW
    yield f"{BELOW}{clean(past.log)}", None


def _proofs(past: Past) -> str:
    told = []
    for outcome in ("passed", "failed", "declined"):
        titles = [title for title, came in past.proofs if came == outcome]
        if titles:
            told.append(f"{outcome}: {', '.join(titles)}")
    return f" Proof checks {'; '.join(told)}." if told else ""


def _over(over: Over) -> Iterator[Text]:
    yield "", ""
    expected = f" (sound: {over.expected})" if over.expected else ""
    yield f"{over.title}{expected}", "  "
    for reading in over.readings:
        mark = "" if reading.as_expected else " - NOT as expected"
        yield f"  {_day(reading.begun)}: {reading.text}{mark}", BELOW
    yield f"  {change_words(over)}", "  "


def change_words(over: Over) -> str:
    """What a row of readings tells."""
    if over.trend is not None and over.trend.falling:
        return f"FALLING: {pace_words(over.trend)}."
    numbers = [each for each in over.readings if each.value is not None]
    if len(numbers) < 2:
        same = len({each.text for each in over.readings}) == 1
        return "The same each time." if same else "Not the same each time."
    if over.trend is not None:
        return "No more change than the tester and the temperature account for."
    return _changed(over.quantity, numbers[0], numbers[-1])


def _changed(quantity: str, first: Reading, last: Reading) -> str:
    """From the first reading to the last, against what the meter itself may be off."""
    assert first.value is not None and last.value is not None
    if isinf(first.value) or isinf(last.value):
        return "As before." if first.value == last.value else "Not as before."
    try:
        reader = reader_of(quantity)
    except KeyError:
        return "As before." if first.value == last.value else "Not as before."
    off = reader.error(first.value) + reader.error(last.value) + reader.lead_ohms[1] - reader.lead_ohms[0]
    if abs(last.value - first.value) <= off:
        return "As before, as far as the meter can tell."
    return f"It has {'risen' if last.value > first.value else 'fallen'} by more than the meter may be off."


def pace_words(trend: Trend) -> str:
    """How fast it falls, in a time that a person can picture.

    >>> pace_words(Trend(-1 / 30, 0.001, 30.0, 7.0))
    'to a tenth in about 30 days'
    """
    tenth = -1 / trend.slope
    if tenth < FARTHEST_DAYS:
        return f"to a tenth in about {tenth:.0f} days"
    return f"to {100 * trend.times_in(365):.0f} % in a year"


def falling_words(of: History, over: Over) -> str:
    """What falls, how fast, what it means, and when it is down at what matters."""
    assert over.trend is not None
    words = [f"INSULATION FALLS: {over.title}: {_from_to(over)}, {pace_words(over.trend)}."]
    last = max((each.begun for each in over.readings if each.begun is not None), default=None)
    if of.panel is not None and last is not None:
        coming = [_forecast(over.trend, what, ohms, last) for what, ohms in limits_of(of.panel).items()]
        if told := "; ".join(each for each in coming if each):
            words.append(f"At this pace it is down to {told}.")
        role = of.panel.kind_of(over.part).role
    else:
        role = ""
    words.append(
        "This is how an element dies before it trips anything: damp or a crack lets current through to its sheath."
        if role == "heater"
        else "Damp, heat or a chafed cable lets more and more current through to earth."
    )
    words.append("Measure it again cold and after heating, and replace it before it is needed.")
    return " ".join(word for word in words if word)


def _from_to(over: Over) -> str:
    numbers = [each for each in over.readings if each.value is not None and each.begun is not None]
    first, last = numbers[0], numbers[-1]
    assert first.value is not None and last.value is not None
    return (
        f"{show(first.value, 'resistance')} on {_day(first.begun)}, {show(last.value, 'resistance')} on "
        f"{_day(last.begun)}"
    )


def _forecast(trend: Trend, what: str, ohms: float, last: datetime) -> str:
    days, soonest = trend.days_to(ohms), trend.days_to(ohms, trend.slope - SURE * trend.error)
    where = f"{show(ohms, 'resistance')}, {what},"
    if days == 0:
        return f"{where} already"
    if soonest > FARTHEST_DAYS:
        return ""
    about = f"about {_day(last + timedelta(days=days))}" if days <= FARTHEST_DAYS else "many years on"
    return f"{where} {about}, {_day(last + timedelta(days=soonest))} at the soonest"


def history_data(of: History) -> dict[str, object]:
    """A panel's logbook for JSON: dates as ISO text, OL as null."""
    return {
        "panel": of.name,
        "title": of.title,
        "sessions": [
            {
                "log": past.log, "begun": past.begun.isoformat() if past.begun is not None else None,
                "complaint": past.complaint, "about": past.about, "result": past.result, "remedy": past.remedy,
                "mended": past.mended, "proofs": dict(past.proofs), "readings": past.readings, "problem": past.problem,
            }
            for past in of.sessions
        ],
        "over_time": [
            {
                "title": over.title, "part": over.part, "quantity": over.quantity, "expected": over.expected,
                "readings": [
                    {
                        "begun": each.begun.isoformat() if each.begun is not None else None, "text": each.text,
                        "value": each.value if each.value is not None and not isinf(each.value) else None,
                        "as_expected": each.as_expected,
                    }
                    for each in over.readings
                ],
                "falling": over.trend is not None and over.trend.falling,
                "told": change_words(over),
            }
            for over in of.over_time
        ],
    }  # fmt: skip


def main_history(of: str, form: str, logs: Sequence[str]) -> int:
    """Print the logbook of a panel, or of all panels that the logs in a folder are of; 1 where there is no session.

    Raises
    ------
    UsageError
        Where there is neither such a panel nor such a folder.
    """
    folder = given_path(of)
    if folder.is_dir():
        kept = list(logs_in([folder], deep=True))
    else:
        name = panel_path(of)[1]
        places = [given_path(each) for each in logs] or log_folders()
        kept = [each for each in logs_in(places, deep=bool(logs)) if each.header.panel == name]
    if not kept:
        print(printable(f"No session of {of} is kept here."), file=sys.stderr)
        return 1
    for log in kept:
        if log.damaged:
            print(printable(damaged_line(log.path)), file=sys.stderr)
    made = list(histories(kept))
    if form == "json":
        print(json_text([history_data(each) for each in made], 1))
        return 0
    for number, each in enumerate(made):
        if number:
            print()
        for line in history_lines(each):
            print(line)
    return 0
