"""Keys and completion in a terminal: the part that knows prompt-toolkit."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence

from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.filters import Condition
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent

from diagnose.screen.typing_help import Help

HABIT_SECONDS = 0.4  # an Enter so soon after a prompt appeared was meant for the one before: a judgement


class OneKey:
    """Bindings of one prompt, and whether one of its keys gave the answer."""

    def __init__(self, keys: Sequence[str], after_one_key: bool) -> None:
        self.used = False
        self.bindings = KeyBindings()
        self._untouched = after_one_key
        self._began = time.monotonic()
        for key in keys:
            self._bind(key)
        if after_one_key:
            self._swallow_enter()

    def _bind(self, key: str) -> None:
        """The key alone, on an empty line, is the answer: no Enter."""

        @self.bindings.add(key, filter=_line_is_empty)
        def _(event: KeyPressEvent) -> None:
            self.used = True
            event.current_buffer.insert_text(key)
            event.current_buffer.validate_and_handle()

    def _swallow_enter(self) -> None:
        """Whoever presses Enter after one key, out of habit, does not answer the next question with nothing."""
        fresh = Condition(lambda: self._untouched and time.monotonic() - self._began < HABIT_SECONDS)

        @self.bindings.add("enter", filter=_line_is_empty & fresh, eager=True)
        @self.bindings.add("c-j", filter=_line_is_empty & fresh, eager=True)
        def _(event: KeyPressEvent) -> None:
            self._untouched = False


@Condition
def _line_is_empty() -> bool:
    from prompt_toolkit.application import get_app

    return not get_app().current_buffer.text


def one_key_bindings(keys: Sequence[str], after_one_key: bool) -> OneKey:
    """Bindings for a prompt that takes these keys for answers."""
    return OneKey(keys, after_one_key)


class _HelpCompleter(Completer):
    """Completes whole lines, each with what it means."""

    def __init__(self, told: Help) -> None:
        self.told = told

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterable[Completion]:
        """What the line could become."""
        text = document.text_before_cursor
        for whole, meaning in self.told.completions(text):
            yield Completion(whole, start_position=-len(text), display_meta=meaning or None)


def completer_for(told: Help) -> Completer:
    """A completer of what a prompt takes."""
    return _HelpCompleter(told)
