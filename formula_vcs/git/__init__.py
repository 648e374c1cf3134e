"""Git: revisions, staged text, blobs, and what arms a clone."""

from __future__ import annotations
