"""The light sums are hashlib's."""

from __future__ import annotations

import hashlib

import pytest

from formula_vcs.words.checksums import sha1, sha256


@pytest.mark.parametrize("data", [b"", b"water", bytes(range(256)) * 300])
def test_they_are_those_of_hashlib(data: bytes) -> None:
    assert hashlib.sha256(data).hexdigest() == sha256(data).hexdigest()
    assert hashlib.sha1(data, usedforsecurity=False).hexdigest() == sha1(data, usedforsecurity=False).hexdigest()
