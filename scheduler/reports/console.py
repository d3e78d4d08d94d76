"""How reports are said on a terminal.

Every word stands without colour, so the text reads the same in a pipe. All text goes through ``rich.text.Text``, never
through markup, and through :class:`Ink`, which folds what the terminal's encoding cannot show.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.table import Table
from rich.text import Text

from scheduler.domain.plan import CautionNote
from scheduler.reports import wording

_PROSE_WIDTH = 100
"""Longer lines are hard to read; wider terminals keep the rest blank."""
_NUMBER_WIDTH = 8
_MANY_COLUMNS = 9
_FOLDED = {
    "–": "-",
    "—": "-",
    "−": "-",
    "×": "x",
    "’": "'",
    "‘": "'",
    "“": '"',
    "”": '"',
    "…": "...",
    "≥": ">=",
    "≤": "<=",
}
_BAR_MARKS = ("▆", "▂", "│")
"""Direct sets stand tall, indirect ones low; the stroke is the aim."""
_BAR_MARKS_ASCII = ("=", "-", "|")


class Ink:
    """Turns any string into text that this console can show."""

    def __init__(self, console: Console) -> None:
        self._encoding = console.encoding
        self.bar_marks = _BAR_MARKS if all(self._can_show(m) for m in _BAR_MARKS) else _BAR_MARKS_ASCII

    def __call__(self, text: str, style: str = "") -> Text:
        return Text("".join(map(self._fold, wording.plain(text))), style=style, overflow="fold")

    def _can_show(self, char: str) -> bool:
        try:
            char.encode(self._encoding)
        except (UnicodeEncodeError, LookupError):
            return False
        return True

    def _fold(self, char: str) -> str:
        if char.isascii() or self._can_show(char):
            return char
        bare = "".join(c for c in unicodedata.normalize("NFKD", char) if c.isascii())
        return _FOLDED.get(char) or bare or "?"


def say(console: Console, text: Text, *, indent: int = 0) -> None:
    for line in text.wrap(console, max(10, min(console.width, _PROSE_WIDTH) - indent)):
        line.rstrip()
        console.print(Text(" " * indent).append_text(line))


def heading(console: Console, ink: Ink, words: str) -> None:
    console.print()
    say(console, ink(words, "bold"))


class Page:
    """A console, and how things are said on it."""

    def __init__(self, console: Console) -> None:
        self.console = console
        self.ink = Ink(console)

    def say(self, text: str, style: str = "", *, indent: int = 0) -> None:
        say(self.console, self.ink(text, style), indent=indent)

    def heading(self, words: str) -> None:
        heading(self.console, self.ink, words)

    def table(self, columns: Sequence[str], cells: Iterable[Sequence[str]], *, again: int = 1) -> None:
        """A table; one that is too wide goes on below, with its first columns again."""
        rows = [[self.ink(cell) for cell in row] for row in cells]
        heads = [self.ink(column) for column in columns]
        gap = 2 if len(columns) < _MANY_COLUMNS else 1
        sides = [(head, *(row[n] for row in rows)) for n, head in enumerate(heads)]
        least = [_least_width(*(text.plain for text in side)) for side in sides]
        whole = [max(text.cell_len for text in side) for side in sides]
        parts: list[list[int]] = [[]]
        room = self.console.width - sum(width + gap for width in least[:again])
        left = room
        for n in range(again, len(columns)):
            if parts[-1] and least[n] + gap > left:
                parts.append([])
                left = room
            parts[-1].append(n)
            left -= least[n] + gap
        for number, part in enumerate(parts):
            if number:
                self.console.print()
            table = Table(box=None, padding=(0, gap, 0, 0), pad_edge=False, header_style="dim")
            shown = [*range(again), *part]
            room = self.console.width - gap * len(shown)
            widths = _fitted([whole[n] for n in shown], [least[n] for n in shown], room)
            for n, width in zip(shown, widths, strict=True):
                table.add_column(heads[n], justify="left" if n == 0 else "right", overflow="fold", width=width)
            for row in rows:
                table.add_row(*(row[n] for n in shown))
            self.console.print(table)

    def cautions(self, notes: Sequence[CautionNote]) -> None:
        self.heading("Cautions")
        for note in notes:
            say(self.console, Text.assemble(self.ink(note.text), " (", self.ink(note.source), ")"), indent=2)


def _least_width(column: str, *cells: str) -> int:
    """Numbers keep their width; words fold, and so do heads."""
    numbers = bool(cells) and all(len(cell) <= _NUMBER_WIDTH for cell in cells)
    parts = cells if numbers else [word for cell in cells for word in cell.split()]
    return max(map(cell_len, [*parts, *column.split()]), default=1)


def _fitted(whole: Sequence[int], least: Sequence[int], room: int) -> list[int]:
    """Columns as wide as they are whole, as far as there is room: the widest that can fold gives way first.

    Left to the table itself, a column that cannot fold is narrowed beside one that can, and the last is cut off.
    """
    widths = list(whole)
    while sum(widths) > max(room, len(widths)):
        # Where not even the longest words have room, they are folded rather than cut.
        folding = [n for n, width in enumerate(widths) if width > least[n]] or range(len(widths))
        widths[max(folding, key=lambda n: widths[n])] -= 1
    return widths
