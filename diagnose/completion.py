"""Completion scripts for shells, made from the parser itself, so that none of its commands and options is missing."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

PROGRAM = "diagnose"


@dataclass(frozen=True, slots=True)
class Argument:
    """An option, or one place behind a command: its words, what it takes, and which words it may take."""

    flags: tuple[str, ...]
    help: str
    values: tuple[str, ...]  # words to choose from; empty where it takes anything, or nothing
    takes: str  # '' for a plain flag, else 'file', 'folder', 'word'


@dataclass(frozen=True, slots=True)
class Command:
    """A command with its options and places."""

    name: str
    help: str
    options: tuple[Argument, ...]
    places: tuple[Argument, ...]


def completion_text(parser: argparse.ArgumentParser, shell: str) -> str:
    """The script that makes a shell complete this parser's commands."""
    commands = commands_of(parser)
    return {"bash": _bash, "zsh": _zsh, "fish": _fish}[shell](commands)


def commands_of(parser: argparse.ArgumentParser) -> tuple[Command, ...]:
    """Every command of a parser, in its order."""
    (below,) = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    helps = {action.dest: action.help or "" for action in below._choices_actions}
    return tuple(_command(name, helps.get(name, ""), own) for name, own in below.choices.items())


def _command(name: str, told: str, parser: argparse.ArgumentParser) -> Command:
    options: list[Argument] = []
    places: list[Argument] = []
    for action in parser._actions:
        argument = _argument(action)
        (options if action.option_strings else places).append(argument)
    return Command(name, told, tuple(options), tuple(places))


def _argument(action: argparse.Action) -> Argument:
    told = re.sub(r"\s+", " ", action.help or "").replace("%%", "%")
    metavar = action.metavar if isinstance(action.metavar, str) else ""
    takes, values = "", tuple(str(choice) for choice in action.choices or ())
    if action.nargs != 0:
        takes = "folder" if "FOLDER" in metavar else "file" if re.search("FILE|LOG|PATH|PANEL", metavar) else "word"
    values = values or _known(action, metavar)
    return Argument(tuple(action.option_strings), told, values, takes)


def _known(action: argparse.Action, metavar: str) -> tuple[str, ...]:
    """Words that are known by a glance at names and keys: panels and complaints that come along, levels."""
    if "PANEL" in metavar or metavar == "FILE-OR-NAME":
        return tuple(sorted(path.stem for path in (_knowledge() / "panels").glob("*.yaml")))
    if action.dest == "complaint":
        texts = [path.read_text(encoding="utf-8") for path in (_knowledge() / "complaints").glob("*.yaml")]
        return tuple(sorted(name for text in texts for name in re.findall(r"^(\w+):", text, re.MULTILINE)))
    if action.dest in ("competence", "friend_competence"):
        return ("outside", "isolated", "live")
    return ()


def _knowledge() -> Path:
    """Where the knowledge base lies: in the checkout, or in the installed package."""
    here = Path(__file__).resolve().parent
    beside = here.parent / "knowledge"
    return beside if beside.is_dir() else here / "shipped"


# bash -----------------------------------------------------------------------------------------------------


def _bash(commands: Sequence[Command]) -> str:
    names = " ".join(command.name for command in commands)
    cases = "\n".join(_bash_case(command) for command in commands)
    return f"""# Completion of {PROGRAM} for bash. Made by '{PROGRAM} completion bash'.
_{PROGRAM}() {{
    local current="${{COMP_WORDS[COMP_CWORD]}}" before="${{COMP_WORDS[COMP_CWORD-1]}}" command="" word
    for word in "${{COMP_WORDS[@]:1:COMP_CWORD-1}}"; do
        case "$word" in -*) ;; *) command="$word"; break ;; esac
    done
    COMPREPLY=()
    if [ -z "$command" ]; then
        COMPREPLY=($(compgen -W "{names} --help --version" -- "$current"))
        return
    fi
    case "$command" in
{cases}
    esac
}}
complete -o filenames -F _{PROGRAM} {PROGRAM}
"""


def _bash_case(command: Command) -> str:
    flags = " ".join(flag for option in command.options for flag in option.flags)
    lines = [f"    {command.name})", '        case "$before" in']
    for option in command.options:
        if option.takes:
            lines.append(f"            {'|'.join(option.flags)}) {_bash_reply(option)}; return ;;")
    lines += ["        esac", '        case "$current" in',
              f'            -*) COMPREPLY=($(compgen -W "{flags}" -- "$current")) ;;']  # fmt: skip
    lines.append(f"            *) {_bash_places(command)} ;;")
    return "\n".join([*lines, "        esac ;;"])


def _bash_reply(argument: Argument) -> str:
    words = f'-W "{" ".join(argument.values)}"' if argument.values else ""
    files = {"file": "-f", "folder": "-d"}.get(argument.takes, "")
    both = " ".join(part for part in (words, files) if part)
    return f'COMPREPLY=($(compgen {both} -- "$current"))' if both else "COMPREPLY=()"


def _bash_places(command: Command) -> str:
    values = tuple(dict.fromkeys(value for place in command.places for value in place.values))
    takes = next((place.takes for place in command.places if place.takes in ("file", "folder")), "")
    if not command.places:
        flags = " ".join(flag for option in command.options for flag in option.flags)
        return f'COMPREPLY=($(compgen -W "{flags}" -- "$current"))'
    return _bash_reply(Argument((), "", values, takes))


# zsh ------------------------------------------------------------------------------------------------------


def _zsh(commands: Sequence[Command]) -> str:
    listed = "\n".join(f"        '{command.name}:{_quoted(command.help)}'" for command in commands)
    cases = "\n".join(_zsh_case(command) for command in commands)
    return f"""#compdef {PROGRAM}
# Completion of {PROGRAM} for zsh. Made by '{PROGRAM} completion zsh'.
_{PROGRAM}() {{
    local -a commands
    local state line context
    commands=(
{listed}
    )
    _arguments -C '--help[what it does]' '--version[which version]' '1:command:->command' '*::argument:->argument'
    case $state in
    command) _describe command commands ;;
    argument)
        case $line[1] in
{cases}
        esac ;;
    esac
}}
if [ "$funcstack[1]" = _{PROGRAM} ]; then _{PROGRAM} "$@"; else compdef _{PROGRAM} {PROGRAM}; fi
"""


def _zsh_case(command: Command) -> str:
    told = [spec for option in command.options for spec in _zsh_option(option)]
    told += [f"'*:{_quoted(place.help) or 'argument'}:{_zsh_values(place)}'" for place in command.places[:1]]
    joined = " \\\n            ".join(told)
    return f"        {command.name}) _arguments \\\n            {joined} ;;"


def _zsh_option(option: Argument) -> Iterator[str]:
    for flag in option.flags:
        value = f":value:{_zsh_values(option)}" if option.takes else ""
        yield f"'{flag}[{_quoted(option.help)}]{value}'"


def _zsh_values(argument: Argument) -> str:
    files = {"file": "_files", "folder": "_files -/"}.get(argument.takes, "")
    if not argument.values:
        return files or " "
    words = f"({' '.join(argument.values)})"
    return f'_alternative "names:name:{words}" "files:file:{files}"' if files else words


def _quoted(text: str) -> str:
    """Text for a zsh specification within single quotes."""
    return re.sub(r"[\[\]:\\]", lambda match: f"\\{match[0]}", text).replace("'", "’")


# fish -----------------------------------------------------------------------------------------------------


def _fish(commands: Sequence[Command]) -> str:
    lines = [f"# Completion of {PROGRAM} for fish. Made by '{PROGRAM} completion fish'.", f"complete -c {PROGRAM} -f"]
    lines.append(f"complete -c {PROGRAM} -n __fish_use_subcommand -l help -d 'what it does'")
    lines.append(f"complete -c {PROGRAM} -n __fish_use_subcommand -l version -d 'which version'")
    for command in commands:
        lines.append(
            f"complete -c {PROGRAM} -n __fish_use_subcommand -a {command.name} -d '{_fish_text(command.help)}'"
        )
        where = f"-n '__fish_seen_subcommand_from {command.name}'"
        lines += [f"complete -c {PROGRAM} {where} {_fish_option(option)}" for option in command.options]
        lines += [f"complete -c {PROGRAM} {where} {told}" for place in command.places for told in _fish_values(place)]
    return "\n".join(lines) + "\n"


_FISH_FLAGS: Mapping[bool, str] = {True: "-l", False: "-s"}


def _fish_option(option: Argument) -> str:
    flags = " ".join(f"{_FISH_FLAGS[flag.startswith('--')]} {flag.lstrip('-')}" for flag in option.flags)
    takes = " ".join(_fish_values(option)) if option.takes else ""
    return " ".join(
        part for part in (flags, "-r" if option.takes else "", takes, f"-d '{_fish_text(option.help)}'") if part
    )


def _fish_values(argument: Argument) -> list[str]:
    words = [f"-a '{' '.join(argument.values)}'"] if argument.values else []
    return [*words, *(["-F"] if argument.takes in ("file", "folder") else [])]


def _fish_text(text: str) -> str:
    return text.replace("\\", "\\\\").replace("'", "\\'")
