"""The server process: uvicorn with this application, going down in order."""

from __future__ import annotations

import logging
import math
import socket
from types import FrameType

import uvicorn

from api import logs
from api.app import create_app
from api.service import NoKeys, Service
from api.settings import Settings
from api.store import KeyStore, Store

_log = logging.getLogger(__name__)
_HEADER_BYTES = 32_768


class _Server(uvicorn.Server):
    """Lets those who wait go as soon as it is told to end."""

    def __init__(self, config: uvicorn.Config, service: Service) -> None:
        super().__init__(config)
        self._service = service

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        self._service.changes.closing = True
        super().handle_exit(sig, frame)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        for server in self.servers:
            for listening in server.sockets:
                host, port = listening.getsockname()[:2]
                _log.info("listening", extra={"fields": {"host": host, "port": port}})


def serve(settings: Settings) -> None:
    """Serve until told to end. Raises NoKeys and StoreUnavailable before it listens."""
    logs.set_up()
    store = Store(settings.store_url)
    store.migrate()
    if not settings.on_loopback and not KeyStore(store).any_active():
        raise NoKeys(Service.no_keys(settings.host))
    store.close()
    app = create_app(settings)
    config = uvicorn.Config(
        app,
        http="h11",  # it bounds the head of a request, which the faster parser does not
        host=settings.host,
        port=settings.port,
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=settings.most_connections,
        h11_max_incomplete_event_size=_HEADER_BYTES,
        timeout_keep_alive=20,
        timeout_graceful_shutdown=max(1, math.ceil(settings.drain_seconds)),
    )
    _Server(config, app.state.service).run()
