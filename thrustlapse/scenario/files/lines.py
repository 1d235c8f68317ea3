"""Where every key of a TOML text stands: a scanner of positions, for messages that name a line.

The standard reader keeps no positions. This one keeps nothing else: it walks a text that the
standard reader has already accepted, so it need not check anything.
"""

from __future__ import annotations

import re
import tomllib

from thrustlapse.scenario.faults import KeyPath

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STRINGS = (re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}', re.DOTALL),
            re.compile(r"'''.*?'{3,5}", re.DOTALL),
            re.compile(r'"(?:[^"\\\n]|\\.)*"'), re.compile(r"'[^'\n]*'"))
_PLAIN = re.compile(r"[^,\]}\n#]*")


def key_lines(text: str) -> dict[KeyPath, int]:
    """Line, counted from 1, of every table, key and list entry of a valid TOML text."""
    return _Scanner(text.replace("\r\n", "\n")).run()


def line_of(path: KeyPath, lines: dict[KeyPath, int]) -> int:
    """Line of a path, or of the nearest table around it; 0 where there is none."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return 0


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.place = 0
        self.lines: dict[KeyPath, int] = {}
        self.counts: dict[KeyPath, int] = {}
        self._counted, self._line = 0, 1

    def run(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        while self._skip(_BLANK) < len(self.text):
            if self.text.startswith("[", self.place):
                table = self._header()
            else:
                self._pair(table)
        return self.lines

    def _skip(self, pattern: re.Pattern[str]) -> int:
        found = pattern.match(self.text, self.place)
        assert found is not None
        self.place = found.end()
        return self.place

    def _note(self, path: KeyPath, place: int) -> None:
        self._line += self.text.count("\n", self._counted, place)
        self._counted = place
        self.lines.setdefault(path, self._line)

    def _header(self) -> KeyPath:
        start = self.place
        doubled = self.text.startswith("[[", start)
        self.place += 2 if doubled else 1
        keys = self._keys()
        self.place = self.text.index("]", self.place) + (2 if doubled else 1)
        path: KeyPath = ()
        for key in keys[:-1]:
            path = self._entered((*path, key), start)
        path = (*path, keys[-1])
        if not doubled:
            path = self._entered(path, start)
            self.lines.pop(path, None)  # a header of its own beats one that only leads through
            self._note(path, start)
            return path
        self._note(path, start)
        self.counts[path] = self.counts.get(path, -1) + 1
        path = (*path, self.counts[path])
        self._note(path, start)
        return path

    def _entered(self, path: KeyPath, start: int) -> KeyPath:
        """The path, or its latest entry where it is a list of tables."""
        self._note(path, start)
        return (*path, self.counts[path]) if path in self.counts else path

    def _keys(self) -> list[str]:
        keys = []
        while True:
            self._skip(_SPACE)
            start = self.place
            if self.text[start] in "\"'":
                pattern = _STRINGS[2] if self.text[start] == '"' else _STRINGS[3]
                self._skip(pattern)
                quoted = self.text[start:self.place]
                keys.append(next(iter(tomllib.loads(f"{quoted} = 0"))))
            else:
                self._skip(_BARE)
                keys.append(self.text[start:self.place])
            if not self.text.startswith(".", self._skip(_SPACE)):
                return keys
            self.place += 1

    def _pair(self, table: KeyPath) -> None:
        start = self.place
        path = table
        for key in self._keys():
            path = (*path, key)
            self._note(path, start)
        self.place += 1  # the equals sign
        self._skip(_SPACE)
        self._value(path)

    def _value(self, path: KeyPath) -> None:
        opening = self.text[self.place]
        if opening in "\"'":
            triple = self.text.startswith(opening * 3, self.place)
            self._skip(_STRINGS[(0 if opening == '"' else 1) + (0 if triple else 2)])
        elif opening == "[":
            self.place += 1
            index = 0
            while self.text[self._skip(_BLANK)] != "]":
                self._note((*path, index), self.place)
                self._value((*path, index))
                index += 1
                if self.text[self._skip(_BLANK)] == ",":
                    self.place += 1
            self.place += 1
        elif opening == "{":
            self.place += 1
            while self.text[self._skip(_BLANK)] != "}":
                self._pair(path)
                if self.text[self._skip(_BLANK)] == ",":
                    self.place += 1
            self.place += 1
        else:
            self._skip(_PLAIN)
