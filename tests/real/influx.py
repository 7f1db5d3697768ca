"""A real InfluxDB of our own on a free loopback port, behind the small proxy that lends it the write path of version 2.

Debian's InfluxDB is 1.6, which knows `/query` and `/write`, and not yet `/api/v2/write` as 1.8 and later do.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import httpx

from collector.settings import StoreSettings
from tests.real.mosquitto import free_port, wait_until

_INFLUXD = shutil.which("influxd")
_NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/usr/local/sbin")

INFLUXD_CONF = """
reporting-enabled = false
bind-address = "127.0.0.1:{rpc}"
[meta]
  dir = "{folder}/meta"
[data]
  dir = "{folder}/data"
  wal-dir = "{folder}/wal"
  query-log-enabled = false
[monitor]
  store-enabled = false
[http]
  bind-address = "127.0.0.1:{http}"
  log-enabled = false
[subscriber]
  enabled = false
[continuous_queries]
  enabled = false
"""

NGINX_CONF = """
daemon off;
worker_processes 1;
pid {folder}/nginx.pid;
error_log {folder}/nginx.log;
events {{ worker_connections 256; }}
http {{
  access_log off;
  client_max_body_size 32m;
  client_body_buffer_size 32m;
  proxy_max_temp_file_size 0;
  client_body_temp_path {folder}/body;
  proxy_temp_path {folder}/proxy;
  fastcgi_temp_path {folder}/fastcgi;
  uwsgi_temp_path {folder}/uwsgi;
  scgi_temp_path {folder}/scgi;
  map $arg_precision $precision {{ default n; ns n; us u; ms ms; s s; }}
  server {{
    listen 127.0.0.1:{port};
    location = /api/v2/write {{
      proxy_pass http://127.0.0.1:{http}/write?db=$arg_bucket&precision=$precision;
      proxy_set_header Authorization "";
    }}
    location / {{ proxy_pass http://127.0.0.1:{http}; proxy_set_header Authorization ""; }}
  }}
}}
"""


def missing() -> str | None:
    """Why no InfluxDB can be started here, or None."""
    lacking = [name for name, found in (("influxdb", _INFLUXD), ("nginx-light", _NGINX)) if not found]
    return f"not on this machine: install {' and '.join(lacking)} with apt-get" if lacking else None


class Influx:
    """It can be stopped and started again on its ports, keeping what it had on disk; then the proxy answers 502."""

    def __init__(self, folder: Path) -> None:
        self.port, self._http, self._rpc = free_port(), free_port(), free_port()
        self.folder = folder / "influx"
        self.folder.mkdir()
        self.folder.chmod(0o777)  # started by root, nginx drops to a user of its own
        self.url = f"http://127.0.0.1:{self.port}"
        names = {"folder": self.folder, "port": self.port, "http": self._http, "rpc": self._rpc}
        (self.folder / "influxd.conf").write_text(INFLUXD_CONF.format(**names))
        (self.folder / "nginx.conf").write_text(NGINX_CONF.format(**names))
        self._influxd: subprocess.Popen[bytes] | None = None
        self._nginx: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Influx:
        self.start_proxy()
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
        self.stop_proxy()

    def start_proxy(self) -> None:
        call = [str(_NGINX), "-c", str(self.folder / "nginx.conf"), "-p", str(self.folder), "-e", str(self.folder / "nginx.log")]
        self._nginx = subprocess.Popen(call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def stop_proxy(self) -> None:
        self._nginx = _end(self._nginx)

    def start(self) -> None:
        with (self.folder / "influxd.log").open("ab") as log:
            call = [str(_INFLUXD), "-config", str(self.folder / "influxd.conf")]
            self._influxd = subprocess.Popen(call, stdout=log, stderr=log)
        wait_until(self._answers, 60)

    def stop(self) -> None:
        self._influxd = _end(self._influxd)

    def make(self, database: str) -> None:
        """Make a database; a bucket of that name, as the collector sees it."""
        self.ask(f'CREATE DATABASE "{database}"', post=True)

    def ask(self, question: str, database: str = "", *, post: bool = False) -> list[dict[str, object]]:
        """Ask it past the proxy and with nothing of the collector's: the series of the first result."""
        call = httpx.post if post else httpx.get
        told = call(
            f"http://127.0.0.1:{self._http}/query",
            params={"db": database, "q": question, "epoch": "ms"},
            timeout=60,
            trust_env=False,
        )
        told.raise_for_status()
        result = told.json()["results"][0]
        assert "error" not in result, result
        return result.get("series", [])

    def write(self, database: str, line: str) -> None:
        """Write line protocol past everything."""
        url = f"http://127.0.0.1:{self._http}/write"
        httpx.post(url, params={"db": database, "precision": "ms"}, content=line, trust_env=False).raise_for_status()

    def settings(self, path: Path, database: str, **more: object) -> StoreSettings:
        """What a garden file would say of it."""
        told = {"kind": "influx", "url": self.url, "org": "garden", "bucket": database, "token": "a-token", **more}
        return StoreSettings(path, **told)  # type: ignore[arg-type]

    @property
    def pid(self) -> int:
        assert self._influxd is not None
        return self._influxd.pid

    def _answers(self) -> bool:
        assert self._influxd is not None
        assert self._influxd.poll() is None, (self.folder / "influxd.log").read_text()[-2000:]
        try:
            return httpx.get(f"{self.url}/ping", trust_env=False).status_code == 204
        except httpx.HTTPError:
            return False


def _end(process: subprocess.Popen[bytes] | None) -> None:
    if process is not None:
        process.terminate()
        process.wait(timeout=30)
