"""What no text may ever tell anyone to do: patterns of a reviewer, and enough grammar to know a warning from advice.

Pure: text -> findings. A sentence is cut into clauses, each rule looks for its pattern in each clause, and a match
counts unless something in the same clause denies it ('is never bridged', 'do not hold it in'). Words that only look
like a denial ('do not hesitate to', 'no harm in') are taken out first, and a denial in a condition ('if it does not
start ...') denies nothing in what follows. The rules are our own; what they forbid is common practice (HSE GS38,
NFPA 70E, from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing that is never advised: its name, why, and the pattern that tells of it."""

    name: str
    reason: str
    pattern: re.Pattern[str]


@dataclass(frozen=True, slots=True)
class Finding:
    """A sentence that a rule forbids."""

    rule: str
    reason: str
    sentence: str


_DEVICE = (
    r"(?:gfcis?|rcds?|rcbos?|mcbs?|breakers?|fuses?|interlocks?|(?:safety|protective|residual)[ -]?\w*|"
    r"protection|e-?stop|"
    r"emergency[ -]stop|stop button|cut-?outs?|thermal (?:switch|fuse|link)|overloads?|limit(?:er| switch)?|guards?|"
    r"(?:door|lid|float|level|flow|pressure|main) switch|trips?)"
)
_EARTH = r"(?:protective )?(?:earth|ground)(?:ing|ed|s)?"
_HELD = (
    r"(?:contactors?|armature|plunger|relays?|(?:reset |start |test |stop )?buttons?|levers?|handle|lid switch|"
    r"door switch|float|"
    r"interlocks?|breakers?|gfci|rcd|switch)"
)
_ON = (
    r"(?:live|energi[sz]ed|powered(?: up)?|(?:with|while) (?:the |its )?(?:supply|power|mains|panel|breaker|"
    r"circuit|box)"
    r"(?: is)?(?: still)? (?:on|live|up|energi[sz]ed)|under power|with (?:the )?(?:power|supply|mains) (?:left |"
    r"still )?on|"
    r"(?:power|supply|mains) (?:still )?on|still plugged in|while (?:it is )?(?:still )?plugged in|without "
    r"(?:isolating|unplugging|switching off|turning (?:it |anything )?off|locking|proving))"
)
_WORK = (
    r"(?:work(?:ing)? on|chang(?:e|ing)|replac(?:e|ing)|swap(?:ping)?|tighten(?:ing)?|loosen(?:ing)?|"
    r"disconnect(?:ing)?|"
    r"connect(?:ing)?|wir(?:e|ing)|unscrew(?:ing)?|rewir(?:e|ing)|mov(?:e|ing)|tak(?:e|ing) off|mend(?:ing)?|"
    r"repair(?:ing)?|"
    r"clean(?:ing)?|land(?:ing)?|pull(?:ing)?|reach(?:ing)? in|(?<!is )(?<!box )open(?:ing)?|do(?:ing)? (?:it|this))"
)
_NEAR = r"(?:\W+[\w'-]+){0,%d}?\W+"  # so many words between two others


def _rule(name: str, reason: str, *patterns: str) -> Rule:
    return Rule(name, reason, re.compile("|".join(f"(?:{pattern})" for pattern in patterns), re.IGNORECASE))


RULES: tuple[Rule, ...] = (
    _rule(
        "defeats protection",
        "a protective device, an earth or an interlock is the last thing between a fault and a person",
        r"\b(?:by-?pass(?:es|ed|ing)?(?! valve)|bridg(?:e|es|ed|ing)(?! rectifier)|jumper(?:s|ed|ing)?|jump out|"
        r"defeat(?:s|ed|ing)?|overrid(?:e|es|ing|den)|circumvent(?:s|ed|ing)?|cheat(?:er|s|ed|ing)?)\b",
        r"\bshort(?:s|ed|ing)? (?:out|across)\b|\bshort(?:ing)? (?:the|its|both|them|it|those)\b",
        rf"\b(?:disabl(?:e|es|ing)|link(?:ing)? out|strap(?:ping)? out|fool(?:ing)?|trick(?:ing)?|"
        rf"disarm(?:ing)?|ignor(?:e|ing)|"
        rf"wir(?:e|ing) (?:around|past|out)|work(?:ing)? around|eliminat(?:e|ing)|leav(?:e|ing) out|"
        rf"cut(?:ting)? out)\b"
        rf"{_NEAR % 3}{_DEVICE}\b",
        rf"\b(?:remov(?:e|ing)|tak(?:e|ing)|cut(?:ting)?|wir(?:e|ing))\b{_NEAR % 2}{_DEVICE}{_NEAR % 2}"
        r"(?:out of|from) (?:the )?(?:circuit|line|wiring|way)\b",
        rf"\b(?:run(?:ning)?|us(?:e|ing)|operat(?:e|ing)|brew(?:ing)?|heat(?:ing)?|start(?:ing)?|go on|carry on|"
        rf"continu(?:e|ing)|"
        rf"try(?:ing)?)\b{_NEAR % 4}without (?:the |a |an |its |any )?{_DEVICE}\b",
        rf"\b(?:straight|direct(?:ly)?)\b{_NEAR % 3}(?:past|around|ahead of|before) (?:the |its )?{_DEVICE}\b",
        rf"\b(?:move|plug|connect|wire)\b{_NEAR % 6}(?:that|which) has no (?:gfci|rcd)\b|\b(?:non-?gfci|"
        rf"unprotected) (?:outlet|"
        r"receptacle|socket|circuit)\b",
        rf"\bturn(?:ing)? (?:off|down) (?:the |its )?{_DEVICE} protection\b",
    ),
    _rule(
        "lifts the earth",
        "without its earth, metal that a fault makes live stays live until somebody touches it",
        rf"\b(?:remov(?:e|es|ing)|lift(?:s|ing)?|disconnect(?:s|ing)?|detach(?:ing)?|cut(?:ting)?|snip(?:ping)?|"
        rf"break(?:ing)? off|"
        rf"bend(?:ing)? (?:off|back)|unscrew(?:ing)?|undo(?:ing)?|pull(?:ing)?|float(?:ing)?|isolat(?:e|ing)|"
        rf"loosen(?:ing)?|"
        rf"fil(?:e|ing) off|leav(?:e|ing)(?: off| out)?|tak(?:e|ing)(?: off| out| away)?|open(?:ing)?|"
        rf"clip(?:ping)?(?: off)?|"
        rf"tap(?:e|ing) (?:over|off|up)|interrupt(?:ing)?)\b{_NEAR % 2}{_EARTH}(?! (?:fault|leakage|"
        rf"bar\b.*\bout\b))\b"
        rf"(?! (?:on|connected|fitted|in place|alone|stays|until))",
        r"\b(?:earth|ground) (?:lift(?:s|ed|ing)?|pin off|wire off)\b|\b(?:un-?earthed|un-?grounded)\b",
        rf"\bwithout (?:the |a |an |its |any )?{_EARTH}\b",
        r"\btwo[- ](?:prong|pin) (?:adapter|adaptor|plug)\b",
        r"\b(?:earth|ground)(?: \w+)? (?:can|may|could) (?:be )?(?:left|come|lifted|taken|removed|"
        r"disconnected)(?: off)?\b",
    ),
    _rule(
        "holds a contact by hand",
        "a contact that is held, wedged or taped cannot let go when it must",
        rf"\b(?:hold(?:s|ing)?|push(?:es|ing)?|press(?:ing)?|wedg(?:e|ing)|jam(?:ming)?|prop(?:ping)?|forc(?:e|"
        rf"ing)|block(?:ing)?)\b"
        rf"{_NEAR % 3}{_HELD}{_NEAR % 3}(?:in|down|on|closed|shut|by hand|with (?:a|your|the))\b",
        rf"\b(?:hold|push|press|wedge|jam|prop|force|block)(?:ing)? (?:in|down|closed|shut|open) (?:the |its |"
        rf"a )?{_HELD}\b",
        rf"\b(?:tap(?:e|es|ed|ing)|ti(?:e|ed)|tying|zip-?ti(?:e|ed)|strap(?:ping)?|clamp(?:ing)?|glu(?:e|ing)|"
        rf"pin(?:ning)?|"
        rf"lock(?:ing)?)\b{_NEAR % 2}(?:down |in |over |the |its )*{_HELD}\b(?! (?:off|in the off|out))",
        rf"\b{_HELD} (?:taped|wedged|tied|jammed|propped|held) (?:in|down|on|closed|shut|open)\b",
    ),
    _rule(
        "fits a larger fuse or breaker",
        "a fuse or breaker protects the wire behind it, and a larger one lets that wire burn",
        r"\b(?:larger|bigger|higher|higher[- ](?:rated|rating)|heavier|stronger|oversized|uprated|slower)\b"
        r"(?:\W+(?:amp(?:s|erage)?|rated|rating|value|size))?\W+(?:fuses?|breakers?|mcbs?|rcds?|gfcis?)\b",
        rf"\b(?:fuses?|breakers?|mcbs?|rcds?|gfcis?)\b{_NEAR % 4}(?:with|by|for|to|of|in) (?:a |an |the |"
        rf"one )?(?:\w+ )?"
        r"(?:larger|bigger|higher|heavier|stronger|oversized|next size)\b",
        rf"\b(?:upsiz|uprat|upgrad|increas)(?:e|es|ing)\b{_NEAR % 5}(?:fuses?|breakers?|mcbs?)\b",
        rf"\b(?:go|step|move|size) (?:one size )?up\b{_NEAR % 4}(?:fuses?|breakers?|mcbs?)\b",
        rf"\b(?:fuses?|breakers?)\b{_NEAR % 3}(?:one |the next )size up\b",
        rf"\b(?:nail|foil|coin|wire|bolt|paper ?clip|copper|screw)\b{_NEAR % 3}(?:in place of|instead of|across|for) "
        r"(?:the |a |its )?(?:\w+ )?fuse\b",
        rf"\bwrap(?:ping)?\b{_NEAR % 3}fuse\b",
        rf"\b(?:rais|turn up|increas|wind up)(?:e|ing)?\b{_NEAR % 3}(?:trip|residual|overload)(?: \w+)? "
        r"(?:setting|threshold|current|level)\b",
    ),
    _rule(
        "resets again and again",
        "each reset onto a fault heats the wires and wears the device that has to open",
        rf"\b(?:re-?set(?:ting)?|set(?:ting)?|clos(?:e|ing)|re-?clos(?:e|ing)|switch(?:ing)?|turn(?:ing)?|"
        rf"flip(?:ping)?|push(?:ing)?|"
        rf"press(?:ing)?|replac(?:e|ing)|try(?:ing)?)\b{_NEAR % 6}(?:again and again|repeatedly|over and over|"
        rf"until it (?:holds|"
        r"stays|sticks)|(?:several|a few|three|four|five|many|as many|some|two or three) (?:more )?times|"
        r"as often as|as needed|"
        r"each time it trips|every time it trips|whenever it trips|more than once)\b",
        r"\bkeep (?:on )?(?:re-?setting|setting|closing|switching|turning|flipping|trying|pushing|"
        r"replacing (?:the )?fuses?)\b",
        r"\brepeatedly (?:re-?set|set|close|switch|push|press)\b",
        rf"\b(?:trips?|tripped|blows?|pops?)\b{_NEAR % 2}(?:again )?(?:just |simply |then )?(?:re-?set|set|turn|"
        rf"switch|push|close)\b"
        rf"{_NEAR % 3}(?:again|once more|back on)\b",
        r"\b(?:re-?set|set) (?:it|the \w+) (?:again |once more )?(?:if|when|after) it trips\b",
        r"\btry (?:it )?a (?:third|fourth) time\b",
    ),
    _rule(
        "works live",
        "what can be done dead is done dead",
        rf"\b{_WORK}\b{_NEAR % 7}{_ON}(?! (?:conductors?|parts?|wires?|leg|pin|side))\b",
        rf"\b{_ON}\b{_NEAR % 3}{_WORK} (?:the |a |it|its )",
        r"\bwork(?:ing|s)? live\b",
        r"\bno need to (?:isolate|switch (?:it )?off|turn (?:it |anything )?off|unplug|prove|lock|disconnect)\b",
        r"\bneedn'?t (?:isolate|switch off|turn off|unplug|prove|lock)\b",
        r"\bleave (?:the )?(?:power|supply|mains|breaker) on (?:while|and)\b",
        r"\bskip (?:the )?(?:isolat|prov|lock)\w*\b",
        rf"\b(?:open|take off|remove)\b{_NEAR % 2}(?:lid|cover|box)\b{_NEAR % 4}(?:running|heating|on)\b",
    ),
    _rule(
        "calls it safe",
        "nothing here can know that a panel is safe: only what was measured, and when",
        r"\b(?:it|this|that|panel|box|circuit|wiring|everything|kettle|outlet|element|you|all|they|these)(?:'s|"
        r" is|'re| are)"
        r"(?: \w+)? safe\b",
        r"\b(?:perfectly|completely|totally|absolutely|quite|now) safe\b",
        r"\bsafe to (?:touch|open|work|use|handle|reach|grab|put|energi[sz]e|run|go)\b",
        r"\b(?:can ?not|can't|won't|will not|could not) (?:hurt|shock|harm|kill|bite|electrocute)\b",
        r"\b(?:there is |there's )?(?:no|zero) (?:danger|risk|hazard)\b|\bharmless\b|\brisk-?free\b|"
        r"\bnothing can (?:happen|go wrong)\b",
    ),
    _rule(
        "touches conductors",
        "whatever could be live is met with a probe, not with a hand",
        r"\b(?:touch(?:ing)?|grab(?:bing)?|feel(?:ing)?|hold(?:ing)?|pinch(?:ing)?|finger(?:s)? on|hands? on|"
        r"lick(?:ing)?|"
        r"tap(?:ping)?)\b(?!\W+(?:the |a |one |each |your |red |black )*(?:probe|lead|tip))"
        r"(?:\W+(?!probe|lead|tip|nor\b)[\w'-]+){0,3}?\W+(?:bare\b|conductors?|terminals?|bus ?bars?|copper|"
        r"live (?:parts?|wires?)|blades?|"
        r"pins|wires?|cores|screws?)\b(?! (?:nut|driver))",
        r"\bbare (?:hands?|fingers?)\b",
        r"(?<!before you )\b(?:touch|feel) (?:it|inside|them)\b",
    ),
    _rule(
        "measures ohms live",
        "an ohms range across a live circuit bursts the meter, and shows nothing true",
        rf"\b(?:ohms?|resistance|continuity|insulation)\b{_NEAR % 8}(?<!before it is ){_ON}\b",
        rf"\b{_ON}\b{_NEAR % 8}(?:ohms|resistance|continuity|insulation)\b(?! tester)",
    ),
)

# Only looks like a denial.
_HOLLOW = re.compile(
    r"\b(?:(?:do|does|should|need) ?(?:not|n't)|don't|never|needn't) (?:be )?(?:hesitate|afraid|forget|worry|"
    r"worried|mind|shy)\b|"
    r"\bnever mind\b|\bno (?:problem|harm|worries|danger|risk|hazard|issue|need|trouble|longer|doubt|matter)\b|"
    r"\bnothing (?:wrong|bad|against|dangerous|easier)\b|\b(?:can ?not|can't|won't|does not|doesn't|will not|"
    r"never) (?:hurt|harm|matter|"
    r"shock|kill|bite|electrocute|be wrong|fail)\b|"
    r"\b(?:is|are|it's|it is)(?: not|n't) (?:dangerous|forbidden|a problem|wrong|harmful|prohibited|bad|illegal)\b|"
    r"\bnot only\b|\bno (?:better|other) (?:way|choice)\b|\bwhy not\b|\bwith no\b|\bnothing can\b",
    re.IGNORECASE,
)
_DENIAL = re.compile(
    r"\b(?:never|not|no|nobody|none|nothing|neither|nor|cannot|can't|don't|doesn't|isn't|aren't|mustn't|"
    r"shouldn't|won't|no-?one|"
    r"refuse|refuses|avoid|forbidden to|instead of|rather than|without)\b",
    re.IGNORECASE,
)
_DENIED_AFTER = re.compile(
    r"\b(?:is|are|was|be|must|may|shall|should|can|will|does)\b[^,]{0,40}?\b(?:never|not|no|nowhere|forbidden|"
    r"prohibited|dangerous|deadly|"
    r"out of the question|off limits|refused|wrong|banned)\b",
    re.IGNORECASE,
)
_CONDITION = re.compile(r"\b(?:if|when|whenever|where|unless|until|since|because|while|as)\b", re.IGNORECASE)
_SENTENCE = re.compile(r"(?<=[.!?])\s+|\s*[;:]\s+|\s+-\s+|\n+|\s*\u2013\s+")
_CLAUSE = re.compile(r",\s+(?:but|just|then|and|so)\b|\b(?:but|instead,|and then|otherwise|however|so just)\b|,\s+")
_LIST = re.compile(r"\b(?:or|nor)\b", re.IGNORECASE)


def findings_in(text: str) -> tuple[Finding, ...]:
    """Everything in a text that is never advised; nothing where each mention denies it."""
    return tuple(
        Finding(rule.name, rule.reason, sentence)
        for sentence in sentences(text)
        for rule in RULES
        if any(not _denied(rule, match, clause, sentence) for clause, match in _matches(rule, sentence))
    )


def sentences(text: str) -> list[str]:
    """A text cut where a new statement begins."""
    return [piece for piece in _SENTENCE.split(" ".join(text.split())) if piece]


def _matches(rule: Rule, sentence: str) -> Iterator[tuple[str, re.Match[str]]]:
    """Each match with the clause that it stands in; a match may reach over the end of a clause."""
    for match in rule.pattern.finditer(sentence):
        yield _clause_at(sentence, match.start()), match


def _clause_at(sentence: str, at: int) -> str:
    """What stands before a place and belongs to it: back to the last break, but over the commas of a list with 'or'."""
    start = 0
    for piece in _CLAUSE.finditer(sentence, 0, at):
        plain_comma = piece.group().strip() == ","
        following = re.split(r",\s+(?:but|just|then|and|so)\b|\bbut\b", sentence[piece.end() :], maxsplit=1)[0]
        if not (plain_comma and _LIST.search(following) and not _CONDITION.search(sentence[start : piece.start()])):
            start = piece.end()
    return sentence[start:at]


def _denied(rule: Rule, match: re.Match[str], before: str, sentence: str) -> bool:
    if rule.name == "calls it safe":
        # 'If it is safe to reach' leaves it open; 'no danger' is itself the claim.
        return bool(_open_question(before) or _denies(before) or re.search(r"\bnever (?:\w+ )?safe\b", match.group()))
    if match.group().lower().startswith(("no need", "needn")):
        return False
    within = _HOLLOW.sub(" ", match.group())
    inner = re.search(r"\b(?:never|not|no)\b", within, re.IGNORECASE)
    if inner and not re.search(r"\bhas no\b", within, re.IGNORECASE):
        return True
    after = _HOLLOW.sub(" ", re.split(r"[,]", sentence[match.end() :], maxsplit=1)[0])
    return _denies(before) or bool(_DENIED_AFTER.search(after))


def _denies(before: str) -> bool:
    """Whether what stands before denies it: a true denial that no condition holds for itself."""
    plain = _HOLLOW.sub(" ", before)
    for denial in _DENIAL.finditer(plain):
        held = _CONDITION.search(plain[: denial.start()])
        if not held or denial.group().lower() in ("never", "nobody"):
            return True
    return False


def _open_question(before: str) -> bool:
    return bool(re.search(r"\b(?:if|whether|unless|until|only when|as long as)\s*$", before, re.IGNORECASE))
