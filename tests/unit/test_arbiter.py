"""The door of a service that stops."""

from __future__ import annotations

import socket

import pytest

from wattpair_service.arbiter import let_in, let_nobody_in


@pytest.mark.parametrize(("family", "host"), [(socket.AF_INET, "127.0.0.1"), (socket.AF_INET6, "::1")])
def test_who_has_connected_is_served_and_nobody_comes_after(family: socket.AddressFamily, host: str) -> None:
    with (
        socket.create_server((host, 0), family=family) as listener,
        socket.socket(family) as early,
        socket.socket(family) as late,
    ):
        early.connect(listener.getsockname())
        let_nobody_in(listener)
        late.settimeout(0.5)
        with pytest.raises(TimeoutError):
            late.connect(listener.getsockname())
        client, _ = listener.accept()
        with client:
            let_in(client)
            early.sendall(b"asked")
            assert client.recv(5) == b"asked"
