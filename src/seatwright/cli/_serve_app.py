"""``seatwright serve``: its options. Imports nothing heavy."""

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["serve"]


def serve(
    data: Annotated[
        Path,
        typer.Option(
            "--data", metavar="DIR", envvar="SEATWRIGHT_RECORD", help="Folder of the record; made where there is none."
        ),
    ] = Path("practice"),
    host: Annotated[
        str | None,
        typer.Option("--host", metavar="H", help="Address to listen at (default: 127.0.0.1; with --lan every one)."),
    ] = None,
    port: Annotated[int, typer.Option("--port", metavar="N", min=1, max=65535)] = 8731,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let other machines in; everybody signs in (seatwright users).")
    ] = False,
    name: Annotated[
        list[str] | None,
        typer.Option("--name", metavar="NAME", help="A further name that this server answers to; repeatable."),
    ] = None,
    certificate: Annotated[
        Path | None, typer.Option("--certificate", metavar="FILE", help="Certificate for TLS, PEM, with its chain.")
    ] = None,
    key: Annotated[
        Path | None, typer.Option("--key", metavar="FILE", help="Key of the certificate, PEM, without a passphrase.")
    ] = None,
    workers: Annotated[int, typer.Option("--workers", min=1, max=64, help="Processes for long work.")] = 2,
    memory_mib: Annotated[
        float, typer.Option("--memory-mib", min=256, help="Memory that one piece of long work may take.")
    ] = 4096,
    max_upload_mb: Annotated[float, typer.Option("--max-upload-mb", min=1, help="Largest scan taken, MB.")] = 300,
    max_triangles: Annotated[
        int, typer.Option("--max-triangles", min=1000, help="Largest scan taken, triangles.")
    ] = 3_000_000,
    now: Annotated[
        str | None, typer.Option("--now", metavar="TIME", help="Begin the page's clock here: to look at a stored day.")
    ] = None,
) -> int:
    """Serve the bench page: the whole tool in a browser, over the practice record."""
    from seatwright.cli import _serve

    limits = {
        "workers": workers,
        "memory_mib": memory_mib,
        "max_upload_bytes": round(max_upload_mb * 1e6),
        "max_triangles": max_triangles,
    }
    wish = _serve.ServeWish(data, host, port, lan, tuple(name or ()), certificate, key, limits)
    return _serve.run_serve(wish, now=now)
