"""The ways to reach the owner: e-mail, a signed webhook, and the many services of a notification library.

Every channel takes a letter and a key, and sends the same letter under the same key again when asked:
a webhook that honours Idempotency-Key takes it once, and a mail keeps its Message-ID. A channel that
fails raises ChannelDown with one clause that holds no secret.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import smtplib
import socket
import ssl
import warnings
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from email.message import EmailMessage
from email.utils import format_datetime
from pathlib import Path
from typing import Any, Protocol
from urllib.parse import urlsplit

from advisor.errors import AdvisorError, InputError
from advisor.files import open_file
from advisor.foreign_words import fit
from advisor.lawn import EmailSettings, MessageSettings, WebhookSettings
from advisor.line import Failed, Line, within
from advisor.service.messages import LOCK_SCREEN, shortened
from advisor.service.secret_values import (
    EMAIL_PASSWORD,
    LEAST_SIGNING_LETTERS,
    WEBHOOK_SECRET,
    WEBHOOK_URL,
    Secrets,
    channel_secret,
)
from advisor.version import VERSION

TIMEOUT_S = 10.0
TOTAL_S = 45.0
"""The most that handing over one message may take, however slowly a server answers."""


class ChannelDown(AdvisorError):
    """A message could not be handed over; the reason in one clause, without what is unseen in a server's words."""

    def __init__(self, reason: str) -> None:
        super().__init__(fit(reason))


@dataclass(frozen=True, slots=True)
class Letter:
    """A message as a channel sends it; `facts` is what a machine reads of it (plain JSON values)."""

    title: str
    short: str
    text: str
    written_at: datetime
    facts: Mapping[str, Any]


class Channel(Protocol):
    """One way to reach the owner."""

    @property
    def name(self) -> str:
        """What it is called in keys, logs and status."""

    def send(self, letter: Letter, key: str, now: datetime) -> None:
        """Hand the letter over under `key`; raises ChannelDown."""


class Email:
    """Mail over TLS; the server's certificate is checked."""

    name = "email"

    def __init__(self, settings: EmailSettings, secrets: Secrets) -> None:
        self._settings, self._secrets = settings, secrets
        self._tls = _tls(settings.trust)

    def send(self, letter: Letter, key: str, now: datetime) -> None:  # noqa: ARG002
        """Hand the letter to the mail server; raises ChannelDown."""
        settings, password = self._settings, self._secrets.get(EMAIL_PASSWORD)
        mail = _mail(letter, key, settings)
        place = f"{settings.server}:{settings.port}"

        def hand_over(line: Line) -> Collection[str]:
            with self._connected(line) as server:
                if settings.user:
                    server.login(settings.user, password)
                return server.send_message(mail)

        try:
            refused = within(TOTAL_S, hand_over)
        except Failed as failure:
            raise ChannelDown(f"{place} cannot be reached ({failure})") from None
        except ssl.SSLCertVerificationError as error:
            raise ChannelDown(f"the certificate of {place} is not trusted ({error.verify_message})") from None
        except smtplib.SMTPNotSupportedError as error:
            raise ChannelDown(f"{place} will not encrypt or log in: {error}") from None
        except smtplib.SMTPResponseException as error:
            said = error.smtp_error
            words = said.decode("utf-8", "replace") if isinstance(said, bytes) else str(said)
            raise ChannelDown(self._secrets.hide(f"{place} answered {error.smtp_code} {words}")) from None
        except (OSError, smtplib.SMTPException) as error:
            words = str(error) or type(error).__name__
            raise ChannelDown(self._secrets.hide(f"{place} cannot be reached ({words})")) from None
        if refused:
            raise ChannelDown(f"{place} refused {', '.join(sorted(refused))}")

    def _connected(self, line: Line) -> smtplib.SMTP:
        settings = self._settings
        if settings.security == "tls":
            return _MailOverTls(line, settings, context=self._tls)
        server = _Mail(line, settings)
        try:
            server.starttls(context=self._tls)
        except BaseException:
            server.close()
            raise
        return server


class _Mail(smtplib.SMTP):
    """A mail server at the end of a line."""

    def __init__(self, line: Line, settings: EmailSettings, **more: Any) -> None:
        self._line = line
        super().__init__(settings.server, settings.port, timeout=TIMEOUT_S, **more)

    def _get_socket(self, host: str, port: int, timeout: float) -> socket.socket:
        made: socket.socket = super()._get_socket(host, port, timeout)  # type: ignore[misc]
        self._line.hold(made)
        return made


class _MailOverTls(smtplib.SMTP_SSL, _Mail):
    """The same over TLS from the first letter on: what is held is the connection beneath."""

    def __init__(self, line: Line, settings: EmailSettings, *, context: ssl.SSLContext) -> None:
        self._line = line
        smtplib.SMTP_SSL.__init__(self, settings.server, settings.port, timeout=TIMEOUT_S, context=context)


def _mail(letter: Letter, key: str, settings: EmailSettings) -> EmailMessage:
    mail = EmailMessage()
    mail["From"], mail["To"] = settings.sender, ", ".join(settings.to)
    mail["Subject"] = shortened(f"{letter.title}: {letter.short}", LOCK_SCREEN)
    mail["Date"] = format_datetime(letter.written_at)
    host = settings.sender.rpartition("@")[2]
    mail["Message-ID"] = f"<{hashlib.sha256(key.encode()).hexdigest()[:32]}@{host}>"
    mail["Auto-Submitted"] = "auto-generated"  # RFC 3834: no holiday notice in answer
    mail.set_content(f"{letter.short}\n\n{letter.text}")
    return mail


def _tls(trust: Path | None) -> ssl.SSLContext:
    try:
        if trust is not None:
            open_file(trust).close()
        return ssl.create_default_context(cafile=str(trust) if trust else None)
    except (OSError, ssl.SSLError) as error:
        raise InputError(
            "the certificate authority's file cannot be used",
            where=str(trust),
            found=str(error.strerror or error),
        ) from None


class Webhook:
    """A POST of JSON, signed: hex HMAC-SHA256 over the timestamp, a dot and the body.

    Headers: Idempotency-Key, X-Signature-Timestamp (UNIX seconds), X-Signature-SHA256. Redirects are
    not followed: what is signed for one address is not sent to another.
    """

    name = "webhook"

    def __init__(self, settings: WebhookSettings, secrets: Secrets) -> None:
        self._url = settings.url or secrets.get(WEBHOOK_URL)
        self._secrets, self._trust = secrets, settings.trust
        if settings.trust is not None:
            _tls(settings.trust)
        if not self._url.startswith(("https://", "http://")):
            raise InputError(
                "the webhook has no address",
                where="messages.webhook",
                allowed="url: https://host/path, or ADVISOR_WEBHOOK_URL",
            )
        if len(secrets.get(WEBHOOK_SECRET)) < LEAST_SIGNING_LETTERS:
            raise InputError(
                "the webhook has no secret to sign with, or a short one",
                where="messages.webhook",
                allowed=f"ADVISOR_WEBHOOK_SECRET with {LEAST_SIGNING_LETTERS} letters or more, in the environment "
                "or the file of secrets",
            )

    def send(self, letter: Letter, key: str, now: datetime) -> None:
        """Post the letter; raises ChannelDown for anything but a 2xx answer."""
        from advisor.exchange import Answer, Bounds, exchange

        body = body_of(letter, key)
        stamp = str(int(now.timestamp()))
        headers = {
            "Content-Type": "application/json",
            "User-Agent": f"advisor/{VERSION}",
            "Idempotency-Key": key,
            "X-Signature-Timestamp": stamp,
            "X-Signature-SHA256": signature(self._secrets.get(WEBHOOK_SECRET), stamp, body),
        }
        host = urlsplit(self._url).hostname
        trust = str(self._trust) if self._trust else ""
        bounds = Bounds((TIMEOUT_S, TIMEOUT_S), body_limit=0, moves_within=None, trust=trust)

        def post(line: Line) -> Answer:
            return exchange(
                line,
                "POST",
                self._url,
                headers=headers,
                data=body,
                bounds=bounds,
            )

        try:
            status = within(TOTAL_S, post).status
        except Failed as failure:
            raise ChannelDown(f"{host} cannot be reached ({failure})") from None
        if not 200 <= status < 300:
            raise ChannelDown(f"{host} answered HTTP {status}")


def body_of(letter: Letter, key: str) -> bytes:
    """The JSON that is posted; the same letter gives the same bytes."""
    version = "advisor.message/1"
    row = {
        "schema_version": version,
        "schema": version,  # the same, by its older name
        "key": key,
        "title": letter.title,
        "short": letter.short,
    }
    row |= {"text": letter.text, "written_at": letter.written_at.isoformat(), **letter.facts}
    return json.dumps(row, ensure_ascii=False, sort_keys=True).encode()


def signature(secret: str, stamp: str, body: bytes) -> str:
    """Hex HMAC-SHA256 (RFC 2104) over timestamp, dot and body."""
    return hmac.new(secret.encode(), stamp.encode() + b"." + body, hashlib.sha256).hexdigest()


class Notification:
    """One address of the general notification library, loaded when first used."""

    def __init__(self, name: str, secrets: Secrets) -> None:
        self.name, self._secrets = name, secrets
        address = secrets.get(channel_secret(name))
        if not address:
            raise InputError(
                f"the channel {name!r} has no address",
                where="messages.channels",
                allowed=f"ADVISOR_{channel_secret(name)} in the environment or the file of secrets",
            )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of what the library imports, which is no concern of the owner
            from apprise import Apprise

            self._service = Apprise()
            understood = self._service.add(address)
        if not understood:
            raise InputError(
                f"the address of the channel {name!r} is not understood",
                where="messages.channels",
                found="a secret (not shown)",
                allowed="an address that the apprise library knows, such as mailtos://… or ntfys://…",
            )

    def send(self, letter: Letter, key: str, now: datetime) -> None:  # noqa: ARG002
        """Notify; raises ChannelDown where the library says no."""
        try:
            told = within(
                TOTAL_S,
                lambda _: self._service.notify(title=letter.title, body=f"{letter.short}\n\n{letter.text}"),
            )
        except Failed as failure:
            raise ChannelDown(f"the notification failed ({failure})") from None
        except Exception as error:  # whatever a service's own code raises
            raise ChannelDown(f"the notification failed ({type(error).__name__})") from None
        if not told:
            raise ChannelDown("the notification service did not take it")


def channels_of(settings: MessageSettings, secrets: Secrets) -> tuple[Channel, ...]:
    """The site's channels; InputError where one cannot be used as it is set."""
    found: list[Channel] = []
    if settings.email is not None:
        if settings.email.user and not secrets.get(EMAIL_PASSWORD):
            raise InputError(
                "the mail server's user has no password",
                where="messages.email",
                allowed="ADVISOR_EMAIL_PASSWORD in the environment or the file of secrets",
            )
        found.append(Email(settings.email, secrets))
    if settings.webhook is not None:
        found.append(Webhook(settings.webhook, secrets))
    found += [Notification(name, secrets) for name in settings.channels]
    return tuple(found)
