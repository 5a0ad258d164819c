"""What the site file says of the nightly service and its messages: `service:` and `messages:`.

Read only by the commands that serve and by `advisor check`, so advice does not depend on them. Secrets
do not belong in the site file: where one stands, it is refused without being shown.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import time, timedelta
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import urlsplit

from pydantic import BeforeValidator, Field, ValidationError, ValidationInfo, field_validator

from advisor.errors import AdvisorError, InputError, ManyProblems
from advisor.lawn import fields as f
from advisor.lawn.fields import AsList, Filled, Refused, Section, choice, number, told
from advisor.lawn.refusals import option, problems_of
from advisor.lawn.site_values import Site
from advisor.lawn.yaml_lines import Loc, Written, read_text, read_yaml, typed
from advisor.units import clock_time

SECURITIES = ("starttls", "tls")
PORTS = {"starttls": 587, "tls": 465}
WHEN = "advice_at: 20:15, or before_first_allowed_hour: 90 min"
SECRET_KEYS = frozenset({"password", "passwd", "pass", "secret", "token", "key", "api_key", "apikey", "hmac"})
HEARTBEAT_IS_SECRET = "secret"
HEARTBEATS = (
    "https://host/path, or the word secret and the whole address as ADVISOR_HEARTBEAT_URL beside the secrets"
)
NOT_SHOWN = "a secret (not shown)"
WHERE_SECRETS_GO = (
    "secrets in the environment or in a file named by messages.secrets (ADVISOR_EMAIL_PASSWORD, "
    "ADVISOR_WEBHOOK_SECRET, ADVISOR_CHANNEL_NAME)"
)
EXAMPLES = {
    "from": "from: lawn@example.org",
    "to": "to: owner@example.org",
    "server": "server: mail.example.org",
}


@dataclass(frozen=True, slots=True)
class ServiceSettings:
    """When the service works and where it keeps what is its own.

    Just one of `advice_at` (local time) and `before_first_hour` is set. `backup_at` is local time.
    `health_names` are further names under which the health address may be asked.
    """

    advice_at: time | None
    before_first_hour: timedelta | None
    backup_at: time
    backups_kept: int
    backup_folder: Path
    health_port: int | None
    log: Path | None
    log_bytes: int
    logs_kept: int
    health_names: tuple[str, ...] = ()
    heartbeat: str = ""
    """What is called after an evening that went well, HEARTBEAT_IS_SECRET where that stands with the secrets,
    "" where nothing is."""


@dataclass(frozen=True, slots=True)
class EmailSettings:
    """A mail server with TLS; `security` is "starttls" or "tls", `trust` a certificate authority's file."""

    sender: str
    to: tuple[str, ...]
    server: str
    port: int
    security: str
    user: str
    trust: Path | None


@dataclass(frozen=True, slots=True)
class WebhookSettings:
    """Where to post; `url` "" means that it stands with the secrets."""

    url: str
    trust: Path | None


@dataclass(frozen=True, slots=True)
class MessageSettings:
    """Who is told, and when. `channels` are names whose addresses stand with the secrets."""

    only_when_something_to_do: bool = False
    secrets: Path | None = None
    email: EmailSettings | None = None
    webhook: WebhookSettings | None = None
    channels: tuple[str, ...] = ()


def _clock(value: object) -> time:
    found = clock_time(str(value))
    if found is None:
        raise Refused("a local time is asked here", found=told(value), allowed="20:15")
    return found


def _whole(low: int, high: int, what: str) -> BeforeValidator:
    def read(value: object) -> int:
        text = str(value)
        if not re.fullmatch(r"[0-9]{1,9}", text) or not low <= int(text) <= high:
            raise Refused(f"{what} is a whole number", found=told(value), allowed=f"{low} to {high}")
        return int(text)

    return BeforeValidator(read)


def _mailbox(value: object) -> str:
    text = f.text_of(value, "an e-mail address")
    if not re.fullmatch(r"[^@\s<>,;]+@[^@\s<>,;]+", text):
        raise Refused("an e-mail address is asked here", found=told(value), allowed="owner@example.org")
    return text


def _host(value: object) -> str:
    text = f.text_of(value, "a server")
    if not re.fullmatch(r"[A-Za-z0-9.:_-]+", text) or "@" in text:
        raise Refused("a server's name is asked here", found=told(value), allowed="mail.example.org")
    return text


def _name(value: object) -> str:
    text = f.text_of(value, "a name")
    if not re.fullmatch(r"[A-Za-z0-9._-]{1,253}", text):
        raise Refused(
            "the name of a computer is asked here, without a port",
            found=told(value),
            allowed="lawn.example.org",
        )
    return text


def _post_address(value: object) -> str:
    text = f.text_of(value, "an address")
    found = re.fullmatch(r"https?://([^/?#]+)([^?#]*)(.*)", text)
    if found is None:
        raise Refused("an address begins with http", found=told(value), allowed="https://host/path")
    if "@" in found[1] or found[3]:
        allowed = "https://host/path, or the whole address as ADVISOR_WEBHOOK_URL beside the secrets"
        raise Refused("the address may hold a secret", found=NOT_SHOWN, allowed=allowed)
    return text


def heartbeat_problem(address: str) -> str:
    """What is wrong with an address to call, "" where it can be called: https, or http on this computer itself."""
    found = re.fullmatch(
        r"(https?)://([A-Za-z0-9.-]+|\[[0-9A-Fa-f:.]+\])(?::[0-9]{1,5})?(?:[/?][\x21-\x7e]*)?", address
    )
    if found is None:
        return "an address begins with https and has a host"
    if found[1] == "http" and found[2] not in ("localhost", "127.0.0.1", "[::1]"):
        return "an address beyond this computer begins with https"
    return ""


def _heartbeat(value: object) -> str:
    text = f.text_of(value, "an address")
    if text == HEARTBEAT_IS_SECRET:
        return text
    if "@" in text or "?" in text or "#" in text:
        raise Refused("the address may hold a secret", found=NOT_SHOWN, allowed=HEARTBEATS)
    wrong = heartbeat_problem(text)
    if wrong:
        raise Refused(wrong, found=told(value), allowed=HEARTBEATS)
    return text


def _path_text(value: object) -> str:
    text = f.text_of(value, "a file name")
    try:
        Path(text).expanduser()
    except RuntimeError:
        raise Refused("a home folder is not there", found=told(value), allowed="a path") from None
    return text


PathText = Annotated[str, BeforeValidator(_path_text)]


def _channel(value: object) -> str:
    text = f.text_of(value, "a channel's name")
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9_]{0,30}", text):
        found = NOT_SHOWN if "://" in text else told(value)
        allowed = "a name such as phone, whose address is ADVISOR_CHANNEL_PHONE beside the secrets"
        raise Refused("a channel is one word", found=found, allowed=allowed)
    return text


class ServiceWritten(Section):
    """`service:`."""

    advice_at: Annotated[time | None, BeforeValidator(_clock)] = None
    before_first_allowed_hour: Annotated[f.Minutes | None, Field(validate_default=True)] = None
    backup_at: Annotated[time, BeforeValidator(_clock)] = time(3, 40)
    backups_kept: Annotated[int, _whole(1, 1000, "how many backups to keep")] = 14
    backup_folder: PathText = "backups"
    health_port: Annotated[int, _whole(1024, 65535, "a port")] | None = None
    health_names: Annotated[tuple[Annotated[str, BeforeValidator(_name)], ...], AsList] = ()
    log: PathText | None = None
    log_megabytes: Annotated[float, number(0.1, 1000, "the size of a log")] = 5.0
    logs_kept: Annotated[int, _whole(1, 100, "how many logs to keep")] = 4
    heartbeat: Annotated[str, BeforeValidator(_heartbeat)] = ""

    @field_validator("before_first_allowed_hour")
    @classmethod
    def _one_of_both(cls, before: float | None, info: ValidationInfo) -> float | None:
        at = info.data.get("advice_at", ...)
        if at is not ... and (at is None) == (before is None):
            found = "neither" if at is None else "both"
            raise Refused("the time of the nightly advice is said in one way", found=found, allowed=WHEN)
        return before


class EmailWritten(Section):
    """`messages.email:`."""

    sender: Annotated[str, BeforeValidator(_mailbox)] = Field(alias="from")
    to: Annotated[tuple[Annotated[str, BeforeValidator(_mailbox)], ...], Filled]
    server: Annotated[str, BeforeValidator(_host)]
    security: Annotated[str, choice(SECURITIES, "the security of the mail server")] = "starttls"
    port: Annotated[int, _whole(1, 65535, "a port")] | None = None
    user: f.Text = ""
    trust: PathText | None = None


class WebhookWritten(Section):
    """`messages.webhook:`."""

    url: Annotated[str, BeforeValidator(_post_address)] = ""
    trust: PathText | None = None


class MessagesWritten(Section):
    """`messages:`."""

    only_when_something_to_do: f.Truth = False
    secrets: PathText | None = None
    email: EmailWritten | None = None
    webhook: WebhookWritten | None = None
    channels: Annotated[tuple[Annotated[str, BeforeValidator(_channel)], ...], AsList] = ()


SECTIONS: Mapping[str, type[Section]] = {"service": ServiceWritten, "messages": MessagesWritten}


def service_settings(site: Site) -> ServiceSettings:
    """When and how to serve `site`; ManyProblems with everything wrong in its section `service`."""
    if "service" not in site.settings:
        raise InputError(
            "service is missing", where=str(site.path), allowed=f"the section service with {WHEN}"
        )
    piece = _checked(site.path, "service", site.settings["service"], ServiceWritten)
    assert isinstance(piece, ServiceWritten)
    before = piece.before_first_allowed_hour
    return ServiceSettings(
        advice_at=piece.advice_at,
        before_first_hour=None if before is None else timedelta(minutes=before),
        backup_at=piece.backup_at,
        backups_kept=piece.backups_kept,
        backup_folder=_beside(site, piece.backup_folder),
        health_port=piece.health_port,
        log=_beside(site, piece.log) if piece.log else None,
        log_bytes=round(piece.log_megabytes * 1e6),
        logs_kept=piece.logs_kept,
        health_names=piece.health_names,
        heartbeat=piece.heartbeat,
    )


def heartbeat_host(site: Site) -> str | None:
    """Who is called after an evening that went well: a host, HEARTBEAT_IS_SECRET, or None for nobody."""
    if "service" not in site.settings:
        return None
    address = service_settings(site).heartbeat
    return address if address == HEARTBEAT_IS_SECRET else urlsplit(address).hostname


def message_settings(site: Site) -> MessageSettings:
    """Who is told about `site`; ManyProblems with everything wrong in its section `messages`."""
    if "messages" not in site.settings:
        return MessageSettings()
    piece = _checked(site.path, "messages", site.settings["messages"], MessagesWritten)
    assert isinstance(piece, MessagesWritten)
    email, webhook = piece.email, piece.webhook
    return MessageSettings(
        only_when_something_to_do=piece.only_when_something_to_do,
        secrets=_beside(site, piece.secrets) if piece.secrets else None,
        email=None
        if email is None
        else EmailSettings(
            sender=email.sender,
            to=email.to,
            server=email.server,
            port=email.port or PORTS[email.security],
            security=email.security,
            user=email.user,
            trust=_beside(site, email.trust) if email.trust else None,
        ),
        webhook=None
        if webhook is None
        else WebhookSettings(webhook.url, _beside(site, webhook.trust) if webhook.trust else None),
        channels=tuple(dict.fromkeys(piece.channels)),
    )


def problems_written(path: Path) -> tuple[InputError, ...]:
    """Everything wrong in the sections `service` and `messages` of the site file at `path`.

    A section that is not there, or that is no mapping, has no problem here.
    """
    try:
        whole = read_yaml(read_text(path, ""), str(path)).value
    except AdvisorError:
        return ()
    found: list[InputError] = []
    for key, model in SECTIONS.items():
        value = whole.get(key) if isinstance(whole, dict) else None
        if isinstance(value, dict):
            try:
                _checked(path, key, typed(value), model)
            except ManyProblems as problems:
                found += problems.problems
            except InputError as problem:
                found.append(problem)
    return tuple(found)


def _beside(site: Site, name: str) -> Path:
    return site.path.parent / Path(name).expanduser()


def _checked(path: Path, key: str, said: object, model: type[Section]) -> Section:
    value = {key: _as_written(said)}
    lines = _Lines(path)
    problems = list(_secrets_in(path, value, lines)) if key == "messages" else []
    if not problems:
        try:
            return model.model_validate(value[key])
        except ValidationError as error:
            found = problems_of(
                error, model, (key,), value, lambda loc: (str(path), lines.line(loc)), examples=EXAMPLES
            )
            problems = [_discreet(problem) for problem in found]
    raise problems[0] if len(problems) == 1 else ManyProblems(problems)


def _as_written(value: object) -> Any:
    """Numbers and truths as the text they were written as: each key reads its own."""
    if isinstance(value, Mapping):
        return {str(key): _as_written(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_as_written(one) for one in value]
    if isinstance(value, bool):
        return "true" if value else "false"
    return value if value is None else str(value)


class _Lines:
    """The line on which a key stands, read again from the site file when something is wrong."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._written: Written | None = None
        self._tried = False

    def line(self, loc: Loc) -> int | None:
        if not self._tried:
            self._tried = True
            try:
                self._written = read_yaml(read_text(self.path, ""), str(self.path))
            except AdvisorError:
                self._written = None
        return None if self._written is None else self._written.line(loc)


def _secrets_in(path: Path, value: Mapping[str, Any], lines: _Lines) -> Iterator[InputError]:
    """Keys that hold a secret, whose values must not be shown."""

    def walk(piece: Any, loc: Loc) -> Iterator[Loc]:
        for key, one in piece.items() if isinstance(piece, dict) else ():
            if str(key).casefold().replace("-", "_") in SECRET_KEYS:
                yield (*loc, key)
            else:
                yield from walk(one, (*loc, key))

    for loc in walk(value, ()):
        yield InputError(
            f"{option(loc, value)}: a secret does not belong in the site file",
            where=str(path),
            line=lines.line(loc),
            found=NOT_SHOWN,
            allowed=WHERE_SECRETS_GO,
        )


def _discreet(problem: InputError) -> InputError:
    """The problem without anything that may be a secret."""
    if not ("://" in problem.found and "@" in problem.found):
        return problem
    return InputError(
        problem.what, where=problem.where, line=problem.line, found=NOT_SHOWN, allowed=problem.allowed
    )
