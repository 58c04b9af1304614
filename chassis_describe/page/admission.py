"""Who may talk to the page's server: this machine's own names, pages that came from it, and whoever has its address."""
from __future__ import annotations

import hmac
import re
import secrets
from collections.abc import Sequence

#: Names of this machine for itself, with any port, so that a port forwarded by SSH works (RFC 6761 for `localhost`).
_LOOPBACK = r"(?:localhost|127\.0\.0\.1|\[::1\])(?::\d{1,5})?"
_HOST = re.compile(_LOOPBACK, re.IGNORECASE | re.ASCII)
_ORIGIN = re.compile(rf"http://{_LOOPBACK}", re.IGNORECASE | re.ASCII)


def new_secret() -> str:
    """192 random bits, to stand in an address."""
    return secrets.token_urlsafe(24)


def host_allowed(values: Sequence[str]) -> bool:
    """Whether a request's Host names this machine: else a foreign name was made to point here (DNS rebinding)."""
    return len(values) == 1 and _HOST.fullmatch(values[0].strip()) is not None


def origin_allowed(values: Sequence[str]) -> bool:
    """Whether a request comes from a page of this machine, or from none."""
    return not values or (len(values) == 1 and _ORIGIN.fullmatch(values[0].strip()) is not None)


def site_allowed(values: Sequence[str]) -> bool:
    """What a browser says of who asks (Fetch Metadata): the page itself, or the user."""
    return not values or (len(values) == 1 and values[0].strip() in ("same-origin", "none"))


def same_secret(given: str, secret: str) -> bool:
    """Compared in a time that tells nothing."""
    return hmac.compare_digest(given.encode("utf-8", "replace"), secret.encode("ascii"))
