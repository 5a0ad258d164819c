"""The call that tells an outside watcher that an evening went well, so that silence can be told from quiet.

The address stands in the site file, or beside the secrets where it is one. It is called with GET; any answer but a
2xx is a failure, redirects are not followed.
"""

from __future__ import annotations

from urllib.parse import urlsplit

from advisor.errors import InputError
from advisor.lawn import HEARTBEAT_IS_SECRET, ServiceSettings, heartbeat_problem
from advisor.line import Failed, Line, within
from advisor.service.channels import TIMEOUT_S, TOTAL_S, ChannelDown
from advisor.service.secret_values import HEARTBEAT_URL, Secrets
from advisor.version import VERSION


def heartbeat_address(settings: ServiceSettings, secrets: Secrets) -> str:
    """The address to call, "" where none is set; InputError where it should be secret and is not there."""
    if settings.heartbeat != HEARTBEAT_IS_SECRET:
        return settings.heartbeat
    address = secrets.get(HEARTBEAT_URL)
    if heartbeat_problem(address):
        raise InputError(
            "the heartbeat has no address" if not address else "the address of the heartbeat cannot be used",
            where="service.heartbeat",
            allowed=f"ADVISOR_{HEARTBEAT_URL}=https://host/path in the environment or the file of secrets",
        )
    return address


def call_heartbeat(address: str) -> None:
    """Call it; raises ChannelDown with one clause that holds no secret."""
    from advisor.exchange import Answer, Bounds, exchange

    host = urlsplit(address).hostname
    bounds = Bounds((TIMEOUT_S, TIMEOUT_S), body_limit=0, moves_within=None)

    def call(line: Line) -> Answer:
        return exchange(line, "GET", address, headers={"User-Agent": f"advisor/{VERSION}"}, bounds=bounds)

    try:
        status = within(TOTAL_S, call).status
    except Failed as failure:
        raise ChannelDown(f"{host} cannot be reached ({failure})") from None
    if not 200 <= status < 300:
        raise ChannelDown(f"{host} answered HTTP {status}")
