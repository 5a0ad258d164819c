"""Files that are none are refused before a byte is read; what is made private is so whatever the umask."""

from __future__ import annotations

import os
import socket
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from advisor.files import make_folder, make_private, read_bytes, write_text


@pytest.fixture(params=[0o000, 0o022, 0o777])
def umask(request: pytest.FixtureRequest) -> Iterator[None]:
    before = os.umask(request.param)
    yield
    os.umask(before)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_file_is_read_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(b"12345")
    assert read_bytes(path, 5) == b"12345"
    with pytest.raises(OSError, match=r"it is larger than 4e-06 MB"):
        read_bytes(path, 4)


@pytest.mark.parametrize("sort", ["pipe", "socket", "device", "folder"])
def test_what_is_no_file_is_called_by_its_name(tmp_path: Path, sort: str) -> None:
    path = tmp_path / "x"
    if sort == "pipe":
        os.mkfifo(path)
    elif sort == "folder":
        path.mkdir()
    elif sort == "device":
        path = Path("/dev/zero")
    with socket.socket(socket.AF_UNIX) as one:
        if sort == "socket":
            one.bind(str(path))
        with pytest.raises(OSError, match=r"a directory|a pipe, not|a device, not|No such device"):
            read_bytes(path, 10)


def test_what_is_private_is_so_whatever_the_umask(tmp_path: Path, umask: None) -> None:
    make_folder(tmp_path / "a" / "b")
    make_private(tmp_path / "a" / "b" / "file")
    assert (mode(tmp_path / "a"), mode(tmp_path / "a" / "b")) == (0o700, 0o700)
    assert mode(tmp_path / "a" / "b" / "file") == 0o600


def test_what_is_there_stays_as_its_owner_made_it(tmp_path: Path) -> None:
    folder, file = tmp_path / "a", tmp_path / "a" / "file"
    folder.mkdir(0o755)
    file.write_text("kept")
    file.chmod(0o644)
    make_folder(folder)
    make_private(file)
    assert (mode(folder), mode(file), file.read_text()) == (0o755, 0o644, "kept")
    with pytest.raises(FileExistsError):
        make_folder(file)


def test_text_replaces_what_stands_there_and_waits_for_no_reader(tmp_path: Path) -> None:
    path, pipe = tmp_path / "page", tmp_path / "pipe"
    write_text(path, "a long page")
    write_text(path, "short\r\né")
    assert path.read_bytes() == "short\r\né".encode()
    os.mkfifo(pipe)
    with pytest.raises(OSError, match="it is a pipe that nobody reads"):
        write_text(pipe, "x")
