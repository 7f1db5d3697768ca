# Runs on the board: does what the test asks, one line of JSON at a time. MicroPython, or Python beside it.
import json

from stake import Stake, checked_line


def serve(ask):
    stake, answer = Stake("stake-3"), "up"
    while True:
        line = ask(answer)
        if line == "end":
            return
        told = json.loads(line)
        what = told.pop("do")
        if what == "measured":
            stake.measured([tuple(one) for one in told["values"]], told["since"], told.get("unix"))
            answer = str(stake.waiting())
        elif what == "message":
            message = stake.message(told["since"], told.get("unix"), told.get("cbor", False))
            answer = "" if message is None else "".join("%02x" % byte for byte in message)
        elif what == "line":
            answer = "".join("%02x" % byte for byte in checked_line(stake.message(told["since"], told.get("unix"))))
        elif what == "confirmed":
            stake.confirmed()
            answer = str(stake.waiting())
        elif what == "reset":
            lines = stake.dump()
            if told.get("half"):
                lines[-1] = lines[-1][: len(lines[-1]) // 2]
            stake = Stake("stake-3", told.get("most", 2000))
            stake.load(lines)
            answer = str(stake.waiting())
        elif what == "dropped":
            answer = str(stake.dropped)
