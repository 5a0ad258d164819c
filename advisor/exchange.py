"""One exchange over HTTP that comes to an end: bounded in its size and in where it may be sent on to.

Its time is bounded by its line (`advisor.line`). Redirects are followed here, because a library follows them
anywhere and reads what comes with them to its end; bodies are unpacked here, because a small one may unpack to
more than there is memory.
"""

from __future__ import annotations

import socket
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from http.client import HTTPException
from typing import Any
from urllib.parse import SplitResult, urljoin, urlsplit

import requests
from requests.adapters import HTTPAdapter
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool
from urllib3.exceptions import HTTPError, ProtocolError

from advisor.line import Failed, Line

MOST_REDIRECTS = 5
REDIRECTS = frozenset({301, 302, 303, 307, 308})
WITHOUT_BODY = frozenset({204, 304})
PORTS = {"http": 80, "https": 443}
PIECE = 65536
NO_CONNECTION, CUT_OFF = 3, 1
"""How often it is worth trying again after a connection that was not had, and after one that broke."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What a server answered; `headers` have lower-case names, `body` is unpacked."""

    status: int
    headers: Mapping[str, str]
    body: bytes


@dataclass(frozen=True, slots=True)
class Bounds:
    """How far an exchange may go.

    `timeout` is (connect, read) seconds; `body_limit` bytes, 0 reads no body. `moves_within`: None follows
    no redirect; else those to the same server are followed, and over https to hosts of this domain
    ("": none). From https none leads away. `trust` is a certificate authority's file, "" the usual ones.
    """

    timeout: tuple[float, float]
    body_limit: int
    moves_within: str | None
    trust: str = ""


def exchange(
    line: Line,
    method: str,
    url: str,
    *,
    headers: Mapping[str, str],
    bounds: Bounds,
    data: bytes | None = None,
) -> Answer:
    """One request and its answer, redirects followed as far as `bounds` say; raises Failed."""
    sent = {"Accept-Encoding": "gzip", **headers}
    limit, domain = bounds.body_limit, bounds.moves_within
    try:
        with _Session(line) as session:
            for _ in range(MOST_REDIRECTS + 1):
                with session.request(
                    method,
                    url,
                    headers=sent,
                    data=data,
                    timeout=bounds.timeout,
                    stream=True,
                    allow_redirects=False,
                    verify=bounds.trust or True,
                ) as response:
                    lower = {str(k).lower(): str(v) for k, v in response.headers.items()}
                    if domain is None or response.status_code not in REDIRECTS or "location" not in lower:
                        body = _body(response, lower, limit, line) if limit else b""
                        return Answer(response.status_code, lower, body)
                url = moved(url, lower["location"], domain)
    except NETWORK_TROUBLE as problem:
        raise _in_words(problem, bounds.timeout) from None
    raise Failed(f"redirected us in circles (more than {MOST_REDIRECTS} redirects)")


NETWORK_TROUBLE = (requests.RequestException, HTTPError, HTTPException, OSError, ValueError)


def full_url(url: str, params: Mapping[str, str] | None = None) -> str:
    """`url` with `params` as its query; Failed where it is no address for HTTP."""
    found = url.partition("?")[0]
    try:
        full = requests.Request("GET", url, params=dict(params or {})).prepare().url or ""
    except (requests.RequestException, ValueError):
        raise Failed(f"its address cannot be used; found {found!r}; allowed: https://host/path") from None
    if urlsplit(full).scheme not in PORTS:
        raise Failed(f"its address must begin with https:// or http://; found {found!r}")
    return full


def moved(url: str, location: str, domain: str) -> str:
    """Where a redirect from `url` leads; Failed where it is no address or one that may not be followed.

    >>> moved("http://api.example/points/1", "/points/2", "")
    'http://api.example/points/2'
    >>> moved("https://api.example/a", "https://new.api.example/b", "api.example")
    'https://new.api.example/b'
    """
    usable = location.isascii() and location.isprintable() and not set(location) & set(' \\"<>')
    try:
        to, here, said = urlsplit(urljoin(url, location)), urlsplit(url), urlsplit(location)
        port = _port(to)
        usable &= bool(said.netloc) or not (said.scheme or location.startswith("//"))
    except ValueError:
        usable = False
    host = (to.hostname or "") if usable else ""
    if not host or to.scheme not in PORTS or "@" in to.netloc:
        raise Failed(f"redirected us to {location.partition('?')[0][:80]!r}, which is no address to follow")
    if here.scheme == "https" and to.scheme != "https":
        raise Failed("redirected us away from https, which is not followed")
    same = host == here.hostname and (to.scheme, port) in ((here.scheme, _port(here)), ("https", 443))
    if not same and not (to.scheme == "https" and domain and f".{host}".endswith(f".{domain}")):
        raise Failed(f"redirected us to another server ({host}), which is not followed")
    return to.geturl()


def _port(parts: SplitResult) -> int | None:
    return parts.port or PORTS.get(parts.scheme)


class _Session(requests.Session):
    """A session whose connections are held by a line, and that leaves redirects alone."""

    def __init__(self, line: Line) -> None:
        super().__init__()
        adapter = _Adapter(line)
        self.mount("https://", adapter)
        self.mount("http://", adapter)

    def get_redirect_target(self, resp: requests.Response) -> str | None:  # noqa: ARG002
        """None, whatever was answered: the library reads the whole body of a redirect first."""
        return None


class _Adapter(HTTPAdapter):
    """Makes connections that are held by a line; tries nothing again, of which its caller is the judge."""

    def __init__(self, line: Line) -> None:
        class Plain(HTTPConnection):
            def _new_conn(self) -> socket.socket:
                made = super()._new_conn()
                line.hold(made)
                return made

        class Secure(HTTPSConnection):
            def _new_conn(self) -> socket.socket:
                made = super()._new_conn()
                line.hold(made)
                return made

        class PlainPool(HTTPConnectionPool):
            ConnectionCls = Plain

        class SecurePool(HTTPSConnectionPool):
            ConnectionCls = Secure

        self._pools = {"http": PlainPool, "https": SecurePool}
        super().__init__(pool_connections=1, pool_maxsize=1, max_retries=0)

    def init_poolmanager(self, *args: Any, **kw: Any) -> None:
        """The library's own, with our connections."""
        super().init_poolmanager(*args, **kw)
        self.poolmanager.pool_classes_by_scheme = self._pools

    def proxy_manager_for(self, proxy: Any, **kw: Any) -> Any:
        """The same behind a proxy; one of SOCKS makes connections of its own."""
        manager = super().proxy_manager_for(proxy, **kw)
        if not proxy.lower().startswith("socks"):
            manager.pool_classes_by_scheme = self._pools
        return manager


def _body(response: requests.Response, headers: Mapping[str, str], limit: int, line: Line) -> bytes:
    """The body, unpacked; Failed where it is cut off, cannot be unpacked or is longer than `limit`."""
    packed = headers.get("content-encoding", "").strip().lower()
    if packed not in ("", "identity", "gzip", "x-gzip"):
        raise Failed(f"sent a body packed as {packed[:40]!r}, which was not asked for")
    unpacking = zlib.decompressobj(wbits=31) if "gzip" in packed else None
    body, received = bytearray(), 0
    try:
        while piece := response.raw.read(PIECE, decode_content=False):
            if line.is_cut.is_set():
                raise Failed("was given up")
            received += len(piece)
            body += piece if unpacking is None else unpacking.decompress(piece, limit + 1 - len(body))
            if len(body) > limit:
                raise Failed(f"sent more than {limit / 1e6:g} MB, which no answer needs")
    except zlib.error:
        raise Failed("sent a body that could not be unpacked") from None
    told = headers.get("content-length", "")
    whole = response.status_code in WITHOUT_BODY or "transfer-encoding" in headers or not told.isdecimal()
    if not whole and received != int(told):
        raise Failed("the answer was cut off in the middle", again=CUT_OFF)
    if unpacking is not None and body and not unpacking.eof:
        raise Failed("sent a body that could not be unpacked")
    return bytes(body)


def _in_words(problem: BaseException, timeout: tuple[float, float]) -> Failed:
    """What went wrong on the network, in one clause that holds no address."""
    inner = problem.args[0] if problem.args else None
    if isinstance(problem, requests.exceptions.ConnectTimeout):
        return Failed(f"no connection within {timeout[0]:g} s", again=NO_CONNECTION)
    if isinstance(problem, requests.Timeout) or "timed out" in str(problem).lower():
        return Failed(f"no answer within {timeout[1]:g} s", again=CUT_OFF)
    if isinstance(problem, requests.exceptions.SSLError):
        return Failed("its certificate could not be trusted, so nothing was exchanged")
    if isinstance(problem, ProtocolError | requests.exceptions.ChunkedEncodingError):
        return Failed("the answer was cut off in the middle", again=CUT_OFF)
    if isinstance(problem, requests.ConnectionError):
        again = CUT_OFF if isinstance(inner, ProtocolError) else NO_CONNECTION
        return Failed("no connection (refused, dropped, or no such host)", again=again)
    return Failed(f"the request failed ({type(problem).__name__})")
