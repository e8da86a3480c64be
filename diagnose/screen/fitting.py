"""A check cut to a screen: at most a dozen lines, the change of setup on a page of its own where it does not fit in."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.screen.console import wrapped
from diagnose.session import AskCheck, Session
from diagnose.wording import LEFT_AS_IT_IS, Page, check_words, page_of_check, regional_page

MOST_LINES = 12  # of a check on 80 columns, with its heading and its prompt
NARROW = 60  # on fewer columns than this a check has as many lines again
FEWEST_MEANINGS = 1


def lines_on(page: Page, width: int) -> int:
    """How many lines a page takes, with its heading and prompt."""
    return len(wrapped([page.title, *page.lines], width)) + 1


def check_pages(session: Session, question: AskCheck, number: int, width: int) -> list[Page]:
    """The pages of a check. Cautions and changes are never cut; what another outcome would mean, why tells as well."""
    most = MOST_LINES if width >= NARROW else 2 * MOST_LINES
    words = check_words(session, question)
    before = [*words.setup, *words.cautions]
    for first in ([*(words.setup or (LEFT_AS_IT_IS,)), *words.cautions], []):
        for meanings in range(len(words.meanings), FEWEST_MEANINGS - 1 if words.meanings else -1, -1):
            page = _ordered(session, question, number, first, words.asked, words.meanings[:meanings], words.cautions)
            if lines_on(page, width) <= most:
                return [page] if first else [_before(session, number, before), page]
    last = page_of_check(session, question, number, words.asked)
    return [_before(session, number, before), last]


def _ordered(session: Session, question: AskCheck, number: int, first: Sequence[str], asked: Sequence[str],
             meanings: Sequence[str], cautions: Sequence[str]) -> Page:  # fmt: skip
    """Changes, what to do, cautions, meanings: the order in which they are needed."""
    setup = [line for line in first if line not in cautions]
    said = [line for line in first if line in cautions]
    return page_of_check(session, question, number, [*setup, *asked, *said, *meanings])


def _before(session: Session, number: int, lines: Sequence[str]) -> Page:
    page = Page(f"Before check {number}", tuple(lines) or (LEFT_AS_IT_IS,))
    return regional_page(session.model.panel, page)
