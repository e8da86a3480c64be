"""JSON Schemas of the files that people write, for editors that complete and check: made from what the readers know."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from diagnose.knowledge.complaints import SETUPS
from diagnose.knowledge.library import Library
from diagnose.knowledge.rates import load_rates
from diagnose.knowledge.words import EXPOSURES, FORMS, MEASURES, PATHS, QUANTITIES, STATES, WIRINGS
from diagnose.meter import INSTRUMENT_CHOICES
from diagnose.panel.kettles import KEYS as KETTLE_KEYS
from diagnose.panel.reader import BUILT, REGIONS
from diagnose.safety import COMPETENCES
from diagnose.texts import Texts
from diagnose.units import DIMENSIONS

Schema = dict[str, Any]

TEXT: Schema = {"type": ["string", "number"]}
WORD: Schema = {"type": "string", "pattern": "^[a-z][a-z0-9_]*$"}
FLAG: Schema = {"type": ["boolean", "string"], "enum": [True, False, "yes", "no"]}
NUMBER: Schema = {"type": "number"}
RANGE: Schema = {"type": "string", "pattern": r"^\s*\d+(\.\d+)?\s*-\s*\d+(\.\d+)?\s*$"}
INTERNAL_KINDS = ("wire", "feed_wire")  # made by the reader, never written


def schemas(library: Library, texts: Texts, complaints: Iterable[str]) -> Mapping[str, Schema]:
    """Every schema by its file's name."""
    return {
        "panel.schema.json": _headed("A panel: its supply, parts and wires", _panel(library)),
        "part.schema.json": _headed("A kind of part: terminals, behaviour, faults, remedies, proof", _part(texts)),
        "complaints.schema.json": _headed(
            "A family of complaints", _named(_complaint(sorted({kind.role for kind in library.kinds.values()}), texts))
        ),
        "case.schema.json": _headed("A recorded fault", _case(sorted(complaints))),
    }


def text_of(schema: Schema) -> str:
    """A schema as its file has it."""
    return json.dumps(schema, ensure_ascii=False, indent=1) + "\n"


def _headed(title: str, schema: Schema) -> Schema:
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title, **schema}


def _keys(required: Mapping[str, Schema], optional: Mapping[str, Schema]) -> Schema:
    return {
        "type": "object",
        "properties": {**required, **optional},
        "required": list(required),
        "additionalProperties": False,
    }


def _named(value: Schema) -> Schema:
    return {"type": "object", "propertyNames": WORD, "additionalProperties": value}


def _one_of(words: Iterable[str]) -> Schema:
    return {"enum": list(words)}


def _list(item: Schema) -> Schema:
    return {"type": "array", "items": item}


def _one_or_more(item: Schema) -> Schema:
    return {"anyOf": [item, _list(item)]}


def _starting(words: Sequence[str]) -> Schema:
    """A line that begins with one of some words, or a channel's placeholder; as examples an editor offers them."""
    return {"type": "string", "pattern": f"^({'|'.join(words)}|<[a-z_]+>)\\s*(,.*)?$", "examples": list(words)}


# Panels ---------------------------------------------------------------------------------------------------


def _panel(library: Library) -> Schema:
    kinds = sorted(name for name in library.kinds if name not in INTERNAL_KINDS)
    # Placeholders of channels are filled before a name or a rating is read.
    name = {"type": "string", "pattern": r"^[a-z<][a-z0-9_<>]*$"}
    part = {
        "anyOf": [
            _starting(kinds),
            {"type": "object", "properties": {"kind": _one_of(kinds), "label": TEXT}, "required": ["kind"]},
        ]
    }
    block: Mapping[str, Schema] = {
        "parts": {"type": "object", "propertyNames": name, "additionalProperties": part},
        "wires": _list({"type": "string", "pattern": r"^[^,]+ - [^,]+(,.*)?$"}),
        "plugs": _list({"type": "string", "pattern": r"^\S+ - \S+$"}),
    }
    cords = sorted(name for name, kind in library.kinds.items() if kind.role == "feed")
    supply = _keys(
        {
            "system": _one_of(library.supplies),
            "protection": _one_or_more({"type": "string", "pattern": r"^[a-z][a-z0-9_]*\s*:\s*\S"}),
            "feed": TEXT,
        },
        {"cord": _starting(cords), "source_impedance": TEXT},
    )
    kettle = _keys({"holds": TEXT}, {key: {"type": ["string", "number", "boolean"]} for key in KETTLE_KEYS[1:]})
    places = {"type": "string", "pattern": r"^[a-z][a-z0-9_]*(\.[a-z0-9_]+)?$"}
    channel = {
        "type": "object",
        "properties": dict(block),
        "additionalProperties": _list(TEXT),
    }
    return _keys(
        {
            "panel": WORD,
            "title": TEXT,
            "region": _one_of(REGIONS),
            "supply": supply,
            "parts": block["parts"],
            "wires": block["wires"],
            "references": _keys(
                {"neutral": places, "earth": places, "leg_1": places}, {"leg_2": places, "leg_3": places}
            ),
        },
        {
            "story": TEXT,
            "labels": {"type": "object", "additionalProperties": TEXT},
            "wire": TEXT,
            "channels": _list(channel),
            "plugs": block["plugs"],
            "built": _one_of(BUILT),
            "kettles": {"type": "object", "additionalProperties": kettle},
            "altitude": TEXT,
            "rates": _named(_named(_one_of(load_rates().words))),
        },
    )


# Kinds of part --------------------------------------------------------------------------------------------


def _part(texts: Texts) -> Schema:
    words = _one_or_more(WORD)
    rating = _keys({}, {"dimension": _one_of((*DIMENSIONS, "choice")), "default": TEXT, "choices": _list(TEXT)})
    terminal = _keys({"title": TEXT}, {"path": _one_of(PATHS), "outside": FLAG})
    values = sorted({key for keys in FORMS.values() for key in keys})
    branch = _keys(
        {"form": _one_of(FORMS), "from": WORD, "to": WORD},
        {
            **dict.fromkeys(values, TEXT), "range": RANGE, "closed": _one_or_more(TEXT), "path": _one_of(PATHS),
            "heats": FLAG, "only": _one_of(("ac", "dc")), "ratio": TEXT, "of": WORD, "curve": WORD, "between": TEXT,
        },
    )  # fmt: skip
    coil = _keys({"branch": WORD, "pull_in": TEXT, "drop_out": TEXT}, {"domain": _one_of(("ac", "dc"))})
    fault = _keys(
        {
            "title": TEXT,
            "rate": _one_of(load_rates().words),
            "does": {"type": ["object", "null"], "additionalProperties": TEXT},
            "remedy": TEXT,
            "proof": _list(_one_of(texts.proofs)),
        },
        {
            "levels": _one_or_more(TEXT), "signs": {"type": "object", "additionalProperties": TEXT}, "source": TEXT,
            "at_times": {"type": "number", "minimum": 0.05, "maximum": 0.95},
            **dict.fromkeys(("stop", "electrician", "when_warm", "new_only", "when_moved", "usable"), FLAG),
        },
    )  # fmt: skip
    sign = _keys(
        {
            "question": TEXT,
            "measure": _one_of(MEASURES),
            "outcomes": {"anyOf": [_list(TEXT), {"type": "object", "additionalProperties": RANGE}]},
        },
        {
            "of": TEXT, "rated": TEXT, "exposure": _one_of(EXPOSURES), "minutes": NUMBER, "procedure": TEXT,
            "dead": FLAG, "sure": NUMBER, "setups": _one_or_more(_one_of(SETUPS)),
        },
    )  # fmt: skip
    surface = _keys(
        {"title": TEXT, "of": _one_or_more(WORD), "base": WORD, "kelvin_per_watt": TEXT, "range": RANGE,
         "minutes": RANGE},
        {"share": RANGE, "outside": FLAG, "joints": FLAG},
    )  # fmt: skip
    does = sorted({*STATES, *WIRINGS})
    return _keys(
        {"kind": WORD, "title": TEXT, "role": WORD, "terminals": _named(terminal)},
        {
            "note": TEXT,
            "ratings": _named(rating),
            "through": _list(WORD),
            "inside": words,
            "branches": {
                **_named(branch),
                "propertyNames": {**WORD, "not": _one_of(does)},
            },
            "handle": _keys({"positions": words, "rest": WORD, "run": WORD}, {}),
            **dict.fromkeys(("coil", "powered", "control"), coil),
            "output": FLAG,
            "bad_probe": _one_of(("rest", "call")),
            "sense": _keys({"plus": WORD, "minus": WORD}, {"compensate": WORD, "force": WORD}),
            "trip": _keys(
                {"form": _one_of(("overcurrent", "residual", "fuse")), "through": words, "rating": TEXT,
                 "standard": TEXT}, {},
            ),
            "plug": {"type": "object", "additionalProperties": WORD},
            "faults": _named(fault),
            "signs": _named(sign),
            "measure": {
                "type": "object",
                "properties": dict.fromkeys(QUANTITIES, _one_or_more({"type": "string", "pattern": r"^\S+ - \S+$"})),
                "additionalProperties": False,
            },
            "cautions": _one_or_more(_one_of(texts.cautions)),
            "surfaces": _named(surface),
            "airflow": TEXT,
        },
    )  # fmt: skip


# Complaints and cases -------------------------------------------------------------------------------------


def _complaint(roles: Sequence[str], texts: Texts) -> Schema:
    observation = _keys(
        {
            "setup": _one_of(SETUPS),
            "of": _one_of(("subject", "plug", *roles)),
            "sign": WORD,
            "is": _one_or_more(TEXT),
        },
        {"every": FLAG, "against": _one_of(SETUPS)},
    )
    return _keys(
        {
            "title": TEXT,
            "says": _one_or_more(TEXT),
            "observed": _list(observation),
            "setups": _list(_one_of(SETUPS)),
        },
        {
            "subject": _one_or_more(_one_of(roles)),
            "cautions": _one_or_more(_one_of(texts.cautions)),
            "comes_and_goes": FLAG,
            "expects_more": _keys({"rate": _one_of(load_rates().words), "advice": TEXT}, {}),
        },
    )


def _case(complaints: Sequence[str]) -> Schema:
    return _keys(
        {
            "case": TEXT,
            "panel": TEXT,
            "complaint": _one_of(complaints),
            "answers": {"type": "object", "additionalProperties": TEXT},
            "confirmed": _keys({"part": TEXT}, {"fault": TEXT, "also": TEXT}),
            "provenance": TEXT,
        },
        {
            "part": TEXT,
            "competence": _one_of(COMPETENCES),
            "instruments": _list(_one_of(INSTRUMENT_CHOICES)),
            "notes": TEXT,
            "group": _list(TEXT),
            "again": {"type": "object", "additionalProperties": TEXT},
        },
    )
