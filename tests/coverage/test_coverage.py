"""What is said to be told apart is; what is said to help does; pages keep what files say from being markup."""

from __future__ import annotations

import dataclasses
import json
from html.parser import HTMLParser

import numpy as np
import pytest

from diagnose.coverage.apart import OVERLAP, overlaps, splitting, told_apart
from diagnose.coverage.gather import Coverage, cover
from diagnose.coverage.pages import as_html, as_json, as_markdown
from diagnose.coverage.reach import REACHES
from diagnose.coverage.words import apart_words, tables
from diagnose.model import Model
from diagnose.opening import all_complaints, open_model, open_panel
from diagnose.validate.deep import problems_of
from diagnose.wording import review_cautions

COMPLAINTS = ("element_cold", "controller_dead", "gfci_trips_with_element")


@pytest.fixture(scope="module")
def coverage() -> Coverage:
    return cover(open_panel("shed_single_kettle"), {name: all_complaints()[name] for name in COMPLAINTS})


@pytest.fixture(scope="module")
def model() -> Model:
    return open_model("shed_single_kettle", "element_cold", "element")


def test_overlap_is_one_less_the_total_variation_distance() -> None:
    """Levin, Peres: Markov Chains and Mixing Times, proposition 4.2 (from memory): TV = half the sum of differences."""
    table = np.array([[1.0, 0.0, 0.0], [0.0, 0.4, 0.6], [0.5, 0.5, 0.0], [1.0, 0.0, 0.0]])
    distance = np.abs(table[:, None] - table[None]).sum(axis=2) / 2
    np.testing.assert_allclose(overlaps(table), 1 - distance, atol=1e-12)


def test_who_may_do_more_is_told_no_less(coverage: Coverage) -> None:
    assert [reach.name for reach in REACHES] == list(coverage.shares())
    alone = [count for count, _ in coverage.shares().values()]
    assert alone == sorted(alone) and alone[0] < alone[-1]
    for row in coverage.rows:
        for less, more in zip(row.mistaken, row.mistaken[1:], strict=False):
            assert set(more) <= set(less)
            assert row.part not in less


@pytest.mark.parametrize("reach", REACHES, ids=lambda reach: reach.name)
def test_no_check_beyond_a_reach_is_counted(model: Model, reach: object) -> None:
    place = REACHES.index(reach)  # type: ignore[arg-type]
    for check in REACHES[place].of(model.checks):
        assert check.instrument in ("none", "multimeter") if place else check.instrument == "none"
        assert check.exposure == "outside" or place >= 2
        assert check.exposure != "live" or place == 3


def test_two_causes_are_apart_only_where_a_check_says_so(model: Model) -> None:
    checks = REACHES[2].of(model.checks)
    apart = told_apart(model, checks)
    assert np.array_equal(apart, apart.T) and apart.diagonal().all()
    names = [cause.part for cause in model.causes]
    first = names.index("control_fuse")
    for other in range(len(names)):
        if names[other] != "control_fuse":
            assert apart[first, other] == bool(splitting(model, checks, first, other))


def test_a_blown_fuse_is_found_alone_once_the_box_is_open(coverage: Coverage) -> None:
    (row,) = (row for row in coverage.rows if (row.part, row.fault) == ("control_fuse", "blown"))
    assert set(row.complaints) == {"element_cold", "controller_dead"}
    assert row.mistaken[0] and not row.mistaken[2]


def test_an_earth_that_is_lost_is_among_what_nobody_notices(coverage: Coverage) -> None:
    assert ("cord", "earth_broken") in {(part, fault) for part, fault, _ in coverage.silent}


def test_every_fault_is_either_in_the_table_or_unnoticed(coverage: Coverage) -> None:
    panel = coverage.panel
    told = {(row.part, row.fault) for row in coverage.rows} | {(part, fault) for part, fault, _ in coverage.silent}
    used = {
        (name, fault.name)
        for name in panel.parts
        if not panel.at_the_service(name)
        for fault in panel.kind_of(name).faults.values()
        if not fault.new_only and fault.at_times == 1  # one that comes and goes is complained of in its own words
    }
    assert used <= told


def test_advice_names_points_that_split_what_was_not_split(coverage: Coverage) -> None:
    points = [each for each in coverage.advice if each.kind == "test point"]
    assert points
    labels = {coverage.panel.label(row.part): row for row in coverage.rows}
    for advice in points:
        assert " and " in advice.what
        for one, other in advice.pairs:
            row = labels.get(one) or labels[other]
            assert any(row.mistaken[1] for row in coverage.rows if coverage.panel.label(row.part) in (one, other)), row


def test_pairs_are_told_by_what_they_have_in_common() -> None:
    pairs = [("switch", "relay"), ("fuse", "switch"), ("cord", "plug")]
    assert apart_words(pairs) == "switch from relay, fuse; plug from cord"


def test_wires_are_counted_and_parts_named() -> None:
    pairs = [("fuse", "a"), ("fuse", "b"), ("fuse", "relay"), ("a", "b")]
    assert apart_words(pairs, ["a", "b"]) == "fuse from relay and 2 wires; b from a"


def test_every_fault_and_every_group_stands_on_the_page(coverage: Coverage) -> None:
    told = {table.title: table for table in tables(coverage)}
    label = coverage.panel.label
    titles = {(part, title) for part, faults, *_ in told["Part by part"].rows for title in faults.split("; ")}
    assert {(label(row.part), row.title) for row in coverage.rows} == titles
    alone = {row[0] for row in told["Part by part"].rows if row[-1] == "alone"}
    assert alone == {label(row.part) for row in coverage.rows if not row.mistaken[-1]}
    silent = {
        (part, title) for title, parts in told["Faults that nobody would notice"].rows for part in parts.split("; ")
    }
    assert silent == {(label(part), title) for part, _, title in coverage.silent}
    assert len(told["What stays together"].rows) == len(coverage.together)


def test_what_stays_together_is_just_what_no_check_tells_apart(coverage: Coverage) -> None:
    """Whoever is mistaken for something within the last reach stands in a group with it, and nobody else does."""
    grouped: dict[str, set[str]] = {part: set() for parts, _ in coverage.together for part in parts}
    for parts, _ in coverage.together:
        for part in parts:
            grouped[part] |= set(parts) - {part}
    for row in coverage.rows:
        assert set(row.mistaken[-1]) <= grouped.get(row.part, set())
    centres = {row.part for row in coverage.rows if row.mistaken[-1]}
    assert all(centres & set(parts) for parts, _ in coverage.together)
    assert all(set(complaints) <= set(COMPLAINTS) for _, complaints in coverage.together)


class Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.said = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)

    def handle_data(self, data: str) -> None:
        self.said += data


def test_pages_show_what_files_say_as_text(coverage: Coverage) -> None:
    panel = dataclasses.replace(coverage.panel, title="<script>alert(1)</script> | *x* \u202e\x1b[2J")
    nasty = dataclasses.replace(coverage, panel=panel)
    page = Words()
    page.feed(as_html(nasty))
    assert "script" not in page.tags and "<script>alert(1)</script>" in page.said
    for text in (as_html(nasty), as_markdown(nasty), as_json(coverage)):
        assert "\x1b" not in text and "\u202e" not in text
    assert "<script>" not in as_markdown(nasty) and "\\|" in as_markdown(nasty)


def test_each_page_carries_the_cautions(coverage: Coverage) -> None:
    """Whoever fits a test point has the box open: dead, and by someone who may."""
    wanted = review_cautions(coverage.panel)
    page = Words()
    page.feed(as_html(coverage))
    assert len(wanted) >= 3
    assert json.loads(as_json(coverage))["cautions"] == wanted
    for text in (page.said, as_markdown(coverage).replace("\\", "")):
        assert all(caution in text for caution in wanted)


def test_json_says_all_of_it(coverage: Coverage) -> None:
    told = json.loads(as_json(coverage))
    assert len(told["faults"]) == len(coverage.rows)
    assert told["found_alone"]["no meter"] == list(coverage.shares()["no meter"])
    assert 0 < OVERLAP < 0.5


def test_what_is_not_confirmed_is_a_finding(coverage: Coverage) -> None:
    found = list(problems_of(coverage))
    assert all(each.place and each.level == "note" for each in found), "every check can be come to"
    told = {each.message for each in found}
    assert "no complaint leads to 'cord:earth_broken'" in told
    unsure = [row for row in coverage.rows if row.mistaken[-1]]
    assert sum(each.rule == "not confirmed" for each in found) == len(unsure)
    odd = dataclasses.replace(coverage, unreachable=("nowhere:sign:x:y",))
    assert [each.level for each in problems_of(odd)].count("warning") == 1
