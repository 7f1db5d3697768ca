"""A unit for systemd, so that a garden is looked after from the moment its computer starts. Pure.

The words are those of systemd.service(5) and systemd.exec(5). What a service may do is taken away but for what this one
needs: its folders, the network, the serial ports that the garden file names.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path

from collector.model import Garden

NAME = "cooldepth.service"
# What the end of a collector may take (daemon.FINISH_S, daemon.JOIN_S), and some.
STOP_S = 45


class Scope(StrEnum):
    """Whose service it is."""

    USER = "user"
    SYSTEM = "system"


# What any service may be denied, and what a service of the whole computer may be denied besides.
_DENIED = """\
NoNewPrivileges=yes
LockPersonality=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallErrorNumber=EPERM
UMask=0077
"""
_DENIED_TO_THE_SYSTEM = """\
ProtectSystem=strict
ProtectHome=read-only
PrivateTmp=yes
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectClock=yes
ProtectHostname=yes
ProtectProc=invisible
RestrictNamespaces=yes
RemoveIPC=yes
CapabilityBoundingSet=
"""

# An adapter may be plugged in later, or be another one: they are told by their kind.
_SERIAL_LINES = """\
DevicePolicy=closed
DeviceAllow=char-ttyUSB rw
DeviceAllow=char-ttyACM rw
DeviceAllow=char-ttyAMA rw
DeviceAllow=char-ttyS rw
SupplementaryGroups=dialout
"""


def unit(scope: Scope, garden: Garden, garden_file: Path, program: Sequence[str], *, user: str, listen: Sequence[str]) -> str:
    """The text of the unit.

    Args:
        scope: a user's own service, or one of the computer.
        garden: what the garden file says [Garden].
        garden_file: where it is, an absolute path.
        program: how `cooldepth` is called, its first word an absolute path.
        user: who the computer's service runs as.
        listen: words for where the pages listen, as ["--port", "8050"].
    """
    call = " ".join(map(_word, [*program, "run", "--garden", str(garden_file), *listen]))
    folders = " ".join(dict.fromkeys(_word(str(one)) for one in (garden.store_path.absolute().parent, garden_file.parent)))
    wires = [*garden.serial, *garden.sdi12, *garden.modbus]
    own = [
        f"User={user}",
        f"ReadWritePaths={folders}",
        *(_SERIAL_LINES.splitlines() if wires else ["PrivateDevices=yes"]),
        *_DENIED_TO_THE_SYSTEM.splitlines(),
    ]
    wanted_by = "default.target" if scope is Scope.USER else "multi-user.target"
    return f"""\
# Written by `cooldepth check --systemd {scope.value}`.
[Unit]
Description=Cooldepth, {_plain(garden.name)}
# The network need not be up: the collector tries its broker until it answers, and heeds a clock that is set later.
After=network.target time-sync.target
StartLimitIntervalSec=0

[Service]
Type=exec
ExecStart={call}
Restart=always
RestartSec=5
TimeoutStopSec={STOP_S}
# Secrets: one NAME=value a line, readable by root or you alone; or NAME_FILE=path of a file that holds it.
EnvironmentFile=-{_word(str(garden_file.with_suffix(".env")))}
MemoryMax=600M
# Its log is the journal's, which is rotated (journald.conf(5), SystemMaxUse=).
SyslogIdentifier=cooldepth
{chr(10).join(own) + chr(10) if scope is Scope.SYSTEM else ""}{_DENIED}
[Install]
WantedBy={wanted_by}
"""


def what_next(scope: Scope, written: Path) -> str:
    """What to do with the file, as commands."""
    if scope is Scope.USER:
        return (
            f"mkdir -p ~/.config/systemd/user && cp {_word(str(written))} ~/.config/systemd/user/\n"
            f"systemctl --user daemon-reload && systemctl --user enable --now {NAME}\n"
            "loginctl enable-linger    # so that it runs while you are not signed in\n"
            "journalctl --user --unit cooldepth --follow"
        )
    return (
        f"sudo cp {_word(str(written))} /etc/systemd/system/\n"
        f"sudo systemctl daemon-reload && sudo systemctl enable --now {NAME}\n"
        "journalctl --unit cooldepth --follow"
    )


def _word(text: str) -> str:
    """A word of a unit file as it stands for itself: systemd takes % and backslashes for its own, and parts at spaces."""
    escaped = _plain(text).replace("\\", "\\\\").replace('"', '\\"').replace("$", "$$")
    return f'"{escaped}"' if any(sign.isspace() or sign in "\"'\\;" for sign in text) else escaped


def _plain(text: str) -> str:
    return text.replace("%", "%%")
