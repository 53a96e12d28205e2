"""A sheet on which a text report is set: wrapped lines, hanging marks, tables.

Text is handed to rich as `Text`, never as markup, so nothing in a name is interpreted. What
comes from files goes through `clean` before it gets here.
"""

from io import StringIO
from typing import Any, Literal

BOLD = "bold"
CHANGED = "blue"
"""The one hue: changed in this revision. Nothing is said by it alone."""

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

    def blank(self) -> None:
        """An empty line."""
        self._console.print()

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
        from rich.table import Table
        from rich.text import Text

        room = room or (len(mark) + 1 if mark else 0)
        grid = Table.grid(padding=0)
        grid.add_column(width=indent, no_wrap=True)
        if room:
            grid.add_column(width=room)
        grid.add_column(overflow="fold", width=self.width - indent - room)
        cells: list[Any] = [Text("")]
        if room:
            cells.append(Text(mark, style=style))
        cells.append(Text(text, style=style))
        grid.add_row(*cells)
        self._console.print(grid)

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
        self._console.print(text, no_wrap=True, overflow="ignore", crop=False)

    def table(
        self,
        rows: list[tuple[Cell, ...]],
        *,
        head: tuple[str, ...] = (),
        align: tuple[Literal["left", "right"], ...] = (),
        indent: int = 2,
        fixed: tuple[int, ...] = (),
        kept: tuple[int, ...] = (),
    ) -> None:
        """A table without rules.

        Args:
            rows: cells, text or (text, style).
            head: headings of the columns.
            align: of each column, left where nothing is said.
            indent: columns left free.
            fixed: width of each column where the table is to be as wide as others; 0: free.
            kept: columns that are not wrapped while others can be.
        """
        from rich.padding import Padding
        from rich.table import Table
        from rich.text import Text

        columns = max((len(r) for r in rows), default=len(head))
        table = Table(
            box=None, padding=(0, 2, 0, 0), pad_edge=False, show_header=bool(head), show_edge=False
        )
        for i in range(columns):
            table.add_column(
                Text(head[i]) if i < len(head) else "",
                justify=align[i] if i < len(align) else "left",
                overflow="fold",
                width=fixed[i] if i < len(fixed) and fixed[i] else None,
                no_wrap=i in kept,
                header_style="",
            )
        for row in rows:
            table.add_row(*(Text(c) if isinstance(c, str) else Text(c[0], style=c[1]) for c in row))
        self._console.print(Padding(table, (0, 0, 0, indent)))

    def text(self) -> str:
        """Everything set so far, without spaces at the ends of lines, ending with a newline."""
        lines = (line.rstrip() for line in self._out.getvalue().split("\n"))
        return "\n".join(lines).strip("\n") + "\n"
