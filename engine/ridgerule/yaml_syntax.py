"""What a YAML parser complains of, in plain words.

The two parsers of the library word the same mistake differently, and both say it in terms of the
grammar. The table here goes by the mistake; what was found is read from the text itself.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from msgspec import Struct

from ridgerule.plain_data import character

if TYPE_CHECKING:
    import yaml

    from ridgerule.plain_data import Sheet


class _Mistake(Struct, frozen=True):
    """One way to get YAML wrong: how both parsers put it, and how we do."""

    pattern: re.Pattern[str]
    """Searched for in the parser's context and problem, joined with ` | `."""
    expected: str
    advice: str
    found: str = ""
    """What was found; empty for the character at the place."""
    is_at_context: bool = False
    """Whether the place is where the broken thing begins, rather than where the parser gave up."""


def _mistake(
    pattern: str, expected: str, advice: str, *, found: str = "", is_at_context: bool = False
) -> _Mistake:
    return _Mistake(re.compile(pattern), expected, advice, found, is_at_context)


_QUOTE_IT = "put quotes around the text"
_ONE_A_LINE = "`key: value` with a space after the colon"

# The first that fits is told, so the narrow ones stand before the wide ones.
_MISTAKES = (
    _mistake(
        "quoted scalar .*unexpected end of stream",
        "a closing quote",
        "close the quote that opens here",
        found="none up to the end of the file",
        is_at_context=True,
    ),
    _mistake(
        "quoted scalar .*(unknown escape|hexa?decimal|invalid Unicode)",
        "an escape YAML knows",
        "use single quotes, or write a backslash as `\\\\`",
    ),
    _mistake(
        "quoted scalar .*unexpected document",
        "a closing quote",
        "close the quote that opens here",
        found="none up to the end of the document",
        is_at_context=True,
    ),
    _mistake(
        "scanning an (alias|anchor)",
        "a value",
        f"if it is text, {_QUOTE_IT}",
        is_at_context=True,
    ),
    _mistake(
        "(a|parsing a|scanning a) tag|undefined tag handle",
        "a value without a tag",
        f"if it is text, {_QUOTE_IT}",
        is_at_context=True,
    ),
    _mistake(
        "block scalar",
        "a value",
        f"if it is part of the value, {_QUOTE_IT}; a text on the lines below needs it alone",
        is_at_context=True,
    ),
    _mistake("cannot start any token", "a value", f"{_QUOTE_IT}: none may begin with this"),
    _mistake(
        "document start",
        "keys in line with those above, and no `...` line",
        "check the indentation",
    ),
    _mistake("could not find expected ':'", _ONE_A_LINE, "look for a colon left out on this line",
             found="a line without one", is_at_context=True),
    _mistake("sequence entries", "a list item on a line of its own",
             f"put the `-` on the next line; or, if it is text, {_QUOTE_IT}"),
    _mistake("mapping keys are not allowed", "a value", f"if it is text, {_QUOTE_IT}"),
    _mistake("flow mapping .*expected ',' or '}'", "`,` or the closing `}`",
             "look for a bracket or comma left out; text with `: ` or brackets needs quotes"),
    _mistake("flow sequence .*expected ',' or ']'", "`,` or the closing `]`",
             "look for a bracket or comma left out; text with brackets needs quotes"),
    _mistake("expected (the )?node content", "a value", f"if it is text, {_QUOTE_IT}"),
    _mistake("block mapping .*expected (key|<block end>)", "a key in line with those above",
             "check the indentation; if it is text after a quote or bracket, quote the whole"),
    _mistake("block collection .*expected ('-'|<block end>)", "an item in line with those above",
             "begin it with `- `, and check the indentation"),
)  # fmt: skip


def refuse_syntax(sheet: Sheet, error: yaml.MarkedYAMLError) -> None:
    """Note on the sheet what is wrong where the parser gave up."""
    complaint = f"{error.context} | {error.problem}"
    if "maximum nesting depth" in complaint:
        sheet.stop_too_deep(sheet.place(_index(error.problem_mark)))
    if "found unexpected ':'" in complaint:
        refuse_tight_colon(sheet, _index(error.problem_mark))
        return
    if "mapping values are not allowed" in complaint:
        _refuse_colon(sheet, _index(error.problem_mark))
        return
    for mistake in _MISTAKES:
        if mistake.pattern.search(complaint):
            break
    else:
        mistake = _Mistake(re.compile(""), "YAML", str(error.problem))
    index = _index(error.problem_mark)
    if "flow" in complaint and _refuse_open_bracket(sheet, error):
        return
    if mistake.is_at_context:
        index = _index(error.context_mark or error.problem_mark)
    # One parser points at the backslash of an escape, the other after it.
    if "escape" in mistake.expected:
        index = sheet.text.rfind("\\", 0, index + 1)
    found = mistake.found or character(_character_at(sheet, index))
    sheet.refuse(sheet.place(index), expected=mistake.expected, found=found, advice=mistake.advice)


def _refuse_open_bracket(sheet: Sheet, error: yaml.MarkedYAMLError) -> bool:
    """Note on the sheet a bracket that a later line shows not to be closed; tell whether it is so.

    A parser gives up at the first thing that can't stand inside, often the next line's colon.
    """
    opens, ends = _index(error.context_mark), _index(error.problem_mark)
    bracket, found = _character_at(sheet, opens), _character_at(sheet, ends)
    if bracket not in _CLOSED_BY or "\n" not in sheet.text[opens:ends] or not found:
        return False
    sheet.refuse(
        sheet.place(opens),
        expected=f"`{_CLOSED_BY[bracket]}` to close this `{bracket}`",
        found=f"{character(found)} on line {sheet.place(ends)[0]}",
        advice="look for a bracket or comma left out",
    )
    return True


_CLOSED_BY = {"[": "]", "{": "}"}


def refuse_tight_colon(sheet: Sheet, index: int) -> None:
    """Note on the sheet a colon inside brackets with no space after it."""
    sheet.refuse(
        sheet.place(index),
        expected="a space after the colon",
        found=character(_character_at(sheet, index + 1)),
        advice=f"write `key: value`; or, if it is text, {_QUOTE_IT}",
    )


def _refuse_colon(sheet: Sheet, index: int) -> None:
    """Tell the two ways to a colon where none may be: two on a line, or a line indented wrongly."""
    line = sheet.text[sheet.text.rfind("\n", 0, index) + 1 : index]
    if ": " in line or "- " in line:
        sheet.refuse(
            sheet.place(index),
            expected="one `key: value` on a line",
            found="a second `:`",
            advice=f"{_QUOTE_IT} that has `: ` in it",
        )
        return
    sheet.refuse(
        sheet.place(index - len(line.lstrip())),
        expected="a key in line with those above",
        found="one that goes on with the text of the line above",
        advice="check the indentation, and that the line above has its colon",
    )


def _index(mark: yaml.Mark | None) -> int:
    return mark.index if mark is not None else 0


def _character_at(sheet: Sheet, index: int) -> str:
    """Return the character at `index`, or nothing if only white space follows."""
    return sheet.text[index] if index < len(sheet.text.rstrip()) else ""
