"""Canonical JSON against RFC 8785: the number samples of Appendix B and the examples of 3.2.

Carried over from several independent test suites that hold the same table; the RFC itself was not
opened.
"""

import struct

import pytest

from fairsmoke.trial.canonical import canonical_form

APPENDIX_B = {
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332",
    "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333",
    "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343",
    "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}


@pytest.mark.parametrize(("bits", "written"), APPENDIX_B.items())
def test_numbers(bits: str, written: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical_form(number) == written


def test_the_example_of_section_3_2_2() -> None:
    content = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/",
        "literals": [None, True, False],
    }
    assert canonical_form(content) == (
        '{"literals":[null,true,false],'
        '"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_keys_are_sorted_by_utf_16_as_in_section_3_2_3() -> None:
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    order = ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
    assert canonical_form(dict.fromkeys(keys, 0)) == canonical_form(dict.fromkeys(order, 0))
    written = canonical_form(dict.fromkeys(keys, 0))
    places = [written.index(f"{key}" if key != "\r" else "\\r") for key in order]
    assert places == sorted(places)


@pytest.mark.parametrize("wrong", [float("nan"), float("inf"), 2**53, "\ud800", object()])
def test_what_has_no_canonical_form_is_refused(wrong: object) -> None:
    with pytest.raises(ValueError, match=r"number|surrogate|JSON"):
        canonical_form([wrong])
