"""The page as one HTML document: its style, its modules and, of a frozen one, the robot are all in it; it loads nothing.

The modules are small ES modules in ``assets/``. One document must hold them all, so they are joined in the order below,
their `import` lines and the words `export` taken away: every name stands once over all of them.
"""
from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from chassis_describe.drawings.paper import MARK
from chassis_describe.drawings.style import FONT, INKS
from chassis_describe.version import VERSION

ASSETS = Path(__file__).resolve().parent / "assets"
#: What imports comes after what it imports.
MODULES = ("space", "state", "shapes", "sight", "engine", "model", "marks", "plan", "words", "ask", "ghost", "main")


def document(title: str, data: dict[str, Any], *, live: bool) -> tuple[bytes, str]:
    """The document, and the policy (CSP) that it may be served with. ``data``: what it shows at once, message by kind."""
    style, script = _style(), _script()
    policy = "; ".join(("default-src 'none'", f"script-src {_hash(script)}", f"style-src {_hash(style)}", "img-src data:",
                        f"connect-src {quoted('self') if live else quoted('none')}", "base-uri 'none'", "form-action 'none'"))
    # A closing tag or a comment inside a script would end it: `<` is written as JSON lets it be.
    text = json.dumps(data, separators=(",", ":"), ensure_ascii=False, allow_nan=False).replace("<", "\\u003c")
    page = (ASSETS / "page.html").read_text(encoding="utf-8")
    filled = _filled(page, {"title": html.escape(title), "policy": html.escape(policy, quote=True), "style": style,
                            "script": script, "data": text, "mark": f"{MARK} {VERSION}"})
    return filled.encode("utf-8", "replace"), f"{policy}; frame-ancestors 'none'"


def quoted(word: str) -> str:
    """A keyword of a policy."""
    return f"'{word}'"


def _filled(page: str, parts: dict[str, str]) -> str:
    return re.sub(r"\{\{(\w+)\}\}", lambda found: parts[found[1]], page)


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


@lru_cache(maxsize=1)
def _style() -> str:
    """The style sheet, with the drawings' own inks and font."""
    inks = "".join(f"--{name}:{value};" for name, value in INKS.items())
    return f":root{{{inks}--font:{FONT}}}\n{(ASSETS / 'look.css').read_text(encoding='utf-8')}"


@lru_cache(maxsize=1)
def _script() -> str:
    return joined([(ASSETS / f"{name}.js").read_text(encoding="utf-8") for name in MODULES])


def joined(modules: Sequence[str]) -> str:
    """Modules as one."""
    parts = []
    for text in modules:
        body = re.sub(r"^import [^;]*;\n", "", text, flags=re.MULTILINE)
        parts.append(re.sub(r"^export ", "", body, flags=re.MULTILINE))
    return "\n".join(parts)
