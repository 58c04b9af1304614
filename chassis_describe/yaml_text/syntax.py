"""What a YAML parser complains about, in words that say what to do."""
from __future__ import annotations

import re
from typing import Any

from chassis_describe.findings import Finding, finding
from chassis_describe.source import Mark
from chassis_describe.units import shown

_TAB = re.compile(r"^[ ]*\t")

#: What the parser says (either of the two parsers that PyYAML has) → message, hint.
_WORDS: tuple[tuple[str, str, str], ...] = (
    (r"maximum nesting depth", "nested deeper than 64 levels", "a layout needs about ten; is a bracket not closed?"),
    (r"mapping values are not allowed", "a colon stands where no key can be",
     "quote the text that has a colon in it; or is a space missing after a colon, or is this line indented "
     "further than the one before?"),
    (r"could not find expected ':'", "a line that is neither `key: value` nor a list entry",
     "write a space after the colon, and check the indentation of this line and the one before"),
    (r"did not find expected ',' or '\}'|expected ',' or '\}'",
     "a mapping in braces is not closed, or two of its entries have no comma between them",
     "check the commas and braces from here on backwards"),
    (r"did not find expected ',' or '\]'|expected ',' or '\]'",
     "a list in brackets is not closed, or two of its entries have no comma between them",
     "check the commas and brackets from here on backwards"),
    (r"did not find expected '-' indicator|expected <block end>, but found '-'|block sequence entries are not allowed",
     "a list entry where none can be", "indent the `-` of all entries of a list alike"),
    (r"did not find expected key|expected <block end>", "the indentation or a closing bracket does not fit",
     "indent keys of one level by the same number of spaces"),
    (r"unexpected end of stream", "the text ends inside a quote or bracket", "close what was opened"),
    (r"cannot start any token", "a character that can't begin a value", "quote the text"),
    (r"unknown escape character|hexdecimal number|hexadecimal number|Unicode character|escape sequence",
     "a backslash in double quotes that is no known escape",
     "use single quotes, which take a backslash as it is"),
    (r"unexpected document|document separator", "`---` or `...` inside a quoted text", "close the quote"),
    (r"document start|<document start>", "something stands before or after the document",
     "a layout is one mapping: check the indentation of this line"),
    (r"alias|anchor", "`*` and `&` begin aliases and anchors", "quote the text when none is meant"),
    (r"block scalar|indentation indicator|chomping", "`|` or `>` begins a block of text",
     "quote the text when none is meant"),
    (r"tag", "`!` begins a tag, which a layout has not", "quote the text when none is meant"),
    (r"directive|%", "`%` begins a directive", "quote the text when none is meant"),
    (r"block mapping|flow mapping|node content|flow sequence|block sequence|simple key|token",
     "the text is not YAML here", "check brackets, quotes and indentation of this line and the one before"),
)


def syntax_finding(error: Any, text: str, file: str, first_line: int) -> Finding:
    """The finding for a parser's error: the place, what is wrong there, what to do about it."""
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    lines = re.split(r"\r\n|[\n\r\x85\u2028\u2029]", text)
    line, column = (mark.line, mark.column) if mark is not None else (0, 0)
    line = min(line, max(len(lines) - 1, 0))
    problem = f"{getattr(error, 'context', None) or ''} {getattr(error, 'problem', None) or error}"
    excerpt = shown(lines[line], 70) if lines else ""
    for number in (line, line - 1):
        if 0 <= number < len(lines) and _TAB.match(lines[number]):
            more = sum(1 for other in lines[number + 1:] if _TAB.match(other))
            also = f"; so {'are' if more > 1 else 'is'} {more} more line{'s' if more > 1 else ''}" if more else ""
            return finding("yaml-syntax", f"this line is indented with a tab{also}",
                           hint="indent with spaces: YAML takes no tabs",
                           where=[Mark(file, number + first_line, lines[number].index("\t") + 1)])
    message, hint = next(((m, h) for pattern, m, h in _WORDS if re.search(pattern, problem)),
                         ("the text is not YAML here", "check brackets, quotes and indentation"))
    here = Mark(file, line + first_line, column + 1)
    opened = getattr(error, "context_mark", None)
    if "ends inside" in message and opened is not None and opened.line < line:
        return finding("yaml-syntax", f"a quote is opened in this line and never closed: `{shown(lines[opened.line], 70)}`",
                       hint="close it, or leave it out", where=[Mark(file, opened.line + first_line, opened.column + 1)])
    if lines and "indentation" in message and lines[line].lstrip().startswith("- "):
        hint = "a dash begins an entry of a list: leave it out where names stand, or indent it like the other entries"
    if "is not closed" in message:
        if opened is not None and opened.line < line:
            # The end is where the parser gave up; the bracket that was left open is where to look.
            excerpt = shown(lines[opened.line], 70)
            if " #" in lines[opened.line]:
                hint = "close it before the next entry; everything after ` #` is a comment, so quote a text with `#` in it"
            return finding("yaml-syntax", f"{message}, from here on: `{excerpt}`", hint=hint,
                           where=[Mark(file, opened.line + first_line, opened.column + 1), here])
        if lines and lines[line][column: column + 1] == ":":
            hint = "quote the text that has a colon in it, or put a comma between two entries"
    shown_line = f" in `{excerpt}`" if excerpt else ""
    return finding("yaml-syntax", f"{message}{shown_line}", hint=hint, where=[here])
