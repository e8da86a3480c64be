"""Which complaints are meant by words that a person typed."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from diagnose.knowledge.records import Complaint

MOST = 8  # as many as a person reads before typing other words
LEAST_SHARE = 0.5  # of the best one's worth: below that it is another thing
# Words that say nothing about which complaint is meant.
EMPTY_WORDS = frozenset(
    {
        "a", "again", "all", "am", "an", "and", "any", "are", "as", "at", "be", "but", "by", "can", "did", "do", "does",
        "don", "for", "from", "get", "got", "has", "have", "i", "if", "in", "is", "it", "its", "just", "me", "my", "no",
        "not", "of", "on", "or", "our", "so", "that", "the", "then", "there", "this", "though", "to", "very", "was",
        "when", "will", "with", "won", "you",
    }
)  # fmt: skip
# Who says that it comes and goes means a complaint about that, though the other words fit one that is there always.
AT_TIMES = re.compile(
    r"\b(sometimes|at times|now and then|now and again|once in a while|on and off|comes? and goes?|intermittent(ly)?"
    r"|random(ly)?|occasional(ly)?|off and on|every few)\b"
)
MEANT = 2.5  # how much more such words are worth to it: a judgement
# What brewers call one thing; the knowledge base says the second.
SAME: Mapping[str, str] = MappingProxyType(
    {
        "blank": "dark", "black": "dark", "blow": "trip", "blew": "trip", "kick": "trip", "pop": "trip",
        "tripp": "trip", "gfi": "gfci", "rccb": "gfci", "rcd": "gfci", "rcbo": "gfci", "mcb": "breaker",
        "heater": "element", "sensor": "probe", "thermocouple": "probe", "temp": "temperature", "light": "lamp",
        "indicator": "lamp", "led": "lamp", "neon": "lamp", "socket": "outlet", "receptacle": "outlet",
        "screen": "display", "pid": "controller", "ssr": "relay", "burn": "burnt", "stink": "smell", "wort": "mash",
        "ventilator": "fan", "reboot": "reset", "restart": "reset", "ran": "run", "runn": "run", "oscillate": "swing",
        "slowly": "slow", "slower": "slow", "longer": "long", "stuck": "stick", "stopp": "stop", "quit": "stop",
    }
)  # fmt: skip


def matching(words: str, complaints: Sequence[Complaint]) -> list[Complaint]:
    """The complaints that were meant, the likeliest first; none where no word says anything.

    One that says literally what was typed goes before all that only share words with it. A word that few complaints
    use says more than one that many use.
    """
    typed = " ".join(words.lower().split())
    wanted = frozenset(said_words(AT_TIMES.sub(" ", typed)) or said_words(words))
    if not wanted:
        return []
    phrases = {c.name: [frozenset(said_words(text)) for text in (c.name, c.title, *c.says)] for c in complaints}
    used = Counter(word for sets in phrases.values() for word in frozenset().union(*sets))
    worth = {word: math.log(1 + len(complaints) / count) for word, count in used.items()}
    told = [c for c in complaints if any(typed in said.lower() for said in (c.title, *c.says))]
    scores = {c.name: _score(wanted, phrases[c.name], worth) for c in complaints}
    if AT_TIMES.search(typed):
        scores |= {c.name: MEANT * scores[c.name] for c in complaints if c.comes_and_goes}
    best = max(scores.values(), default=0.0)
    near = [c for c in complaints if scores[c.name] > 0 and scores[c.name] >= LEAST_SHARE * best]
    if told:
        return sorted(told, key=lambda c: -scores[c.name])
    return sorted(near, key=lambda c: -scores[c.name])[:MOST]


def _score(wanted: frozenset[str], phrases: Sequence[frozenset[str]], worth: Mapping[str, float]) -> float:
    """The worth of the words that are shared at all, and of those shared with the one phrase that is nearest."""

    def sum_of(shared: frozenset[str]) -> float:
        return sum(worth.get(word, 0.0) for word in shared)

    nearest = 0.0
    for phrase in phrases:
        either = sum_of(wanted | phrase) + len(wanted - worth.keys())
        nearest = max(nearest, sum_of(wanted & phrase) / either if either else 0.0)
    return sum_of(wanted & frozenset().union(*phrases)) * (0.5 + nearest)


def said_words(text: str) -> list[str]:
    """The words of a text that say something, each in one form: 'heats', 'heating' and 'heat' are the same."""
    found = []
    for word in re.findall(r"[a-z]+", text.lower().replace("_", " ").replace("'", "")):
        if word in EMPTY_WORDS:
            continue
        stem = _stem(word)
        found.append(_STEMS.get(stem, stem))
    return found


def _stem(word: str) -> str:
    return re.sub(r"(?<=[a-z]{3})e$", "", re.sub(r"(?<=[a-z]{3})(?:ing|es|s|ed)$", "", word))


_STEMS = {_stem(word): _stem(same) for word, same in SAME.items()}
