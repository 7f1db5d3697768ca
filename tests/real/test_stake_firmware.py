"""The reference stake under MicroPython itself (its WebAssembly port), against a real broker and the real collector."""

import csv
import io
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from collector.decode import lines, senml
from tests.real.mosquitto import publish, wait_until

ROOT = Path(__file__).parent.parent.parent
STAKE = ROOT / "firmware_notes" / "stake"
HERE = Path(__file__).parent
PORT = ROOT / ".venv" / "node_modules" / "@micropython" / "micropython-webassembly-pyscript" / "micropython.mjs"
PLAIN = f"""import sys; sys.path[:0] = [{str(STAKE)!r}, {str(HERE)!r}]
from board import serve
def ask(text):
    print(text, flush=True)
    return sys.stdin.readline().strip() or "end"
serve(ask)"""
MICROPYTHON = ["node", str(HERE / "run_micropython.mjs"), str(PORT), str(HERE / "board_main.py"), str(STAKE / "stake.py")]
RUNS = {"micropython": [*MICROPYTHON, str(HERE / "board.py")], "python": [sys.executable, "-c", PLAIN]}
# 2026-04-13T08:00:00Z
NOW_S = 1_776_067_200


class Board:
    """A stake on a board; what is asked of it is answered as a text."""

    def __init__(self, call):
        self.program = subprocess.Popen(call, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self.program.stdout.readline() == "up\n"

    def __call__(self, what, **told):
        self.program.stdin.write(json.dumps({"do": what, **told}) + "\n")
        self.program.stdin.flush()
        answer = self.program.stdout.readline()
        assert answer, "the board's program ended"
        return answer.rstrip("\n")

    def message(self, **told):
        return bytes.fromhex(self("message", **told))

    def end(self):
        self.program.stdin.close()
        assert self.program.wait(10) == 0
        self.program.stdout.close()


@pytest.fixture(params=sorted(RUNS))
def board(request):
    if request.param == "micropython" and not (PORT.exists() and shutil.which("node")):
        pytest.fail("MicroPython for WebAssembly is missing: make tools")
    one = Board(RUNS[request.param])
    yield one
    one.end()


VALUES = [("t05", "Cel", 18.25), ("t12", "Cel", 17.4375), ("cold", "Cel", -0.0625), ("m12", None, 0.231), ("battery", "V", 3.71)]


@pytest.mark.parametrize("cbor", [False, True])
def test_what_it_sends_is_what_the_collector_reads(board, cbor):
    board("measured", values=VALUES, since=100, unix=NOW_S)
    records = senml.decode(board.message(since=101, unix=NOW_S + 1, cbor=cbor))
    assert [(one.address, one.unit, one.measured_ms) for one in records] == [
        (f"stake-3/{probe}", unit, NOW_S * 1000) for probe, unit, _ in VALUES
    ]
    # four decimals in JSON, single precision in CBOR; sixteenths are exact in both
    assert [one.value for one in records] == pytest.approx([value for *_, value in VALUES], rel=1e-7)
    assert [one.value for one in records[:3]] == [18.25, 17.4375, -0.0625]


def test_it_keeps_what_is_not_confirmed_and_says_the_very_same_again(board):
    board("measured", values=VALUES, since=100, unix=NOW_S)
    first = board.message(since=101, unix=NOW_S + 1)
    assert board.message(since=500, unix=NOW_S + 400) == first
    board("measured", values=VALUES[:1], since=700, unix=NOW_S + 600)
    assert board.message(since=701, unix=NOW_S + 601).startswith(first[:-1])
    assert board("confirmed") == "0"
    assert board.message(since=702, unix=NOW_S + 602) == b""


def test_before_its_clock_is_set_it_counts_back_from_arrival_and_after_that_it_knows(board):
    board("measured", values=VALUES[:1], since=100)
    board("measured", values=VALUES[:1], since=700, unix=5)  # a clock that began at 1970
    untold = senml.decode(board.message(since=705))
    assert [(one.measured_ms, one.offset_ms) for one in untold] == [(None, -605_000), (None, -5_000)]
    told = senml.decode(board.message(since=710, unix=NOW_S))
    assert [one.measured_ms for one in told] == [(NOW_S - 610) * 1000, (NOW_S - 10) * 1000]
    # and that stays so: said a second time it is the same reading
    assert senml.decode(board.message(since=900, unix=NOW_S + 191)) == told


def test_what_waits_outlives_a_reset_but_for_what_nobody_can_date(board):
    board("measured", values=VALUES, since=100)
    board("measured", values=VALUES, since=700, unix=NOW_S)
    board("measured", values=VALUES, since=1300, unix=NOW_S + 600)
    assert board("reset") == "2"
    records = senml.decode(board.message(since=3))
    assert sorted({one.measured_ms for one in records}) == [NOW_S * 1000, (NOW_S + 600) * 1000]
    assert [one.value for one in records[:5]] == pytest.approx([value for *_, value in VALUES], rel=1e-6)
    # a board that died while it wrote: the half line is passed over, the whole ones stand
    assert board("reset", half=True) == "1"


def test_it_lets_the_oldest_go_where_there_is_no_room_and_counts_them(board):
    board("reset", most=3)
    for number in range(5):
        board("measured", values=VALUES[:1], since=number, unix=NOW_S + number)
    assert board("dropped") == "2"
    assert [one.measured_ms for one in senml.decode(board.message(since=9, unix=NOW_S + 9))] == [
        (NOW_S + number) * 1000 for number in (2, 3, 4)
    ]


def test_a_long_wait_goes_out_in_messages_that_the_collector_takes(board):
    for number in range(60):
        board("measured", values=VALUES, since=number * 600, unix=NOW_S + number * 600)
    times, sizes = [], []
    while message := board.message(since=99_999, unix=NOW_S + 99_999):
        sizes.append(len(message))
        times += [one.measured_ms for one in senml.decode(message)][:: len(VALUES)]
        board("confirmed")
    assert times == [(NOW_S + number * 600) * 1000 for number in range(60)]
    assert max(sizes) < 64 * 1024


def test_its_line_for_a_wire_passes_its_check(board):
    board("measured", values=VALUES, since=100, unix=NOW_S)
    line = bytes.fromhex(board("line", since=100, unix=NOW_S))
    assert line.endswith(b"\n")
    assert len(senml.decode(lines.without_check(line.rstrip(b"\n")))) == len(VALUES)


def test_both_pythons_say_the_same_byte_for_byte():
    said = {}
    for name, call in RUNS.items():
        board = Board(call)
        board("measured", values=VALUES, since=100, unix=NOW_S)
        board("measured", values=VALUES, since=700)
        said[name] = [board.message(since=701, cbor=cbor) for cbor in (False, True)]
        board.end()
    assert said["micropython"] == said["python"]


def test_the_program_for_the_board_is_sound_micropython():
    # pins and network are not there: that it compiles is all that can be told here
    check = "import js\ntext = js.ask('')\ncompile(open('main.py').read(), 'main.py', 'exec')\njs.ask('sound')"
    folder = HERE / "run_micropython.mjs"
    program = subprocess.run(
        ["node", str(folder), str(PORT), "/dev/stdin", str(STAKE / "main.py")],
        input=check, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "sound" in program.stdout, program.stderr


GARDEN = """
[garden]
name = "Home"
latitude_deg = 36.0
longitude_deg = -5.0
[store]
path = "garden.db"
[mqtt]
host = "127.0.0.1"
port = {broker}
topics = ["garden/#"]
client_id = "with-a-stake"
[[bed]]
id = "upper"
  [[bed.probe]]
  id = "t12"
  quantity = "soil_temperature"
  depth_cm = 12
  address = "stake-3/t12"
"""


@pytest.mark.broker
def test_confirmations_that_are_lost_resets_and_a_collector_that_dies_leave_each_reading_once(mosquitto, tmp_path):
    path, log = tmp_path / "garden.toml", tmp_path / "log"
    path.write_text(GARDEN.format(broker=mosquitto.port))
    call = [sys.executable, "-m", "collector", "collect", "--garden", str(path)]
    board, sent, collector = Board(RUNS["micropython"]), [], None
    try:
        for number in range(40):
            if number % 13 == 0:
                if collector is not None:
                    collector.kill()
                    collector.wait(10)
                with log.open("a") as out:
                    collector = subprocess.Popen(call, stderr=out)
                wait_until(lambda starts=number // 13: log.read_text().count("listening on mqtt") > starts, 60)
            value = 10 + number / 16
            sent.append(value)
            board("measured", values=[("t12", "Cel", value)], since=number * 10, unix=NOW_S + number * 10)
            if number % 3 == 1:
                continue  # no network
            publish(
                mosquitto.port,
                [("garden/stake-3", board.message(since=number * 10, unix=NOW_S + number * 10, cbor=number % 2 == 0))],
            )
            if number % 5 == 2:
                board("reset")  # before it heard that it was confirmed
            else:
                board("confirmed")
        while message := board.message(since=999, unix=NOW_S + 999):
            publish(mosquitto.port, [("garden/stake-3", message)])
            board("confirmed")

        def stored():
            out = subprocess.run([*call[:3], "export", "--garden", str(path)], capture_output=True, text=True, check=True).stdout
            return [float(row["value"]) for row in csv.DictReader(io.StringIO(out))]

        wait_until(lambda: len(stored()) >= len(sent), 60)
        assert stored() == sent
    finally:
        if collector is not None:
            collector.terminate()
            collector.wait(20)
        board.end()


@pytest.mark.skipif(shutil.which("c++") is None, reason="no C++ compiler here")
def test_the_sketch_in_cpp_says_it_too_and_writes_no_further_than_it_may(tmp_path):
    program = tmp_path / "payload"
    flags = ["-std=c++17", "-Wall", "-Wextra", "-Werror", "-fsanitize=address,undefined", "-fno-sanitize-recover"]
    subprocess.run(["c++", *flags, str(STAKE / "payload.cpp"), "-o", str(program)], check=True)
    said = subprocess.run([str(program)], capture_output=True, check=True).stdout
    assert [(one.address, one.unit, one.value, one.measured_ms) for one in senml.decode(said)] == [
        ("stake-3/t05", "Cel", 18.25, NOW_S * 1000),
        ("stake-3/t12", "Cel", 17.4375, NOW_S * 1000),
        ("stake-3/m12", None, 0.231, NOW_S * 1000),
    ]
