"""The examples of RFC 8428 (Jennings et al. 2018, Sensor Measurement Lists), section 5.1, and the rules beside them.

The packs are the RFC's records without their white space; what they resolve to follows from sections 4.5 and 4.6.
"""

import pytest

from collector.decode import senml
from collector.errors import DecodeError


def resolved(payload: bytes):
    return [(one.address, one.unit, one.value, one.measured_ms) for one in senml.decode(payload)]


def test_single_data_point_of_section_5_1_1():
    (one,) = senml.decode(b'[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]')
    assert (one.address, one.unit, one.value) == ("urn:dev:ow:10e2073a01080063", "Cel", 23.1)
    assert (one.measured_ms, one.offset_ms) == (None, 0), "no time: measured roughly now (section 4.5.3)"


def test_multiple_data_points_of_section_5_1_2():
    pack = b'[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]'
    assert [(one.address, one.unit, one.value) for one in senml.decode(pack)] == [
        ("urn:dev:ow:10e2073a01080063:voltage", "V", 120.1),
        ("urn:dev:ow:10e2073a01080063:current", "A", 1.2),
    ]


def test_base_time_and_unit_of_section_5_1_2():
    pack = (
        b'[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},'
        b'{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},'
        b'{"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]'
    )
    name = "urn:dev:ow:10e2073a0108006:"
    assert resolved(pack) == [
        (f"{name}voltage", "V", 120.1, 1276020076001),
        *(
            (f"{name}current", "A", value, time_ms)
            for value, time_ms in [
                (1.2, 1276020071001),
                (1.3, 1276020072001),
                (1.4, 1276020073001),
                (1.5, 1276020074001),
                (1.6, 1276020075001),
                (1.7, 1276020076001),
            ]
        ),
    ]


def test_the_pack_in_cbor_of_section_6():
    # 195 bytes; what they say is the pack of section 5.1.2. One value is a half-precision float, one time an explicit 0.
    pack = bytes.fromhex(
        "87a721781b75726e3a6465763a6f773a3130653230373361303130383030363a22fb41d303a15b00106223614120050067766f6c7461676501615602"
        "fb405e066666666666a3006763757272656e74062402fb3ff3333333333333a3006763757272656e74062302fb3ff4cccccccccccda3006763757272"
        "656e74062202fb3ff6666666666666a3006763757272656e74062102f93e00a3006763757272656e74062002fb3ff999999999999aa3006763757272"
        "656e74060002fb3ffb333333333333"
    )
    assert len(pack) == 195
    name = "urn:dev:ow:10e2073a0108006:"
    assert resolved(pack) == [
        (f"{name}voltage", "V", 120.1, 1276020076001),
        *((f"{name}current", "A", (12 + n) / 10, 1276020071001 + 1000 * n) for n in range(6)),
    ]


def test_humidity_and_place_of_section_5_1_3():
    pack = (
        b'[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},'
        b'{"u":"lon","v":24.30621},{"u":"lat","v":60.07965},{"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},'
        b'{"u":"lat","t":60,"v":60.07965},{"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},'
        b'{"u":"lat","t":120,"v":60.07966},{"u":"%EL","t":150,"v":98},{"t":180,"v":21.2},'
        b'{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]'
    )
    records = resolved(pack)
    assert len(records) == 13
    name = "urn:dev:ow:10e2073a01080063"
    assert records[0] == (name, "%RH", 20, 1320067464000)
    assert records[1] == (name, "lon", 24.30621, 1320067464000)
    assert records[3] == (name, "%RH", 20.3, 1320067524000)
    assert records[9] == (name, "%EL", 98, 1320067614000)
    assert records[12] == (name, "lat", 60.07967, 1320067644000)


def test_two_devices_of_one_pack_share_the_base_time():
    pack = (
        b'[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},'
        b'{"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},'
        b'{"n":"humidity","u":"%RH","v":67}]'
    )
    assert resolved(pack) == [
        ("2001:db8::2/temperature", "Cel", 25.2, 1320078429000),
        ("2001:db8::2/humidity", "%RH", 30, 1320078429000),
        ("2001:db8::1/temperature", "Cel", 12.3, 1320078429000),
        ("2001:db8::1/humidity", "%RH", 67, 1320078429000),
    ]


def test_text_truth_and_data_of_section_5_1_5_are_told_beside_the_one_number():
    pack = (
        b'[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},'
        b'{"n":"open","vb":false},{"n":"nfc-reader","vd":"aGkgCg"}]'
    )
    number, *others = senml.resolve(pack)
    assert (number.address, number.value) == ("urn:dev:ow:10e2073a01080063:temp", 23.1)
    assert [type(one) for one in others] == [DecodeError] * 3


@pytest.mark.parametrize(
    ("seconds", "measured_ms", "offset_ms"),
    [(268435455, None, 268435455000), (268435456, 268435456000, 0), (-5, None, -5000), (0, None, 0)],
)
def test_times_below_two_to_the_28_are_relative_as_section_4_5_3_has_it(seconds, measured_ms, offset_ms):
    (one,) = senml.decode(b'[{"n":"a","t":%d,"v":1}]' % seconds)
    assert (one.measured_ms, one.offset_ms) == (measured_ms, offset_ms)


def test_the_total_of_base_time_and_time_decides_whether_a_time_is_relative():
    one, two = senml.decode(b'[{"bt":268435450,"n":"a","t":5,"v":1},{"n":"a","t":6,"v":1}]')
    assert (one.measured_ms, two.measured_ms) == (None, 268435456000)


def test_a_base_value_is_added_as_section_4_5_4_has_it():
    assert [one.value for one in senml.decode(b'[{"bn":"a","bv":20,"v":0.5},{"v":-1}]')] == [20.5, 19.0]


@pytest.mark.parametrize("version", [1, 5, 10])
def test_versions_up_to_ours_are_read(version):
    assert senml.decode(b'[{"bver":%d,"n":"a","v":1}]' % version)[0].value == 1


@pytest.mark.parametrize("version", [11, 0, -1, 10**30])
def test_a_version_we_do_not_know_refuses_the_pack_as_section_4_4_demands(version):
    with pytest.raises(DecodeError, match="understands versions 1 to 10"):
        senml.decode(b'[{"n":"a","v":1},{"bver":%d,"n":"b","v":1}]' % version)


def test_unknown_labels_are_ignored_unless_they_end_in_an_underscore_as_section_4_4_has_it():
    assert senml.decode(b'[{"n":"a","v":1,"colour":{"deep":["x"]}}]')[0].value == 1
    with pytest.raises(DecodeError, match="'colour_' must be understood"):
        senml.decode(b'[{"n":"a","v":1,"colour_":1}]')


@pytest.mark.parametrize("name", ["a", "9", "urn:dev:ow:28a1b2c3d4e5f607", "Z-:./_9"])
def test_names_of_the_allowed_characters_are_read(name):
    assert senml.decode(b'[{"n":"%s","v":1}]' % name.encode())[0].address == name


@pytest.mark.parametrize("name", ["", "-a", "_a", ":a", "a b", "a+b", "ä", "a\\u0000", "a\\n"])
def test_names_outside_section_4_5_1_are_refused(name):
    with pytest.raises(DecodeError, match="name"):
        senml.decode(b'[{"n":"%s","v":1}]' % name.encode())


def test_a_name_may_be_made_of_a_base_that_is_no_name_by_itself():
    # Section 4.5.1 asks it of the resolved name only.
    assert senml.decode(b'[{"bn":"urn:dev:mac:","n":"1","v":1}]')[0].address == "urn:dev:mac:1"


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        (b'"vs":"wet"', "'vs' is text"),
        (b'"vb":true', "'vb' is true or false"),
        (b'"vd":"aGk"', "'vd' is data"),
        (b'"s":7', "a sum with no value"),
        (b'"bs":7', "a sum with no value"),
        (b'"bv":7', "no value"),
        (b'"u":"Cel"', "no value"),
        (b'"v":1,"vs":"one"', "2 values (v, vs); want exactly one"),
    ],
)
def test_a_record_that_is_no_reading_is_told_and_leaves_the_others_alone(fields, told):
    good, bad, last = senml.resolve(b'[{"bn":"a","v":1},{%s},{"v":3}]' % fields)
    assert isinstance(bad, DecodeError)
    assert str(bad).startswith("record 2 of 3: ")
    assert told in str(bad)
    assert good.value == 1
    assert last.value == (10 if b"bv" in fields else 3)


def test_a_sum_beside_a_value_is_fine():
    assert senml.decode(b'[{"n":"a","v":1,"s":100}]')[0].value == 1
