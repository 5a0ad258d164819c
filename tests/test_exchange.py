"""One exchange over HTTP: what bounds it, where it may be sent on to, and what it leaves behind."""

from __future__ import annotations

import gzip
import socket
import ssl
import threading
from pathlib import Path

import pytest
from faults.raw_server import Act, RawServer, drips, redirects, says
from service.loopback import authority

from advisor.exchange import Answer, Bounds, exchange, full_url, moved
from advisor.line import Failed, within

BOUNDS = Bounds((1.0, 1.0), 1_000_000, "")
DRIP = drips(b"HTTP/1.1 200 Said\r\nX-Slow: ", b"x", 0.02)


def ask(url: str, *, bounds: Bounds = BOUNDS, total_s: float = 5.0) -> Answer:
    return within(total_s, lambda line: exchange(line, "GET", url, headers={}, bounds=bounds))


@pytest.mark.parametrize(
    ("here", "location", "domain", "there"),
    [
        ("https://api.example/a", "/b", "", "https://api.example/b"),
        ("https://api.example/a", "//api.example/b", "", "https://api.example/b"),
        ("http://api.example/a", "https://api.example/b", "", "https://api.example/b"),
        ("https://api.example/a", "https://api.example:443/b", "", "https://api.example:443/b"),
        ("https://api.example/a", "https://new.api.example/b", "api.example", "https://new.api.example/b"),
        ("https://one.met.example/a", "https://met.example/b", "met.example", "https://met.example/b"),
    ],
)
def test_a_redirect_to_the_same_server_or_within_the_declared_domain_is_followed(
    here: str, location: str, domain: str, there: str
) -> None:
    assert moved(here, location, domain) == there


@pytest.mark.parametrize(
    ("here", "location", "domain", "why"),
    [
        ("https://api.example/a", "http://api.example/b", "api.example", "away from https"),
        ("https://api.example/a", "https://evil.example/b", "", "another server \\(evil.example\\)"),
        ("https://api.example/a", "https://evilapi.example/b", "api.example", "another server"),
        ("https://api.example/a", "https://api.example.evil/b", "api.example", "another server"),
        ("http://api.example/a", "http://new.api.example/b", "api.example", "another server"),
        ("http://api.example/a", "http://api.example:8080/b", "", "another server"),
        ("https://api.example/a", "https://api.example:8080/b", "", "another server"),
        ("https://api.example/a", "https://word@api.example/b", "", "no address to follow"),
        ("https://api.example/a", "file:///etc/hosts", "", "no address to follow"),
        ("https://api.example/a", "http://[", "", "no address to follow"),
        ("https://api.example/a", "https:///x", "", "no address to follow"),
        ("https://api.example/a", "https://exa mple:99999/", "", "no address to follow"),
        ("https://api.example/a", "https://api.example:99999/", "", "no address to follow"),
    ],
)
def test_a_redirect_elsewhere_is_not_followed(here: str, location: str, domain: str, why: str) -> None:
    with pytest.raises(Failed, match=why):
        moved(here, location, domain)


def test_a_redirect_on_the_same_server_is_followed_and_its_answer_given() -> None:
    with RawServer(says(404), {"/old": redirects("/new"), "/new": says(200, b"{}")}) as server:
        assert ask(f"{server.url}/old").body == b"{}"
        unmoved = ask(f"{server.url}/old", bounds=Bounds((1.0, 1.0), 0, None))
    assert (unmoved.status, unmoved.body) == (302, b"")


@pytest.mark.parametrize(
    ("act", "why"),
    [
        (says(200, b"{}", "Content-Length: 9"), "cut off in the middle"),
        (says(200, gzip.compress(b"{}" * 999)[:-9], "Content-Encoding: gzip"), "could not be unpacked"),
        (says(200, b"{}", "Content-Encoding: gzip"), "could not be unpacked"),
        (says(200, b"{}", "Content-Encoding: br"), "packed as 'br', which was not asked for"),
        (says(200, b"x" * 1_000_001), "more than 1 MB"),
    ],
    ids=["cut off", "packed and cut off", "not packed", "packed otherwise", "long"],
)
def test_a_body_that_is_not_whole_or_not_as_asked_for_is_none(act: Act, why: str) -> None:
    with RawServer(act) as server, pytest.raises(Failed, match=why):
        ask(server.url)


def test_a_packed_body_is_unpacked() -> None:
    with RawServer(says(200, gzip.compress(b"{}"), "Content-Encoding: gzip")) as server:
        assert ask(server.url).body == b"{}"


def over_tls(context: ssl.SSLContext, act: Act, *, shakes_hands: bool) -> Act:
    """The same behind TLS; a server that does not shake hands drips what is none."""

    def behave(connection: socket.socket, stopped: threading.Event) -> None:
        if not shakes_hands:
            drips(b"\x16\x03\x03\x40\x00", b"\x02", 0.02)(connection, stopped)
            return
        with context.wrap_socket(connection, server_side=True) as safe:
            safe.recv(65536)
            act(safe, stopped)

    return behave


@pytest.mark.parametrize("shakes_hands", [True, False], ids=["in the headers", "in the handshake"])
def test_a_drip_over_tls_is_cut_too_and_leaves_no_thread(tmp_path: Path, shakes_hands: bool) -> None:
    file, context = authority(tmp_path)
    with RawServer(over_tls(context, DRIP, shakes_hands=shakes_hands), speaks_first=True) as server:
        url = server.url.replace("http://127.0.0.1", "https://localhost")
        with pytest.raises(Failed, match=r"no whole answer within 0\.3 s"):
            ask(url, bounds=Bounds((1.0, 1.0), 1000, "", str(file)), total_s=0.3)
        assert not [one for one in threading.enumerate() if one.name == "exchange"]


def test_a_drip_behind_a_proxy_is_cut_too_and_leaves_no_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    with RawServer(DRIP) as server:
        monkeypatch.setenv("http_proxy", server.url)
        with pytest.raises(Failed, match="no whole answer"):
            ask("http://larkmoor.example/", total_s=1.0)
        assert len(server.asked) == 1
        assert not [one for one in threading.enumerate() if one.name == "exchange"]


def test_a_connection_that_comes_after_its_line_was_cut_is_ended_at_once() -> None:
    cut = threading.Event()

    def late(line: object) -> bytes:
        cut.wait(5)
        here, there = socket.socketpair()
        with here, there:
            line.hold(here)  # type: ignore[attr-defined]
            return here.recv(1)

    def cut_it() -> None:
        cut.set()

    threading.Timer(0.2, cut_it).start()
    with pytest.raises(Failed, match="no whole answer"):
        within(0.1, late)
    assert not [one for one in threading.enumerate() if one.name == "exchange"]


def test_what_went_wrong_inside_is_raised_outside() -> None:
    def act(_: object) -> None:
        raise ZeroDivisionError("inside")

    with pytest.raises(ZeroDivisionError, match="inside"):
        within(1.0, act)


def test_an_address_is_named_without_its_query() -> None:
    with pytest.raises(Failed, match="must begin with https") as caught:
        full_url("ftp://api.example/x?latitude=40.5200")
    assert "40.52" not in str(caught.value)
