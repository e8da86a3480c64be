"""The next check on a panel: information about what to do, for its cost, under the safety rules."""

from diagnose.choose.best import LEAST_BITS, Choice, best_check
from diagnose.choose.deck import Deck, deck_of, information_of, table_of

__all__ = ["LEAST_BITS", "Choice", "Deck", "best_check", "deck_of", "information_of", "table_of"]
