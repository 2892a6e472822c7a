"""Answers put into the text of a record, every other character of it left as its author wrote it.

A change names a path and its new value. Whatever comes of the changes is read back before it is
handed over: it says what the text said before, with the changes and nothing else.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import yaml
from msgspec import Struct
from yaml.nodes import CollectionNode, MappingNode, ScalarNode, SequenceNode

from ridgerule.documents import read_document
from ridgerule.plain_data import mapping_in
from ridgerule.problems import InputRejected, Location, Problem

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from yaml.nodes import Node

    from ridgerule.plain_data import Data, Path

_FASTEST = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_BOM = "\ufeff"
_STEP = 2
_LONGEST = 100
"""A line that would grow longer is put on several, unless it was as long before."""
_READING = frozenset({"value", "how", "with", "when", "by", "repeats", "photo", "note"})
_LAST = "stations"
"""Of a place's keys this one stays the last."""


class Change(Struct, frozen=True):
    """A value to be put at a path; what is not there yet of the path is made.

    A number in a path that is one past a list's last item appends to it.
    """

    path: Path
    value: Data


def with_changes(raw: bytes, changes: Sequence[Change], *, name: str) -> bytes:
    """Return a record's bytes with changes made.

    Raises `InputRejected` where what comes of it can't be read back as what was meant.
    """
    before = read_document(raw, name=name).data
    wanted = _copied(before)
    for change in changes:
        wanted = _put(wanted, change.path, change.value)
    text = raw.decode("utf-8")
    mark = _BOM if text.startswith(_BOM) else ""
    text = text.removeprefix(mark)
    if name.lower().endswith(".json"):
        text = _as_json(text, wanted)
    else:
        for change in changes:
            text = _changed(text, change)
    written = f"{mark}{text}".encode()
    _refuse_unless(written, wanted, name)
    return written


def _refuse_unless(written: bytes, wanted: Data, name: str) -> None:
    """Raise `InputRejected` unless what was written reads as what was wanted."""
    where = Location(name)
    expected, advice = "a record that the answer can be put into", "write this answer in by hand"
    try:
        found = read_document(written, name=name).data
    except InputRejected as rejected:
        told = str(rejected.problems[0].found)
        raise InputRejected([Problem(where, expected, told, advice)]) from rejected
    if not _same(found, wanted):
        raise InputRejected([Problem(where, expected, "one that it would alter", advice)])


def _same(one: Data, other: Data) -> bool:
    """Tell whether two values are the same, their kinds included: `1` is not `true`."""
    if type(one) is not type(other):
        return False
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return one == other


# data


def _copied(data: Data) -> Data:
    if isinstance(data, dict):
        return {key: _copied(value) for key, value in data.items()}
    return [_copied(item) for item in data] if isinstance(data, list) else data


def _put(data: Data, path: Path, value: Data) -> Data:
    """Return data with a value at a path; whatever stands in the way of it is replaced."""
    if not path:
        return value
    step, rest = path[0], path[1:]
    if isinstance(step, str):
        inside = mapping_in(data)
        return {**inside, step: _put(inside.get(step), rest, value)}
    items = [*data] if isinstance(data, list) else []
    if step > len(items):
        raise ValueError(f"no place {step} in a list of {len(items)}")
    kept = items[step] if step < len(items) else None
    items[step : step + 1] = [_put(kept, rest, value)]
    return items


def _nested(path: Path, value: Data) -> Data:
    return _put(None, path, value)


def _as_json(text: str, data: Data) -> str:
    """Return data as JSON, indented as the text was."""
    inner = next((line for line in text.splitlines()[1:] if line.strip()), "")
    indent = len(inner) - len(inner.lstrip()) or None
    return json.dumps(data, ensure_ascii=False, indent=indent) + ("\n" if text[-1:] == "\n" else "")


# text


def _changed(text: str, change: Change) -> str:
    """Return the text with one change made; what grows too long for a line is put on several."""
    editor = _Editor(text)
    for _ in change.path:
        changed = editor.changed(change)
        opened = editor.opened(change.path)
        if opened is None or _longest(changed) <= max(_LONGEST, _longest(text)):
            return changed
        text = opened
        editor = _Editor(text)
    return editor.changed(change)


def _longest(text: str) -> int:
    return max(map(len, text.splitlines()), default=0)


class _Found(Struct, frozen=True):
    """The deepest node on a path that is there, and how it was come to."""

    node: Node
    key: ScalarNode | None
    """Its key, where it stands in a mapping."""
    depth: int
    """How many steps of the path lead to it."""
    in_flow: bool
    """Whether it stands between brackets."""
    outer: _Found | None = None
    """The mapping or list on the path whose brackets are the outermost."""


class _Editor:
    """Changes one text at one place."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.end_of_line = "\r\n" if "\r\n" in text else "\n"
        root = yaml.compose(text, Loader=_FASTEST)
        if root is None:
            raise ValueError("no record in the text")
        self.root: Node = root

    def changed(self, change: Change) -> str:
        found = self._find(change.path)
        rest = change.path[found.depth :]
        if not rest:
            return self._replaced(found, change.value, change.path)
        if not isinstance(found.node, MappingNode if isinstance(rest[0], str) else SequenceNode):
            value = _nested(rest, change.value)
            return self._replaced(found, value, change.path[: found.depth])
        value = _nested(rest[1:], change.value)
        return self._inserted(found, rest[0], value, change.path[: found.depth + 1])

    def _find(self, path: Path) -> _Found:
        node, key, in_flow = self.root, None, False
        outer: _Found | None = None
        for depth, step in enumerate(path):
            if outer is None and _is_flow(node):
                outer = _Found(node, key, depth, in_flow=False)
            inner: Node | None = None
            inner_key: ScalarNode | None = None
            if isinstance(node, MappingNode):
                pairs = ((k, v) for k, v in node.value if k.value == str(step))
                inner_key, inner = next(pairs, (None, None))
            elif isinstance(node, SequenceNode) and isinstance(step, int):
                inner = node.value[step] if step < len(node.value) else None
            if inner is None:
                return _Found(node, key, depth, in_flow, outer)
            in_flow = in_flow or _is_flow(node)
            node, key = inner, inner_key
        return _Found(node, key, len(path), in_flow, outer)

    def opened(self, path: Path) -> str | None:
        """Return the text with the outermost brackets on a path opened, its entries on lines.

        None where there are none to open: a reading's stay.
        """
        outer = self._find(path).outer
        if outer is None or not outer.node.value or not _may_be_opened(path[: outer.depth]):
            return None
        node, text = outer.node, self.text
        start, end = _start(node), _end(node)
        if "#" in text[start:end] or "\n" in text[start:end]:
            return None
        indent = " " * (_column(outer.key) + _STEP if outer.key is not None else _column(node))
        if isinstance(node, MappingNode):
            pairs = ((text[_start(k) : _end(k)], text[_start(v) : _end(v)]) for k, v in node.value)
            lines = [f"{key}: {value}".rstrip() for key, value in pairs]
        else:
            lines = [f"- {text[_start(item) : _end(item)]}" for item in node.value]
        joint = f"{self.end_of_line}{indent}"
        if outer.key is None:
            return f"{text[:start]}{joint.join(lines)}{text[end:]}"
        return f"{text[:start].rstrip(' ')}{joint}{joint.join(lines)}{text[end:]}"

    # replacing

    def _replaced(self, found: _Found, value: Data, path: Path) -> str:
        """Return the text with another value where a node stands."""
        start, end = self._span(found)
        in_block = _is_block_of(value, path) and not found.in_flow
        if in_block and found.key is not None:
            indent = _column(found.key) + _STEP
            return self._with_lines(start, end, [*_inside(value, indent, path)])
        told = flow_text(value) if found.in_flow else _inline(value)
        after = self.text[end : self._line_end(self.text, end)]
        if after.lstrip().startswith("#") and isinstance(value, str):
            told = _quoted(value)  # a comment after a plain value would be taken for its end
        if start == end and self.text[start - 1 : start] not in (" ", "\n", ""):
            told = f" {told}"
        if self.text[end - 1 : end] == "\n" and end > start:
            told += self.end_of_line  # it was a text on lines of its own
        return f"{self.text[:start]}{told}{self.text[end:]}"

    def _with_lines(self, start: int, end: int, lines: Sequence[str]) -> str:
        """Return the text with lines in place of what stands after a key's colon."""
        before, after = self.text[:start].rstrip(" "), self.text[end:]
        added = "".join(f"{self.end_of_line}{line}" for line in lines)
        if self.text[start:end].endswith("\n"):  # it was a text on lines of its own
            return f"{before}{added}{self.end_of_line}{after}"
        text = before + after
        at = self._line_end(text, len(before))
        return f"{text[:at]}{added}{text[at:]}"

    def _span(self, found: _Found) -> tuple[int, int]:
        """Return where a node begins and ends; of nothing, where it would stand."""
        node = found.node
        start, end = _start(node), _end(node)
        if start < end or found.key is None:
            return (start, end) if not _is_block(node) else (start, self._last_end(node))
        at = self._colon(found.key) + 1
        return at, at

    def _colon(self, key: ScalarNode) -> int:
        return self.text.index(":", _end(key))

    # inserting

    def _inserted(self, found: _Found, step: str | int, value: Data, path: Path) -> str:
        """Return the text with one more entry in a mapping or a list."""
        node = found.node
        if _is_flow(node) or found.in_flow:
            return self._inserted_in_flow(node, step, value)
        if isinstance(node, MappingNode):
            lines = [*_entry(str(step), value, _column(node.value[0][0]), path)]
        else:
            wants_flow = bool(node.value) and _is_flow(node.value[-1])
            lines = [*_item(value, _column(node), path, is_flow=wants_flow)]
        at = self._after(node)
        added = self.end_of_line.join(lines)
        return f"{self.text[:at]}{self.end_of_line}{added}{self.text[at:]}"

    def _inserted_in_flow(self, node: Node, step: str | int, value: Data) -> str:
        told = flow_text(value)
        entry = f"{_key(str(step))}: {told}" if isinstance(node, MappingNode) else told
        if not node.value:
            at = _start(node) + 1
            return f"{self.text[:at]}{entry}{self.text[at:]}"
        at = self._last_end(node)
        return f"{self.text[:at]}, {entry}{self.text[at:]}"

    def _after(self, node: Node) -> int:
        """Return the end of the line that a new entry of a block comes after."""
        end = self._last_end(node)
        if isinstance(node, MappingNode) and len(node.value) > 1:
            *_, before, last = node.value
            end = self._entry_end(*before) if last[0].value == _LAST else end
        if self.text[end - 1 : end] == "\n":  # a text on lines of its own
            return end - 2 if self.text[end - 2 : end] == "\r\n" else end - 1
        return self._line_end(self.text, end)

    def _last_end(self, node: Node) -> int:
        """Return where the last character of a mapping's or a list's last entry stands."""
        entries = node.value
        if isinstance(node, MappingNode):
            return self._entry_end(*entries[-1])
        return self._node_end(entries[-1], _start(node))

    def _entry_end(self, key: ScalarNode, node: Node) -> int:
        return self._node_end(node, self._colon(key) + 1)

    def _node_end(self, node: Node, start: int) -> int:
        """Return where the last character of a node stands; `start` for one that is nothing."""
        if _is_block(node):
            return self._last_end(node)
        return max(_end(node), start) if _end(node) > _start(node) else start

    def _line_end(self, text: str, at: int) -> int:
        end = text.find("\n", at)
        if end < 0:
            return len(text)
        return end - 1 if text[end - 1 : end] == "\r" and end > at else end


def _is_flow(node: object) -> bool:
    return isinstance(node, CollectionNode) and bool(node.flow_style)


def _is_block(node: object) -> bool:
    return isinstance(node, CollectionNode) and not node.flow_style and bool(node.value)


def _start(node: Node) -> int:
    return int(node.start_mark.index)


def _end(node: Node) -> int:
    return int(node.end_mark.index)


def _column(node: Node) -> int:
    return int(node.start_mark.column)


def _may_be_opened(path: Path) -> bool:
    """Tell whether what stands at a path may be written on several lines: no reading is."""
    return len(path) in (1, 2) or "stations" in path[-2:]


# new text


def _is_block_of(value: Data, path: Path) -> bool:
    """Tell whether a value is written on lines of its own: sections, places, lists of stations."""
    if isinstance(value, list):
        return any(isinstance(item, dict) for item in value)
    if not isinstance(value, dict) or not value:
        return False
    return len(path) == 1 or (len(path) == 2 and not value.keys() <= _READING)


def _inside(value: Data, indent: int, path: Path) -> Iterator[str]:
    """Yield the lines of a mapping or a list that stands on lines of its own."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _entry(key, inner, indent, (*path, key))
    elif isinstance(value, list):
        for i, item in enumerate(value):
            yield from _item(item, indent, (*path, i), is_flow=False)


def _entry(key: str, value: Data, indent: int, path: Path) -> Iterator[str]:
    start = f"{' ' * indent}{_key(key)}:"
    if _is_block_of(value, path):
        yield start
        yield from _inside(value, indent + _STEP, path)
    else:
        yield f"{start} {_inline(value)}" if value is not None else start


def _item(value: Data, indent: int, path: Path, *, is_flow: bool) -> Iterator[str]:
    mark = " " * indent
    if not isinstance(value, dict) or not value or is_flow:
        yield f"{mark}- {_inline(value)}"
        return
    lines = [*_inside(value, indent + _STEP, path)]
    yield f"{mark}- {lines[0].lstrip()}"
    yield from lines[1:]


def _inline(value: Data) -> str:
    """Return a value as it stands after a colon in a block."""
    if isinstance(value, (dict, list)):
        return flow_text(value)
    return _scalar(value, lambda text: f"k: {text}", lambda data: {"k": data})


def flow_text(value: Data) -> str:
    """Return a value as it stands between brackets."""
    match value:
        case dict():
            return f"{{{', '.join(f'{_key(k)}: {flow_text(v)}' for k, v in value.items())}}}"
        case list():
            return f"[{', '.join(map(flow_text, value))}]"
        case _:
            return _scalar(value, lambda text: f"k: {{a: [{text}], b: {text}}}",
                           lambda data: {"k": {"a": [data], "b": data}})  # fmt: skip


def _scalar(value: Data, shown: Callable[[str], str], meant: Callable[[Data], Data]) -> str:
    """Return a value plain where it reads back the same so, else between quotes."""
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    text = str(value)
    is_plain = text.strip() == text and "\n" not in text
    return text if is_plain and _reads_as(shown(text), meant(value)) else _quoted(text)


def _key(key: str) -> str:
    return key if _reads_as(f"k: {{{key}: a}}", {"k": {key: "a"}}) else _quoted(key)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)  # YAML joins no pair of escapes to one character


def _reads_as(text: str, data: Data) -> bool:
    try:
        return _same(read_document(text.encode(), name="record.yaml").data, data)
    except (InputRejected, UnicodeEncodeError):
        return False
