"""The sums that name contents, as hashlib gives them, without loading OpenSSL for them: a hook runs at each commit."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hashlib import sha1, sha256
else:
    try:
        from _sha1 import sha1

        try:
            from _sha2 import sha256  # Python 3.12 and later
        except ImportError:
            from _sha256 import sha256
    except ImportError:
        from hashlib import sha1, sha256

__all__ = ["sha1", "sha256"]
