from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from advisor.faces.cli import main as cli
from advisor.shipped import shipped

PLACE = [
    "--latitude=40.52",
    "--longitude=-96.74",
    "--elevation=381 m",
    "--time-zone=America/Chicago",
    "--units=us",
]


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("ADVISOR_SITE", raising=False)


def _advisor(monkeypatch: pytest.MonkeyPatch, *args: str) -> int:
    monkeypatch.setattr(sys, "argv", ["advisor", *args])
    with pytest.raises(SystemExit) as caught:
        cli.main()
    return int(caught.value.code or 0)


def test_init_writes_a_file_that_check_takes_as_it_is(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _advisor(monkeypatch, "init", *PLACE, "--name", "Larkmoor Lane") == 0
    assert "Wrote site.yaml for Larkmoor Lane." in capsys.readouterr().out
    assert _advisor(monkeypatch, "check") == 0
    out = capsys.readouterr().out
    assert out.startswith("Larkmoor Lane: 40.52° N, 96.74° W, 1,250 ft, America/Chicago\n")
    assert "Example zone: this is the starter's example" in out
    assert out.endswith("\nsite.yaml can be used.\n")


def test_init_writes_over_nothing_unless_told_to(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("lawn.yaml").write_text("mine", encoding="utf-8")
    assert _advisor(monkeypatch, "init", *PLACE, "--out", "lawn.yaml") == 2
    assert capsys.readouterr().err == (
        "advisor: lawn.yaml: the file is there already and stays as it is; "
        "allowed: another --out, or --force to write over it\n"
    )
    assert Path("lawn.yaml").read_text(encoding="utf-8") == "mine"
    assert _advisor(monkeypatch, "init", *PLACE, "--out", "lawn.yaml", "--force") == 0
    assert "advisor check --site lawn.yaml" in capsys.readouterr().out
    assert Path("lawn.yaml").read_text(encoding="utf-8") != "mine"


def test_init_guesses_nothing_about_the_place(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    assert _advisor(monkeypatch, "init", "--latitude=40.52", "--longitude=-96.74", "--units=us") == 2
    assert capsys.readouterr().err == (
        "advisor: advisor init: the place is not complete and nothing about it is guessed; "
        "found no --elevation, --time-zone; allowed: Elevation with its unit, such as 381 m or 1250 ft; "
        "Time zone, such as America/Chicago\n"
    )
    assert not Path("site.yaml").exists()


def test_init_asks_at_a_terminal_for_what_was_not_given(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[str] = []

    def answer(question: str) -> str:
        asked.append(question)
        return "381 m"

    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("typer.prompt", answer)
    assert _advisor(monkeypatch, "init", *(one for one in PLACE if "elevation" not in one)) == 0
    assert asked == ["Elevation with its unit, such as 381 m or 1250 ft"]
    assert "elevation: 381 m" in Path("site.yaml").read_text(encoding="utf-8")
    capsys.readouterr()


def test_init_tells_every_option_that_is_wrong_at_once(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    wrong = [
        "--latitude=140",
        "--longitude=-96.74",
        "--elevation=381",
        "--time-zone=America/Chicgo",
        "--units=us",
    ]
    assert _advisor(monkeypatch, "init", *wrong) == 2
    assert capsys.readouterr().err.splitlines() == [
        'advisor: --elevation: a length needs its unit; found \'381\'; allowed: "0.2 m", "8 in", "1250 ft"',
        "--latitude: a latitude is beyond the poles (are latitude and longitude swapped?); found 140; "
        "allowed: -90 to 90",
        "--time-zone: the time zone is not known; found 'America/Chicgo'; allowed: did you mean "
        "'America/Chicago'? An IANA name such as America/Chicago or Europe/Lisbon",
    ]
    assert not Path("site.yaml").exists()


def test_init_tells_when_it_cannot_write(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _advisor(monkeypatch, "init", *PLACE, "--out", "no/such/folder/site.yaml") == 2
    assert capsys.readouterr().err == (
        "advisor: no/such/folder/site.yaml: the file cannot be written (no such file or directory); "
        "allowed: another --out\n"
    )


def test_check_tells_what_the_demo_comes_to(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _advisor(monkeypatch, "check", "--demo") == 0
    out = capsys.readouterr().out
    rows = {line.split("  ")[0]: line.split() for line in out.splitlines() if line}
    assert rows["Front"][-8:] == ["68", "%", "1.53", "in", "0.61", "in", "130", "gal"]
    assert "guess 0.31-0.71" in out
    assert "measured 2026-05-09" in out
    assert "Watering: 21:00-08:00, every day, ends by sunrise" in out
    assert "Back: the rate is a guess from its head type, anywhere from 0.31 in/h to 0.71 in/h" in out
    assert "Round: Summer soil round, every 28 days: Potash solution, Calcium solution" in out


def test_check_tells_all_problems_with_exit_code_2_and_no_traceback(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    text = text.replace("area: 2,400 sq ft", "area: 2400").replace("dial: balanced", "dial: bold")
    Path("site.yaml").write_text(text, encoding="utf-8")
    assert _advisor(monkeypatch, "check") == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    first, second = captured.err.splitlines()
    assert first == (
        "advisor: site.yaml:14: zones[Front].area: an area needs its unit; found '2400'; "
        'allowed: "465 m2", "5,000 sq ft"'
    )
    assert second.endswith(
        "decision.dial: the dial is not known; found 'bold'; allowed: one of thrifty, balanced, cautious"
    )


def test_check_without_a_file_tells_the_way_out(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _advisor(monkeypatch, "check", "--site", "nowhere.yaml") == 2
    assert capsys.readouterr().err == (
        "advisor: nowhere.yaml: there is no such file; allowed: `advisor init` writes one, --site names another\n"
    )


@pytest.mark.parametrize(
    "args", [["check", "--demo"], ["init", *PLACE], ["--help"]], ids=["check", "init", "help"]
)
def test_neither_pandas_nor_numpy_is_loaded(args: list[str], tmp_path: Path) -> None:
    script = (
        "import sys\n"
        f"sys.argv = {['advisor', *args]!r}\n"
        "from advisor.faces.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        "print('heavy:', sorted({'numpy', 'pandas', 'requests', 'sqlalchemy'} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=tmp_path)
    assert done.stdout.splitlines()[-1:] == ["heavy: []"], done.stderr


def _changed(old: str, new: str) -> None:
    from advisor.shipped import shipped

    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    assert old in text
    Path("site.yaml").write_text(text.replace(old, new), encoding="utf-8")


def test_check_tells_a_zone_that_draws_more_than_the_supply_carries(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _changed("flow: 16 gal/min", "flow: 12 gal/min")
    assert _advisor(monkeypatch, "check", "--now", "2026-06-17T20:15") == 0
    told = " ".join(capsys.readouterr().out.split())
    # 0.52 in/h on 2,400 sq ft: 0.52 / 12 ft * 2,400 sq ft = 104 cu ft/h = 778 gal/h = 13.0 gal/min
    assert (
        "Does not go together: - Front: by its flow, or its rate and area, it draws 13.0 gal/min, more than the "
        "12.0 gal/min that the supply carries; one of them is off" in told
    )


def test_check_refuses_a_measurement_dated_ahead(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _changed("on: 2026-05-09", "on: 2035-05-09")
    assert _advisor(monkeypatch, "check", "--now", "2026-06-17T20:15") == 2
    assert capsys.readouterr().err == (
        "advisor: site.yaml:20: zones[Front].rate.on: a measurement is dated ahead; found '2035-05-09'; "
        "allowed: up to today, 2026-06-17\n"
    )


def test_check_counts_blackouts_and_names_what_a_label_says_as_the_file_does(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _changed("watering:\n", "watering:\n  blackout: [{from: 2026-12-01, to: 2026-12-31}]\n")
    text = Path("site.yaml").read_text(encoding="utf-8").replace("units: us", "units: metric")
    dust = (
        "  - {name: Dust, kind: granular-slow, stock: 10 kg, least: 4 mm, wind_most: 3 m/s, within: 12 h}\n"
    )
    Path("site.yaml").write_text(text.replace("products:\n", f"products:\n{dust}", 1), encoding="utf-8")
    assert _advisor(monkeypatch, "check", "--now", "2026-06-17T20:15") == 0
    out = capsys.readouterr().out
    assert ", 1 blackout\n" in out
    assert "stock 10 kg, from its label: least, wind most, within" in out


SERVED_WRONG = (
    "service: {advice_at: 25:15}\n"
    "messages:\n  email: {from: lawn@larkmoor.example, to: owner, server: mail.larkmoor.example}\n"
)


def test_check_reads_what_the_file_says_of_the_service_and_its_messages(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _changed("on: 2026-05-09", "on: 2035-05-09")
    text = Path("site.yaml").read_text(encoding="utf-8")
    Path("site.yaml").write_text(text + SERVED_WRONG, encoding="utf-8")
    line = len(text.splitlines()) + 1
    assert _advisor(monkeypatch, "check", "--now", "2026-06-17T20:15") == 2
    assert [
        told.partition(";")[0].removeprefix("advisor: ") for told in capsys.readouterr().err.splitlines()
    ] == [
        "site.yaml:20: zones[Front].rate.on: a measurement is dated ahead",
        f"site.yaml:{line}: service.advice_at: a local time is asked here",
        f"site.yaml:{line + 2}: messages.email.to[1]: an e-mail address is asked here",
    ]


def test_check_tells_them_together_with_what_keeps_the_file_from_being_a_site(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _changed("units: us", "units: imperial")
    with Path("site.yaml").open("a", encoding="utf-8") as file:
        file.write(SERVED_WRONG)
    assert _advisor(monkeypatch, "check", "--now", "2026-06-17T20:15") == 2
    told = capsys.readouterr().err
    assert "site.units" in told
    assert "service.advice_at" in told
    assert "messages.email.to" in told


def test_check_takes_a_file_whose_service_and_messages_are_well_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _changed("watering:\n", "service: {advice_at: 20:15}\nmessages: {channels: [phone]}\nwatering:\n")
    assert _advisor(monkeypatch, "check", "--now", "2026-06-17T20:15") == 0
    assert capsys.readouterr().err == ""
