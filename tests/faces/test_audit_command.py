"""`advisor audit` as typed: a file, typed in, a meter, one can; what is recorded and what is refused."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from typer.testing import CliRunner

from advisor.advice.audit import Reading
from advisor.errors import AdvisorError
from advisor.faces.cli.main import program
from advisor.faces.text.can_map import svg_map, text_map
from advisor.shipped import shipped

MILLILITRES = "20 22 25 18 30 27 24 21 19 26 28 23 22 17 29 25 24 20 21 26 23 22 27 18"


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "site.yaml"
    path.write_text(shipped("config", "demo.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    return path


@pytest.fixture
def cans(tmp_path: Path) -> Path:
    path = tmp_path / "cans.csv"
    rows = [f"{ml},{i % 6 * 3},{i // 6 * 3}" for i, ml in enumerate(MILLILITRES.split())]
    path.write_text("# invented\nvolume_ml,x_m,y_m\n\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def run(command: str, *words: str) -> str:
    result = CliRunner().invoke(program(), [command, *words])
    assert result.exception is None, result.exception
    return result.output


def refused(*words: str) -> str:
    result = CliRunner().invoke(program(), ["audit", *words])
    assert isinstance(result.exception, AdvisorError), result.output
    return str(result.exception)


def test_typed_volumes_and_the_file_give_the_same_audit(cans: Path) -> None:
    common = ("front", "--demo", "--throat", "16.5 sq in", "--minutes", "20", "--json")
    typed = json.loads(run("audit", *common, "--readings", f"{MILLILITRES} mL"))
    filed = json.loads(run("audit", *common, "--cans", str(cans)))
    assert typed["schema_version"] == "advisor.audit/1"
    for name in ("rate_mm_h", "uniformity", "christiansen", "driest_mm_h", "multiplier"):
        assert typed[name] == pytest.approx(filed[name])
    assert typed["rate_mm_h"] == pytest.approx(6.5405, abs=5e-5)
    assert typed["uniformity"] == pytest.approx(0.8043, abs=5e-5)


def test_the_text_gives_the_verdict_the_figures_and_the_map(cans: Path) -> None:
    text = run("audit", "Front", "--demo", "--cans", str(cans), "--throat", "16.5 sq in", "--minutes", "20")
    for words in (
        "waters evenly",
        "Low-quarter uniformity",
        "The cans where they stood",
        "73*",
        "Not recorded",
    ):
        assert words in text


def test_an_audit_is_recorded_and_the_next_runtime_rests_on_it(site: Path) -> None:
    words = (
        "Back",
        "--site",
        str(site),
        "--now",
        "2026-06-10T06:00",
        "--depths",
        "5 5 5 5 mm",
        "--minutes",
        "30",
    )
    assert "Recorded in" in run("audit", *words, "--note", "by the gate")
    later = ("--site", str(site), "--now", "2026-06-11", "--zone", "Back", "--json")
    worked = json.loads(run("runtime", *later))["zones"][0]
    assert (worked["rate_mm_h"], worked["rate_basis"]) == (pytest.approx(10.0), "audit")
    assert worked["measured_on"] == "2026-06-10"
    before = ("--site", str(site), "--now", "2026-06-09", "--zone", "Back", "--json")
    assert json.loads(run("runtime", *before))["zones"][0]["rate_basis"] == "guess"


def test_a_dry_run_records_nothing(site: Path, tmp_path: Path) -> None:
    words = ("Back", "--site", str(site), "--can", "8 mm", "--minutes", "30", "--dry-run")
    assert "Not recorded" in run("audit", *words)
    assert not (tmp_path / "larkmoor-lane.sqlite").exists()


def test_the_meter_and_one_can() -> None:
    meter = json.loads(
        run(
            "audit",
            "Back",
            "--demo",
            "--meter-start",
            "1000 gal",
            "--meter-end",
            "1095 gal",
            "--minutes",
            "15",
            "--json",
        )
    )
    # 96.25 × (95 / 15) / 3,100 = 0.1966 in/h = 4.995 mm/h
    assert meter["rate_mm_h"] == pytest.approx(4.995, abs=5e-3)
    can = json.loads(run("audit", "Back", "--demo", "--can", "4 mm", "--minutes", "15", "--json"))
    assert (can["rate_mm_h"], can["method"]) == (pytest.approx(16.0), "single can")


def test_the_picture_is_an_svg_with_a_circle_for_every_can(cans: Path, tmp_path: Path) -> None:
    picture = tmp_path / "map.svg"
    words = ("Front", "--demo", "--cans", str(cans), "--throat", "106 cm2", "--minutes", "20")
    run("audit", *words, "--picture", str(picture))
    root = ET.fromstring(picture.read_text(encoding="utf-8"))
    circles = root.findall("{http://www.w3.org/2000/svg}circle")
    assert len(circles) == 24
    assert sum("stroke-dasharray" in c.attrib for c in circles) == 6


@pytest.mark.parametrize(
    "places",
    [[(0, 0)], [(0, 0), (5, 0), (9, 0)], [(2, 0), (2, 4), (2, 9)], [(1, 1), (1, 1), (1, 1)]],
    ids=["one", "a row", "a column", "all on one spot"],
)
def test_maps_stand_any_places_and_lose_no_can(places: list[tuple[float, float]]) -> None:
    readings = [Reading(depth_mm=3.0 + i, x_m=x, y_m=y) for i, (x, y) in enumerate(places)]
    picture = text_map(readings, "metric", width=80)[:-1]
    assert sum(len(line.split()) for line in picture) == len(places)
    root = ET.fromstring(svg_map(readings, "us", title="A <zone> & more"))
    assert len(root.findall("{http://www.w3.org/2000/svg}circle")) == len(places)


def test_without_places_there_is_no_map() -> None:
    assert text_map([Reading(depth_mm=3.0)], "metric", width=80) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        pytest.param([], "measured in one way", id="nothing measured"),
        pytest.param(["--can", "8 mm", "--depths", "5 mm"], "--depths, --can", id="two ways"),
        pytest.param(["--can", "8"], "needs its unit", id="no unit"),
        pytest.param(["--readings", "20 22 mL"], "cans' opening", id="no throat"),
        pytest.param(["--readings", "20 mL", "--throat", "16 sq ft"], "no can has such", id="a huge throat"),
        pytest.param(["--readings", "mL"], "some numbers and one unit", id="no numbers"),
        pytest.param(["--meter-end", "5 m3"], "read before and after", id="half a meter"),
        pytest.param(
            ["--meter-start", "6 m3", "--meter-end", "5 m3"], "did not move forward", id="backwards"
        ),
        pytest.param(["--depths", "5 6 7 mm", "--wind", "3"], "--wind", id="wind without unit"),
        pytest.param(["--can", "8 mm", "--picture", "m.svg"], "a map needs", id="no places"),
    ],
)
def test_what_cannot_be_is_said_with_the_way_out(words: list[str], said: str) -> None:
    assert said in refused("Front", "--demo", "--minutes", "20", *words)


def test_an_unknown_zone_and_an_impossible_time_are_refused() -> None:
    assert "did you mean 'Front'" in refused("Frnt", "--demo", "--minutes", "20", "--can", "8 mm")
    assert "run time cannot be" in refused("Front", "--demo", "--minutes", "0", "--can", "8 mm")


def test_a_picture_that_cannot_be_written_is_refused_before_anything_is_recorded(
    cans: Path, site: Path, tmp_path: Path
) -> None:
    words = ("Front", "--site", str(site), "--cans", str(cans), "--throat", "106 cm2", "--minutes", "20")
    assert "cannot be written" in refused(*words, "--picture", str(tmp_path / "none" / "m.svg"))
    assert not (tmp_path / "larkmoor-lane.sqlite").exists()
