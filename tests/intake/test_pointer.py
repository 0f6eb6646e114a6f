import json

import pytest

from curewatch.intake.pointer import MISSING, pointer_fault, resolve

# RFC 6901 (2013), section 5: the document and every evaluation printed there.
DOCUMENT = json.loads(
    r"""
    {
      "foo": ["bar", "baz"],
      "": 0,
      "a/b": 1,
      "c%d": 2,
      "e^f": 3,
      "g|h": 4,
      "i\\j": 5,
      "k\"l": 6,
      " ": 7,
      "m~n": 8
    }
    """
)
EVALUATIONS = [
    ("", DOCUMENT),
    ("/foo", ["bar", "baz"]),
    ("/foo/0", "bar"),
    ("/", 0),
    ("/a~1b", 1),
    ("/c%d", 2),
    ("/e^f", 3),
    ("/g|h", 4),
    ("/i\\j", 5),
    ('/k"l', 6),
    ("/ ", 7),
    ("/m~0n", 8),
]


@pytest.mark.parametrize(("pointer", "expected"), EVALUATIONS)
def test_a_pointer_of_the_standard_names_what_the_standard_says(
    pointer: str, expected: object
) -> None:
    assert resolve(DOCUMENT, pointer) == expected
    assert pointer_fault(pointer) is None


def test_tilde_zero_one_is_a_tilde_and_a_one() -> None:
    # RFC 6901, section 4: '~01' must not become '/'.
    assert resolve({"~1": "right", "/": "wrong"}, "/~01") == "right"


@pytest.mark.parametrize(
    "pointer",
    [
        *("/foo/2", "/foo/-", "/foo/00", "/foo/01", "/foo/-1", "/foo/+1", "/foo/1e0", "/foo/¹"),
        *("/nothing", "/foo/bar", "/a~1b/deeper", "/foo/0/0", "/foo/" + "9" * 5000),
    ],
)
def test_what_is_not_there_is_missing(pointer: str) -> None:
    # RFC 6901, section 4: an index has no leading nought, '-' is the element after the last.
    assert resolve(DOCUMENT, pointer) is MISSING


@pytest.mark.parametrize(
    ("pointer", "hint"),
    [("temperature", "/temperature"), ("/a~2b", "~0"), ("/a~", "~1"), ("#/a", "begin it")],
)
def test_a_malformed_pointer_is_told_with_a_fix(pointer: str, hint: str) -> None:
    assert hint in str(pointer_fault(pointer))
