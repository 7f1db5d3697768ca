"""A stake with DS18B20 thermometers, a moisture probe and a battery, for a board with Wi-Fi that runs MicroPython.

Copy stake.py and this file to the board, and fill in what stands below. It wakes, measures, sends what waits, and sleeps.
"""

import time

import ds18x20
import machine
import network
import onewire
from stake import Stake, checked_line
from umqtt.simple import MQTTClient

NAME = "stake-3"
WIFI = ("network", "its password")
BROKER, PORT, USER, PASSWORD = "192.0.2.10", 1883, None, None
# "authority.crt" of `cooldepth keys`, copied to the board: then it speaks TLS (PORT 8883), calls the broker by a name that stands
# in its certificate, and needs its clock set before.
AUTHORITY = None
TOPIC = b"garden/" + NAME.encode()
EVERY_S = 600
ONE_WIRE_PIN, MOISTURE_PIN, BATTERY_PIN = 4, 34, 35
BATTERY_DIVIDER = 2.0
KEPT = "kept.txt"
# MicroPython counts from 2000 on some boards and from 1970 on others.
EPOCH_S = 946684800 if time.gmtime(0)[0] == 2000 else 0


def thermometers():
    """Each DS18B20 by its number; one that does not answer, or was not read in time, says nothing."""
    bus = ds18x20.DS18X20(onewire.OneWire(machine.Pin(ONE_WIRE_PIN)))
    found = bus.scan()
    if not found:
        return []
    bus.convert_temp()
    time.sleep_ms(750)  # at 12 bits, by the data sheet
    values = []
    for number in found:
        try:
            celsius = bus.read_temp(number)
        except Exception:  # a check that is wrong; a stake has to go on
            continue
        if celsius != 85.0 and celsius is not None:  # what it says at power-on, before it has measured
            values.append(("".join("%02x" % byte for byte in number), "Cel", celsius))
    return values


def volts(pin, times=16):
    """The mean of several readings of a pin [V]."""
    adc = machine.ADC(machine.Pin(pin))
    return sum(adc.read_u16() for _ in range(times)) / times * 3.3 / 65535


def connected():
    """Whether there is Wi-Fi now, within half a minute."""
    wlan = network.WLAN(network.STA_IF)
    wlan.active(True)
    if not wlan.isconnected():
        wlan.connect(*WIFI)
        for _ in range(60):
            if wlan.isconnected():
                break
            time.sleep_ms(500)
    return wlan.isconnected()


def set_clock():
    """By SNTP, where there is a server; a stake without one sends how long ago it measured."""
    try:
        import ntptime

        ntptime.settime()
    except Exception:
        pass


def secured():
    """What makes sure that it is the broker; None without TLS."""
    if AUTHORITY is None:
        return None
    import ssl

    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.verify_mode = ssl.CERT_REQUIRED
    context.load_verify_locations(cafile=AUTHORITY)
    return context


def send(stake):
    """All that waits, each message until the broker has confirmed it. Raises OSError where it does not."""
    client = MQTTClient(NAME, BROKER, PORT, USER, PASSWORD, keepalive=30, ssl=secured())
    client.connect()
    try:
        while True:
            message = stake.message(time.ticks_ms() // 1000, time.time() + EPOCH_S)
            if message is None:
                return
            client.publish(TOPIC, message, qos=1)  # comes back when it is confirmed
            stake.confirmed()
    finally:
        client.disconnect()


def wake():
    """One round."""
    stake = Stake(NAME)
    try:
        with open(KEPT) as file:
            stake.load(file)
    except OSError:
        pass
    has_net = connected()
    if has_net:
        set_clock()
    values = thermometers() + [("moisture", "V", volts(MOISTURE_PIN)), ("battery", "V", volts(BATTERY_PIN) * BATTERY_DIVIDER)]
    stake.measured(values, time.ticks_ms() // 1000, time.time() + EPOCH_S)
    try:
        if has_net:
            send(stake)
        else:
            print(checked_line(stake.message(time.ticks_ms() // 1000, time.time() + EPOCH_S)).decode(), end="")
    except OSError:
        pass  # what is not confirmed goes with the next round
    with open(KEPT, "w") as file:
        for line in stake.dump():
            file.write(line + "\n")


wake()
machine.deepsleep(EVERY_S * 1000)
