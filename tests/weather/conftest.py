"""The misbehaving loopback server, for every test of this folder."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest


def _bad_server_module():
    name = "loopback_bad_server"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name("bad_server.py"))
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


@pytest.fixture
def bad_server():
    """A BadServer that runs for one test; see bad_server.py for its behaviours."""
    with _bad_server_module().BadServer() as server:
        yield server
