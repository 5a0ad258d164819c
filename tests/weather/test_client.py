"""The HTTP layer against a misbehaving service: one sentence or the last good answer, no traceback."""

from __future__ import annotations

import socket
from datetime import UTC, datetime, timedelta

import pytest

from advisor.advice.notes import NoteKind, NoteLevel
from advisor.errors import SourceError
from advisor.weather import kept
from advisor.weather.client import Client, Refused, coordinate

NOW = datetime(2026, 6, 18, 1, 0, tzinfo=UTC)
GOOD = {"hourly": {"time": [1, 2, 3]}, "place": "Larkmoor Lane"}
SOURCE = "Test service"


@pytest.fixture
def pauses():
    return []


@pytest.fixture
def client(tmp_path, pauses):
    return Client(
        user_agent_contact="owner@example.org",
        cache_dir=tmp_path / "cache",
        timeout=(0.5, 0.3),
        total_s=1.0,
        pause=pauses.append,
        body_limit=2_000_000,
    )


def ask(client, url, now=NOW, **more):
    return client.get_json(url, {"latitude": "40.5200"}, source=SOURCE, now=now, **more)


def only_our_shape(payload):
    if not isinstance(payload, dict) or "hourly" not in payload:
        raise SourceError(SOURCE, "sent JSON of another shape")


FAULTS = [
    pytest.param("slow", "no answer within 0.3 s", id="slow"),
    pytest.param("drips", "no whole answer within 1 s", id="drips one byte at a time"),
    pytest.param("cut off", "cut off in the middle", id="cut off mid-body"),
    pytest.param("cut short", "broken JSON", id="half a body of the right length"),
    pytest.param("hangs up", "no connection", id="hangs up"),
    pytest.param("429", "429: Minutely API request limit exceeded", id="429 without a time"),
    pytest.param("429 wait 6 h", "asks to wait 21600 s", id="429 for six hours"),
    pytest.param("429 wait nonsense", "HTTP 429", id="429 with nonsense"),
    pytest.param("500", "500: Something went wrong", id="500 for ever"),
    pytest.param("503", "503: The service is overloaded", id="503 for ever"),
    pytest.param("403", "HTTP 403", id="403 in HTML"),
    pytest.param("wrong type", "'image/png' instead of JSON", id="wrong content type"),
    pytest.param("html", "a web page instead of JSON", id="HTML"),
    pytest.param("html as json", "a web page instead of JSON", id="HTML that says it is JSON"),
    pytest.param("circles", "redirected us in circles", id="redirect loop"),
    pytest.param("huge", "more than 2 MB", id="100 MB"),
    pytest.param("empty", "empty answer", id="empty body"),
    pytest.param("wrong shape", "another shape", id="valid JSON of the wrong shape"),
    pytest.param("a list of numbers", "another shape", id="a list where an object belongs"),
    pytest.param("bare NaN", "a bare NaN", id="bare NaN"),
    pytest.param("deep", "nested too deeply", id="a hundred thousand brackets"),
    pytest.param("not UTF-8", "not UTF-8", id="not UTF-8"),
    pytest.param("bad gzip", "could not be unpacked", id="broken gzip"),
]


@pytest.mark.parametrize(("behaviour", "words"), FAULTS)
def test_a_fault_with_nothing_kept_is_one_sentence_that_names_the_service(
    client, bad_server, behaviour, words
):
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave(behaviour)
    with pytest.raises(SourceError) as caught:
        ask(client, url, check=only_our_shape)
    assert words in str(caught.value)
    assert str(caught.value).startswith(f"{SOURCE}: ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("behaviour", "words"), FAULTS)
def test_a_fault_with_an_older_answer_kept_gives_that_answer_its_own_age_and_the_reason(
    client, bad_server, behaviour, words
):
    url = bad_server.serve("/v1/forecast", GOOD)
    ask(client, url, check=only_our_shape)
    bad_server.behave(behaviour)
    payload, reply = ask(client, url, now=NOW + timedelta(hours=7), check=only_our_shape)
    assert payload == GOOD
    assert (reply.fetched_at, reply.from_cache, reply.stale) == (NOW, True, True)
    (note,) = reply.notes
    assert (note.level, note.kind, note.at) == (NoteLevel.WARNING, NoteKind.OLDER_ANSWER_USED, NOW)
    assert words in note.reason
    bad_server.behave("well")
    _, again = ask(client, url, now=NOW + timedelta(hours=8), check=only_our_shape)
    assert (again.fetched_at, again.stale, again.notes) == (NOW + timedelta(hours=8), False, ())


def test_a_host_that_is_not_there_is_one_sentence(client, pauses):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with pytest.raises(SourceError, match="no connection"):
        ask(client, f"http://127.0.0.1:{port}/v1/forecast")
    assert len(pauses) == 2  # three further tries, the first of them at once


@pytest.mark.parametrize(
    ("url", "words"),
    [
        ("open-meteo", "cannot be used"),
        ("ftp://127.0.0.1/x", "must begin with https"),
        ("http://", "cannot be"),
    ],
)
def test_an_address_that_cannot_be_used_is_named(client, url, words):
    with pytest.raises(SourceError, match=words):
        ask(client, url)


def test_503_then_200_is_an_answer_after_another_try(client, bad_server):
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave("503", "503", "well")
    payload, reply = ask(client, url)
    assert payload == GOOD
    assert not reply.stale
    assert len(bad_server.asked) == 3


def test_pauses_grow_and_are_jittered(client, bad_server, pauses):
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave("503")
    with pytest.raises(SourceError):
        ask(client, url)
    assert len(bad_server.asked) == 4
    assert 2.0 <= pauses[0] <= 3.0
    assert 4.0 <= pauses[1] <= 5.0


def test_a_short_retry_after_is_waited_for(client, bad_server, pauses):
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave("429 once")
    payload, _ = ask(client, url)
    assert payload == GOOD
    assert pauses == [2.0]


def test_a_long_retry_after_is_told_and_not_waited_for(client, bad_server, pauses):
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave("429 wait 6 h")
    with pytest.raises(SourceError, match="asks to wait 21600 s"):
        ask(client, url)
    assert pauses == []
    assert len(bad_server.asked) == 1


@pytest.mark.parametrize("behaviour", ["400", "403", "404", "429"])
def test_a_4xx_is_never_asked_again(client, bad_server, behaviour):
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave(behaviour)
    with pytest.raises(Refused) as caught:
        ask(client, url)
    assert caught.value.status == int(behaviour)
    assert len(bad_server.asked) == 1


def test_a_request_at_fault_is_told_even_when_an_older_answer_is_kept(client, bad_server):
    url = bad_server.serve("/v1/forecast", GOOD)
    ask(client, url)
    bad_server.behave("400")
    with pytest.raises(Refused) as caught:
        ask(client, url, now=NOW + timedelta(hours=7))
    assert caught.value.payload["error"] is True


def test_a_stream_cut_off_once_is_asked_for_again(client, bad_server):
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave("cut off", "well")
    assert ask(client, url)[0] == GOOD


def test_the_user_agent_says_who_asks_and_how_to_reach_the_owner(client, bad_server):
    ask(client, bad_server.serve("/v1/forecast", GOOD), headers={"Accept": "application/geo+json"})
    _, headers = bad_server.asked[0]
    assert headers["user-agent"].startswith("advisor/")
    assert "owner@example.org" in headers["user-agent"]
    assert headers["accept"] == "application/geo+json"
    assert "gzip" in headers["accept-encoding"]


def test_a_contact_with_line_breaks_cannot_write_headers(bad_server):
    client = Client(user_agent_contact="a@b.c\r\nX-Evil: 1 ž", cache_dir=None)
    ask(client, bad_server.serve("/v1/forecast", GOOD))
    assert "x-evil" not in bad_server.asked[0][1]


def test_an_unchanged_answer_costs_a_304_and_is_current_again(client, bad_server):
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave("validated")
    ask(client, url)
    later = NOW + timedelta(hours=2)
    payload, reply = ask(client, url, now=later)
    assert payload == GOOD
    assert (reply.fetched_at, reply.from_cache, reply.stale) == (later, True, False)
    assert bad_server.asked[1][1]["if-none-match"].startswith('"')
    assert bad_server.asked[1][1]["if-modified-since"] == "Wed, 17 Jun 2026 12:00:00 GMT"
    bad_server.serve("/v1/forecast", {**GOOD, "place": "elsewhere"})
    assert ask(client, url, now=later)[0]["place"] == "elsewhere"


@pytest.mark.parametrize(
    ("behaviour", "minutes"),
    [
        pytest.param("well", 60, id="the service says nothing: an hour"),
        pytest.param("fresh for 10 min", 10, id="max-age"),
        pytest.param("expires in 30 min", 30, id="Expires against the service's own Date"),
    ],
)
def test_an_answer_is_not_asked_for_again_before_it_is_due(client, bad_server, behaviour, minutes):
    url = bad_server.serve("/v1/forecast", GOOD)
    bad_server.behave(behaviour)
    ask(client, url)
    _, reply = ask(client, url, now=NOW + timedelta(minutes=minutes - 1))
    assert (reply.fetched_at, reply.from_cache, reply.stale) == (NOW, True, False)
    assert len(bad_server.asked) == 1
    ask(client, url, now=NOW + timedelta(minutes=minutes + 1))
    assert len(bad_server.asked) == 2


def test_a_clock_set_back_asks_again(client, bad_server):
    url = bad_server.serve("/v1/forecast", GOOD)
    ask(client, url)
    ask(client, url, now=NOW - timedelta(days=1))
    assert len(bad_server.asked) == 2


def test_what_is_kept_survives_a_restart(client, bad_server, tmp_path):
    url = bad_server.serve("/v1/forecast", GOOD)
    ask(client, url)
    again = Client(user_agent_contact="", cache_dir=tmp_path / "cache")
    assert ask(again, url, now=NOW + timedelta(minutes=5))[1].from_cache


@pytest.mark.parametrize(
    "damage", [b"", b"{", b"[]", b'{"url": 1}', b"\xff\xfe"], ids=["empty", "half", "list", "fields", "bytes"]
)
def test_a_damaged_kept_answer_is_as_none(client, bad_server, tmp_path, damage):
    url = bad_server.serve("/v1/forecast", GOOD)
    ask(client, url)
    for file in (tmp_path / "cache").glob("*.json"):
        file.write_bytes(damage)
    assert ask(client, url)[0] == GOOD
    assert len(bad_server.asked) == 2


def test_a_folder_that_cannot_be_written_costs_the_kept_answer_only(bad_server, tmp_path):
    (tmp_path / "file").write_text("in the way")
    client = Client(user_agent_contact="", cache_dir=tmp_path / "file")
    payload, reply = ask(client, bad_server.serve("/v1/forecast", GOOD))
    assert payload == GOOD
    (note,) = reply.notes
    assert (note.kind, note.file) == (NoteKind.ANSWER_NOT_KEPT, str(tmp_path / "file"))
    assert note.reason


def test_answers_not_used_for_weeks_are_dropped(client, bad_server, tmp_path):
    old, new = bad_server.serve("/old", GOOD), bad_server.serve("/new", GOOD)
    ask(client, old)
    ask(client, new, now=NOW + timedelta(days=60))
    assert len(list((tmp_path / "cache").glob("*"))) == 1


@pytest.mark.parametrize(
    ("headers", "expected"),
    [
        ({}, None),
        ({"cache-control": "public, max-age=120"}, 120.0),
        ({"cache-control": "no-cache"}, 0.0),
        ({"cache-control": "max-age=soon"}, None),
        ({"expires": "0"}, 0.0),
        ({"expires": "Thu, 18 Jun 2026 02:00:00 GMT"}, 3600.0),
        ({"expires": "Thu, 18 Jun 2026 00:00:00 GMT"}, 0.0),
        ({"expires": "Thu, 18 Jun 2026 00:30:00 GMT", "date": "Thu, 18 Jun 2026 00:00:00 GMT"}, 1800.0),
    ],
    ids=[
        "silent",
        "max-age",
        "no-cache",
        "broken max-age",
        "Expires 0",
        "Expires",
        "expired",
        "skewed clock",
    ],
)
def test_how_long_an_answer_is_fresh_is_read_from_its_headers(headers, expected):
    assert kept.lifetime_s(headers, NOW) == expected


@pytest.mark.parametrize(
    ("degrees", "text"), [(40.52, "40.5200"), (-96.740049, "-96.7400"), (-0.0, "0.0000"), (180.0, "180.0000")]
)
def test_coordinates_have_four_decimals(degrees, text):
    assert coordinate(degrees) == text
