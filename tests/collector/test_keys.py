"""Keys of a garden: made once, kept, renewed in time, read by those alone who need them."""

from __future__ import annotations

import datetime as dt
import shutil
import ssl
import stat
import subprocess

import argon2
import pytest
from cryptography import x509

from collector import cli
from collector.errors import CooldepthError
from collector.keys import Keys
from tests.fakes import NOW_MS

HOSTS = ("broker", "localhost", "127.0.0.1")
YEAR_MS = 365 * 86_400_000


def contents(folder):
    return {str(path.relative_to(folder)): path.read_text() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def folder(tmp_path):
    Keys(tmp_path / "keys", NOW_MS).make(HOSTS, ["gate"])
    return tmp_path / "keys"


def test_each_consumer_has_its_own_and_no_other_and_a_second_start_changes_nothing(folder):
    before = contents(folder)
    assert set(before) == {
        "authority/authority.crt", "authority/authority.key",
        "broker/accounts", "broker/access", "broker/authority.crt", "broker/broker.crt", "broker/broker.key",
        "collector/mqtt-password", "collector/authority.crt", "collector/influx-token",
        "influx/token", "influx/password", "pages/password-hash",
        "grower/pages-password", "grower/stake-stakes", "grower/stake-gate", "grower/authority.crt",
    }  # fmt: skip
    assert Keys(folder, NOW_MS).make(HOSTS) == []  # the account that was asked for once stays
    assert contents(folder) == before
    for name, text in before.items():
        if name.startswith("broker/"):
            for secret in ("collector/mqtt-password", "grower/stake-stakes", "influx/token"):
                assert before[secret] not in text
    argon2.PasswordHasher().verify(before["pages/password-hash"], before["grower/pages-password"])


def test_nobody_else_may_read_them_but_a_group_where_one_is_named(folder, tmp_path):
    for path in folder.rglob("*"):
        if path.is_file():
            assert stat.S_IMODE(path.stat().st_mode) == 0o600
    shared = tmp_path / "shared"
    Keys(shared, NOW_MS, group=tmp_path.stat().st_gid).make(HOSTS)
    modes = {str(path.relative_to(shared)): stat.S_IMODE(path.stat().st_mode) for path in shared.rglob("*") if path.is_file()}
    assert modes["authority/authority.key"] == 0o600  # the one key that no program needs
    assert modes["broker/broker.key"] == modes["collector/mqtt-password"] == 0o640


def test_the_brokers_certificate_is_signed_for_its_names_and_renewed_before_it_ends_or_when_they_change(folder):
    one = x509.load_pem_x509_certificate((folder / "broker/broker.crt").read_bytes())
    names = one.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert names.get_values_for_type(x509.DNSName) == ["broker", "localhost"]
    assert [str(address) for address in names.get_values_for_type(x509.IPAddress)] == ["127.0.0.1"]
    ssl.create_default_context(cafile=folder / "collector/authority.crt")
    assert Keys(folder, NOW_MS + 8 * YEAR_MS).make(HOSTS) == []
    assert Keys(folder, NOW_MS + 9 * YEAR_MS + YEAR_MS // 12).make(HOSTS) == ["broker/broker.key", "broker/broker.crt"]
    assert Keys(folder, NOW_MS).make((*HOSTS, "garden.local")) == ["broker/broker.key", "broker/broker.crt"]
    later = x509.load_pem_x509_certificate((folder / "broker/broker.crt").read_bytes())
    authority = x509.load_pem_x509_certificate((folder / "authority/authority.crt").read_bytes())
    later.verify_directly_issued_by(authority)
    assert later.not_valid_after_utc <= authority.not_valid_after_utc
    assert later.not_valid_before_utc < dt.datetime.fromtimestamp(NOW_MS / 1000, tz=dt.UTC)


@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl on this machine")
def test_openssl_finds_the_chain_whole(tmp_path):
    now_ms = round(dt.datetime.now(dt.UTC).timestamp() * 1000)
    Keys(tmp_path, now_ms).make(HOSTS)
    call = [
        "openssl",
        "verify",
        "-x509_strict",
        "-purpose",
        "sslserver",
        "-CAfile",
        "authority/authority.crt",
        "broker/broker.crt",
    ]
    assert subprocess.run(call, cwd=tmp_path, capture_output=True, text=True, check=True).stdout == "broker/broker.crt: OK\n"


def test_a_changed_password_is_heeded_and_what_a_person_needs_is_shown(folder):
    assert Keys(folder, NOW_MS).show("gate") == (folder / "grower/stake-gate").read_text()
    (folder / "grower/stake-gate").write_text("a longer one of my own")
    assert Keys(folder, NOW_MS).make(HOSTS) == ["broker/accounts"]
    with pytest.raises(CooldepthError, match=r"shed: no such secret in .*; want pages, or one of: gate, stakes"):
        Keys(folder, NOW_MS).show("shed")
    with pytest.raises(CooldepthError, match="no such secret"):
        Keys(folder, NOW_MS).show("../collector/mqtt-password")


@pytest.mark.parametrize("name", ["", "a/b", "gate\nuser x", "collector", "stakes", "é"])
def test_a_stake_has_a_name_that_stands_in_a_topic(folder, name):
    with pytest.raises(CooldepthError, match="want letters, digits and -"):
        Keys(folder, NOW_MS).make(HOSTS, [name])


def test_the_command_tells_what_it_made_and_nothing_secret(tmp_path, capsys):
    folder = tmp_path / "keys"
    assert cli.main(["keys", "--into", str(folder), "--host", "garden.local"]) == 0
    said = capsys.readouterr().out
    assert f"made {folder}/broker/accounts" in said
    for name, text in contents(folder).items():
        if name.startswith(("grower/", "influx/", "collector/")) and not name.endswith(".crt"):
            assert text not in said
    assert cli.main(["keys", "--into", str(folder), "--host", "garden.local"]) == 0
    assert capsys.readouterr().out == f"{folder}: all there\n"
    assert cli.main(["keys", "--into", str(folder), "--show", "pages"]) == 0
    assert capsys.readouterr().out.strip() == (folder / "grower/pages-password").read_text()
    assert cli.main(["keys", "--into", str(folder), "--show", "shed"]) == 1
