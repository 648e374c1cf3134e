"""A security key in software: it signs a file as ``ssh-keygen -Y sign`` does with one that is plugged in.

Ed25519 after RFC 8032, section 5.1; what a security key signs after OpenSSH's PROTOCOL.u2f ("SSH U2F Signatures"); the
file after its PROTOCOL.sshsig.  As a program it takes the words that git gives its signing program.  Its secret is
public: it is for tests alone.
"""

from __future__ import annotations

import base64
import struct
import sys
from collections.abc import Sequence
from hashlib import sha256, sha512
from pathlib import Path

TYPE = b"sk-ssh-ed25519@openssh.com"
APPLICATION = b"ssh:"
TOUCHED = 1  # the flag that somebody touched the key
SEED = b"a security key of the tests only"

_P = 2**255 - 19
_ORDER = 2**252 + 27742317777372353535851937790883648493
_D = -121665 * pow(121666, -1, _P) % _P
_BASE = (
    15112221349535400772501151409588531511454012693041857206046113283949847762202,
    46316835694926478169428394003475163141307993866256225615783033603165251855960,
)
_Point = tuple[int, int]


def _add(one: _Point, other: _Point) -> _Point:
    (x1, y1), (x2, y2) = one, other
    both = _D * x1 * x2 * y1 * y2 % _P
    return (
        (x1 * y2 + x2 * y1) * pow(1 + both, -1, _P) % _P,
        (y1 * y2 + x1 * x2) * pow(1 - both, -1, _P) % _P,
    )


def _times(number: int, point: _Point) -> _Point:
    found = (0, 1)
    while number:
        if number & 1:
            found = _add(found, point)
        point = _add(point, point)
        number >>= 1
    return found


def _packed(point: _Point) -> bytes:
    x, y = point
    return (y | (x & 1) << 255).to_bytes(32, "little")


def _secret() -> tuple[int, bytes]:
    digest = sha512(SEED).digest()
    number = int.from_bytes(digest[:32], "little")
    return number & (1 << 254) - 8 | 1 << 254, digest[32:]


def _ed25519(message: bytes) -> bytes:
    scalar, prefix = _secret()
    mine = _packed(_times(scalar, _BASE))
    nonce = int.from_bytes(sha512(prefix + message).digest(), "little") % _ORDER
    point = _packed(_times(nonce, _BASE))
    challenge = int.from_bytes(sha512(point + mine + message).digest(), "little")
    return point + ((nonce + challenge * scalar) % _ORDER).to_bytes(32, "little")


def _string(data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + data


def _blob() -> bytes:
    return _string(TYPE) + _string(_packed(_times(_secret()[0], _BASE))) + _string(APPLICATION)


def public() -> str:
    """Give the public key as a line of a file has it."""
    return f"{TYPE.decode()} {base64.b64encode(_blob()).decode()}"


def signed(payload: bytes, namespace: bytes, flags: int = TOUCHED, counter: int = 7) -> bytes:
    """Sign a payload for a namespace, as a file beside it has it."""
    told = _string(namespace) + _string(b"") + _string(b"sha512")
    message = b"SSHSIG" + told + _string(sha512(payload).digest())
    seen = struct.pack(">BI", flags, counter)
    signature = _ed25519(sha256(APPLICATION).digest() + seen + sha256(message).digest())
    whole = b"SSHSIG" + struct.pack(">I", 1) + _string(_blob()) + told
    whole += _string(_string(TYPE) + _string(signature) + seen)
    return b"-----BEGIN SSH SIGNATURE-----\n" + base64.encodebytes(whole) + b"-----END SSH SIGNATURE-----\n"


def main(words: Sequence[str]) -> None:
    """Sign the file that is named last, for the namespace after ``-n``."""
    file = Path(words[-1])
    namespace = words[words.index("-n") + 1].encode()
    file.with_name(f"{file.name}.sig").write_bytes(signed(file.read_bytes(), namespace))


if __name__ == "__main__":
    main(sys.argv[1:])
