"""What ``chassis_describe manual`` shows: the list of chapters, one chapter, one finding, one key of the language."""
from __future__ import annotations

from chassis_describe.errors import UsageError
from chassis_describe.findings import CODES
from chassis_describe.layout.language.schema import key_tables, keys
from chassis_describe.layout.language.table_layout import LIMIT
from chassis_describe.manual.chapters import CHAPTERS, chapter, passages
from chassis_describe.words import nearest


def contents() -> str:
    """The chapters, each with its sentence."""
    width = max(map(len, CHAPTERS))
    rows = [f"  {one.name.ljust(width)}  {one.about}" for one in map(chapter, CHAPTERS)]
    return "\n".join(["chapters", *rows, "", "chassis_describe manual CHAPTER   shows one of them",
                      "chassis_describe manual CODE      explains a finding, such as bolt-off-hole",
                      "chassis_describe manual KEY       says what a key of the layout means, such as lift", ""])


def page(topic: str) -> str:
    """All that the manual has under one name, as Markdown. Raises UsageError when there is nothing."""
    shown = [part for part in (_key(topic), _code(topic), chapter(topic).text if topic in CHAPTERS else "") if part]
    if not shown:
        close = nearest(topic, [*CHAPTERS, *CODES, *keys()])
        raise UsageError(f"the manual has no chapter, finding or key `{topic}`; "
                         + (f"did you mean `{close}`?" if close else "`chassis_describe manual` lists the chapters"))
    return "\n".join(shown)


def _key(name: str) -> str:
    tables = key_tables(name)
    return f"# The key `{name}`\n\n{tables}" if tables else ""


def _code(name: str) -> str:
    """One finding: what it says, how to set its limit, how to accept it, and what the chapters say of it."""
    code = CODES.get(name)
    if code is None:
        return ""
    blocks = [f"# The finding `{name}`", f"{code.severity.value.capitalize()}, unless the finding says otherwise: {code.says}."]
    if code.limit:
        limit = f"{LIMIT.defaults[code.limit]:g}"
        blocks.append(f"The limit is {limit}, unless the layout says otherwise:\n`checks: {{limits: {{{code.limit}: {limit}}}}}`.")
    for where, heading, block in passages(name):
        blocks.append(f"From the chapter `{where.name}`, {heading}:\n\n{block}")
    return "\n\n".join(blocks) + "\n"
