"""The command line: arguments, files, exit codes. Everything heavy is imported only once it is needed.

Exit codes: 0 done, or left so that it can be resumed; 1 honestly not found, or a replayed case failed;
2 something that the user can mend; 3 a bug; 130 Ctrl-C.
"""

from __future__ import annotations

import argparse
import difflib
import os
import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from diagnose import __version__
from diagnose.console_options import add_completion, add_describe, add_session_console, run_describe
from diagnose.errors import DiagnoseError, FileError, Problem, UsageError, printable
from diagnose.friend import Friend, add_friend, friend_of
from diagnose.help_examples import add_examples
from diagnose.options import (
    add_coverage,
    add_finish,
    add_history,
    add_learn,
    add_rates,
    add_report,
    add_sheet,
    add_spares,
    add_study,
    add_swing,
    add_tables,
    add_validate,
    run_coverage,
    run_finish,
    run_history,
    run_learn,
    run_report,
    run_sheet,
    run_study,
    run_swing,
    run_validate,
    with_spares,
)
from diagnose.streams import nothing_more_out, ready_streams, said_of

if TYPE_CHECKING:
    from diagnose.learning.using import Shifted
    from diagnose.log import Header, LogFile
    from diagnose.opening import Recorded
    from diagnose.panel.records import Panel
    from diagnose.screen.asking import Choices
    from diagnose.screen.console import Console
    from diagnose.screen.friendly import Phone

DONE, NOT_FOUND, USER, BUG, INTERRUPTED = 0, 1, 2, 3, 130
# As in `safety` and `meter`, which take long to load; a test holds them equal.
COMPETENCE_NAMES = ("outside", "isolated", "live")
INSTRUMENT_NAMES = (
    "multimeter", "clamp", "insulation_tester", "leakage_clamp", "low_impedance", "infrared_thermometer",
)  # fmt: skip
EPILOG = "Mains can kill. Local rules and licensed electricians come first."
EXAMPLES = f"""Examples:
  diagnose start                          asks what is needed
  diagnose start --panel cellar_two_kettle --complaint element_cold --part boil_element
  diagnose resume                         lists open sessions
  diagnose describe                       makes a file of your own panel
  diagnose expect cellar_two_kettle       what a meter should read
  diagnose COMMAND --help                 its options, with examples

Exit codes: 0 done, or left so that it can be resumed. 1 honestly not found, or a check of files failed.
2 something that you can mend. 3 a bug. 130 Ctrl-C: nothing is lost. What went wrong is on the error output.

{EPILOG}"""


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one line, as all other problems are said."""

    def error(self, message: str) -> NoReturn:
        raise UsageError(Problem(message, f"as '{self.prog} --help' lists"))


def _one_of(what: str, text: str, known: Sequence[str]) -> str:
    if text in known:
        return text
    near = difflib.get_close_matches(text, known, 1)
    hint = f" (did you mean '{near[0]}'?)" if near else ""
    raise UsageError(Problem(f"{what}: '{text}' is not known{hint}", f"one of {', '.join(known)}"))


def _competence(text: str) -> str:
    return _one_of("--competence", text, COMPETENCE_NAMES)


def _instruments(text: str) -> tuple[str, ...]:
    if text == "none":
        return ()
    names = [name.strip() for name in text.split(",")]
    known = INSTRUMENT_NAMES if len(names) > 1 else (*INSTRUMENT_NAMES, "none")
    return tuple(dict.fromkeys(_one_of("--instruments", name, known) for name in names))


def parser() -> argparse.ArgumentParser:
    """The commands and their options."""
    top = _Parser(
        prog="diagnose",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description="Finds what is wrong with a home-built electric brewing panel.",
    )
    top.add_argument("--version", action="version", version=f"diagnose {__version__}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser, required=True)
    start = commands.add_parser(
        "start", help="find a fault, one check at a time",
        description="Finds a fault, one check at a time. What is not given is asked for.",
    )  # fmt: skip
    start.add_argument("--panel", metavar="FILE-OR-NAME", help="a panel file, or the name of one that comes along")
    start.add_argument("--complaint", metavar="ID", help="what is wrong, by its name, such as element_cold")
    start.add_argument("--part", metavar="NAME", help="which part it is about, where several fit")
    start.add_argument(
        "--competence", type=_competence, metavar="LEVEL",
        help="outside: look, listen, press and plug only; isolated: you open the box once it is proved dead; "
        "live: trained for live work where the law allows it",
    )  # fmt: skip
    start.add_argument(
        "--instruments", type=_instruments, metavar="LIST",
        help=f"what is at hand, with commas between: {', '.join(INSTRUMENT_NAMES)}; or none",
    )  # fmt: skip
    add_spares(start)
    start.add_argument("--log", metavar="FILE", help="where to keep the session; else in your state folder")
    start.add_argument("--json-lines", action="store_true", help="talk in JSON, one object a line, for other programs")
    add_rates(start)
    add_friend(start, _competence)
    add_session_console(start)
    resume = commands.add_parser(
        "resume", help="go on with a session from its log", description="Goes on with a session."
    )
    resume.add_argument("log", nargs="?", metavar="LOG", help="the session's log; without it open sessions are listed")
    resume.add_argument("--json-lines", action="store_true", help="talk in JSON, one object a line, for other programs")
    add_friend(resume, None)
    add_session_console(resume)
    replay = commands.add_parser(
        "replay", help="run recorded faults and count how many are found",
        description="Runs recorded faults through the program; 1 if any is not found.",
    )  # fmt: skip
    replay.add_argument("paths", nargs="+", metavar="PATH", help="a case, or a folder of them")
    add_tables(commands)
    add_describe(commands)
    add_completion(commands)
    add_study(commands, _competence, _instruments)
    add_learn(commands)
    add_sheet(commands, _competence, _instruments)
    add_finish(commands)
    add_report(commands)
    add_history(commands)
    add_swing(commands)
    add_validate(commands)
    add_coverage(commands)
    add_examples(commands, EPILOG)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command; returns the exit code."""
    ready_streams()
    try:
        options = parser().parse_args(arguments)
        code = _COMMANDS[options.command](options)
        sys.stdout.flush()  # what can't be written is found out here, and not when the interpreter ends
        return code
    except DiagnoseError as error:
        for line in str(error).splitlines():
            print(printable(line), file=sys.stderr)
        return USER
    except KeyboardInterrupt:
        print("\nInterrupted.", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read the output went away; what was answered is in the log. Nothing more is flushed.
        nothing_more_out()
        return DONE
    except OSError as error:
        if not (said := said_of(error)):
            return _bug(error)
        print(said, file=sys.stderr)
        return USER
    except Exception as error:
        return _bug(error)


def _bug(error: Exception) -> int:
    if os.environ.get("DIAGNOSE_TRACEBACK"):
        import traceback

        traceback.print_exc()
    what = " ".join(str(error).split())[:200]
    print(
        f"diagnose: a bug: {type(error).__name__}: {what}. The log has all answers. Please report it: "
        "DIAGNOSE_TRACEBACK=1 shows where it happened.",
        file=sys.stderr,
    )
    return BUG


# Commands -------------------------------------------------------------------------------------------------


def _start(options: argparse.Namespace) -> int:
    if options.json_lines:
        return _start_json(options)
    from diagnose.learning.using import shifted_rates
    from diagnose.log_places import given_log
    from diagnose.opening import check_stated
    from diagnose.screen.asking import DangerError, Given, ask_all

    check_stated(options.competence, options.instruments)
    console = _console(options)
    friend = friend_of(options)
    given = Given(options.panel, options.complaint, options.part, options.competence, options.instruments, friend)
    phone = _phone(friend)
    log, shifted = given_log(options.log), shifted_rates(options.rates)
    try:
        choices = ask_all(console, given)
    except DangerError:
        return DONE
    except (EOFError, KeyboardInterrupt) as left:
        console.say(["Nothing was begun."])
        return DONE if isinstance(left, EOFError) else INTERRUPTED
    console.say([*([shifted.line] if shifted.line else []), "Working out what each fault would show ..."])
    choices = with_spares(choices, options.spares)
    recorded, kept, _ = _begun(choices, log, shifted)
    console.say(_design_lines(recorded.session.model.panel, choices.panel_name))
    return _talk(console, recorded, kept, phone, options.ladder)


def _design_lines(panel: Panel, name: str) -> list[str]:
    """A word beforehand where the panel's own design has an error."""
    from diagnose.findings import design_findings

    count = sum(finding.severity == "error" for finding in design_findings(panel))
    if not count:
        return []
    found = "an error" if count == 1 else f"{count} errors"
    return [f"Reading the file finds {found} in this panel's design. To see: diagnose review {name}"]


def _start_json(options: argparse.Namespace) -> int:
    from diagnose.learning.using import shifted_rates
    from diagnose.log_places import given_log
    from diagnose.opening import check_stated, choose_part, competence_named, open_complaint, open_panel, panel_path
    from diagnose.safety import facts_taken, lower_of
    from diagnose.screen.asking import Choices

    missing = [f"--{name}" for name in ("panel", "complaint") if getattr(options, name) is None]
    if missing:
        raise UsageError(
            Problem(f"--json-lines asks no questions, and {' and '.join(missing)} is missing", "it as an option")
        )
    log, shifted = given_log(options.log), shifted_rates(options.rates)
    if shifted.line:
        print(printable(shifted.line), file=sys.stderr)
    panel, complaint = open_panel(options.panel), open_complaint(options.complaint)
    part = choose_part(panel, complaint, options.part)
    instruments = ("multimeter",) if options.instruments is None else options.instruments
    competence, friend = competence_named(options.competence or "outside"), friend_of(options)
    if friend is not None:
        competence = lower_of(competence, friend.competence or "outside")
    check_stated(competence, instruments)
    said = facts_taken(competence)
    choices = Choices(panel, panel_path(options.panel)[1], complaint, part, competence, instruments, said)
    choices = with_spares(choices, options.spares)
    recorded, kept, header = _begun(choices, log, shifted)
    return _serve(recorded, header, str(kept.path), friend is not None)


def _resume(options: argparse.Namespace) -> int:
    from diagnose.files import given_path
    from diagnose.log import read_log
    from diagnose.log_places import going_on
    from diagnose.opening import Recorded, reopened
    from diagnose.texts import taken_lines

    console = None if options.json_lines else _console(options)
    if options.log is None:
        if console is None:
            raise UsageError(Problem("--json-lines asks no questions, and the log is missing", "resume LOG"))
        path = _asked_session(console)
        if path is None:
            return DONE
    else:
        path = given_path(options.log)
    kept, recovered = going_on(path)
    header, events = read_log(path)
    if console is not None:
        console.say([*recovered, "Working out what each fault would show ..."])
    elif recovered:
        print(printable(" ".join(recovered)), file=sys.stderr)
    recorded = Recorded(reopened(header, events), kept.add)
    if not recorded.session.stopped:
        recorded.do("resume")
    friend = friend_of(options)
    if console is None:
        return _serve(recorded, header, str(path), friend is not None)
    console.say(taken_lines(recorded.session.competence))
    return _talk(console, recorded, kept, _phone(friend), options.ladder)


def _console(options: argparse.Namespace) -> Console:
    from diagnose.screen.console import console_for

    return console_for(sys.stdin, sys.stdout, options.plain, options.ascii)


def _asked_session(console: Console) -> Path | None:
    """The session that was chosen from a list; none where the person left."""
    from diagnose.screen.resuming import ask_session

    try:
        return ask_session(console)
    except EOFError:
        return None


def _replay(options: argparse.Namespace) -> int:
    from diagnose.replay import main_replay

    return main_replay(options.paths)


def _expect(options: argparse.Namespace) -> int:
    from diagnose.expected_table import main_expect

    return main_expect(options.panel, options.setup, options.fault, options.format, options.part)


def _review(options: argparse.Namespace) -> int:
    from diagnose.review import main_review

    return main_review(options.panel, options.format)


def _kinds(options: argparse.Namespace) -> int:
    from diagnose.counting import main_counts
    from diagnose.kinds_table import main_kinds

    if options.counts:
        return main_counts()
    return main_kinds(options.format)


def _draw(options: argparse.Namespace) -> int:
    from diagnose.drawing.command import main_draw

    return main_draw(options.panel, options.view, options.fault, options.out)


def _completion(options: argparse.Namespace) -> int:
    from diagnose.completion import completion_text

    print(completion_text(parser(), options.shell), end="")
    return DONE


_COMMANDS = {
    "start": _start,
    "resume": _resume,
    "replay": _replay,
    "expect": _expect,
    "review": _review,
    "kinds": _kinds,
    "draw": _draw,
    "study": run_study,
    "describe": run_describe,
    "completion": _completion,
    "learn": run_learn,
    "sheet": run_sheet,
    "finish": run_finish,
    "report": run_report,
    "history": run_history,
    "swing": run_swing,
    "validate": run_validate,
    "coverage": run_coverage,
}


# Sessions -------------------------------------------------------------------------------------------------


def _begun(choices: Choices, log: Path | None, shifted: Shifted) -> tuple[Recorded, LogFile, Header]:
    from diagnose.log import Header
    from diagnose.log_places import begin_log
    from diagnose.opening import Recorded, open_model
    from diagnose.session import start

    model = open_model(choices.panel, choices.complaint, choices.part, shifted.factors)
    header = Header(
        choices.panel_name,
        choices.complaint.name,
        choices.part or "",
        choices.competence,
        choices.instruments,
        datetime.now().isoformat(timespec="microseconds"),
        shifted.name,
        shifted.on(model),
        choices.interview,
    )
    kept = begin_log(header, log)
    session = start(model, choices.competence, frozenset(choices.instruments))
    return Recorded(session, kept.add), kept, header


def _phone(friend: Friend | None) -> Phone | None:
    from diagnose.screen.friendly import Phone

    return Phone(friend) if friend is not None else None


def _talk(console: Console, recorded: Recorded, kept: LogFile, phone: Phone | None, ladder: bool) -> int:
    from diagnose.screen.conversation import Conversation, resume_lines
    from diagnose.screen.pages import left_lines

    log = str(kept.path)
    console.say([f"Every answer is kept in {log}"])
    try:
        code = Conversation(console, recorded, log, phone, ladder).run()
    except FileError as error:  # of a message, where the folder with the log may be gone as well
        raise FileError(*error.problems, *kept.missed()) from error
    except (EOFError, KeyboardInterrupt) as left:
        if missed := kept.missed():
            raise FileError(*missed) from left
        console.say(["", *left_lines(recorded.session.state), "Left here. Nothing is lost.", *resume_lines(log)])
        return DONE if isinstance(left, EOFError) else INTERRUPTED
    if missed := kept.missed():
        raise FileError(*missed)
    return code


def _serve(recorded: Recorded, header: Header, log: str, friend: bool) -> int:
    from diagnose.protocol import hello, serve

    def write(line: bytes) -> None:
        sys.stdout.buffer.write(line)
        sys.stdout.buffer.flush()

    if not serve(recorded, hello(header, log, friend), sys.stdin.buffer, write, friend):
        print(printable(f"The input ended; to go on: diagnose resume --json-lines {log}"), file=sys.stderr)
    return DONE
