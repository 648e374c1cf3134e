"""A key in a security key approves as well: the key and what the device would sign are made in software here.

What it signs: OpenSSH PROTOCOL.u2f ("SSH U2F Signatures") and PROTOCOL.sshsig, in the source of OpenSSH.
"""

from __future__ import annotations

import base64
import os
import struct
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.approvals.helpers_approvals import PEOPLE, House, house
from tests.conftest import GitRepo

Make = Callable[..., GitRepo]
YES, NO = "approved", "not approved"
KIND, APPLICATION = b"sk-ssh-ed25519@openssh.com", b"ssh:"
# in place of `ssh-keygen -Y sign -f KEY -n NAMESPACE FILE`: what the device and ssh make of it together
DEVICE = r"""#!{python}
import base64, hashlib, pathlib, struct, subprocess, sys

def string(data):
    return struct.pack(">I", len(data)) + data

words = sys.argv[1:]
namespace, file = words[words.index("-n") + 1].encode(), words[-1]
public = pathlib.Path(words[words.index("-f") + 1] + ".pub").read_text().split()
key, kind = base64.b64decode(public[1]), public[0].encode()
digest = hashlib.sha512(pathlib.Path(file).read_bytes()).digest()
message = b"SSHSIG" + string(namespace) + string(b"") + string(b"sha512") + string(digest)
touched = bytes([1]) + struct.pack(">I", 7)  # flags: the user was there; the counter of the device
data = hashlib.sha256(b"{application}").digest() + touched + hashlib.sha256(message).digest()
told = pathlib.Path(file + ".told")
told.write_bytes(data)
made = subprocess.run(
    ["openssl", "pkeyutl", "-sign", "-rawin", "-inkey", r"{secret}", "-in", str(told)], check=True, capture_output=True
)
blob = b"SSHSIG" + struct.pack(">I", 1) + string(key) + string(namespace) + string(b"") + string(b"sha512")
text = base64.encodebytes(blob + string(string(kind) + string(made.stdout) + touched)).decode()
pathlib.Path(file + ".sig").write_text(
    "-----BEGIN SSH SIGNATURE-----\n" + text + "-----END SSH SIGNATURE-----\n"
)
"""


def _string(data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + data


@pytest.fixture
def shed(git_repo: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> House:
    """Give a house in which hana has a security key, and no private key that a file holds."""
    keys = tmp_path / "keys"
    keys.mkdir()
    secret = tmp_path / "device.pem"
    subprocess.run(["openssl", "genpkey", "-algorithm", "ed25519", "-out", str(secret)], check=True)
    command = ["openssl", "pkey", "-in", str(secret), "-pubout", "-outform", "DER"]
    raw = subprocess.run(command, check=True, capture_output=True).stdout[-32:]
    blob = base64.b64encode(_string(KIND) + _string(raw) + _string(APPLICATION)).decode()
    (keys / "hana").write_text("the handle of a key in a device\n")
    (keys / "hana.pub").write_text(f"{KIND.decode()} {blob} hana@x\n")
    program = tmp_path / "device"
    words = {"python": sys.executable, "application": APPLICATION.decode(), "secret": str(secret)}
    text = DEVICE
    for name, value in words.items():
        text = text.replace(f"{{{name}}}", value)
    program.write_text(text)
    program.chmod(0o755)
    settings = tmp_path / "gitconfig"
    settings.write_text(f'[gpg "ssh"]\n\tprogram = {program}\n')
    made = house(git_repo(), keys, {**PEOPLE, "hana": ("QA",)})
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", os.fspath(settings))
    return made


def test_an_approval_by_a_security_key_counts(shed: House) -> None:
    shed.approved("hana", "QA")
    (payload,) = shed.files()

    assert "sk-ssh-ed25519" not in payload.read_text("utf-8")
    assert shed.states()["QA"] == YES
    assert "approved by Hana" in shed.words("QA")

    payload.write_text(payload.read_text("utf-8").replace('role = "QA"', 'role = "RD"'))
    shed.commit()
    assert {"RD": NO, "QA": NO} == shed.states()


def test_a_touch_that_was_not_signed_is_a_forgery(shed: House) -> None:
    assert shed.approve("hana", "QA") == 0
    (payload,) = shed.files()
    sig = payload.with_name(f"{payload.name}.sig")
    lines = sig.read_text().splitlines()
    blob = bytearray(base64.b64decode("".join(lines[1:-1])))
    assert blob[-5:] == b"\x01\x00\x00\x00\x07"
    blob[-5] = 5  # says that the device asked for a PIN as well
    text = base64.encodebytes(bytes(blob)).decode()
    sig.write_text(f"{lines[0]}\n{text}{lines[-1]}\n")
    shed.commit(by="hana")

    assert shed.states()["QA"] == NO
    assert "does not fit" in shed.words("QA")
