"""What is sent: by mail, or as plain text to an address; once each, and nothing secret is said.

Mail goes by the server that the environment names: over TLS from the first byte on port
465, by STARTTLS on any other; without TLS to this computer alone. A post is one request
with the text as its body, as services for push messages take it.
"""

from __future__ import annotations

import os
import smtplib
import socket
import ssl
from collections.abc import Mapping
from dataclasses import dataclass, field
from email.message import EmailMessage
from email.utils import formatdate, make_msgid, parseaddr
from urllib.parse import urlsplit

from hayweather.errors import DeliveryError, OptionError
from hayweather.weather.services.settings import is_loopback

HOST, PORT = "HAYWEATHER_MAIL_HOST", "HAYWEATHER_MAIL_PORT"
USER, PASSWORD, FROM = "HAYWEATHER_MAIL_USER", "HAYWEATHER_MAIL_PASSWORD", "HAYWEATHER_MAIL_FROM"
TOKEN = "HAYWEATHER_POST_TOKEN"
TLS_PORT, SUBMISSION = 465, 587
PATIENCE_S = 20.0
LONGEST_SHOWN = 60


@dataclass(frozen=True)
class Message:
    """A text to send.

    Attributes
    ----------
    title
        One line.
    lines
        Of the text; the title is not among them.
    calendar
        Sent along by mail; empty for none.
    """

    title: str
    lines: tuple[str, ...]
    calendar: str = ""

    @property
    def text(self) -> str:
        """Title and lines."""
        return "\n".join((self.title, *self.lines)) + "\n"


@dataclass(frozen=True)
class Mail:
    """A mail server and who writes."""

    host: str
    port: int
    sender: str
    user: str = ""
    password: str = field(default="", repr=False)


@dataclass(frozen=True)
class Recipient:
    """Where a message goes.

    Attributes
    ----------
    address
        A mail address, or the address of a service.
    mail
        The server for mail; None for a post.
    token
        That a post is signed with; empty for none.
    """

    address: str = field(repr=False)
    mail: Mail | None = None
    token: str = field(default="", repr=False)

    @property
    def shown(self) -> str:
        """As it may be said: of a service's address the host alone, the rest may be secret."""
        if self.mail is not None:
            return self.address
        return urlsplit(self.address).hostname or "?"

    def send(self, message: Message) -> None:
        """Send it.

        Raises
        ------
        DeliveryError
            In one line, without password or token.
        """
        if self.mail is not None:
            _mail(message, self.address, self.mail)
        else:
            self._post(message)

    def _post(self, message: Message) -> None:
        """One request; an answer that leads elsewhere is a failure."""
        import requests

        headers = {"Content-Type": "text/plain; charset=utf-8"}
        if self.token:
            headers["Authorization"] = f"Bearer {self.token}"
        try:
            answer = requests.post(
                self.address,
                data=message.text.encode(),
                headers=headers,
                timeout=PATIENCE_S,
                allow_redirects=False,
                stream=True,
            )
            answer.close()
        except requests.exceptions.SSLError:
            raise DeliveryError("send_failed", self.shown, reason="TLS certificate") from None
        except requests.RequestException as problem:
            reason = type(problem).__name__
            raise DeliveryError("send_failed", self.shown, reason=reason) from None
        if answer.status_code in (401, 403):
            raise DeliveryError("send_secret", self.shown)
        if not 200 <= answer.status_code < 300:
            raise DeliveryError("send_failed", self.shown, reason=f"HTTP {answer.status_code}")


def recipient_of(text: str, environ: Mapping[str, str] | None = None) -> Recipient:
    """Whom an option names, with what the environment says of the way there.

    Raises
    ------
    OptionError
        If it is no address, or a setting is not there or cannot be used.
    """
    settings = os.environ if environ is None else environ
    given = text.strip()
    if given.lower().startswith(("http://", "https://")):
        return Recipient(_web(given), token=settings.get(TOKEN, "").strip())
    address = parseaddr(given.removeprefix("mailto:"))[1]
    name, at, domain = address.rpartition("@")
    if not (at and name and domain) or any(letter.isspace() for letter in given):
        raise OptionError("send_address", "--send", value=given[:LONGEST_SHOWN])
    return Recipient(address, mail=_server(settings))


def _web(address: str) -> str:
    """An address that may be posted to: https, or this computer."""
    try:
        parts = urlsplit(address)
        host = parts.hostname or ""
        fits = bool(host) and (parts.scheme == "https" or is_loopback(host))
    except ValueError:
        host, fits = "", False
    if not fits or any(letter.isspace() for letter in address):
        scheme = address.partition(":")[0]
        raise OptionError("send_address", "--send", value=f"{scheme}://{host}")
    return address


def _server(settings: Mapping[str, str]) -> Mail:
    """The mail server of the environment."""
    host, sender = (settings.get(name, "").strip() for name in (HOST, FROM))
    for name, value in ((HOST, host), (FROM, sender)):
        if not value:
            raise OptionError("send_no_setting", "--send", name=name)
    if "@" not in parseaddr(sender)[1]:
        raise OptionError("send_setting", "--send", name=FROM, value=sender[:LONGEST_SHOWN])
    port = settings.get(PORT, "").strip() or str(SUBMISSION)
    if not (port.isdigit() and 0 < int(port) < 65536):
        raise OptionError("send_setting", "--send", name=PORT, value=port[:LONGEST_SHOWN])
    user = settings.get(USER, "").strip()
    return Mail(host, int(port), sender, user, settings.get(PASSWORD, ""))


def mail_of(message: Message, to: str, sender: str) -> EmailMessage:
    """A message as a mail."""
    mail = EmailMessage()
    mail["Subject"] = " ".join(message.title.split())
    mail["From"] = sender
    mail["To"] = to
    mail["Date"] = formatdate(localtime=True)
    mail["Message-ID"] = make_msgid(domain=parseaddr(sender)[1].rpartition("@")[2])
    mail.set_content("\n".join(message.lines) + "\n")
    if message.calendar:
        mail.add_attachment(
            message.calendar, subtype="calendar", filename="night.ics", params={"method": "PUBLISH"}
        )
    return mail


def _mail(message: Message, to: str, server: Mail) -> None:
    """Hand a mail to the server."""
    try:
        with _connected(server) as link:
            if server.user:
                link.login(server.user, server.password)
            link.send_message(mail_of(message, to, server.sender))
    except smtplib.SMTPAuthenticationError:
        raise DeliveryError("send_secret", server.host) from None
    except ssl.SSLError:
        raise DeliveryError("send_failed", server.host, reason="TLS certificate") from None
    except smtplib.SMTPResponseException as problem:
        reason = f"SMTP {problem.smtp_code}"
        raise DeliveryError("send_failed", server.host, reason=reason) from None
    except smtplib.SMTPRecipientsRefused:
        raise DeliveryError("send_failed", server.host, reason=f"{to} refused") from None
    except (smtplib.SMTPException, OSError, ValueError) as problem:
        said = problem.strerror if isinstance(problem, OSError) else None
        late = isinstance(problem, socket.timeout)
        reason = "no answer in time" if late else said or type(problem).__name__
        raise DeliveryError("send_failed", server.host, reason=reason) from None


def _connected(server: Mail) -> smtplib.SMTP:
    """A connection on which a password may be sent."""
    context = ssl.create_default_context()
    if server.port == TLS_PORT:
        return smtplib.SMTP_SSL(server.host, server.port, timeout=PATIENCE_S, context=context)
    link = smtplib.SMTP(server.host, server.port, timeout=PATIENCE_S)
    try:
        link.ehlo_or_helo_if_needed()
        if link.has_extn("starttls"):
            link.starttls(context=context)
        elif not is_loopback(server.host):
            raise smtplib.SMTPNotSupportedError("no TLS")
    except BaseException:
        link.close()
        raise
    return link
