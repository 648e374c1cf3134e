"""Signatures of files by ssh keys: made and checked by ssh's own program, judged by its exit status.

Nothing here computes a signature.  What is read out of one is the public key that it says it was made with, so that the
person of that key can be looked up; whether that is true, `ssh-keygen` alone says.
"""

from __future__ import annotations

import base64
import binascii
import re
import struct
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

from formula_vcs.errors import UserError
from formula_vcs.git.running import passing_folder, raw, run, text
from formula_vcs.words.late_pattern import late_pattern

if TYPE_CHECKING:
    from formula_vcs.git.running import Repo

NAMESPACE: Final = "formula-approval@1"
"""What a signature is for: one that was made for git, for mail or for anything else does not count."""
LARGEST: Final = 1 << 16  # bytes of a signature; a plain one has some 300
_PRINCIPAL: Final = "approver"
_TYPES: Final = (
    "ssh-ed25519", "ssh-rsa", "ecdsa-sha2-nistp256", "ecdsa-sha2-nistp384", "ecdsa-sha2-nistp521",
    "sk-ssh-ed25519@openssh.com", "sk-ecdsa-sha2-nistp256@openssh.com",
)  # fmt: skip
_KEY: Final = late_pattern(rf"({'|'.join(map(re.escape, _TYPES))}) ([A-Za-z0-9+/]{{40,8000}}={{0,2}})(?: [^\r\n]*)?")
_ARMOR: Final = late_pattern(
    rb"-----BEGIN SSH SIGNATURE-----\s+([A-Za-z0-9+/=\s]+?)\s+-----END SSH SIGNATURE-----\s*", re.DOTALL
)
_MAGIC: Final = b"SSHSIG"
_MISSING: Final = "ssh-keygen is not installed, or not on PATH: OpenSSH signs and checks approvals"
_OLD: Final = "this ssh-keygen is too old: -Y sign and -Y verify came with OpenSSH 8.1"


class NoSshKeygenError(UserError):
    """Nothing can be said about a signature here: the program is missing or too old."""


class SignatureFound(NamedTuple):
    """What a signature says of itself: the public key that made it, and what it is for."""

    key: str
    namespace: str


def key_of(line: str) -> str | None:
    """Give a public key in one spelling, ``ssh-ed25519 AAAA...`` without its comment; None for anything else."""
    found = _KEY.fullmatch(line.strip())
    if found is None:
        return None
    try:
        blob = base64.b64decode(found[2], validate=True)
        kind, _ = _string(blob)
    except (binascii.Error, ValueError):
        return None
    return _spelled(blob) if kind == found[1].encode() else None


def fingerprint(key: str) -> str:
    """Name a public key shortly, as ssh does: ``SHA256:...``."""
    from hashlib import sha256

    blob = base64.b64decode(key.partition(" ")[2])
    return f"SHA256:{base64.b64encode(sha256(blob).digest()).decode('ascii').rstrip('=')}"


def signature_in(armored: bytes) -> SignatureFound | None:
    """Read a signature; None where it is none."""
    found = _ARMOR.fullmatch(armored.strip()) if len(armored) <= LARGEST else None
    if found is None:
        return None
    try:
        blob = base64.b64decode(b"".join(found[1].split()), validate=True)
        if not blob.startswith(_MAGIC):
            return None
        key, rest = _string(blob[len(_MAGIC) + 4 :])
        namespace, _ = _string(rest)
        return SignatureFound(_spelled(key), namespace.decode("utf-8"))
    except (binascii.Error, ValueError):
        return None


def _string(data: bytes) -> tuple[bytes, bytes]:
    """Take a string as ssh writes it off the front: its length in four bytes, then its bytes."""
    if len(data) < 4:
        msg = "cut off"
        raise ValueError(msg)
    (length,) = struct.unpack(">I", data[:4])
    if length > len(data) - 4:
        msg = "cut off"
        raise ValueError(msg)
    return data[4 : 4 + length], data[4 + length :]


def _spelled(blob: bytes) -> str:
    kind, _ = _string(blob)
    return f"{kind.decode('ascii')} {base64.b64encode(blob).decode('ascii')}"


def verify(payload: bytes, signature: bytes, key: str) -> bool:
    """Say whether a signature over a payload was made by a key, for approvals.

    :raises NoSshKeygenError: there is no ssh-keygen that can tell.
    """
    with passing_folder() as folder:
        allowed, sig = f"{folder}/allowed", f"{folder}/sig"
        _put(allowed, f'{_PRINCIPAL} namespaces="{NAMESPACE}" {key}\n'.encode())
        _put(sig, signature)
        args = ("-Y", "verify", "-f", allowed, "-I", _PRINCIPAL, "-n", NAMESPACE, "-s", sig)
        done = _ssh_keygen("ssh-keygen", args, payload)
    return done.returncode == 0


def sign(payload: bytes, key: str, program: str = "ssh-keygen") -> bytes:
    """Give a signature over a payload, by a key as git names one: a file, or a public key that the agent holds.

    :raises UserError: it was not signed; the reason is ssh's own.
    """
    with passing_folder() as folder:
        file = f"{folder}/payload"
        _put(file, payload)
        literal = _literal(key)
        if literal is not None:
            key = f"{folder}/key.pub"
            _put(key, literal.encode() + b"\n")
        args = ("-Y", "sign", "-f", key, "-n", NAMESPACE, *(("-U",) if literal is not None else ()), file)
        done = _ssh_keygen(program, args, None)
        found = _start_of(f"{file}.sig")
    if done.returncode or not found:
        said = [line for line in (done.stderr or b"").decode("utf-8", "replace").splitlines() if line.strip()]
        raise UserError(f"not signed: {said[-1] if said else f'{program} ended with {done.returncode}'}")
    return found


def _literal(key: str) -> str | None:
    """Give the public key that a configuration holds itself, as git takes it; None for a file's name."""
    if key.startswith("key::"):
        return key.removeprefix("key::")
    return key if key.startswith(("ssh-", "ecdsa-", "sk-")) and key_of(key) is not None else None


def signing_key(repo: Repo) -> str:
    """Name the key to sign with: git's ``user.signingkey``, else the one key that the agent holds.

    :raises UserError: there is none, or the agent has several.
    """
    output = run(repo, "config", "--null", "--type=path", "--get", "user.signingkey")
    named = "" if output.status else text(output.out).removesuffix("\0")
    if named and (_literal(named) is not None or "/" in named or "\\" in named):
        return named
    if named:
        raise UserError(
            f"user.signingkey is '{named}', which is no ssh key and no file of one: "
            "git config user.signingkey ~/.ssh/id_ed25519.pub"
        )
    keys = _of_agent()
    if len(keys) == 1:
        return keys[0]
    held = f"the agent holds {len(keys)} keys" if keys else "the agent holds none"
    raise UserError(f"no key to sign with: user.signingkey is not set, and {held}")


def signing_program(repo: Repo) -> str:
    """Name the program that signs: ssh-keygen, or what the user's own configuration names in its place."""
    # never the repository's own: an embedded one brings a configuration that somebody else wrote
    output = run(repo, "config", "--global", "--null", "--type=path", "--get", "gpg.ssh.program")
    return ("" if output.status else text(output.out).removesuffix("\0")) or "ssh-keygen"


def _of_agent() -> list[str]:
    try:
        done = subprocess.run(("ssh-add", "-L"), stdin=subprocess.DEVNULL, capture_output=True, check=False)
    except OSError:
        return []
    lines = done.stdout.decode("utf-8", "replace").splitlines() if not done.returncode else []
    return [f"key::{key}" for line in lines if (key := key_of(line)) is not None]


def public_key(key: str) -> str | None:
    """Give the public key of a key as git names one, where it can be seen without unlocking anything."""
    literal = _literal(key)
    if literal is not None:
        return key_of(literal)
    for name in (key, f"{key}.pub"):
        found = key_of(_start_of(name).decode("utf-8", "replace").partition("\n")[0])
        if found is not None:
            return found
    return None


def _start_of(path: str) -> bytes:
    """Read a small file; nothing where there is none."""
    try:
        with Path(path).open("rb") as file:
            return file.read(LARGEST)
    except OSError:
        return b""


def _put(path: str, data: bytes) -> None:
    Path(path).write_bytes(data)


def _ssh_keygen(program: str, args: tuple[str, ...], given: bytes | None) -> subprocess.CompletedProcess[bytes]:
    """Run the program; where it signs on a terminal, its prompts (touch the key, the passphrase) are seen."""
    seen = given is None and sys.stderr.isatty()
    try:
        done = subprocess.run(
            [raw(part) for part in (program, *args)],
            input=given,
            stdin=subprocess.DEVNULL if given is None and not seen else None,
            stdout=subprocess.DEVNULL,
            stderr=None if seen else subprocess.PIPE,
            check=False,
        )
    except OSError as error:
        raise NoSshKeygenError(_MISSING if program == "ssh-keygen" else f"{program} does not run") from error
    if b"option -- Y" in (done.stderr or b"") or b"nsupported operation for -Y" in (done.stderr or b""):
        raise NoSshKeygenError(_OLD)
    return done
