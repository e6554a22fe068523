"""``etui serve``: the pages and the JSON interface."""

from __future__ import annotations

import ipaddress

import click

from etui.errors import BadInput


@click.command("serve")
@click.option("--host", default="127.0.0.1", show_default=True,
              help="Address to listen on; anything but loopback is seen by your network.")
@click.option("--port", default=8421, show_default=True, type=click.IntRange(1, 65535))
def command(host: str, port: int) -> int:
    """Serve pages and the JSON interface over HTTP, read-only, on this machine only unless told
    otherwise."""
    import socket

    import uvicorn

    from etui.web import create_app

    if not _is_loopback(host):
        click.echo(f"note: everybody who reaches {host} can use these pages; there is no login",
                   err=True)
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise BadInput(f"cannot listen there ({error.strerror}).", where=f"{host}:{port}",
                           mend="Give another --port or --host.") from error
    shown = f"[{host}]" if ":" in host else host
    click.echo(f"Etui is at http://{shown}:{port}/ (stop with Ctrl+C)", err=True)
    uvicorn.run(create_app(), host=host, port=port, log_level="warning")
    return 0


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
