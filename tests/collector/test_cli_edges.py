"""The command line where the world is not as it should be: no room, no folder, no right, no port."""

import json
import socket
import subprocess
import sys
import threading

import pytest

from collector.cli import main
from collector.cli_run import Pages
from collector.clock import SystemClock
from tests.collector.test_cli import GARDEN
from tests.real.mosquitto import free_port, wait_until


@pytest.fixture
def garden(tmp_path):
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN)
    return path


@pytest.mark.parametrize("command", ["export", "check", "refused"])
def test_output_that_finds_no_room_is_told(garden, command):
    call = f"{sys.executable} -m collector {command} --garden {garden} > /dev/full"
    done = subprocess.run(["sh", "-c", call], stderr=subprocess.PIPE, text=True, check=False, timeout=60)
    assert (done.returncode, done.stderr) == (1, "cooldepth: No space left on device\n")


@pytest.mark.parametrize("command", ["export", "refused"])
def test_a_store_whose_folder_is_not_there_is_told(garden, command, capsys):
    garden.write_text(GARDEN.replace("garden.db", "nowhere/garden.db"))
    assert main([command, "--garden", str(garden)]) == 1
    assert f"there is no folder {garden.parent / 'nowhere'}" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["collect", "export", "check", "refused"])
def test_a_store_with_a_name_that_no_file_may_have_is_told(garden, command, capsys):
    garden.write_text(GARDEN.replace("garden.db", "x" * 300))
    assert main([command, "--garden", str(garden)]) == 1
    told = capsys.readouterr()
    assert "File name too long; let this user into its folders" in told.err + told.out


@pytest.mark.parametrize("command", ["run", "serve", "demo"])
def test_a_port_that_is_none_is_a_wrong_call(command, capsys):
    with pytest.raises(SystemExit) as ended:
        main([command, "--port", "99999"])
    assert ended.value.code == 2
    assert "'99999' is no port; want a number from 1 to 65535" in capsys.readouterr().err


def test_a_demo_whose_port_is_taken_says_so_at_once(capsys):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert main(["demo", "--port", str(port)]) == 1
    assert f"port {port} on 127.0.0.1: Address already in use; choose another with --port" in capsys.readouterr().err


def test_check_tells_of_an_embedded_broker_whose_port_another_program_has(garden, capsys):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        garden.write_text(f'{GARDEN}\n[mqtt]\nhost = "embedded"\nport = {port}\ntopics = ["garden/#"]\n')
        assert main(["check", "--garden", str(garden), "--json"]) == 1
    (found,) = (one for one in json.loads(capsys.readouterr().out) if "embedded" in one["what"])
    assert f"cannot have port {port}" in found["trouble"]


def test_check_is_content_with_an_embedded_broker_that_could_start(garden, capsys):
    garden.write_text(f'{GARDEN}\n[mqtt]\nhost = "embedded"\nport = {free_port()}\ntopics = ["garden/#"]\n')
    assert main(["check", "--garden", str(garden)]) == 0
    assert "embedded" in capsys.readouterr().out


# ---------------------------------------------------------------- the pages' process


PARENT = """
import subprocess, sys, threading, time
from collector.cli_run import Pages
from collector.clock import SystemClock
call = [sys.executable, "-m", "dashboard", "--garden", sys.argv[1], "--port", sys.argv[2]]
pages = Pages(call, threading.Event(), SystemClock())
time.sleep(600)
"""


def answers(port):
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1).close()
    except OSError:
        return False
    return True


def test_pages_end_when_the_process_behind_them_is_killed(garden):
    port = free_port()
    parent = subprocess.Popen([sys.executable, "-c", PARENT, str(garden), str(port)])
    try:
        wait_until(lambda: answers(port), 60)
    finally:
        parent.kill()
        parent.wait()
    wait_until(lambda: not answers(port), 10)


def test_pages_that_cannot_start_are_told_and_tried_again_and_stop_nothing(capfd):
    stop = threading.Event()
    pages = Pages([sys.executable, "-c", "raise SystemExit(3)"], stop, SystemClock())
    told = ""

    def is_told():
        nonlocal told
        told += capfd.readouterr().err
        return "tried again in 30 s" in told

    wait_until(is_told, 20)
    assert "the pages could not start; the collector goes on without them" in told
    assert not stop.is_set()
    stop.set()
    pages.close()
