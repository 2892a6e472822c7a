"""YAML texts -> plain data with places.

Only the part of YAML that reads the same to everyone: no anchors, aliases, tags, merge keys or
tabs, one document a file. The library's parser splits the text into events; what a plain word
means is settled here, since its YAML 1.1 rules read `on`, `12:30` and `0123` oddly.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, TypeAlias

import yaml
from msgspec import Struct
from yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from ridgerule.plain_data import ReadingStopped, whole_or_text
from ridgerule.problems import shown
from ridgerule.yaml_syntax import refuse_syntax, refuse_tight_colon

if TYPE_CHECKING:
    from ridgerule.plain_data import Data, Path, Place, Scalar, Sheet

_Loader: TypeAlias = "type[yaml.CSafeLoader | yaml.SafeLoader]"
_FASTEST: _Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_WORDS: dict[str, Scalar] = {"true": True, "false": False, "null": None, "~": None, "": None}
_TAB = re.compile(r"^(?! *#)[^\t\n]*\t", re.MULTILINE)
# Possessive, here and below: a file of nothing but line ends must leave no ways to go back to.
_DIRECTIVE = re.compile(r"(?: *+(?:#[^\n]*+)?\n)*+(%[^\n]*)")
_COMMENT = re.compile(r" +#[^\n]*")
# After nothing at all, `# in inches` is a comment; `#3 cracked` is text that would be lost.
_COMMENT_AFTER_NOTHING = re.compile(r" +#[^ \n][^\n]*")
_AFTER_NO_SPACE = tuple(",[]{}")
_OWN_TAGS = "tag:yaml.org,2002:"
"""What the library makes of `!!`, which is how an author writes it."""
_MOST_BEGUN = 100
_QUOTE_IT = "put quotes around the text"


def read_yaml(sheet: Sheet, *, loader: _Loader = _FASTEST) -> Data:
    """Return the data of the sheet's YAML text, its places noted on the sheet.

    An empty text, or one with only comments, gives None. Raises ReadingStopped where the text
    can't be read further.
    """
    _refuse_tabs_and_directives(sheet)
    builder = _Builder(sheet)
    try:
        for event in yaml.parse(sheet.text, Loader=loader):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        # A comment that swallowed the closing bracket is told already.
        if not builder.has_lost_bracket:
            refuse_syntax(sheet, error)
        raise ReadingStopped from error
    if () not in sheet.positions:
        sheet.add_node((), (1, 1))
    return builder.root


def _refuse_tabs_and_directives(sheet: Sheet) -> None:
    """Refuse tabs outside comments, and `%` lines: parsers disagree about both."""
    text = sheet.text
    line, counted = 1, 0
    for match in _TAB.finditer(text) if "\t" in text else ():
        line += text.count("\n", counted, match.start())
        counted = match.start()
        sheet.refuse(
            (line, match.end() - counted),
            expected="spaces",
            found="a tab",
            advice="replace tabs with spaces, two a level",
        )
    may_have_one = text.startswith("%") or "\n%" in text
    if may_have_one and (directive := _DIRECTIVE.match(text)):
        sheet.refuse(
            sheet.place(directive.start(1)),
            expected="a key or a list item",
            found=f"`{_begun(directive.group(1))}`",
            advice="take the line out; or, if it is text, put quotes around it",
        )
    if sheet.problems:
        raise ReadingStopped


class _Open(Struct):
    """A list or mapping whose end is still to come."""

    inside: list[Data] | dict[str, Data]
    path: Path
    is_flow: bool
    awaits_key: bool
    key: str | None = None
    """The key whose value comes next; None where that value is to be dropped."""
    key_place: Place = (1, 1)
    key_text: str = ""
    key_ends: yaml.Mark | None = None


class _Builder(Struct):
    """Builds data from events, with a stack of its own so that depth costs no recursion."""

    sheet: Sheet
    root: Data = None
    opened: list[_Open] = []
    documents: int = 0
    has_comment_in_flow: bool = False

    @property
    def has_lost_bracket(self) -> bool:
        """Whether a comment stands inside brackets that have not been closed since."""
        return self.has_comment_in_flow and any(o.is_flow for o in self.opened)

    def take(self, event: yaml.Event) -> None:
        """Take the next event of the text."""
        if type(event) is ScalarEvent:  # most events are; asked first, it costs least
            if event.anchor is not None or event.tag is not None:
                self._refuse_extras(event)
            self._take_scalar(event)
            return
        match event:
            case MappingStartEvent() | SequenceStartEvent():
                self._refuse_extras(event)
                self._open(event)
            case MappingEndEvent() | SequenceEndEvent():
                self.opened.pop()
            case AliasEvent():
                self._take_alias(event)
            case DocumentStartEvent():
                self.documents += 1
                if self.documents > 1:
                    self.sheet.stop(
                        _place(event),
                        expected="one document in a file",
                        found="a second one",
                        advice="take out the `---` line, or make two files",
                    )
            case _:
                pass  # the ends of the stream and of the document say nothing

    def _take_scalar(self, event: ScalarEvent) -> None:
        opened = self.opened[-1] if self.opened else None
        # A comment begins with a space: asked here, since most values end with their line.
        if not event.style and self.sheet.text.startswith(" ", _end(event)):
            self._refuse_comment(event, is_flow=opened is not None and opened.is_flow)
        if opened is not None and opened.awaits_key:
            self._take_key(event, opened)
            return
        place = _place(event)
        self.sheet.check_text(event.value, place)
        if event.style:
            self._refuse_block(event)
            self._add(event.value, place)
        elif not event.value and opened is None:
            self._add(None, (1, 1))
        elif not event.value and opened is not None and isinstance(opened.inside, dict):
            self._add_blank(event, opened)
        elif event.value in _WORDS:
            self._add(_WORDS[event.value], place)
        else:
            self._add(whole_or_text(event.value), place)

    def _take_key(self, event: ScalarEvent, opened: _Open) -> None:
        place, key = _place(event), event.value
        opened.awaits_key = False
        opened.key, opened.key_text, opened.key_place = None, key, place
        opened.key_ends = _ends(event)
        if not event.style and key in _WORDS:
            self._refuse_key(place, f"`{key}`" if key else "nothing before the colon")
        elif not event.style and key == "<<":
            self.sheet.refuse(
                place,
                expected="every key written out",
                found="the merge key `<<`",
                advice="copy the keys it stands for to here",
            )
        else:
            self.sheet.check_text(key, place)
            self._refuse_block(event)
            if self.sheet.add_key((*opened.path, key), place):
                opened.key = key

    def _take_alias(self, event: AliasEvent) -> None:
        self.sheet.refuse(
            _place(event),
            expected="every value written out",
            found=f"the alias `*{_begun(str(event.anchor))}`",
            advice="copy the value to here; or, if it is text, put quotes around it",
        )
        opened = self.opened[-1] if self.opened else None
        if opened is not None and opened.awaits_key:
            opened.awaits_key, opened.key = False, None
        else:
            self._add(None, _place(event))

    def _open(self, event: MappingStartEvent | SequenceStartEvent) -> None:
        is_mapping = isinstance(event, MappingStartEvent)
        parent = self.opened[-1] if self.opened else None
        inside: dict[str, Data] | list[Data] = {} if is_mapping else []
        if parent is not None and parent.awaits_key:
            self._refuse_key(_place(event), "a mapping" if is_mapping else "a list")
            parent.awaits_key, parent.key = False, None
            path: Path = (*parent.path, "?")
        else:
            path = self._add(inside, _place(event))
        is_flow = bool(event.flow_style)
        self.opened.append(_Open(inside, path, is_flow, awaits_key=is_mapping))

    def _add(self, value: Data, place: Place) -> Path:
        """Put a value where it belongs; return its path."""
        opened = self.opened[-1] if self.opened else None
        path: Path = ()
        if opened is None:
            self.root = value
        elif isinstance(opened.inside, list):
            path = (*opened.path, len(opened.inside))
            opened.inside.append(value)
        else:
            path = (*opened.path, opened.key_text)
            opened.awaits_key = True
            if opened.key is not None:
                opened.inside[opened.key] = value
        self.sheet.add_node(path, place)
        return path

    def _add_blank(self, event: ScalarEvent, opened: _Open) -> None:
        """Add the nothing after a key, refusing it if inside {…} the key has no colon either.

        Such a key is the rest of a text with a comma in it.
        """
        text, begins = self.sheet.text, _start(event).index
        key_end = opened.key_ends.index if opened.key_ends is not None else begins
        colon = text.find(":", key_end, begins)
        if colon < 0 and opened.is_flow and opened.key is not None:
            self.sheet.refuse(
                opened.key_place,
                expected="`key: value` between the commas of {…}",
                found=f"`{_begun(opened.key)}` without a value",
                advice=f"a comma ends a value inside {{…}}: {_QUOTE_IT} or use one line per key",
            )
        # `{gap:}`: one parser takes the colon for text, the other does not.
        is_tight = opened.is_flow and colon == key_end and text[colon - 1] not in "\"'"
        if is_tight and text[colon + 1 : colon + 2] in _AFTER_NO_SPACE:
            refuse_tight_colon(self.sheet, colon)
        # The parsers place a blank differently: just after the colon, or at what comes next.
        place = opened.key_place
        if colon >= 0 and opened.key_ends is not None:
            place = _place_from(opened.key_ends, colon + 1, text)
        self._add(None, place)

    def _refuse_key(self, place: Place, found: str) -> None:
        self.sheet.refuse(
            place, expected="a key that is text", found=found, advice="put quotes around the key"
        )

    def _refuse_extras(self, event: ScalarEvent | MappingStartEvent | SequenceStartEvent) -> None:
        if event.anchor is not None:
            self.sheet.refuse(
                _place(event),
                expected="every value written out",
                found=f"the anchor `&{_begun(event.anchor)}`",
                advice="take it out; or, if it is text, put quotes around it",
            )
        if event.tag is not None:
            self.sheet.refuse(
                _place(event),
                expected="a value without a tag",
                found=f"the tag `{_begun(event.tag.replace(_OWN_TAGS, '!!', 1))}`",
                advice="take it out; or, if it is text, put quotes around it",
            )

    def _refuse_comment(self, event: ScalarEvent, *, is_flow: bool) -> None:
        """Refuse ` #` after unquoted text: what follows it would be lost without a word."""
        pattern = _COMMENT if event.value else _COMMENT_AFTER_NOTHING
        lost = pattern.match(self.sheet.text, _end(event))
        if lost is None:
            return
        self.has_comment_in_flow = self.has_comment_in_flow or is_flow
        comment = lost.group().lstrip()
        self.sheet.refuse(
            _place_from(_ends(event), lost.end() - len(comment), self.sheet.text),
            expected="nothing after an unquoted value",
            found=f"`{_begun(comment)}`, which would be lost",
            advice=f"{_QUOTE_IT}, or move the comment to a line of its own",
        )

    def _refuse_block(self, event: ScalarEvent) -> None:
        """Refuse `gap: >3` and `note: | #3`: the start of a text, without it or with more."""
        if event.style not in ("|", ">"):
            return
        quote_it = f"if the `{event.style}` is part of the value, {_QUOTE_IT}"
        begins = _start(event).index
        header = self.sheet.text[begins : self.sheet.line_end(begins)]
        if "#" in header:
            self.sheet.refuse(
                self.sheet.place(begins + header.index("#")),
                expected=f"nothing after `{event.style}`",
                found=f"`{_begun(header[header.index('#') :])}`, which would be lost",
                advice=f"{quote_it}, or move the comment to a line of its own",
            )
        elif not event.value:
            self.sheet.refuse(
                _place(event),
                expected=f"the lines of a text after `{event.style}`",
                found="none",
                advice=quote_it,
            )


def _begun(text: str) -> str:
    """Return a text fit for a message, told by how it begins: it may be as long as the file."""
    return shown(text[:_MOST_BEGUN])


# Events from a parser always have marks; the library's types allow for events made by hand. Every
# value asks, so no cast is called for it.
def _start(event: yaml.Event) -> yaml.Mark:
    return event.start_mark  # type: ignore[return-value]


def _ends(event: yaml.Event) -> yaml.Mark:
    return event.end_mark  # type: ignore[return-value]


def _end(event: yaml.Event) -> int:
    return event.end_mark.index  # type: ignore[union-attr]


def _place_from(mark: yaml.Mark, index: int, text: str) -> Place:
    """Return the place of a character at or after a mark, without counting lines from the top."""
    lines = text.count("\n", mark.index, index)
    if not lines:
        return mark.line + 1, mark.column + 1 + index - mark.index
    return mark.line + 1 + lines, index - text.rfind("\n", mark.index, index)


def _place(event: yaml.Event) -> Place:
    mark = event.start_mark
    return mark.line + 1, mark.column + 1  # type: ignore[union-attr]
