"""A file of cans: its columns and units, and every fault with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.errors import AdvisorError
from advisor.lawn.cans_file import read_cans


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("", "cans.csv: the file has no cans", id="empty"),
        pytest.param("depth_mm\n", "cans.csv:1: the file has no cans under", id="no rows"),
        pytest.param("height\n5\n", "cans.csv:1: a column is not known; found 'height'", id="unknown column"),
        pytest.param("depth_mm,volume_ml\n5,6\n", "cans.csv:1: the columns do not make an audit", id="both"),
        pytest.param("depth_mm,x_m\n5,6\n", "cans.csv:1: the columns do not make an audit", id="x without y"),
        pytest.param("depth_mm\n5\nsix\n", "cans.csv:3: a depth is a number", id="a word"),
        pytest.param("depth\n5\n", "cans.csv:2: a depth needs its unit", id="no unit"),
        pytest.param("depth_mm\n5,6\n", "cans.csv:2: a row has another number of cells", id="extra cell"),
        pytest.param("depth_mm\n-5\n", "cans.csv:2: a can holds less than nothing", id="negative"),
        pytest.param("depth_mm\n9999\n", "cans.csv:2: no can has such a depth; found '9999'", id="too deep"),
        pytest.param("depth_mm,x_m,y_m\n5,0,9999\n", "cans.csv:2: no can stands so far away", id="far away"),
        pytest.param("depth_furlongs\n5\n", "cans.csv:2: a depth cannot be given in 'furlongs'", id="unit"),
    ],
)
def test_a_faulty_file_names_its_line(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "cans.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(AdvisorError, match=r"cans\.csv") as caught:
        read_cans(path)
    assert said in str(caught.value)


def test_all_faults_of_a_file_are_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "cans.csv"
    path.write_text("depth_mm\nx\n4\ny\n", encoding="utf-8")
    with pytest.raises(AdvisorError) as caught:
        read_cans(path)
    assert "cans.csv:2" in str(caught.value)
    assert "cans.csv:4" in str(caught.value)


def test_units_may_stand_in_the_cells(tmp_path: Path) -> None:
    path = tmp_path / "cans.csv"
    path.write_text("depth,x_ft,y_ft\n0.25 in,10,0\n6 mm,0,0\n", encoding="utf-8")
    first, second = read_cans(path)
    assert (first.depth_mm, first.x_m, second.depth_mm) == (6.35, pytest.approx(3.048), 6.0)


@pytest.mark.parametrize("content", [None, b"\xff\xfe\x00"], ids=["missing", "not text"])
def test_a_file_that_cannot_be_read_is_said(tmp_path: Path, content: bytes | None) -> None:
    path = tmp_path / "cans.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(AdvisorError, match=r"cannot be read|not text"):
        read_cans(path)
