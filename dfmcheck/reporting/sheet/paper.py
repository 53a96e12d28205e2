"""A sheet on which a text report is set: wrapped lines, hanging marks, tables.

Text is handed to rich as `Text`, never as markup, so nothing in a name is interpreted. What
comes from files goes through `clean` before it gets here.
"""

from io import StringIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.text import Text

BOLD = "bold"
CHANGED = "blue"
"""The one hue: changed in this revision. Nothing is said by it alone."""

GAP = 2
"""Columns between those of a table."""

Cell = str | tuple[str, str]
"""Text of a table, or text with a style."""


class Paper:
    """Collects the lines of one report.

    Args:
        width: columns.
        colour: whether bold and the one hue are written as terminal codes.
    """

    def __init__(self, width: int, colour: bool) -> None:
        """Open an empty sheet; rich is imported here and nowhere earlier."""
        from rich.console import Console

        self._out = StringIO()
        self._colour = colour
        self.width = width
        self._console = Console(
            file=self._out,
            width=width,
            force_terminal=colour,
            color_system="standard" if colour else None,
            no_color=not colour,
            highlight=False,
            markup=False,
            emoji=False,
            legacy_windows=False,
            soft_wrap=False,
            _environ={},
        )

    def _put(self, line: "Text") -> None:
        if self._colour:
            self._console.print(line, no_wrap=True, overflow="ignore", crop=False)
        else:  # the same, without the cost of looking at styles
            self._out.write(f"{line.plain}\n")

    def blank(self) -> None:
        """An empty line."""
        self._out.write("\n")

    def heading(self, text: str, indent: int = 0) -> None:
        """A heading in bold."""
        self.item("", text, indent=indent, style=BOLD)

    def line(self, text: str, indent: int = 0, style: str = "") -> None:
        """A paragraph, wrapped, each line indented alike."""
        self.item("", text, indent=indent, style=style)

    def item(
        self, mark: str, text: str, *, indent: int = 0, room: int = 0, style: str = ""
    ) -> None:
        """A paragraph that hangs from a mark (a number, a word).

        Args:
            mark: what stands to the left, in a column of its own.
            text: the paragraph, wrapped beside the mark.
            indent: columns left free.
            room: width of the mark's column with the space behind it; 0: as wide as the mark.
            style: of the paragraph.
        """
        from rich.text import Text

        room = room or (len(mark) + 1 if mark else 0)
        margin = " " * indent + mark.ljust(room)
        body = Text(text, style=style)
        for line in body.wrap(self._console, self.width - len(margin), overflow="fold"):
            start = Text(" " * indent)
            start.append(margin[indent:], style=style)
            self._put(start.append_text(line))
            margin = " " * len(margin)

    def split(self, left: str, right: str, style: str = "") -> None:
        """One line with text at both edges, or two lines where they do not fit."""
        from rich.cells import cell_len
        from rich.text import Text

        gap = self.width - cell_len(left) - cell_len(right)
        if gap < 2:
            self.line(left, style=style)
            self.line(right, indent=2)
            return
        text = Text(left, style=style)
        text.append(" " * gap)
        text.append(right, style="not bold" if style else "")
        self._put(text)

    def table(
        self,
        rows: list[tuple[Cell, ...]],
        *,
        head: tuple[str, ...] = (),
        indent: int = 2,
    ) -> None:
        """A table without rules; cells are wrapped where it would be wider than the sheet.

        Args:
            rows: cells, text or (text, style), as many in each row.
            head: headings of the columns.
            indent: columns left free.
        """
        from rich.padding import Padding
        from rich.table import Table
        from rich.text import Text

        texts = [tuple(c if isinstance(c, str) else c[0] for c in row) for row in rows]
        widths = _fit(_natural([head, *texts]), self.width - indent)
        table = Table(
            box=None,
            padding=(0, GAP, 0, 0),
            pad_edge=False,
            show_header=bool(head),
            show_edge=False,
        )
        for i, width in enumerate(widths):
            heading = Text(head[i]) if i < len(head) else ""
            table.add_column(heading, overflow="fold", width=width, header_style="")
        for row in rows:
            table.add_row(*(Text(c) if isinstance(c, str) else Text(c[0], style=c[1]) for c in row))
        self._console.print(Padding(table, (0, 0, 0, indent)))

    def text(self) -> str:
        """Everything set so far, without spaces at the ends of lines, ending with a newline."""
        lines = (line.rstrip() for line in self._out.getvalue().split("\n"))
        return "\n".join(lines).strip("\n") + "\n"


def _natural(rows: list[tuple[str, ...]]) -> list[int]:
    """The width that each column needs to stand unwrapped."""
    from rich.cells import cell_len

    widths = [1] * max(len(row) for row in rows)
    for row in rows:
        for i, text in enumerate(row):
            widths[i] = max([widths[i], *map(cell_len, text.split("\n"))])
    return widths


def _fit(widths: list[int], room: int) -> list[int]:
    """Narrow columns, the widest first, until the table fits; the first column last."""
    room -= GAP * (len(widths) - 1)
    later = range(1, len(widths))
    for columns, floor in ((later, 11), (range(1), 16), (later, 6), (range(len(widths)), 2)):
        while sum(widths) > room:
            widest = max(columns, key=lambda i: widths[i], default=0)
            if widths[widest] <= floor:
                break
            widths[widest] -= 1
    return widths
