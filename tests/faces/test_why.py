"""`advisor tonight --why`: the judged number that would change an answer, as text and as JSON."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from advisor import night
from advisor.advice.judged_why import JudgedWhy
from advisor.faces.cli.main import program
from advisor.faces.cli.options import DEMO_NOW, moment
from advisor.faces.text.why_text import why_text
from advisor.lawn.load import load_site
from advisor.shipped import shipped
from advisor.store import open_store


@pytest.fixture(scope="module")
def why() -> JudgedWhy:
    done = CliRunner().invoke(program(), ["tonight", "--demo", "--why", "--json"])
    assert done.exit_code == 0, done.output
    return JudgedWhy.model_validate_json(done.stdout)


def test_each_number_is_told_in_words_with_its_source(why: JudgedWhy) -> None:
    text = why_text(why, width=88, demo=True)
    flat = " ".join(text.split())
    assert "Invented demo" in text
    assert max(len(line) for line in text.splitlines()) <= 88
    turns = [turn for zone in why.zones for turn in zone.turns]
    turns_of_applications = [turn for one in why.applications for turn in one.turns]
    assert turns
    for turn in (*turns, *turns_of_applications):
        assert f"({turn.number.source})." in turn.words
        assert turn.words in flat
        assert turn.number.key not in text
    assert not re.search(r"tests/|data/|\.csv", text), "nothing of the program's own files"
    assert "Front and Back: run." in flat
    assert all(zone.words in flat for zone in why.zones if zone.zone not in ("Front", "Back"))
    assert all(text.count(line) == 1 for line in ("Front and Back: run.", "Bank: run."))


def test_products_with_the_same_answer_are_told_together(why: JudgedWhy) -> None:
    text = why_text(why)
    assert "Potash solution and Calcium solution on Front and Back: water in with a run." in text
    assert len(re.findall("Potash solution", text)) == 1


def test_the_lawn_of_an_owner_keeps_the_advice_that_is_asked_about(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = load_site(shipped("config", "demo.yaml"))
    now = moment(DEMO_NOW, site.place.zone)
    inputs = night.gather_demo(site, now)
    monkeypatch.setattr(night, "gather", lambda *_, **__: inputs)
    with open_store(tmp_path / "records.db") as store:
        found = night.why_tonight(site, store, now)
        kept = store.last_advice(site.place.name)
    assert kept is not None
    assert kept.digest == found.inputs_digest
