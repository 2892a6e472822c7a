"""Additions to a record, made in its text: all that stands there stays as it was written.

Comments, order and layout are the author's. Where each part of the text stands is known from
PyYAML's nodes; what is put in is written as `record_text` writes it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import yaml
from msgspec import Struct
from yaml.nodes import CollectionNode, MappingNode, Node, ScalarNode, SequenceNode

from ridgerule.plain_data import mapping_in
from ridgerule.tables.keys import PLACE_SECTIONS
from ridgerule.tables.record_text import (
    WIDTH,
    entry_lines,
    flow_text,
    items_lines,
    key_text,
    place_in_order,
    scalar_text,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ridgerule.documents import Data, Path

STATIONS = "stations"


def patched(text: str, before: Mapping[str, Data], after: Mapping[str, Data]) -> str:
    """Return the YAML text of a record, `before`, changed so that it holds `after`."""
    root = yaml.compose(text, Loader=yaml.SafeLoader)
    patch = _Patch(text)
    patch.mapping(cast("MappingNode", root), before, after, ())
    return patch.result()


class _Edit(Struct, frozen=True):
    start: int
    end: int
    text: str
    depth: int
    """Of two at one place, what belongs deeper comes first."""


class _Patch:
    """Gathers edits of one text."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._edits: list[_Edit] = []

    def result(self) -> str:
        """Return the text with all edits made."""
        parts, reached = [], 0
        for edit in sorted(self._edits, key=lambda e: (e.start, -e.depth)):
            parts += [self._text[reached : edit.start], edit.text]
            reached = edit.end
        return "".join([*parts, self._text[reached:]])

    def mapping(
        self, node: MappingNode, before: Mapping[str, Data], after: Mapping[str, Data], path: Path
    ) -> None:
        """Change what a mapping in block style holds, or one in braces that stays on its line."""
        nodes = {key.value: (key, value) for key, value in node.value}
        for key, (key_node, value_node) in nodes.items():
            if key not in after:
                self._take_out(key_node, value_node)
            elif before[key] != after[key]:
                changes = (before[key], after[key])
                self._value(key_node, value_node, changes, (*path, key), in_flow=node.flow_style)
        added = [key for key in after if key not in before]
        if not added:
            return
        if node.flow_style:
            self._add_in_braces(node, {key: after[key] for key in added}, len(path))
        elif path:
            kept = [key for key in nodes if key in after]
            self._add(node, nodes[self._anchor(kept)], {k: after[k] for k in added}, path)
        else:
            self._add_sections(node, nodes, {key: after[key] for key in added})

    def _value(
        self,
        key_node: ScalarNode,
        node: Node,
        changes: tuple[Data, Data],
        path: Path,
        *,
        in_flow: bool,
    ) -> None:
        """Change the value of a key: inside it where that can be, else as a whole."""
        before, after = changes
        if isinstance(node, MappingNode) and self._fits(node, before, after):
            self.mapping(node, mapping_in(before), mapping_in(after), path)
        elif isinstance(node, SequenceNode) and self._grows(node, before, after):
            self._items(node, cast("list[Data]", before), cast("list[Data]", after), path)
        elif in_flow:
            self._replace(node, flow_text(after), len(path))
        else:
            self._replace_in_block(key_node, node, after, path)

    def _fits(self, node: MappingNode, before: Data, after: Data) -> bool:
        """Tell whether a mapping can be changed from the inside."""
        if not isinstance(before, dict) or not isinstance(after, dict) or not node.value:
            return False
        if not any(key in after for key in before):
            return False
        if not node.flow_style:
            return True
        if any(key not in after for key in before) or "\n" in str(list(after.values())):
            return False
        start = self._text.rfind("\n", 0, node.start_mark.index) + 1
        end = self._line_end(node.end_mark.index)
        grown = len(flow_text(after)) - len(flow_text(before))
        is_wide = end - start + grown > WIDTH and end - start <= WIDTH
        return not is_wide

    @staticmethod
    def _grows(node: SequenceNode, before: Data, after: Data) -> bool:
        """Tell whether a list can be changed item by item, and by more at its end."""
        return (
            isinstance(before, list)
            and isinstance(after, list)
            and 0 < len(before) <= len(after)
            and not node.flow_style
        )

    def _items(self, node: SequenceNode, before: list[Data], after: list[Data], path: Path) -> None:
        for i, (inner, old, new) in enumerate(zip(node.value, before, after, strict=False)):
            if old == new:
                continue
            if isinstance(inner, MappingNode) and self._fits(inner, old, new):
                self.mapping(inner, mapping_in(old), mapping_in(new), (*path, i))
            else:
                self._replace_item(inner, new, (*path, i))
        if len(after) > len(before):
            column = node.start_mark.column
            lines = items_lines(after[len(before) :], column, path, first=len(before))
            self._insert_after(self._end(node), lines, len(path))

    def _replace_item(self, node: Node, after: Data, path: Path) -> None:
        """Write an item of a list in block style anew; a comment beside it goes above it."""
        dash = self._text.rfind("-", 0, node.start_mark.index + 1)
        column = dash - self._text.rfind("\n", 0, dash) - 1
        lines = items_lines([after], column, path[:-1], first=int(path[-1]))
        end = self._end(node)
        comment = self._text[end : self._line_end(end)].strip()
        if comment:
            lines, end = [f"{' ' * column}{comment}", *lines], self._line_end(end)
        self._edits.append(_Edit(dash, end, "\n".join(lines)[column:], len(path) + 100))

    def _add(
        self,
        node: MappingNode,
        anchor: tuple[ScalarNode, Node],
        added: Mapping[str, Data],
        path: Path,
    ) -> None:
        """Add keys to a mapping in block style, after one that it has."""
        column = node.value[0][0].start_mark.column
        lines = [line for k, v in added.items() for line in entry_lines(k, v, column, (*path, k))]
        self._insert_after(self._end_of_entry(*anchor), lines, len(path))

    @staticmethod
    def _anchor(keys: Sequence[str]) -> str:
        """Return the key after which others are added: before the stations, where it has any."""
        others = [key for key in keys if key != STATIONS]
        return others[-1] if others else keys[-1]

    def _add_sections(
        self,
        node: MappingNode,
        nodes: Mapping[str, tuple[ScalarNode, Node]],
        added: Mapping[str, Data],
    ) -> None:
        """Add sections to a record, each where a person would look for it."""
        for section in sorted(added, key=place_in_order):
            before = [key for key in nodes if place_in_order(key) <= place_in_order(section)]
            anchor = max(before or nodes, key=lambda key: nodes[key][0].start_mark.index)
            lines = entry_lines(section, added[section], node.start_mark.column, (section,))
            blank = [""] if section in PLACE_SECTIONS else []
            self._insert_after(self._end_of_entry(*nodes[anchor]), [*blank, *lines], 0)

    def _add_in_braces(self, node: MappingNode, added: Mapping[str, Data], depth: int) -> None:
        closing = node.end_mark.index - 1
        written = self._text[:closing].rstrip()
        inner = ", ".join(
            f"{key_text(key, in_flow=True)}: {flow_text(value)}" for key, value in added.items()
        )
        lead = " " if written.endswith(",") else ", " if node.value else ""
        self._edits.append(_Edit(len(written), len(written), f"{lead}{inner}", depth))

    def _replace(self, node: Node, text: str, depth: int) -> None:
        start, end = node.start_mark.index, node.end_mark.index
        lead = " " if start == end else ""
        self._edits.append(_Edit(start, end, f"{lead}{text}", depth + 100))

    def _replace_in_block(self, key_node: ScalarNode, node: Node, after: Data, path: Path) -> None:
        """Write a key's value anew, from its colon on."""
        column = key_node.start_mark.column
        head = f"{' ' * column}{key_text(key_node.value)}:"
        lines = entry_lines(key_node.value, after, column, path)
        lines[0] = lines[0][len(head) :]
        colon = self._text.index(":", key_node.end_mark.index) + 1
        end = max(colon, self._end(node))
        is_alone = len(lines) == 1 and isinstance(after, str)
        if is_alone and self._text[end : self._line_end(end)].strip():
            lines[0] = f" {scalar_text(after, in_flow=False, quoted=True)}"  # a comment comes after
        if len(lines) > 1 and (rest := self._text[end : self._line_end(end)]).strip():
            lines[0], end = f"{lines[0]}{rest}", self._line_end(end)
        self._edits.append(_Edit(colon, end, "\n".join(lines), len(path) + 100))

    def _take_out(self, key_node: ScalarNode, node: Node) -> None:
        """Take a key out of a mapping in block style, with the lines it has."""
        start = self._text.rfind("\n", 0, key_node.start_mark.index)
        end = self._line_end(self._end_of_entry(key_node, node))
        self._edits.append(_Edit(start, end, "", 0))

    def _insert_after(self, end: int, lines: Sequence[str], depth: int) -> None:
        at = self._line_end(end)
        self._edits.append(_Edit(at, at, "\n" + "\n".join(lines), depth))

    def _end_of_entry(self, key_node: ScalarNode, node: Node) -> int:
        return max(self._end(node), key_node.end_mark.index)

    def _end(self, node: Node) -> int:
        """Return where what a node says ends, without the blank lines and comments after it."""
        if isinstance(node, ScalarNode):
            end = node.end_mark.index
            return len(self._text[:end].rstrip()) if node.style in ("|", ">") else end
        held = cast("CollectionNode", node)
        if held.flow_style or not held.value:
            return int(held.end_mark.index)
        last = held.value[-1]
        return self._end_of_entry(*last) if isinstance(last, tuple) else self._end(last)

    def _line_end(self, index: int) -> int:
        end = self._text.find("\n", index)
        return end if end >= 0 else len(self._text)
