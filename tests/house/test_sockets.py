"""Tests reach no network: only this machine's own loopback addresses may be called."""

from __future__ import annotations

import socket

import pytest
from pytest_socket import SocketConnectBlockedError


def test_an_address_outside_is_refused() -> None:
    # 192.0.2.0/24 is set aside for examples (RFC 5737)
    with (
        socket.socket() as outside,
        pytest.warns(UserWarning, match="tried to use"),
        pytest.raises(SocketConnectBlockedError),
    ):
        outside.connect(("192.0.2.1", 80))


def test_a_loopback_address_may_be_called() -> None:
    with (
        socket.create_server(("127.0.0.1", 0)) as server,
        socket.create_connection(server.getsockname()) as inside,
    ):
        assert inside.getpeername() == server.getsockname()
