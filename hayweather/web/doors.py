"""Who may come in: links with a secret, sessions that can be withdrawn, origins, rates.

On this computer alone (127.0.0.1) nobody needs a link. Where others can reach the
pages (``--lan``, ``--behind``) nothing at all is served without a session, and a
session begins with a link that holds a secret of 160 bits. Kept on disk is the
SHA-256 of a session's token alone.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from ipaddress import ip_address
from pathlib import Path
from typing import Literal
from urllib.parse import urlsplit

from hayweather.errors import OptionError, OutputError
from hayweather.whole_file import whole_file

Role = Literal["look", "log"]
ROLES: tuple[Role, ...] = ("look", "log")
COOKIE = "hayweather"
SECRET_BYTES = 20
SESSION_S = 60 * 24 * 3600
"""A session ends so long after its link was opened (assumed: a season's cutting)."""
MOST_SESSIONS = 200
NAMES_OF_LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})


@dataclass(frozen=True)
class Session:
    """One browser that opened a link: a short name for people, its role, when (unix time)."""

    name: str
    role: Role
    made: int
    digest: str


def digest_of(token: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


class Sessions:
    """The sessions of a farm in one small file; withdrawn by whoever may write it.

    Parameters
    ----------
    path
        The file; missing: no session.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.Lock()
        self._seen: object = None
        self._known: dict[str, Session] = {}

    @classmethod
    def beside(cls, log: Path) -> Sessions:
        """Those of the farm of a log."""
        return cls(log.with_suffix(".sessions"))

    def all(self) -> list[Session]:
        """Every session that has not ended, oldest first."""
        with self._lock:
            return list(self._read().values())

    def find(self, token: str) -> Session | None:
        """The session of a token."""
        if not token or len(token) > 100:
            return None
        with self._lock:
            found = self._read().get(digest_of(token))
        return None if found is None or found.made + SESSION_S < time.time() else found

    def begin(self, role: Role) -> tuple[str, Session]:
        """A new session and its token, which is kept nowhere."""
        token = secrets.token_urlsafe(SECRET_BYTES)
        session = Session(secrets.token_hex(3), role, int(time.time()), digest_of(token))
        with self._lock:
            known = {**self._read(), session.digest: session}
            newest = sorted(known.values(), key=lambda item: item.made)[-MOST_SESSIONS:]
            self._write(newest)
        return token, session

    def withdraw(self, name: str) -> int:
        """End the session of a name, or all for "all"; how many ended."""
        with self._lock:
            known = self._read().values()
            left = [item for item in known if name not in ("all", item.name)]
            gone = len(known) - len(left)
            if gone:
                self._write(left)
        return gone

    def _read(self) -> dict[str, Session]:
        try:
            stat = self.path.stat()
            seen = (stat.st_mtime_ns, stat.st_size, stat.st_ino)
            if seen != self._seen:
                items = json.loads(self.path.read_text(encoding="utf-8"))["sessions"]
                found = [Session(**item) for item in items]
                self._known = {item.digest: item for item in found if item.role in ROLES}
                self._seen = seen
        except (OSError, ValueError, TypeError, KeyError):
            # Without a file that can be read nobody has a session.
            self._seen, self._known = None, {}
        now = time.time()
        return {key: item for key, item in self._known.items() if item.made + SESSION_S >= now}

    def _write(self, sessions: Iterable[Session]) -> None:
        text = json.dumps({"sessions": [asdict(item) for item in sessions]}, indent=1)
        try:
            with whole_file(self.path) as file:
                file.write(text.encode())
            self.path.chmod(0o600)
        except OSError as problem:
            reason = problem.strerror or type(problem).__name__
            raise OutputError("web_sessions", self.path.name, reason=reason) from None
        self._seen = None


class Pace:
    """So many at once, and so many a second after that, each for itself.

    Parameters
    ----------
    burst, rate
        At once; later, a second.
    most
        Names remembered; the longest unused goes first.
    """

    def __init__(self, burst: float, rate: float, most: int = 2000) -> None:
        self.burst, self.rate, self.most = burst, rate, most
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def allows(self, name: str) -> bool:
        """Whether one more may come now."""
        now = time.monotonic()
        left, then = self._left.pop(name, (self.burst, now))
        left = min(self.burst, left + (now - then) * self.rate)
        allowed = left >= 1
        self._left[name] = (left - 1 if allowed else left, now)
        while len(self._left) > self.most:
            self._left.popitem(last=False)
        return allowed


@dataclass(frozen=True)
class Visitor:
    """Who asks: what they may do, and the name that their pace is counted by."""

    role: Role
    name: str
    token: str = ""


class Doors:
    """What stands before every page.

    Parameters
    ----------
    sessions
        Kept sessions; None where nobody needs one (this computer alone).
    behind
        Address at which people reach the pages through another server; None: directly.
    host_names
        Names by which this computer may be called, beside its addresses.
    """

    def __init__(
        self,
        sessions: Sessions | None,
        behind: str | None = None,
        host_names: Iterable[str] = (),
    ) -> None:
        self.sessions = sessions
        self.behind = None if behind is None else urlsplit(behind)
        self.names = {name.lower() for name in host_names}
        self.links: dict[Role, str] = {}
        if sessions is not None:
            self.links = {role: secrets.token_urlsafe(SECRET_BYTES) for role in ROLES}
        self._strangers = Pace(burst=40, rate=2.0)
        self._looks = Pace(burst=120, rate=10.0)
        self._posts = Pace(burst=40, rate=1.0)

    @property
    def is_secure(self) -> bool:
        """Whether people come by https."""
        return self.behind is not None and self.behind.scheme == "https"

    @property
    def path(self) -> str:
        """Path below which cookies hold."""
        return "/" if self.behind is None else (self.behind.path.rstrip("/") + "/")

    def host_is_ours(self, host: str) -> bool:
        """Whether a request's Host can be meant for this server."""
        if not host or len(host) > 255:
            return False
        try:
            named = urlsplit(f"//{host}")
            name, _ = (named.hostname or "").lower(), named.port
        except ValueError:
            return False
        if named.path or named.query or named.fragment or "@" in host:
            return False
        if self.behind is not None:
            return host.lower() == self.behind.netloc.lower() or name in NAMES_OF_LOOPBACK
        if self.sessions is None:
            return name in NAMES_OF_LOOPBACK
        return name in NAMES_OF_LOOPBACK or name in self.names or _is_address(name)

    def origin_is_ours(self, origin: str | None, host: str) -> bool:
        """Whether a form was sent from a page of this server; one without an origin was not."""
        if origin is None:
            return False
        if self.behind is not None:
            return origin.lower() == f"{self.behind.scheme}://{self.behind.netloc}".lower()
        return origin.lower() == f"http://{host}".lower()

    def visitor(self, cookies: Mapping[str, str]) -> Visitor | None:
        """Who asks; None: nobody that is let in."""
        if self.sessions is None:
            return Visitor("log", "here")
        token = cookies.get(COOKIE, "")
        session = self.sessions.find(token)
        return None if session is None else Visitor(session.role, session.name, token)

    def role_of_link(self, secret: str) -> Role | None:
        """The role that a link gives; every link is compared in the same time."""
        found: Role | None = None
        for role, known in self.links.items():
            if hmac.compare_digest(digest_of(secret), digest_of(known)):
                found = role
        return found

    def may_knock(self, address: str) -> bool:
        """Whether a stranger at an address may ask once more."""
        return self._strangers.allows(address)

    def may_look(self, visitor: Visitor) -> bool:
        """Whether a visitor may see one more page."""
        return self._looks.allows(visitor.name)

    def may_post(self, visitor: Visitor) -> bool:
        """Whether a visitor may send one more form."""
        return self._posts.allows(visitor.name)


def _is_address(name: str) -> bool:
    try:
        ip_address(name)
    except ValueError:
        return False
    return True


def checked_behind(address: str) -> str:
    """An address that people use, without its last stroke.

    Raises
    ------
    OptionError
        If it is none.
    """
    text = " ".join(address.split())[:200]
    try:
        parts = urlsplit(text)
        port = parts.port
    except ValueError:
        parts, port = urlsplit(""), None
    wrong = parts.scheme not in ("http", "https") or not parts.hostname or port == 0
    if wrong or parts.query or parts.fragment or "@" in parts.netloc or " " in text:
        raise OptionError("web_behind", "--behind", value=text[:60])
    return text.rstrip("/")
