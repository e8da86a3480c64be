"""Commands beside the session: their arguments, and where they lead. Asking for help loads nothing heavy."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from diagnose.screen.asking import Choices


def add_tables(commands: Any) -> None:
    """The commands that print what was worked out, and ask nothing."""
    expect = commands.add_parser(
        "expect", help="what a meter should read at each test point of a panel",
        description="Prints what a meter should read at each test point, on the sound panel or with one fault.",
    )  # fmt: skip
    expect.add_argument("panel", metavar="PANEL", help="a panel file, or the name of one that comes along")
    expect.add_argument("--setup", metavar="SETUP", help="idle, running, isolated ..., or part=position,part=position")
    expect.add_argument("--part", metavar="NAME", help="the element or pump that runs")
    expect.add_argument(
        "--fault", metavar="PART:FAULT", help="one fault, such as relay:open or element:leak_at_end@7000"
    )
    expect.add_argument("--format", choices=("text", "json", "markdown"), default="text")
    review = commands.add_parser(
        "review", help="what in a panel's design does not suit what",
        description="Reads a panel file and lists wires, breakers, relays and coils that do not suit their loads; "
        "1 if any of it is an error.",
    )  # fmt: skip
    review.add_argument("panel", metavar="PANEL", help="a panel file, or the name of one that comes along")
    review.add_argument("--format", choices=("text", "json", "markdown"), default="text")
    kinds = commands.add_parser(
        "kinds", help="every kind of part, how it fails, and where you would see it",
        description="Prints every kind of part with its faults, what each changes and where it shows.",
    )  # fmt: skip
    kinds.add_argument("--format", choices=("text", "markdown"), default="text")
    kinds.add_argument("--counts", action="store_true", help="print how much the knowledge base holds instead")
    draw = commands.add_parser(
        "draw", help="draw a panel as SVG: its wiring, or its one-line diagram", description="Draws a panel as SVG."
    )
    draw.add_argument("panel", metavar="PANEL", help="a panel file, or the name of one that comes along")
    draw.add_argument("--view", choices=("wiring", "one-line"), default="wiring")
    draw.add_argument("--fault", metavar="PART:FAULT", help="a fault whose part is marked")
    draw.add_argument("--out", metavar="FILE", help="where the drawing goes; else to the output")


def add_learn(commands: Any) -> None:
    """The arguments of `learn`."""
    learn = commands.add_parser(
        "learn", help="count confirmed faults from saved sessions, to shift the failure rates",
        description="Counts confirmed faults from saved sessions into a file of your own. It shifts which causes are "
        "thought of first; the readings still decide.",
    )  # fmt: skip
    learn.add_argument("logs", nargs="*", metavar="LOG", help="the log of a session whose fault is confirmed")
    learn.add_argument(
        "--confirmed", metavar="PART:FAULT", help="what it was in the end, such as boil_element:open, for one LOG"
    )
    learn.add_argument("--cured", action="store_true", help="the remedy of each session's verdict cured it")
    learn.add_argument("--show", action="store_true", help="print bundled rates, counts and shifted rates")
    learn.add_argument("--forget", action="append", default=[], metavar="LOG", help="take back what a session told")
    learn.add_argument("--forget-all", action="store_true", help="take everything back: the bundled rates alone")
    add_rates(learn)


def add_sheet(commands: Any, competence: Callable[[str], str], instruments: Callable[[str], tuple[str, ...]]) -> None:
    """The arguments of `sheet`; levels and instruments are checked by the functions given."""
    sheet = commands.add_parser(
        "sheet", help="a decision sheet for one panel and complaint, to be printed",
        description="Compiles the order of checks for one panel and one complaint into a sheet of at most two pages, "
        "to be hung inside the lid: it needs no computer.",
    )  # fmt: skip
    sheet.add_argument("panel", metavar="PANEL", help="a panel file, or the name of one that comes along")
    sheet.add_argument("--complaint", metavar="ID", required=True, help="what is wrong, such as element_cold")
    sheet.add_argument("--part", metavar="NAME", help="which part it is about, where several fit")
    sheet.add_argument(
        "--competence", type=competence, metavar="LEVEL", default="outside",
        help="what whoever uses it may do: outside (if not said), isolated or live",
    )  # fmt: skip
    sheet.add_argument(
        "--instruments", type=instruments, metavar="LIST", default=("multimeter",),
        help="what is at hand, with commas between; multimeter if not said; or none",
    )  # fmt: skip
    sheet.add_argument(
        "--format", choices=("html", "text"), default="html", help="html prints well; text has 80 columns"
    )
    sheet.add_argument("--out", metavar="FILE", help="where to write it; else it is printed")
    add_rates(sheet)


def add_spares(command: argparse.ArgumentParser) -> None:
    """The option that says which parts are to hand."""
    command.add_argument(
        "--spares", type=_names, metavar="LIST", default=(),
        help="parts to hand, with commas between, such as relay,probe: one is changed on a guess where that is quicker",
    )  # fmt: skip


def _names(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split(",") if name.strip())


def with_spares(choices: Choices, names: Sequence[str]) -> Choices:
    """What a session is begun with, the parts to hand added. Raises UsageError for what the panel does not have."""
    from diagnose.acting import spares_of  # late, as all that is heavy

    return replace(choices, instruments=(*choices.instruments, *spares_of(choices.panel, names)))


def add_study(commands: Any, competence: Callable[[str], str], instruments: Callable[[str], tuple[str, ...]]) -> None:
    """The arguments of `study`; levels and instruments are checked by the functions given."""
    study = commands.add_parser(
        "study", help="hide faults in simulated panels and count what sessions find, and at what cost",
        description="Hides every fault of a panel in turn, lets sessions find it, and prints a table, held against "
        "three usual orders of checks. All faults of a panel take several minutes; a sample goes quicker.",
    )  # fmt: skip
    study.add_argument("panels", nargs="*", metavar="PANEL", help="panels by file or name; all bundled ones if none")
    study.add_argument("--sample", type=_whole, default=0, metavar="N", help="draw so many faults of each panel")
    study.add_argument("--pairs", type=_whole, default=0, metavar="N", help="and so many pairs of faults at once")
    study.add_argument("--slips", type=_share, default=0.0, metavar="SHARE", help="share of wrong answers: 0.02, 2 %%")
    study.add_argument(
        "--noise", type=_share, default=0.0, metavar="SHARE",
        help="share of the meter's accuracy and of the supply's range that readings may be off by: 1, 50 %%",
    )  # fmt: skip
    study.add_argument("--seed", type=_whole, default=1, metavar="N", help="another draw of faults, noise and slips")
    study.add_argument("--competence", type=competence, metavar="LEVEL", default="live", help="live if not said")
    study.add_argument(
        "--instruments", type=instruments, metavar="LIST", default=("multimeter", "insulation_tester"),
        help="what is at hand; multimeter,insulation_tester if not said",
    )  # fmt: skip
    study.add_argument("--own-only", action="store_true", help="leave out the three usual orders")
    study.add_argument("--workers", type=_whole, default=2, metavar="N", help="processes side by side; 2 if not said")
    study.add_argument(
        "--format",
        choices=("text", "json", "panels"),
        default="text",
        help="every complaint; data; a line for each panel",
    )


def _whole(text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number of 0 or more")
    return int(text)


def _share(text: str) -> float:
    number = text.removesuffix("%").strip()
    try:
        share = float(number) / (100 if text.endswith("%") else 1)
    except ValueError:
        share = -1.0
    if not 0 <= share <= 1:
        raise argparse.ArgumentTypeError(f"'{text}' is no share from 0 to 1, such as 0.02 or 2 %")
    return share


def add_finish(commands: Any) -> None:
    """The arguments of `finish`."""
    finish = commands.add_parser(
        "finish", help="what still works to finish the brew with, and how long it takes",
        description="With what still works and is safe: minutes to a temperature, whether a boil can be held, what "
        "boils off, and what stays off; 1 if nothing may be used.",
    )  # fmt: skip
    finish.add_argument("panel", metavar="PANEL", help="a panel file, or the name of one that comes along")
    finish.add_argument(
        "--fault", action="append", default=[], metavar="PART:FAULT",
        help="what is wrong, such as boil_relay:half_wave; again for each that it may be; none for the sound panel",
    )  # fmt: skip
    finish.add_argument("--litres", default="30", metavar="VOLUME", help="what is in the kettle: 30, 8 gal")
    finish.add_argument("--from", dest="start", default="20 C", metavar="TEMPERATURE", help="now: 20 C, 150 F")
    finish.add_argument("--to", dest="end", default="100 C", metavar="TEMPERATURE", help="wanted: 66 C; a boil if none")
    finish.add_argument("--lid", choices=("on", "off"), help="else as the panel file says of the kettle, or on")
    finish.add_argument("--altitude", metavar="HEIGHT", help="such as 1500 m, else as the panel file says")


def add_swing(commands: Any) -> None:
    """The arguments of `swing`."""
    swing = commands.add_parser(
        "swing", help="what a few minutes of noted temperatures tell of overshoot and hunting",
        description="Reads noted minutes and temperatures and says whether tuning, probe position, no stirring, too "
        "large an element or a relay that stays on explains them.",
    )  # fmt: skip
    swing.add_argument("log", metavar="FILE-OR-TEXT", help="a CSV file, or '0 62.1, 1 64.0, ...' in quotes")
    swing.add_argument("--set", dest="setpoint", required=True, metavar="TEMPERATURE", help="the setpoint: 66 C, 151 F")


def add_validate(commands: Any) -> None:
    """The arguments of `validate`."""
    validate = commands.add_parser(
        "validate", help="all that is wrong with panel files, cases, logs or a knowledge base",
        description="Reads files and folders and lists all that is wrong with them; 2 if any of it is an error.",
    )  # fmt: skip
    validate.add_argument(
        "paths", nargs="*", metavar="PATH", help="files or folders; the bundled knowledge base if none"
    )
    validate.add_argument("--format", choices=("text", "json"), default="text")
    validate.add_argument(
        "--deep", action="store_true",
        help="work each panel through as well: what no check confirms, what nobody comes to; takes minutes",
    )  # fmt: skip
    validate.add_argument(
        "--schemas", metavar="FOLDER", help="write the JSON Schemas of the files instead, for editors"
    )
    validate.add_argument("--strict", action="store_true", help="2 for a warning as well")


def add_coverage(commands: Any) -> None:
    """The arguments of `coverage`."""
    coverage = commands.add_parser(
        "coverage", help="what can be found on a panel with what is at hand, and what would tell more apart",
        description="Holds every fault of a panel against every complaint, with no meter, with one, and with the box "
        "open, and says which test points or instruments would tell more apart; takes a minute or more.",
    )  # fmt: skip
    coverage.add_argument("panel", metavar="PANEL", help="a panel file, or the name of one that comes along")
    coverage.add_argument("--format", choices=("markdown", "html", "json"), default="markdown")
    coverage.add_argument("--out", metavar="FILE", help="where the report goes; else to the output")


def add_rates(command: argparse.ArgumentParser) -> None:
    """The option that names the file of confirmed faults."""
    command.add_argument(
        "--rates", metavar="FILE", help="the file of confirmed faults; else rates.yaml in your data folder, if any"
    )


def run_validate(options: argparse.Namespace) -> int:
    """Run `validate`; returns the exit code."""
    from diagnose.validate.command import main_validate, write_schemas  # late, as all that is heavy

    if options.schemas is not None:
        return write_schemas(options.schemas)
    return main_validate(options.paths, options.format, options.strict, options.deep)


def run_coverage(options: argparse.Namespace) -> int:
    """Run `coverage`; returns the exit code."""
    from diagnose.coverage.command import main_coverage  # late, as all that is heavy

    return main_coverage(options.panel, options.format, options.out)


def add_report(commands: Any) -> None:
    """The arguments of `report`."""
    report = commands.add_parser(
        "report", help="a session's log as a report to keep, to send or to print",
        description="Makes one self-contained file of a session's log: what was done, found, mended and measured, "
        "with a drawing, and the parts to buy.",
    )  # fmt: skip
    report.add_argument("log", metavar="LOG", help="the session's log")
    forms = report.add_mutually_exclusive_group()
    for form, told in (("html", "a page for a phone, a screen and paper; this is usual"),
                       ("markdown", "text with tables"), ("text", "plain text of 78 columns")):  # fmt: skip
        forms.add_argument(f"--{form}", dest="form", action="store_const", const=form, help=told)
    report.add_argument("--out", metavar="FILE", help="where to write it; else it is printed")


def add_history(commands: Any) -> None:
    """The arguments of `history`."""
    history = commands.add_parser(
        "history", help="a panel's sessions, and readings of the same check over time",
        description="Lists a panel's sessions with cause, remedy and proof checks, and readings of the same check over "
        "time; says where insulation falls, before it trips; 1 if there is no session.",
    )  # fmt: skip
    history.add_argument("of", metavar="PANEL-OR-FOLDER", help="a panel by file or name, or a folder of logs")
    history.add_argument(
        "--logs", action="append", default=[], metavar="FOLDER", help="where its logs are; else where sessions are kept"
    )
    history.add_argument("--format", choices=("text", "json"), default="text")


def run_learn(options: argparse.Namespace) -> int:
    """Run `learn`; returns the exit code."""
    from diagnose.learning.table import main_learn  # late, as all that is heavy

    return main_learn(
        options.logs, options.confirmed, options.cured, options.rates, options.show, options.forget, options.forget_all
    )


def run_sheet(options: argparse.Namespace) -> int:
    """Run `sheet`; returns the exit code."""
    from diagnose.sheet.command import main_sheet  # late, as all that is heavy

    return main_sheet(
        options.panel, options.complaint, options.part, options.competence, options.instruments, options.format,
        options.out, options.rates,
    )  # fmt: skip


def run_study(options: argparse.Namespace) -> int:
    """Run `study`; returns the exit code."""
    from diagnose.study.runs import Plan  # late, as all that is heavy
    from diagnose.study.table import main_study

    plan = Plan(
        competence=options.competence, instruments=options.instruments, sample=options.sample, pairs=options.pairs,
        slips=options.slips, noise=options.noise, seed=options.seed, workers=max(options.workers, 1),
    )  # fmt: skip
    return main_study(options.panels, plan, options.format, not options.own_only)


def run_finish(options: argparse.Namespace) -> int:
    """Run `finish`; returns the exit code."""
    from diagnose.finish_text import main_finish  # late, as all that is heavy

    return main_finish(
        options.panel, options.fault, options.litres, options.start, options.end, options.lid, options.altitude
    )


def run_swing(options: argparse.Namespace) -> int:
    """Run `swing`; returns the exit code."""
    from diagnose.temperature_log import main_swing  # late, as all that is heavy
    from diagnose.wording import general_cautions

    code = main_swing(options.log, options.setpoint)
    print("\n".join(f"Caution: {text}" for text in general_cautions("always", "stuck_on", "hot_liquid")))
    return code


def run_report(options: argparse.Namespace) -> int:
    """Run `report`; returns the exit code."""
    from diagnose.report.command import main_report  # late, as all that is heavy

    return main_report(options.log, options.form or "html", options.out)


def run_history(options: argparse.Namespace) -> int:
    """Run `history`; returns the exit code."""
    from diagnose.report.history_text import main_history  # late, as all that is heavy

    return main_history(options.of, options.format, options.logs)
