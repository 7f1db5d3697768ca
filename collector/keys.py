"""What the programs of one garden know each other by: accounts of the broker, its certificate, tokens. Made where missing.

Each consumer has a folder with what it alone needs, so that a container is given no more than its own:

- `broker/`: `accounts` (hashed, as Mosquitto reads them), `access`, `authority.crt`, `broker.crt`, `broker.key`
- `collector/`: `mqtt-password`, `authority.crt`, `influx-token`
- `influx/`: `token`, `password`
- `pages/`: `password-hash`
- `grower/`: what a person has to read once: `pages-password`, the password of each stake, `authority.crt`

What is there is left as it is, but for a broker's certificate that ends soon or has another name: it is made anew.
"""

from __future__ import annotations

import base64
import datetime as dt
import hashlib
import os
import secrets
from collections.abc import Sequence
from pathlib import Path

from collector.errors import CooldepthError

COLLECTOR, STAKES = "collector", "stakes"
# A garden computer runs for years with nobody looking. The certificate is renewed a year before its end, at a start.
_LIFE, _RENEW_BEFORE = dt.timedelta(days=3650), dt.timedelta(days=365)
# Mosquitto checks these at each connect, on a small board: enough against a stolen file, where passwords are of 144 bits.
_ROUNDS = 1000
_PASSWORD_BYTES = 18

# Who may do what (mosquitto.conf(5), acl_file). A stake writes below its own name, or with the common account below garden/.
_ACCESS = f"""# made by `cooldepth keys`; it is written anew at each start
user {COLLECTOR}
topic read garden/#
topic readwrite cooldepth/#
topic read $SYS/broker/#

user {STAKES}
topic write garden/#
"""
_ACCESS_OF_ONE = """
user {name}
topic write garden/{name}/#
"""


class Keys:
    """The keys of a garden in a folder. Making some takes the library `cryptography` (the extra `keys`)."""

    def __init__(self, folder: Path, now_ms: int, group: int | None = None) -> None:
        """`now_ms` is the present [ms since 1970-01-01 UTC].

        With `group`, files may be read by that group too, which the programs have in common; else by their owner alone.
        """
        self._folder = folder
        self._now = dt.datetime.fromtimestamp(now_ms / 1000, tz=dt.UTC)
        self._group = group

    def make(self, hosts: Sequence[str], stakes: Sequence[str] = ()) -> list[str]:
        """Make what is missing, for a broker that is called by these names; tells what was made, and nothing secret.

        Raises CooldepthError for a name of a stake that cannot be one, and where `cryptography` is not installed.
        """
        for name in stakes:
            if not name.isascii() or not name.replace("-", "").isalnum() or name in (COLLECTOR, STAKES):
                raise CooldepthError(f"stake {name!r}: want letters, digits and - only, and not {COLLECTOR} or {STAKES}")
        made = []
        wanted = ("collector/mqtt-password", *(f"grower/stake-{name}" for name in (STAKES, *stakes)))
        for path in (*wanted, "influx/token", "influx/password", "grower/pages-password"):
            made += self._once(path, secrets.token_urlsafe(_PASSWORD_BYTES))
        made += self._copy("influx/token", "collector/influx-token")
        made += self._accounts()
        if not (self._folder / "pages/password-hash").exists():
            made += self._once("pages/password-hash", _argon2(self._read("grower/pages-password")))
        made += self._papers(hosts)
        for folder in ("broker", "collector", "grower"):
            made += self._copy("authority/authority.crt", f"{folder}/authority.crt")
        return made

    def show(self, name: str) -> str:
        """A secret that a person has to read: `pages`, or a stake's. Raises CooldepthError where there is none."""
        path = "grower/pages-password" if name == "pages" else f"grower/stake-{name}"
        if "/" in name or not (self._folder / path).is_file():
            known = sorted(one.name.removeprefix("stake-") for one in (self._folder / "grower").glob("stake-*"))
            raise CooldepthError(f"{name}: no such secret in {self._folder}; want pages, or one of: {', '.join(known) or 'none'}")
        return self._read(path)

    # ------------------------------------------------------------ parts of the above

    def _accounts(self) -> list[str]:
        """The broker's list, of the collector and every stake that has a password. A line that fits its password stays."""
        path = self._folder / "broker/accounts"
        known = dict(line.split(":", 1) for line in path.read_text().split()) if path.exists() else {}
        stakes = sorted(one.name.removeprefix("stake-") for one in (self._folder / "grower").glob("stake-*"))
        accounts = {COLLECTOR: "collector/mqtt-password", **{name: f"grower/stake-{name}" for name in stakes}}
        lines = {}
        for name, of in accounts.items():
            password = self._read(of)
            lines[name] = known[name] if _fits(password, known.get(name, "")) else _hashed(password)
        access = _ACCESS + "".join(_ACCESS_OF_ONE.format(name=name) for name in stakes if name != STAKES)
        text = "".join(f"{name}:{hashed}\n" for name, hashed in lines.items())
        return [*self._said("broker/access", access), *self._said("broker/accounts", text)]

    def _papers(self, hosts: Sequence[str]) -> list[str]:
        try:
            from collector import papers
        except ImportError as error:
            raise CooldepthError("to make certificates takes cryptography: pip install 'cooldepth[keys]'") from error
        made = []
        if not (self._folder / "authority/authority.key").exists():
            key, certificate = papers.authority(self._now, _LIFE)
            self._write("authority/authority.key", key, alone=True)
            self._write("authority/authority.crt", certificate)
            made += ["authority/authority.key", "authority/authority.crt"]
        names = list(dict.fromkeys(hosts))
        own = self._folder / "broker/broker.crt"
        authority = (self._read("authority/authority.key"), self._read("authority/authority.crt"))
        if own.exists() and papers.holds(own.read_text(), authority[1], names, self._now + _RENEW_BEFORE):
            return made
        key, certificate = papers.signed(authority, names, self._now, _LIFE)
        self._write("broker/broker.key", key)
        self._write("broker/broker.crt", certificate)
        return [*made, "broker/broker.key", "broker/broker.crt"]

    def _once(self, path: str, text: str) -> list[str]:
        if (self._folder / path).exists():
            return []
        self._write(path, text)
        return [path]

    def _copy(self, source: str, to: str) -> list[str]:
        return self._said(to, self._read(source))

    def _said(self, path: str, text: str) -> list[str]:
        target = self._folder / path
        if target.exists() and target.read_text() == text:
            return []
        self._write(path, text)
        return [path]

    def _read(self, path: str) -> str:
        return (self._folder / path).read_text()

    def _write(self, path: str, text: str, *, alone: bool = False) -> None:
        """Whole or not at all, and never readable by others, not even for a moment."""
        target = self._folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        if self._group is not None and not alone:
            target.parent.chmod(0o750)
            os.chown(target.parent, -1, self._group)
        beside = target.with_name(f".{target.name}.new")
        beside.unlink(missing_ok=True)
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        if self._group is not None and not alone:
            os.chown(beside, -1, self._group)
            beside.chmod(0o640)
        beside.replace(target)


def _hashed(password: str) -> str:
    """As Mosquitto 2 keeps it: `$7$`, rounds, salt and PBKDF2 of SHA-512 (found with `mosquitto_passwd` 2.0)."""
    return _mosquitto(password, secrets.token_bytes(12), _ROUNDS)


def _mosquitto(password: str, salt: bytes, rounds: int) -> str:
    digest = hashlib.pbkdf2_hmac("sha512", password.encode(), salt, rounds, 64)
    return f"$7${rounds}${base64.b64encode(salt).decode()}${base64.b64encode(digest).decode()}"


def _fits(password: str, hashed: str) -> bool:
    try:
        _, kind, rounds, salt, _ = hashed.split("$")
        return kind == "7" and secrets.compare_digest(_mosquitto(password, base64.b64decode(salt), int(rounds)), hashed)
    except ValueError:
        return False


def _argon2(password: str) -> str:
    import argon2

    return argon2.PasswordHasher().hash(password)
