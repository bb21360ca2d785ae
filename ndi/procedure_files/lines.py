"""On which line of a TOML text a key stands.  A light scan of a text that the TOML reader has accepted.

Only used after something was found wrong, to say where.  It does not judge values.
"""

from __future__ import annotations

KeyPath = tuple[str | int, ...]

_BLANK = " \t\r\n,"
_ENDS_BARE_VALUE = ",]}#\n"
_ENDS_BARE_KEY = " \t.=]\r\n"


def line_of(lines: dict[KeyPath, int], path: KeyPath) -> int | None:
    """The line of ``path``, else of the nearest thing around it, else None."""
    while path:
        if path in lines:
            return lines[path]
        path = path[:-1]
    return None


def key_lines(text: str) -> dict[KeyPath, int]:
    """Every key path of the text (positions in lists count from 0) and its line (from 1)."""
    return _Scan(text).run()


class _Scan:
    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._counted_to = 0
        self._line = 1
        self._lines: dict[KeyPath, int] = {}
        self._lists: dict[KeyPath, int] = {}  # [[tables]] met so far

    def run(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        while self._skip_blank():
            if self._text[self._at] == "[":
                table = self._header()
            else:
                self._pair(table)
        return self._lines

    def _line_here(self) -> int:
        self._line += self._text.count("\n", self._counted_to, self._at)
        self._counted_to = self._at
        return self._line

    def _skip_blank(self) -> bool:
        """Move to the next thing that is neither blank nor comment; False at the end of the text."""
        while self._at < len(self._text):
            if self._text[self._at] == "#":
                self._skip_to("\n")
            elif self._text[self._at] in _BLANK:
                self._at += 1
            else:
                return True
        return False

    def _skip_to(self, ends: str) -> None:
        while self._at < len(self._text) and self._text[self._at] not in ends:
            self._at += 1

    def _header(self) -> KeyPath:
        line = self._line_here()
        is_list = self._text.startswith("[[", self._at)
        self._at += 2 if is_list else 1
        keys = self._dotted("]")
        self._at += 2 if is_list else 1
        path: KeyPath = ()
        for key in keys[:-1]:
            path = (*path, key)
            self._lines.setdefault(path, line)
            if path in self._lists:
                path = (*path, self._lists[path])
        path = (*path, keys[-1])
        if is_list:
            self._lists[path] = self._lists.get(path, -1) + 1
            self._lines.setdefault(path, line)
            path = (*path, self._lists[path])
        self._lines.setdefault(path, line)
        return path

    def _pair(self, table: KeyPath) -> None:
        line = self._line_here()
        path = (*table, *self._dotted("="))
        for length in range(len(table) + 1, len(path) + 1):
            self._lines.setdefault(path[:length], line)
        self._at += 1  # the equals sign
        self._value(path)

    def _dotted(self, end: str) -> list[str]:
        keys: list[str] = []
        while self._skip_blank() and self._text[self._at] != end:
            char = self._text[self._at]
            if char == ".":
                self._at += 1
            elif char in "\"'":
                start = self._at
                self._string()
                keys.append(self._text[start + 1 : self._at - 1])
            else:
                start = self._at
                self._at += 1
                self._skip_to(_ENDS_BARE_KEY)
                keys.append(self._text[start : self._at])
        return keys

    def _value(self, path: KeyPath) -> None:
        self._skip_blank()
        char = self._text[self._at]
        if char == "{":
            self._inside("}", path)
        elif char == "[":
            self._inside("]", path)
        elif char in "\"'":
            self._string()
        else:
            self._skip_to(_ENDS_BARE_VALUE)

    def _inside(self, end: str, path: KeyPath) -> None:
        """A list or an inline table: remember the line of every item."""
        self._at += 1
        number = 0
        while self._skip_blank() and self._text[self._at] != end:
            if end == "}":
                self._pair(path)
            else:
                self._lines.setdefault((*path, number), self._line_here())
                self._value((*path, number))
                number += 1
        self._at += 1

    def _string(self) -> None:
        quote = self._text[self._at]
        ends = quote * 3 if self._text.startswith(quote * 3, self._at) else quote
        self._at += len(ends)
        while not self._text.startswith(ends, self._at):
            self._at += 2 if quote == '"' and self._text[self._at] == "\\" else 1
        self._at += len(ends)
        while len(ends) == 3 and self._text.startswith(quote, self._at):  # """ends with a quote""""
            self._at += 1
