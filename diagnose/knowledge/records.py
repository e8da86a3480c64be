"""Kinds of part, as data: terminals, branches made of a few primitives, states, faults, signs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from diagnose.errors import Place
from diagnose.knowledge.expressions import Expression

Form = Literal[
    "resistance",  # a linear resistance, such as a heating wire or a lamp
    "contact",  # closed or open, by the conditions in `closed`
    "impedance",  # resistance and reactance in series: a coil, a winding
    "snubber",  # resistance and capacitance in series
    "triac",  # conducts while `closed` holds, with an on-state drop
    "leak",  # nothing when sound; a fault gives it a resistance
    "source",  # an EMF behind a resistance
    "follow",  # an EMF that is another branch's voltage times a ratio: the other winding of a transformer
    "sensor",  # a resistance that follows temperature
    "thermocouple",  # an EMF between two places of different temperature, behind a resistance
]
Path = Literal["power", "control", "earth", "sensing"]
Domain = Literal["ac", "dc"]
Exposure = Literal["outside", "isolated", "live"]


@dataclass(frozen=True, slots=True)
class Rating:
    """A value that a panel gives for a part, or that has a default."""

    name: str
    dimension: str
    default: float | None
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Terminal:
    """A point of a part where a wire lands and probes can go."""

    name: str
    title: str
    path: Path
    outside: bool  # reachable with the enclosure shut, on a face or a pulled plug


@dataclass(frozen=True, slots=True)
class Condition:
    """One thing that must hold for a contact to be closed."""

    # 'pressed' is a handle that springs back: closed while the panel starts up, open once it runs.
    what: Literal["handle", "pressed", "coil", "tripped", "powered", "output", "control", "warm"]
    values: tuple[str, ...] = ()
    negated: bool = False


@dataclass(frozen=True, slots=True)
class Branch:
    """A two-terminal primitive inside a part."""

    name: str
    form: Form
    tail: str
    head: str
    values: Mapping[str, Expression]
    low: float  # smallest and largest share of the nominal resistance that a sound part has
    high: float
    closed: tuple[Condition, ...]
    path: Path
    heats: bool
    domain: Domain | None  # None: exists in both
    of: str = ""  # for a branch that follows another: that other branch
    curve: str = ""  # for a sensor or a thermocouple: its name in knowledge/curves.yaml
    between: tuple[str, str] = ("", "")  # for a thermocouple: its two places, of 'tip', 'head', 'terminals'


@dataclass(frozen=True, slots=True)
class Surface:
    """A place of a part whose warmth can be felt or read: which branches heat it, and to what it gives its heat.

    `base` is 'room', 'inside' (the air in the box), or another surface of the part; `share` is how much of that one's
    rise it takes on. `low` and `high` are shares of the thermal resistance, `minutes` the ends of its time constant.
    """

    name: str
    title: str
    of: tuple[str, ...]
    base: str
    share: tuple[float, float]
    kelvin_per_watt: Expression
    low: float
    high: float
    minutes: tuple[float, float]
    outside: bool  # reachable with the enclosure shut
    joints: bool  # for a plug: heated by the joints of the wires behind its outlet as well


@dataclass(frozen=True, slots=True)
class Effect:
    """How a fault changes one branch or one state of its part, or where its wires land.

    `joined` adds a branch between two ends. `swapped` exchanges the wires at two of the part's terminals. `moved` lands
    the wires that join the part to the first end on the second one. Ends are the part's terminals, or the panel's
    references by their names. `scale` may also be of the thermal resistance of a surface, or of a fan's `airflow`.
    `metal` makes a stretch of thermocouple wire one of another curve, or of copper; `reversed` turns it round.
    """

    target: str
    change: Literal[
        "open",
        "closed",
        "ohms",
        "scale",
        "half_wave",
        "stalled",
        "state",
        "joined",
        "swapped",
        "moved",
        "metal",
        "reversed",
    ]
    value: float | None = None  # ohms, a factor, or None where the fault's level gives it
    state: str = ""
    ends: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class Remedy:
    """What to do about a cause, and what to measure before the panel goes back to work."""

    text: str
    proof: tuple[str, ...]
    electrician: bool


@dataclass(frozen=True, slots=True)
class Fault:
    """One way in which a part of this kind fails."""

    name: str
    title: str
    rate: float
    rate_word: str
    levels: tuple[float, ...]  # in the unit of the effect: ohms, a factor; empty where it has none
    effects: tuple[Effect, ...]
    remedy: Remedy
    signs: Mapping[str, str]  # signs that the physics can't tell: name -> outcome
    stop: bool  # finding this ends in a referral
    when_warm: bool  # shows only after the panel ran for some minutes
    source: str
    new_only: bool = False  # a wiring mistake: a cause only on a newly built panel
    at_times: float = 1.0  # share of looks in which it shows; less than 1 for one that comes and goes
    when_moved: bool = False  # one that comes and goes, and comes when the part is bent or pulled
    usable: bool = False  # a setting or a habit: the part itself may go on being used


@dataclass(frozen=True, slots=True)
class Trip:
    """A protective device: what it senses and when it opens."""

    form: Literal["overcurrent", "residual", "fuse"]
    through: tuple[str, ...]  # branches whose current is sensed: each by itself, or their sum
    rating: Expression
    standard: str


@dataclass(frozen=True, slots=True)
class Coil:
    """What moves contacts: the branch, and the voltages at which it pulls in and drops out."""

    branch: str
    pull_in: Expression
    drop_out: Expression
    domain: Domain


@dataclass(frozen=True, slots=True)
class Sense:
    """A controller's input: which terminals, which probe, what it shows."""

    plus: str
    minus: str
    compensate: str = ""  # the third wire, or the data line of a digital sensor; nothing landed there: two-wire
    force: str = ""  # the fourth: current from here to `compensate`, volts between the first two


@dataclass(frozen=True, slots=True)
class Sign:
    """Something that eyes, ears or a finger tell: its outcomes, each with a band of a computed value."""

    name: str
    question: str
    of: str  # the branch whose voltage share or power share is graded, or a state
    measure: Literal[
        "voltage", "current", "power", "state", "trip", "shown", "error", "course", "warmth", "sag", "front"
    ]
    bands: tuple[tuple[str, float, float], ...]  # outcome, from, up to
    rated: Expression | None
    exposure: Exposure
    minutes: float
    procedure: str
    outcomes: tuple[str, ...]
    dead: bool = False  # looked at or tried only where no current can flow
    setups: tuple[str, ...] = ()  # the named setups that it is asked for in; empty: all with the supply on
    sure: float = 1.0  # how often what a fault is told to look like is noticed


@dataclass(frozen=True, slots=True)
class Probing:
    """A pair of terminals worth measuring, for one quantity."""

    quantity: str
    tail: str
    head: str


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of part: everything that is known about it, from one file."""

    name: str
    title: str
    role: str
    note: str
    ratings: Mapping[str, Rating]
    terminals: Mapping[str, Terminal]
    through: tuple[str, str] | None
    branches: Mapping[str, Branch]
    positions: tuple[str, ...]
    rest: str
    run: str
    coil: Coil | None
    powered: Coil | None
    control: Coil | None
    output: bool
    sense: Sense | None
    trip: Trip | None
    plug: Mapping[str, str]  # own terminal -> terminal of what it is plugged into
    faults: Mapping[str, Fault]
    signs: Mapping[str, Sign]
    probings: tuple[Probing, ...]
    cautions: tuple[str, ...]
    place: Place
    surfaces: Mapping[str, Surface] = field(default_factory=dict)
    airflow: Expression | None = None  # cubic metres an hour that a fan moves through the box
    bad_probe: Literal["rest", "call"] = "rest"  # what a controller's output does when its probe is broken


@dataclass(frozen=True, slots=True)
class Observation:
    """What a complaint says: a sign, in a setup, had one of these outcomes.

    `of` is 'subject', or a role: the parts of that role on the subject's path, or of the whole panel where it has none.
    """

    setup: str
    of: str
    sign: str
    outcomes: tuple[str, ...]
    every: bool  # all the parts must show it; else any one of them
    against: str = ""  # another setup: the outcomes are how the reading's error changes from there to here


@dataclass(frozen=True, slots=True)
class ExpectsMore:
    """A complaint that a sound panel gets as well, from who expected more of it: how often, and what is said then."""

    rate: float  # next to how often parts fail
    advice: str


@dataclass(frozen=True, slots=True)
class Complaint:
    """What a brewer says is wrong, and the computed signs that it stands for."""

    name: str
    title: str
    says: tuple[str, ...]
    subject: tuple[str, ...]  # roles that the complaint can be about; empty: the whole panel
    observed: tuple[Observation, ...]
    setups: tuple[str, ...]  # named setups in which checks are offered
    cautions: tuple[str, ...]
    place: Place
    comes_and_goes: bool = False  # it is seen at some times only: what is there always does not explain it
    expects_more: ExpectsMore | None = None
