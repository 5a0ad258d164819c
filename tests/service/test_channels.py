"""E-mail over TLS, the signed webhook and the notification library, on loopback servers that also fail."""

from __future__ import annotations

import hashlib
import hmac
import secrets as random_text
import threading
from dataclasses import replace
from datetime import UTC, datetime
from email import message_from_bytes
from pathlib import Path

import pytest
from faults.raw_server import RawServer, drips
from service.loopback import Hook, authority, free_port, mail_server

from advisor.errors import InputError
from advisor.lawn.service_settings import EmailSettings, MessageSettings, WebhookSettings
from advisor.service.channels import ChannelDown, Email, Letter, Notification, Webhook, channels_of
from advisor.service.secret_values import Secrets

NOW = datetime(2026, 6, 18, 1, 15, tzinfo=UTC)
LETTER = Letter(
    "Larkmoor Lane",
    "Run Front 20 min at 04:37.",
    "The whole advice — ½ in.\n",
    NOW,
    {"kind": "advice", "advice": None},
)
PASSWORD, SIGNING = random_text.token_urlsafe(16), random_text.token_hex(16)
KNOWN = Secrets({"EMAIL_PASSWORD": PASSWORD, "WEBHOOK_SECRET": SIGNING})


def mail_to(port: int, trust: Path | None, security: str, user: str = "") -> Email:
    settings = EmailSettings(
        sender="lawn@larkmoor.example",
        to=("owner@larkmoor.example", "other@larkmoor.example"),
        server="localhost",
        port=port,
        security=security,
        user=user,
        trust=trust,
    )
    return Email(settings, KNOWN)


# -- e-mail


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_mail_goes_encrypted_with_the_short_text_as_subject_and_the_whole_advice_inside(
    tmp_path: Path, security: str
) -> None:
    trust, context = authority(tmp_path)
    with mail_server(context, security=security, password=PASSWORD) as box:
        channel = mail_to(box.port, trust, security, user="lawn")
        channel.send(LETTER, "key", NOW)
        channel.send(LETTER, "key", NOW)
        channel.send(LETTER, "another", NOW)
    assert box.secure == [True] * 3
    assert box.logins == [("lawn", PASSWORD)] * 3
    mail = box.mails[0]
    assert mail["Subject"] == "Larkmoor Lane: Run Front 20 min at 04:37."
    assert mail["To"] == "owner@larkmoor.example, other@larkmoor.example"
    assert mail["Auto-Submitted"] == "auto-generated"
    body = message_from_bytes(mail.as_bytes()).get_payload(decode=True)
    assert "The whole advice — ½ in." in body.decode()  # type: ignore[union-attr]
    ids = [m["Message-ID"] for m in box.mails]
    assert ids[0] == ids[1] != ids[2]


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_certificate_that_is_not_trusted_gets_no_mail(tmp_path: Path, security: str) -> None:
    _, context = authority(tmp_path)
    with mail_server(context, security=security) as box:
        with pytest.raises(ChannelDown, match=r"certificate of localhost:[0-9]+ is not trusted"):
            mail_to(box.port, None, security).send(LETTER, "key", NOW)
        assert box.mails == []


def test_a_server_that_will_not_encrypt_gets_no_mail(tmp_path: Path) -> None:
    trust, _ = authority(tmp_path)
    with mail_server(None, security="plain") as box:
        with pytest.raises(ChannelDown, match="will not encrypt"):
            mail_to(box.port, trust, "starttls").send(LETTER, "key", NOW)
        assert box.mails == []


@pytest.mark.parametrize(
    ("refuse", "says"),
    [("451 try later", "answered 451 try later"), ("552 mailbox full", "answered 552 mailbox full")],
    ids=["later", "full"],
)
def test_a_mail_server_that_says_no_is_a_channel_that_is_down(tmp_path: Path, refuse: str, says: str) -> None:
    trust, context = authority(tmp_path)
    with mail_server(context, security="tls") as box:
        box.refuse = refuse
        with pytest.raises(ChannelDown, match=says):
            mail_to(box.port, trust, "tls").send(LETTER, "key", NOW)
        box.refuse = ""
        mail_to(box.port, trust, "tls").send(LETTER, "key", NOW)
        assert len(box.mails) == 1


def test_a_wrong_password_is_told_without_it(tmp_path: Path) -> None:
    trust, context = authority(tmp_path)
    with (
        mail_server(context, security="tls", password="another") as box,
        pytest.raises(ChannelDown, match="answered 535") as down,
    ):
        mail_to(box.port, trust, "tls", user="lawn").send(LETTER, "key", NOW)
    assert PASSWORD not in str(down.value)


def test_nobody_listening_is_a_channel_that_is_down() -> None:
    with pytest.raises(ChannelDown, match="cannot be reached"):
        mail_to(free_port(), None, "starttls").send(LETTER, "key", NOW)
    with pytest.raises(ChannelDown, match="cannot be reached"):
        Webhook(WebhookSettings(f"http://127.0.0.1:{free_port()}/", None), KNOWN).send(LETTER, "key", NOW)


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_mail_server_that_drips_is_given_up_and_leaves_no_thread(
    security: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("advisor.service.channels.TOTAL_S", 0.3)
    with RawServer(drips(b"220-", b"x", 0.02), speaks_first=True) as server:
        with pytest.raises(ChannelDown, match="cannot be reached"):
            mail_to(int(server.url.rpartition(":")[2]), None, security).send(LETTER, "key", NOW)
        assert not [one for one in threading.enumerate() if one.name == "exchange"]


# -- the webhook


def test_a_post_is_signed_over_its_time_and_body_and_bears_its_key() -> None:
    with Hook() as hook:
        Webhook(WebhookSettings(f"{hook.url}/lawn", None), KNOWN).send(LETTER, "advice:2026-06-17", NOW)
        (post,) = hook.posts
    assert post.key == "advice:2026-06-17"
    assert post.headers["x-signature-timestamp"] == str(int(NOW.timestamp()))
    signed = f"{int(NOW.timestamp())}.".encode() + post.body
    assert (
        post.headers["x-signature-sha256"] == hmac.new(SIGNING.encode(), signed, hashlib.sha256).hexdigest()
    )
    assert post.json["schema_version"] == post.json["schema"] == "advisor.message/1"
    assert (post.json["title"], post.json["short"], post.json["text"]) == (
        LETTER.title,
        LETTER.short,
        LETTER.text,
    )
    assert SIGNING not in str(post)


@pytest.mark.parametrize(
    ("act", "says"),
    [("503", "answered HTTP 503"), ("redirect", "answered HTTP 302"), ("hangs up", "cannot be reached")],
)
def test_anything_but_success_is_a_channel_that_is_down(act: str, says: str) -> None:
    with Hook() as hook:
        hook.behave(act)
        with pytest.raises(ChannelDown, match=says):
            Webhook(WebhookSettings(hook.url, None), KNOWN).send(LETTER, "key", NOW)
        assert len(hook.posts) == 1


# -- the notification library


def test_a_notification_goes_to_the_address_that_stands_with_the_secrets() -> None:
    with Hook() as hook:
        address = hook.url.replace("http://", "json://")
        Notification("phone", Secrets({"CHANNEL_PHONE": address})).send(LETTER, "key", NOW)
        told = hook.posts[0].json
    assert told["title"] == LETTER.title
    assert told["message"].startswith(f"{LETTER.short}\n\n")


def test_a_notification_that_was_not_taken_is_a_channel_that_is_down() -> None:
    with Hook() as hook:
        hook.behave("503")
        address = hook.url.replace("http://", "json://")
        with pytest.raises(ChannelDown, match="did not take it"):
            Notification("phone", Secrets({"CHANNEL_PHONE": address})).send(LETTER, "key", NOW)


def test_an_address_that_the_library_does_not_know_is_told_without_it() -> None:
    address = f"nosuchthing://{PASSWORD}"
    with pytest.raises(InputError, match="address of the channel 'phone' is not understood") as error:
        Notification("phone", Secrets({"CHANNEL_PHONE": address}))
    assert PASSWORD not in str(error.value)


# -- what must be there


BARE = MessageSettings()
MAIL = EmailSettings("a@b.example", ("c@d.example",), "mail.example", 587, "starttls", "", None)


@pytest.mark.parametrize(
    ("settings", "known", "says"),
    [
        (
            replace(BARE, email=replace(MAIL, user="lawn")),
            {},
            "has no password; allowed: ADVISOR_EMAIL_PASSWORD",
        ),
        (replace(BARE, webhook=WebhookSettings("https://x.example", None)), {}, "no secret to sign with"),
        (
            replace(BARE, webhook=WebhookSettings("https://x.example", None)),
            {"WEBHOOK_SECRET": "short"},
            "or a short one",
        ),
        (replace(BARE, webhook=WebhookSettings("", None)), {"WEBHOOK_SECRET": SIGNING}, "has no address"),
        (replace(BARE, channels=("phone",)), {}, "'phone' has no address.*ADVISOR_CHANNEL_PHONE"),
        (
            replace(BARE, email=replace(MAIL, trust=Path("nowhere.pem"))),
            {},
            "nowhere.pem: the certificate authority's file cannot be used",
        ),
    ],
    ids=["password", "no signing secret", "short signing secret", "webhook address", "channel", "trust"],
)
def test_what_a_channel_lacks_is_told_before_the_service_begins(
    settings: MessageSettings, known: dict[str, str], says: str
) -> None:
    with pytest.raises(InputError, match=says):
        channels_of(settings, Secrets(known))


def test_all_channels_that_are_set_are_there() -> None:
    with Hook() as hook:
        known = Secrets(
            {"WEBHOOK_SECRET": SIGNING, "WEBHOOK_URL": hook.url, "CHANNEL_PHONE": "json://127.0.0.1:9"}
        )
        settings = replace(BARE, email=MAIL, webhook=WebhookSettings("", None), channels=("phone",))
        assert [one.name for one in channels_of(settings, known)] == ["email", "webhook", "phone"]
